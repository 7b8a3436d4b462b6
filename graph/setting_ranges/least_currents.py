"""What every device has to hold so that a part comes above what it may carry: one pass over all states of a
harness.

Every state of opened devices, blocking diodes and outputs shorted inside is set up once, for all devices together.
In a state that a device is closed in, its own limit is taken off and the least current that it holds sought for
every part (``faults.least_held``); in one in which it holds its current, that current itself is made the least. A
part that is over where a device is not part of the state, or carries nothing, is over whatever that device is set
to. Where there are too many states, Kirchhoff's current law alone says the least (``faults.least_by_law``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from loadloom.graph.circuit.network import FloatArray, Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import LARGEST_PIECE, MOST_FOR_RANGES
from loadloom.graph.faults.least_by_law import LeastByLaw
from loadloom.graph.faults.least_held import Ends, HeldLimits, HeldState, take_holding
from loadloom.graph.faults.opened import OpenedSets, opened_networks, opened_sets
from loadloom.graph.faults.parallel_paths import OpenedSet, diodes_that_open
from loadloom.graph.faults.piece import Piece, PieceLoads, Variant, every_state_tried, pieces_of, variants
from loadloom.graph.faults.places import PieceGeometry, find_places
from loadloom.graph.faults.search import take_variant
from loadloom.graph.faults.slow_pulses import added_by_slow_pulses_a
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import AT_ITS_END, NOTHING_A
from loadloom.graph.faults.worst_faults import FoundHit, WorstFaults
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case

Word = str | None

ALL_BUT_SHUT_A = 1e-9
"""What devices hold while it is counted in which order they could open, so that it hangs on no setting."""


@dataclass(frozen=True)
class Fed:
    """A galvanic piece with an output in one case; ``members`` are its parts and splices, ``label`` its number."""

    case: Case
    network: Network
    loads: PieceLoads
    members: frozenset[str]
    label: int


@dataclass
class Least:
    """Of one device in one arrangement. ``ends``: the least that it holds where parts come to their limits.
    ``never``: parts that are over without it; ``without``: the worst of those of them that stay in their band,
    ``beyond`` those that do not, by a state that is known. ``bounded``: not every state was looked at.
    """

    ends: Ends
    never: set[str] = field(default_factory=set)
    beyond: set[str] = field(default_factory=set)
    without: dict[str, FoundHit] = field(default_factory=dict)
    bounded: bool = False

    def take_nothing(self, band_a: Mapping[str, float]) -> None:
        """Take what comes to its limit while the device holds nothing."""
        if not self.bounded:
            self.never |= {part for part, held_a in self.ends.held_a.items() if held_a <= NOTHING_A}
            self.beyond |= {part for part, held_a in self.ends.banded_a.items() if held_a <= NOTHING_A}
        self.beyond |= self.never - band_a.keys()
        self.ends.left_out |= self.beyond
        for name in self.never - self.beyond:
            self.ends.held_a[name] = 0.0


@dataclass(frozen=True)
class _State:
    """One state of a piece in a case, with the parts that are asked for and the devices that act; ``complete``:
    whether every state of the piece is looked at.
    """

    case: Case
    geometry: PieceGeometry
    variant: Variant
    asked: frozenset[str]
    acting: tuple[str, ...]
    complete: bool

    @cached_property
    def closed(self) -> Mapping[str, int]:
        """The devices that are closed, with their branches."""
        index, closed = self.geometry.piece.branch_index, self.variant.closed
        return {name: index[name] for name in self.acting if name in index and closed[index[name]]}

    @cached_property
    def holding(self) -> Mapping[str, int]:
        """The devices that hold their current, with their branches."""
        index, piece, variant = self.geometry.piece.branch_index, self.geometry.piece, self.variant
        there = {name: index[name] for name in self.acting if name in index}
        out = (k for k in there.values() if piece.holds[k] and not variant.closed[k] and k != variant.dead)
        held = set(out)
        return {name: k for name, k in there.items() if k in held}


@dataclass(frozen=True)
class LeastCurrents:
    """The pass over one harness. ``limit_a`` by part in A; ``band_a`` by conductor the end of its overload band in
    A, and ``banded`` the devices that the band is for; ``feeds``: whether in an arrangement what passes a device
    goes on to a conductor.
    """

    harness: Harness
    settings: AnalysisSettings
    ratings: Mapping[str, Rating]
    limit_a: Mapping[str, float]
    band_a: Mapping[str, float]
    banded: frozenset[str]
    feeds: Callable[[Word, str, str], bool]

    def of(
        self,
        fed: Sequence[Fed],
        thresholds: Mapping[str, Mapping[str, Threshold]],
        lasting: Mapping[str, Sequence[Mapping[str, float]]],
        names: Sequence[str],
    ) -> dict[tuple[Word, str], Least]:
        """What is found of each device in each arrangement. ``lasting``: currents in A by part of lasting states,
        by case id.
        """
        found: dict[tuple[Word, str], Least] = {}
        searched: dict[tuple[object, ...], list[Piece]] = {}
        states: list[_State] = []
        for each in fed:
            limits, word = thresholds[each.case.id], each.case.arrangement
            acting = [name for name in names if name in limits and math.isfinite(limits[name].held_a)]
            asked = each.members & self.limit_a.keys()
            if each.network.asked is not None:
                asked &= each.network.asked
            if not acting or not asked:
                continue
            for name in acting:
                found.setdefault((word, name), Least(Ends(name in self.banded)))
            states += self._states(each, limits, searched, acting, asked)
            for currents in lasting.get(each.case.id, ()):
                self._take_lasting(currents, each, limits, acting, found)
        bounded = [state for state in states if not state.complete]
        for state in bounded:
            for name in state.acting:
                found[state.case.arrangement, name].bounded |= name in state.geometry.piece.branch_index
        for state in states:
            self._take_without(state, found)
        for least in found.values():
            least.take_nothing(self.band_a)
        for state in states:
            if state.complete:
                self._take_held(state, found)
            elif not state.variant.name and not state.geometry.piece.opened:
                self._take_bounds(state, found)
        return found

    @cached_property
    def _conductors(self) -> frozenset[str]:
        return frozenset(each.id for each in self.harness.conductors)

    def _limits(self, case: Case, asked: frozenset[str]) -> HeldLimits:
        def slow_a(search: Search, branch: int) -> float:
            name = search.name(branch)
            if name not in self._conductors:
                return 0.0
            nothing: FloatArray = np.zeros(len(search.loaded.plus))
            by = (self.harness, self.settings, name, self.ratings.get(name), search, branch, case, nothing)
            return added_by_slow_pulses_a(*by)

        limit_a = {part: self.limit_a[part] for part in asked}
        return HeldLimits(limit_a, self.band_a, slow_a, partial(self.feeds, case.arrangement))

    def _states(
        self,
        each: Fed,
        thresholds: Mapping[str, Threshold],
        searched: dict[tuple[object, ...], list[Piece]],
        acting: Sequence[str],
        asked: frozenset[str],
    ) -> Iterator[_State]:
        """Every state that the fault search looks at; of pieces with too many the piece as it is and with each
        device opened by itself.
        """
        shut = {
            name: replace(limit, held_a=ALL_BUT_SHUT_A) if math.isfinite(limit.held_a) else limit
            for name, limit in thresholds.items()
        }
        for piece in list(pieces_of(each.network, thresholds, each.loads)):
            if len(piece.node_ids) > LARGEST_PIECE:
                continue
            opening = opened_sets(piece.set_to(shut), MOST_FOR_RANGES)
            every = every_state_tried(piece, diodes_that_open(piece))
            in_loops = np.bincount(piece.blocks.label[piece.opens], minlength=1)
            complete = every and opening.complete and bool(in_loops.max() <= MOST_FOR_RANGES)
            if not complete:
                alone = np.flatnonzero(piece.opens).tolist()
                opening = OpenedSets(tuple(OpenedSet((k,)) for k in alone), False)
            left, sets = [piece], ((chosen, None) for chosen in opening.sets)
            for _, rest, inside in opened_networks(each.network, piece, sets, each.loads):
                left += pieces_of(rest, thresholds, inside)
            for one in left:
                same = searched.setdefault((each.case.arrangement, one.electrical_key), [])
                if any(one.draws_no_more_than(other) for other in same):
                    continue
                same.append(one)
                geometry = PieceGeometry.of(self.harness, one, asked)
                if not geometry.has_any_asked:
                    continue
                for variant in variants(one, few=not complete, apart=diodes_that_open(one)):
                    yield _State(each.case, geometry, variant, asked, tuple(acting), complete)

    def _take_without(self, state: _State, found: Mapping[tuple[Word, str], Least]) -> None:
        """Take what is over in a state for the devices that are no part of it."""
        word = state.case.arrangement
        without = [name for name in state.acting if name not in state.closed and name not in state.holding]
        unknown = frozenset().union(*(state.asked - found[word, name].beyond for name in without))
        if not unknown:
            return
        most_a = {name: self.band_a.get(name, self.limit_a[name]) for name in unknown}
        worst = WorstFaults(limit_a=self.limit_a, enough_a=most_a)
        take_variant(state.geometry.asking(unknown), state.variant, state.case, worst, short=True)
        over = {n for n in unknown if worst.value_a(n) > self.limit_a[n] * (1.0 + AT_ITS_END)}
        beyond = {n for n in over if worst.value_a(n) > most_a[n] * (1.0 + AT_ITS_END)}
        for name in without:
            least = found[word, name]
            least.never |= over
            least.beyond |= beyond
            for part in over - beyond:
                if worst.hits[part].better_than(least.without.get(part)):
                    least.without[part] = worst.hits[part]

    def _take_held(self, state: _State, found: Mapping[tuple[Word, str], Least]) -> None:
        """Take the least that the devices hold in a state."""
        word, limits = state.case.arrangement, self._limits(state.case, state.asked)
        if state.closed:
            drawn = Search(state.geometry, state.variant)
            drawn.places = find_places(state.geometry, state.variant)
            held = HeldState(drawn, list(state.closed.values()), limits)
            for name, k in state.closed.items():
                if not state.asked <= found[word, name].ends.left_out:
                    held.take(k, found[word, name].ends)
                    found[word, name].take_nothing(self.band_a)
        for name, k in state.holding.items():
            take_holding(state.geometry, state.variant, k, limits, found[word, name].ends)
            found[word, name].take_nothing(self.band_a)

    def _take_bounds(self, state: _State, found: Mapping[tuple[Word, str], Least]) -> None:
        """Take the least that the devices of a piece hold whatever its state."""
        devices = {name: k for name in state.acting if (k := state.geometry.piece.branch_index.get(name, -1)) >= 0}
        limits = self._limits(state.case, state.asked)
        if state.geometry.piece.pulses:  # how warm slow pulses make a part is known of single states only
            for name in devices:
                found[state.case.arrangement, name].ends.held_a |= dict.fromkeys(state.asked, 0.0)
            return
        bounds = LeastByLaw(state.geometry, np.array(list(devices.values()), dtype=np.int64), limits)
        for name, k in devices.items():
            bounds.take(k, found[state.case.arrangement, name].ends)

    def _take_lasting(
        self,
        currents: Mapping[str, float],
        each: Fed,
        thresholds: Mapping[str, Threshold],
        acting: Sequence[str],
        found: Mapping[tuple[Word, str], Least],
    ) -> None:
        """Take what a case carries continuously, with no fault."""
        for name in acting:
            if any(currents.get(n, 0.0) > acts.held_a for n, acts in thresholds.items() if n != name):
                continue  # another one opens in it
            ends, held_a = found[each.case.arrangement, name].ends, currents.get(name, 0.0)
            for limit_a, known in ((self.limit_a, ends.held_a), (self.band_a, ends.banded_a)):
                for part in (n for n, a in limit_a.items() if n in each.members and currents.get(n, 0.0) > a):
                    known[part] = min(held_a, known.get(part, math.inf))
