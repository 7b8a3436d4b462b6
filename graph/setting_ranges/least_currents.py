"""What every device has to hold so that a part comes above what it may carry: one pass over all states of a
harness.

Every state of opened devices, blocking diodes and outputs shorted inside is set up once, for all devices together.
In a state that a device is closed in, its own limit is taken off and the least current that it holds sought for
every part (``faults.least_held``). A part that is over where a device is not part of the state, or carries nothing,
is over whatever that device is set to.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

from loadloom.graph.circuit.network import Network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import LARGEST_PIECE
from loadloom.graph.faults.cut_off import voltages_differ
from loadloom.graph.faults.least_held import least_held, never_opening, over_without
from loadloom.graph.faults.opened import opened_networks, opened_sets
from loadloom.graph.faults.parallel_paths import diodes_that_open
from loadloom.graph.faults.piece import Piece, PieceLoads, Variant, every_state_tried, pieces_of, variants
from loadloom.graph.faults.places import PieceGeometry, find_places
from loadloom.graph.faults.search import take_variant
from loadloom.graph.faults.stretches import find_stretches
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import AT_ITS_END, NOTHING_A
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

Word = str | None


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
    """Of one device: the least current in A that it holds where a part comes to its limit, by arrangement and part,
    and by conductor where it comes to the end of its overload band. ``never``: parts that are over without it,
    ``beyond`` those of them that are past their overload band as well.
    ``certain``: whether nothing but that decides, so that no setting needs to be looked at; ``complete``: whether
    all states were looked at.
    """

    held_a: dict[tuple[Word, str], float] = field(default_factory=dict)
    banded_a: dict[tuple[Word, str], float] = field(default_factory=dict)
    never: set[str] = field(default_factory=set)
    beyond: set[str] = field(default_factory=set)
    certain: bool = True
    complete: bool = True


@dataclass(frozen=True)
class _State:
    """One state of a piece in a case, with the parts that are asked for and the devices that act. ``plain``:
    whether all states of the piece are looked at, and in them all is linear in the fault current and the loads.
    """

    case: Case
    geometry: PieceGeometry
    variant: Variant
    asked: frozenset[str]
    acting: tuple[str, ...]
    complete: bool
    plain: bool

    @cached_property
    def closed(self) -> Mapping[str, int]:
        """The devices that are closed, with their branches."""
        index, closed = self.geometry.piece.branch_index, self.variant.closed
        return {name: index[name] for name in self.acting if name in index and closed[index[name]]}

    def is_holding(self, name: str) -> bool:
        """Whether a device of the piece holds its current in this state."""
        k = self.geometry.piece.branch_index.get(name, -1)
        return k >= 0 and bool(self.geometry.piece.holds[k]) and not self.variant.closed[k]


@dataclass(frozen=True)
class LeastCurrents:
    """The pass over one harness. ``limit_a`` by part in A; ``band_a`` by conductor the end of its overload band in
    A, and ``banded`` the devices that the band is for.
    """

    harness: Harness
    limit_a: Mapping[str, float]
    band_a: Mapping[str, float]
    banded: frozenset[str]

    def of(
        self,
        fed: Sequence[Fed],
        thresholds: Mapping[str, Mapping[str, Threshold]],
        lasting: Mapping[str, Sequence[Mapping[str, float]]],
        never: Mapping[str, set[str]],
    ) -> dict[str, Least]:
        """What is found of each device of which it is known what is over whatever it is set to, as far as that is
        known: ``never``. ``lasting``: currents in A by part of lasting states, by case id.
        """
        found = {name: Least(never=set(over), beyond=set(over)) for name, over in never.items()}
        searched: dict[tuple[object, ...], list[Piece]] = {}
        states: list[_State] = []
        for each in fed:
            limits = thresholds[each.case.id]
            acting = [name for name in found if name in limits and math.isfinite(limits[name].held_a)]
            asked = each.members & self.limit_a.keys()
            if not acting or not asked:
                continue
            states += self._states(each, limits, searched, acting, asked)
            for currents in lasting.get(each.case.id, ()):
                self._take_lasting(currents, each, limits, acting, found)
        for state in states:
            self._take_without(state, found)
        for state in states:
            self._take_held(state, found)
        return found

    def _states(
        self,
        each: Fed,
        thresholds: Mapping[str, Threshold],
        searched: dict[tuple[object, ...], list[Piece]],
        acting: Sequence[str],
        asked: frozenset[str],
    ) -> Iterator[_State]:
        """Every state that the fault search looks at."""
        for piece in pieces_of(each.network, thresholds, each.loads):
            opening = opened_sets(piece)
            every = every_state_tried(piece, diodes_that_open(piece))
            small = len(piece.node_ids) <= LARGEST_PIECE
            complete = every and opening.complete and not opening.beside and small
            chosen = ((each_set, None) for each_set in opening.sets if each_set.inside < 0)
            left = [(piece, True)]
            for (some, _), rest, inside in opened_networks(each.network, piece, chosen, each.loads):
                left += [(one, some.most_a is None) for one in pieces_of(rest, thresholds, inside)]
            for one, outputs_too in left if small else ():
                same = searched.setdefault((each.case.arrangement, one.electrical_key), [])
                if any(one.draws_no_more_than(other) for other in same):
                    continue
                same.append(one)
                loops = len({int(n) for n in one.blocks.label[one.opens]})
                apart = diodes_that_open(one)
                geometry = PieceGeometry.of(self.harness, one, asked)
                if not geometry.has_any_asked:
                    continue
                plain = complete and loops <= 1 and not (one.pulses or voltages_differ(one))
                plain &= not (one.holds & one.in_loop).any()
                for variant in variants(one, few=not complete, apart=apart, outputs_too=outputs_too):
                    yield _State(each.case, geometry, variant, asked, tuple(acting), complete, plain)

    def _take_without(self, state: _State, found: Mapping[str, Least]) -> None:
        """Take what is over in a state for the devices that are no part of it."""
        without = [name for name in state.acting if name not in state.closed and not state.is_holding(name)]
        unknown = frozenset().union(*(state.asked - found[name].beyond for name in without))
        if not unknown:
            return
        most_a = {name: self.band_a.get(name, self.limit_a[name]) for name in unknown}
        worst = WorstFaults(limit_a=self.limit_a, enough_a=most_a)
        take_variant(state.geometry.asking(unknown), state.variant, state.case, worst, short=True)
        for name in without:
            found[name].never |= {n for n in unknown if worst.value_a(n) > self.limit_a[n] * (1.0 + AT_ITS_END)}
            found[name].beyond |= {n for n in unknown if worst.value_a(n) > most_a[n] * (1.0 + AT_ITS_END)}

    def _take_held(self, state: _State, found: Mapping[str, Least]) -> None:
        """Take the least that the devices hold that are closed in a state."""
        word, variant = state.case.arrangement, state.variant
        places = find_places(state.geometry, variant)
        varies = any(s.looped and s.varies for s in find_stretches(state.geometry, variant, places))
        drawn = Search(state.geometry, variant)
        drawn.places = places
        whole = {part: self.limit_a[part] for part in state.asked}
        closed = state.closed
        for (name, k), (over, some) in zip(
            closed.items(), over_without(drawn, closed.values(), whole), strict=True
        ):
            mine = found[name]
            mine.complete &= state.complete
            mine.certain &= state.plain and not varies
            _note(mine.held_a, word, dict.fromkeys(over - mine.never, 0.0))
            search = Search(state.geometry, never_opening(variant, k))
            search.places = places
            strict = {part: self.limit_a[part] for part in state.asked - mine.never - over}
            ask = partial(least_held, search, k, some=some)
            got = ask(strict, _of(mine.held_a, word), each=name in self.banded)
            _note(mine.held_a, word, got)
            wanted = {part: self.band_a[part] for part in (got.keys() | over) & self.band_a.keys()}
            if name not in self.banded:  # of these it counts alone whether they are past their band as well
                wanted = {part: most_a for part, most_a in wanted.items() if got.get(part, 0.0) <= NOTHING_A}
            if wanted:
                more = least_held(search, k, wanted, _of(mine.banded_a, word), each=True)
                _note(mine.banded_a, word, more)
            _take_nothing(mine, self.band_a)

    def _take_lasting(
        self,
        currents: Mapping[str, float],
        each: Fed,
        thresholds: Mapping[str, Threshold],
        acting: Sequence[str],
        found: dict[str, Least],
    ) -> None:
        """Take what a case carries continuously, with no fault."""
        for name in acting:
            if any(currents.get(n, 0.0) > acts.held_a for n, acts in thresholds.items() if n != name):
                continue  # another one opens in it
            held_a = currents.get(name, 0.0)
            for limit_a, known in ((self.limit_a, found[name].held_a), (self.band_a, found[name].banded_a)):
                over = (n for n, a in limit_a.items() if n in each.members and currents.get(n, 0.0) > a)
                _note(known, each.case.arrangement, dict.fromkeys(over, held_a))
            _take_nothing(found[name], self.band_a)


def _take_nothing(mine: Least, band_a: Mapping[str, float]) -> None:
    """Take what comes to its limit while the device holds nothing."""
    mine.never |= {part for (_, part), held_a in mine.held_a.items() if held_a <= NOTHING_A}
    mine.beyond |= {part for (_, part), held_a in mine.banded_a.items() if held_a <= NOTHING_A}
    mine.beyond |= mine.never - band_a.keys()


def _note(known: dict[tuple[Word, str], float], word: Word, more: Mapping[str, float]) -> None:
    for part, held_a in more.items():
        known[word, part] = min(held_a, known.get((word, part), math.inf))


def _of(known: Mapping[tuple[Word, str], float], word: Word) -> dict[str, float]:
    return {part: held_a for (of, part), held_a in known.items() if of == word}
