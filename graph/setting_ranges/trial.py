"""What the fault search says with some devices set otherwise, so that a setting is tried before it is named."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from loadloom.graph.cases.case_loading import CaseLoading
from loadloom.graph.devices import held_multiple
from loadloom.graph.elements import Device, Output
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.band_cover import BandCovers
from loadloom.graph.faults.cases import ThresholdsByCase, distinct
from loadloom.graph.faults.part_faults import part_fault
from loadloom.graph.faults.piece import Piece
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.unproved import bound_unproved
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.harness import Harness
from loadloom.graph.results import Rating
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solving.network import Network

MOST_EDGES = 4_000
"""Edges over all networks up to which settings are tried: beyond it one trial takes too long."""

MOST_WORK = 10_000
"""Edges that are searched over all trials of one harness."""

FEW_PARTS = 0.15
"""Work of a trial that asks for some parts only, as a share of one that asks for all."""


@dataclass(frozen=True)
class Trial:
    """A harness whose settings can be tried. ``networks`` as for ``search_faults``, made when first needed."""

    harness: Harness
    settings: AnalysisSettings
    cases: Sequence[Case]
    networks: Callable[[], Mapping[str, Sequence[Network]]]
    thresholds: ThresholdsByCase
    ratings: Mapping[str, Rating]
    loading: Mapping[str, CaseLoading]
    _known: dict[
        tuple[tuple[tuple[str, float], ...], frozenset[str] | None], dict[str | None, WorstFaults] | None
    ] = field(default_factory=dict)

    @cached_property
    def _networks(self) -> Mapping[str, Sequence[Network]]:
        return self.networks()

    @cached_property
    def _edges(self) -> int:
        known = {id(network): len(network.edge_ids) for each in self._networks.values() for network in each}
        return max(sum(known.values()), 1)

    @property
    def fits(self) -> bool:
        """Whether the harness is small enough to be tried."""
        return self._edges <= MOST_EDGES

    @property
    def may_go_on(self) -> bool:
        """Whether another search may be made."""
        done = sum(1.0 if only is None else FEW_PARTS for _, only in self._known)
        return self.fits and (done + 1.0) * self._edges <= MOST_WORK

    def held_a(self, part: Device | Output, nominal_a: float) -> dict[str, float]:
        """What a part set to a nominal current in A can hold, by case id, where it acts at all."""
        found = {}
        for case in self.cases:
            multiple = held_multiple(part.under(case.arrangement), self.settings)
            if multiple and math.isfinite(self.thresholds[case.id][part.id].held_a):
                found[case.id] = nominal_a * multiple
        return found

    def sustained_fault(
        self, held_a: Mapping[str, Mapping[str, float]], only: frozenset[str] | None = None
    ) -> dict[str, float] | None:
        """Sustained fault current in A of every part, or of ``only`` these, with devices that hold
        ``held_a[id][case id]``.

        None: not to be tried.
        """
        found = self._searched(held_a, only)
        if found is None:
            return None
        names = {name for worst in found.values() for name in (*worst.hits, *worst.radial)}
        return {name: max(worst.value_a(name) for worst in found.values()) for name in sorted(names)}

    def answers(
        self, parts: Iterable[str], held_a: Mapping[str, Mapping[str, float]]
    ) -> dict[str, list[PartFault]] | None:
        """What the search says of some parts then, by part, in every arrangement; None: not to be tried."""
        parts = tuple(parts)
        found = self._searched(held_a, frozenset(parts))
        if found is None:
            return None
        changed, maker = self._changed(held_a), RowMaker(self.ratings)
        covers = {
            word: BandCovers(self.harness, word, next(changed[c.id] for c in self.cases if c.arrangement == word))
            for word in found
        }
        for worst in found.values():
            maker.note(worst.radial.values())
        return {
            part: [
                part_fault(
                    *(self.harness, self.settings, changed, self.ratings, maker, part, worst),
                    *({}, False, covers[word]),
                )
                for word, worst in found.items()
            ]
            for part in parts
        }

    def _changed(self, held_a: Mapping[str, Mapping[str, float]]) -> ThresholdsByCase:
        def changed(case: str, name: str) -> float | None:
            return held_a.get(name, {}).get(case)

        return {
            case: {
                name: replace(acts, held_a=held) if (held := changed(case, name)) is not None else acts
                for name, acts in each.items()
            }
            for case, each in self.thresholds.items()
        }

    def _searched(
        self, held_a: Mapping[str, Mapping[str, float]], only: frozenset[str] | None = None
    ) -> dict[str | None, WorstFaults] | None:
        settings = tuple(sorted((f"{name} {case}", a) for name, each in held_a.items() for case, a in each.items()))
        for (same, among), known in self._known.items():
            if same == settings and (among is None or (only is not None and only <= among)):
                return known
        key = (settings, only)
        if not self.may_go_on:
            return None
        thresholds = self._changed(held_a)
        found: dict[str | None, WorstFaults] = {}
        searched: dict[tuple[object, ...], list[Piece]] = {}
        for case, network, loads in distinct(self.harness, self.cases, self._networks, thresholds, self.loading):
            # A piece that is alike in two arrangements is searched in one: over both it is the same.
            worst = found.setdefault(case.arrangement, WorstFaults(searched=searched))
            search_network(
                self.harness, case, network, thresholds[case.id], loads, self.ratings, worst, short=True, only=only
            )
        for each in found.values():
            bound_unproved(each.unproved, each, short=True)
        for case in self.cases:
            if case.arrangement in found and case.id in self.loading:
                found[case.arrangement].raise_to(case, self.loading[case.id].continuous_a)
        self._known[key] = found
        return found
