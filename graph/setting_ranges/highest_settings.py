"""The highest permissible setting of every device, from the sustained fault currents themselves.

The sustained fault current of a part is looked at as a function of what one device is set to, all others as drawn.
What the device is set to now plays no part. A part is *protected by* the device where it is within its allowed
current, or its overload band, with the device all but shut, and over it with the device never opening. The highest
setting is the one at which the first of these parts comes to its allowed current. Parts that are over it whatever
the device is set to set no end; they are named.

The function never falls with the setting while the same devices are closed, and is a line between a few corners:
the current that the holding device still has to lose, at its share of the part's current, gives the setting at
which the part is where it may be, and the next look at the function confirms it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial

import numpy as np

from loadloom.graph.circuit.network import Network, piece_of
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.devices.device_bands import Threshold, held_multiple, nominal_a, threshold
from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.faults.band_cover import BandCovers
from loadloom.graph.faults.cases import ThresholdsByCase, distinct
from loadloom.graph.faults.opened import opened_sets
from loadloom.graph.faults.part_faults import part_fault
from loadloom.graph.faults.piece import PieceLoads, piece_loads, pieces_of
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.tolerances import AT_ITS_END, NOTHING_A
from loadloom.graph.faults.unproved import bound_unproved
from loadloom.graph.faults.worst_faults import StatesOver, WorstFaults
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.elements import Band, Conductor, Device, DeviceKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange

NEVER_ACTS = "it never acts, or its number is missing"
NOTHING_RATED = "nothing that it could protect has an allowed current"
KEPT_BY_OTHERS = (
    "however high it is set, other devices or the copper keep all that it feeds within what it may carry"
)
NOT_DETERMINED = "not determined: the connected part of the harness is too large to look at every device by itself"

STEP_PAST = 2e-3
"""Share above a setting that is looked at to see that a part is over there."""

START_TIMES = (1.0 + STEP_PAST, 4.0, 30.0)
"""Multiples of the closed form's high end from which a group of devices is brought down."""

MOST_WORK = 40_000
"""Edges that are searched for the ranges of one harness with devices looked at by themselves; see ``_work``."""

LOOP_WORK = 10
"""What an edge in a loop costs, in edges outside of loops."""

LOOKS_EACH = 3
"""Looks that one device usually takes."""

MOST_ROUNDS = 6
"""Looks at a group of devices together."""

WITHIN = 3e-4
"""Share within which the highest setting is found where it lies at no corner that is met exactly."""

ALL_BUT_SHUT_A = 1e-9
"""What devices hold while it is counted in which order they could open."""

MOST_LOOKS = 60
"""Looks at the function for one device; a bracket that is halved so often is far narrower than ``WITHIN``."""

ALLOWED_MORE = 1e-7
"""Share by which a current may be above the allowed one and counts as within it: the fault search's own."""


@dataclass(frozen=True, slots=True)
class Highest:
    """What was found of a device. ``bound`` None: no setting is too high, or none could be found; ``cause`` says
    why.

    ``protects``: the parts that it keeps within their allowed current; ``never``: parts that are over theirs
    whatever it is set to.
    """

    bound: Bound | None
    cause: str
    protects: tuple[str, ...] = ()
    never: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Look:
    """The function at one setting: every part that is over with its answer, worst over arrangements, and how near
    the nearest of all is to what it may carry (1 = there); ``at_end`` are those that are there and not over.
    """

    setting_a: float
    over: Mapping[str, PartFault]
    nearness: float
    at_end: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Fed:
    """A galvanic piece with an output in one case; ``members`` are its parts and splices, ``label`` its number."""

    case: Case
    network: Network
    loads: PieceLoads
    members: frozenset[str]
    label: int


@dataclass(frozen=True)
class HighestSettings:
    """The highest settings of the devices of a harness.

    ``networks`` are those of every case with nothing opened, ``thresholds`` as drawn, ``loading`` what the cases
    themselves do, ``continuous`` their lasting states, ``found`` the fault search as drawn, ``upstream`` the
    devices and outputs before a device.
    """

    harness: Harness
    settings: AnalysisSettings
    cases: Sequence[Case]
    networks: Mapping[str, Sequence[Network]]
    thresholds: ThresholdsByCase
    ratings: Mapping[str, Rating]
    loading: Mapping[str, CaseLoading]
    continuous: Mapping[str, Sequence[Solution]]
    found: FaultAnswer
    upstream: Callable[[str], Sequence[str]]
    _known: dict[tuple[object, ...], tuple[set[str], WorstFaults]] = field(default_factory=dict)

    def of_all(self, ranges: Mapping[str, SettingRange]) -> dict[str, Highest]:
        """The highest setting of every device that has a range by the closed form, where the search begins.

        What is looked at by itself, and what not at all, hangs on how the harness hangs together and on no setting.
        """
        devices: list[Device | Output] = [d for d in self.harness.devices if d.id in ranges]
        if any(self._is_over(a) for a in self.found.parts.values()):
            # An output's own trip is looked at where bringing it down may be a remedy.
            devices += [o for o in self.harness.outputs if o.id in ranges and o.trip_a is not None]
        by_piece: dict[int, list[str]] = {}
        for part in devices:
            by_piece.setdefault(self._piece_of[part.id], []).append(part.id)
        found: dict[str, Highest] = {}
        left = MOST_WORK
        for label, names in sorted(by_piece.items(), key=lambda item: len(item[1]) * self._work[item[0]]):
            each = LOOKS_EACH * max(1, self._work[label])
            alone = names
            if len(names) * each > left:
                loose = [name for name in names if name not in self._in_loops]
                for level in self._levels(loose):
                    found |= self._level({name: ranges[name] for name in level})
                alone = [name for name in names if name not in found]
                if alone and self._are_kept(alone):
                    found |= dict.fromkeys(alone, Highest(None, KEPT_BY_OTHERS))
                    alone = []
            taken = alone[: left // each]
            left -= len(taken) * each
            found |= {name: self.of(self._devices[name], ranges[name]) for name in taken}
            found |= self._unlooked([name for name in alone if name not in found])
        return found

    def _unlooked(self, names: Sequence[str]) -> dict[str, Highest]:
        """What is said of devices for which no work is left."""
        acting = [name for name in names if self._words(name)]
        cause = KEPT_BY_OTHERS if acting and self._are_kept(acting) else NOT_DETERMINED
        found = dict.fromkeys(names, Highest(None, NEVER_ACTS))
        return found | dict.fromkeys(acting, Highest(None, cause))

    def _are_kept(self, names: Sequence[str]) -> bool:
        """Whether others keep all that these feed: with none of them ever opening nothing more is over."""
        acting = [name for name in names if self._words(name)]
        if not acting:
            return False
        mine = set(self._touched(self._devices[names[0]]))
        over = self._over_as_drawn(mine, {word for name in acting for word in self._words(name)})
        return (
            over <= self._never(acting, over)
            and not self._together(dict.fromkeys(acting, math.inf), mine - over, deciding=True).over
        )

    def _levels(self, names: Iterable[str]) -> list[list[str]]:
        """Parts in groups that act in the same arrangements, and of which none lies behind another of its group."""
        known: dict[str, int] = {}

        def depth(name: str, seen: frozenset[str] = frozenset()) -> int:
            if name not in known:
                above = [u for u in self.upstream(name) if u not in seen and u != name]
                known[name] = 1 + max((depth(u, seen | {name}) for u in above), default=0)
            return known[name]

        groups: dict[tuple[int, tuple[str | None, ...]], list[str]] = defaultdict(list)
        for name in names:
            groups[depth(name), self._words(name)].append(name)
        return list(groups.values())

    @cached_property
    def _work(self) -> Mapping[int, int]:
        """What one look at each galvanic piece costs: its edges, those in loops many times over, in every state.

        It is counted as if every device could open on its way, so that it hangs on no setting.
        """
        work: dict[int, int] = defaultdict(int)
        for each in self._kept:
            acting = self.thresholds[each.case.id].items()
            shut = {n: replace(t, held_a=ALL_BUT_SHUT_A) if math.isfinite(t.held_a) else t for n, t in acting}
            for piece in pieces_of(each.network, shut, each.loads):
                cost = len(piece.branches.ids) + LOOP_WORK * int(np.count_nonzero(piece.in_loop))
                work[each.label] += cost * (1 + len(opened_sets(piece).sets))
        return work

    def _level(self, ranges: Mapping[str, SettingRange]) -> dict[str, Highest]:
        """The highest settings of parts of which none lies behind another, looked at together.

        A fault goes through one of them and not through two, and what loads draw beside it is their demand,
        whatever the others are set to. So what one of them holds is its own doing, and one look does for all. What
        comes out of no look is left out.
        """
        found: dict[str, Highest] = {
            name: Highest(None, NOTHING_RATED if ranges[name].high is None else NEVER_ACTS) for name in ranges
        }
        starts = {n: high.setting_a for n, r in ranges.items() if (high := r.high) is not None and self._words(n)}
        if not starts:
            return found
        first = self._devices[next(iter(ranges))]
        mine = set(self._touched(first))
        over = self._over_as_drawn(mine, self._words(first.id))
        loose = list(starts)
        never = self._never(loose, over)
        done: dict[str, Highest] = {}
        for times in START_TIMES:
            now = {name: starts[name] * times for name in loose if name not in done}
            lowered: dict[str, Highest] | None = None
            while now and lowered is None:
                lowered, entangled = self._lowered(now, mine - never, over)
                now = {name: setting_a for name, setting_a in now.items() if name not in entangled}
                loose = [name for name in loose if name not in entangled]
            done |= lowered or {}
        return {name: each for name, each in (found | done).items() if name not in starts or name in done}

    def _lowered(
        self, start: Mapping[str, float], parts: set[str], over: set[str]
    ) -> tuple[dict[str, Highest] | None, set[str]]:
        """From settings in A of several devices, those of them that had to be lowered until no part is over.

        Second: devices of which more than one would have to be lowered for a part that is over as drawn. What one
        of them may be set to hangs on the others, so that each has to be looked at by itself; the first is None
        then.
        """
        now, asked = dict(start), parts
        last: dict[str, PartFault] = {}
        protects: dict[str, set[str]] = defaultdict(set)
        for _ in range(MOST_ROUNDS):
            look = self._together(now, asked)
            lower: dict[str, float] = {}
            by_others: set[str] = set()
            for part, answer in look.over.items():
                name = answer.held_by or ""
                if name not in now:
                    by_others.add(part)
                    continue
                guess = self._tangent(self._devices[name], _Look(now[name], {part: answer}, 1.0))
                protects[name].add(part)
                if guess is not None and guess < lower.get(name, math.inf):
                    lower[name], last[name] = guess, answer
            several = {p for p in over if sum(p in each for each in protects.values()) > 1}
            if several:
                return None, {name for name, each in protects.items() if each & several}
            if not lower:
                if look.over:  # held by none of these, though it hangs on them: each has to be looked at by itself
                    return {}, set()
                made = {n: Bound(now[n], a.id, a.allowed_a or 0.0) for n, a in last.items()}
                return {n: Highest(b, "", tuple(sorted(protects[n]))) for n, b in made.items()}, set()
            now |= lower
            asked = by_others.union(*(protects[name] for name in lower))
        return {}, set()

    def _words(self, name: str) -> tuple[str | None, ...]:
        """The arrangements in which a device or output acts: in others it has nothing to protect."""
        acting = (case.arrangement for case in self.cases if self._acts(self._devices[name], case))
        return tuple(dict.fromkeys(acting))

    def _over_as_drawn(self, parts: Iterable[str], words: Iterable[str | None]) -> set[str]:
        answers = [self.found.by_arrangement[word] for word in words if word in self.found.by_arrangement]
        return {name for name in parts for each in answers if name in each and self._is_over(each[name])}

    def _never(self, names: Sequence[str], over: set[str]) -> set[str]:
        """Of the parts that are over as drawn those that stay so with these devices all but shut.

        Those are for which none of them carries anything. The others are looked at.
        """
        mine, words = set(names), {word for name in names for word in self._words(name)}
        never = set()
        for answer in (self.found.by_arrangement.get(word, {}).get(part) for part in over for word in words):
            if answer is None or answer.carries is None or not self._is_over(answer):
                continue
            if mine.isdisjoint(answer.carries):
                never.add(answer.id)
        open_ones = over - never
        if open_ones:
            never |= set(self._together(dict.fromkeys(names, 0.0), open_ones, deciding=True).over)
        return never

    @cached_property
    def _in_loops(self) -> frozenset[str]:
        """Devices and outputs that current has a path around, in some case."""
        found: set[str] = set()
        for each in self._kept:
            for piece in pieces_of(each.network, self.thresholds[each.case.id], each.loads):
                found.update(piece.branches.ids[k] for k in np.flatnonzero(piece.in_loop).tolist())
        return frozenset(found)

    def of(self, device: Device | Output, setting_range: SettingRange | None) -> Highest:
        """The highest setting of a device. ``setting_range`` is what the closed form says of it: where the search
        begins. What the device is set to as drawn plays no part.
        """
        if self._drawn_a(device) is None or not self._words(device.id):
            return Highest(None, NEVER_ACTS)
        mine = self._touched(device)
        if not mine:
            return Highest(None, NOTHING_RATED)
        # What is within its allowed current as drawn is so at every lower setting.
        over = self._over_as_drawn(mine, self._words(device.id))
        never = self._never([device.id], over)
        states = StatesOver(device=device.id)
        without_end = self._look(device, math.inf, set(mine) - never, states)
        left_out, protects = tuple(sorted(never)), tuple(sorted(without_end.over))
        if not protects:
            return Highest(None, KEPT_BY_OTHERS, (), left_out)
        found_a, last = self._crossing(device, without_end, setting_range, states)
        part = max(last.over.values(), key=_nearness)
        return Highest(Bound(found_a, part.id, part.allowed_a or 0.0), "", protects, left_out)

    def _crossing(
        self, device: Device | Output, high: _Look, setting_range: SettingRange | None, states: StatesOver
    ) -> tuple[float, _Look]:
        """The setting at which the first part comes to what it may carry, below one at which some are over; and the
        last look at which something was over.
        """
        start = setting_range.high if setting_range is not None else None
        guess = self._setting_of_least(device, states, high.over)
        if guess is None:
            guess = start.setting_a * (1.0 + STEP_PAST) if start is not None else self._drawn_a(device)
        wanted, low_a, higher, closing = set(high.over), 0.0, high, False
        for _ in range(MOST_LOOKS):
            if low_a > 0.0 and high.setting_a <= low_a * (1.0 + WITHIN):
                break
            computed = not closing and guess is not None
            if guess is None or not low_a < guess < high.setting_a:
                computed, guess = _between(low_a, high, higher)
            look = self._look(device, guess, wanted, states)
            if look.over:
                wanted, high, higher, closing = set(look.over), look, high, False
                guess = self._tangent(device, high)
                if guess is None:
                    guess = self._setting_of_least(device, states, high.over)
                continue
            # Just past a setting that was computed it may be settled already.
            low_a, guess, closing = guess, guess * (1.0 + 0.9 * WITHIN) if computed else None, computed
            if look.nearness < 1.0 - AT_ITS_END:
                continue
            # A part is at its end: a step past this setting settles that it is the highest.
            beyond_a = low_a * (1.0 + STEP_PAST)
            if high.setting_a > beyond_a * (1.0 + WITHIN):
                past = self._look(device, beyond_a, look.at_end, states)
                if not past.over:
                    past = self._look(device, beyond_a, wanted, states)
                if not past.over:
                    low_a = beyond_a
                    continue
                high = past
            return low_a, high
        return low_a, high

    def _setting_of_least(self, device: Device | Output, states: StatesOver, parts: Iterable[str]) -> float | None:
        """The setting at which the device holds the least current with which one of the parts can be over."""
        best = None
        for (word, name), held_a in states.least_a.items():
            if name not in parts or not math.isfinite(held_a):
                continue
            there, setting_a = device.under(word), held_a
            for _ in range(3):  # the multiple that a fuse holds can hang on its size
                multiple = held_multiple(set_to(there, setting_a), self.settings)
                setting_a = held_a / multiple if multiple else math.inf
            best = setting_a if best is None else min(best, setting_a)
        return best

    def _tangent(self, device: Device | Output, look: _Look) -> float | None:
        """Where the parts that are over would be where they may be, if all went on as at this setting."""
        best = None
        for answer in look.over.values():
            held_a, enough_a, value_a, allowed_a = (
                answer.held_a,
                answer.held_to_protect_a,
                answer.sustained_fault_a,
                answer.allowed_a,
            )
            if answer.held_by != device.id or not held_a or enough_a is None or not value_a or not allowed_a:
                continue
            if not math.isfinite(held_a) or value_a <= allowed_a:
                continue
            setting_a = look.setting_a * enough_a / held_a
            if _has_band(device) and isinstance(self.harness.by_id[answer.id], Conductor):
                # By the band the printed number may be the current that the part is allowed.
                spare_a = (
                    (self.settings.overload_band - 1.0) * allowed_a * (held_a - enough_a) / (value_a - allowed_a)
                )
                banded_a = min(enough_a, look.setting_a * (enough_a + spare_a) / held_a)
                if setting_a < banded_a < look.setting_a * (1.0 - WITHIN):
                    setting_a = banded_a
            best = setting_a if best is None else min(best, setting_a)
        return best

    # -- the function --------------------------------------------------------------------------------------------

    def _look(
        self, device: Device | Output, setting_a: float, parts: Iterable[str], states: StatesOver | None = None
    ) -> _Look:
        """The parts that are over what they may carry with a device set to ``setting_a``: 0 lets all but nothing
        through, infinity everything. ``states``: those that matter, from looks at higher settings.
        """
        ends = not 0.0 < setting_a < math.inf
        if states is not None:
            states.least_a.clear()
        look = self._together({device.id: setting_a}, parts, states, deciding=ends)
        if states is not None:
            states.settle(bool(look.over))
        return look

    def _together(
        self,
        settings_a: Mapping[str, float],
        parts: Iterable[str],
        states: StatesOver | None = None,
        *,
        deciding: bool = False,
    ) -> _Look:
        """As ``_look`` for several devices, their settings by id. ``deciding``: by how much a part is over is not
        asked.
        """
        asked = frozenset(parts)
        thresholds, changed = self._changed(settings_a)
        begun = WorstFaults(limit_a=self._limit_a, enough_a=self._enough_a if deciding else {}, states=states)
        worst = self._searched(thresholds, asked, frozenset(settings_a), begun)
        maker = RowMaker(self.ratings)
        covers = {}
        for word, found in worst.items():
            maker.note(found.radial.values())
            here = next(thresholds[case.id] for case in self.cases if case.arrangement == word)
            covers[word] = BandCovers(changed, word, here)
        over: dict[str, PartFault] = {}
        at_end: dict[str, None] = {}
        nearness = 0.0
        for name in sorted(asked):
            allowed_a = self.ratings[name].allowed_a if name in self.ratings else None
            if not allowed_a:
                continue
            for word, found in worst.items():
                near = found.value_a(name) / allowed_a
                if near > 1.0:
                    answer = part_fault(
                        *(changed, self.settings, thresholds, self.ratings, maker, name, found),
                        *({}, False, covers[word]),
                    )
                    if not self._is_over(answer):
                        near = self._in_band(answer)
                    elif name not in over or _nearness(over[name]) < near:
                        over[name] = answer
                nearness = max(nearness, near)
                if near >= 1.0 - AT_ITS_END and name not in over:
                    at_end[name] = None
        return _Look(min(settings_a.values()), over, nearness, tuple(at_end))

    def _in_band(self, answer: PartFault) -> float:
        """How near a part in its overload band is to the end of the band, as a share."""
        if answer.at_rating_a is None or not answer.allowed_a:
            return 1.0
        return min(1.0, max(answer.at_rating_a / answer.allowed_a, _nearness(answer) / self.settings.overload_band))

    def _changed(self, settings_a: Mapping[str, float]) -> tuple[ThresholdsByCase, Harness]:
        """The thresholds with some devices set otherwise, and the harness that they are of."""
        acts: dict[tuple[str, str | None], Threshold] = {}
        plain: dict[str, Device | Output] = {}
        for name, setting_a in settings_a.items():
            device = self._devices[name]
            for word in dict.fromkeys(case.arrangement for case in self.cases):
                there = device.under(word)
                if 0.0 < setting_a < math.inf:
                    acts[name, word] = threshold(set_to(there, setting_a), self.settings, None)
                else:
                    drawn = threshold(there, self.settings, None)
                    acts[name, word] = replace(drawn, held_a=setting_a or NOTHING_A)
            if 0.0 < setting_a < math.inf:
                plain[name] = set_everywhere(device, setting_a)
        thresholds = {
            case.id: dict(self.thresholds[case.id])
            | {n: acts[n, case.arrangement] for n in settings_a if self._acts(self._devices[n], case)}
            for case in self.cases
        }
        devices = tuple(p for d in self.harness.devices if isinstance(p := plain.get(d.id, d), Device))
        outputs = tuple(p for o in self.harness.outputs if isinstance(p := plain.get(o.id, o), Output))
        return thresholds, replace(self.harness, devices=devices, outputs=outputs)

    @cached_property
    def _devices(self) -> dict[str, Device | Output]:
        parts: tuple[Device | Output, ...] = (*self.harness.devices, *self.harness.outputs)
        return {part.id: part for part in parts}

    def _searched(
        self,
        thresholds: ThresholdsByCase,
        asked: frozenset[str],
        changed: frozenset[str],
        begun: WorstFaults,
    ) -> dict[str | None, WorstFaults]:
        """The worst by arrangement; ``begun`` says what is asked."""
        worst: dict[str | None, WorstFaults] = {}
        words = {word for name in changed for word in self._words(name)}
        for each in self._kept:
            if asked.isdisjoint(each.members) or each.case.arrangement not in words:
                continue
            case, mine = each.case, thresholds[each.case.id]
            found = worst.setdefault(case.arrangement, begun.beginning())
            taken = partial(self._taken, each=each, thresholds=mine, worst=found, asked=asked, changed=changed)
            self._search(each, each.network, each.loads, mine, found, asked, taken)
        for found in worst.values():
            bound_unproved(found.unproved, found, short=True)
        for case in self.cases:
            if case.arrangement in worst:
                worst[case.arrangement].raise_to(case, self._floor_a(case, thresholds, asked))
        return worst

    def _search(
        self,
        each: _Fed,
        network: Network,
        loads: PieceLoads,
        thresholds: Mapping[str, Threshold],
        worst: WorstFaults,
        asked: frozenset[str],
        taken: Callable[[Network, PieceLoads], bool] = lambda rest, loads: False,
    ) -> None:
        if worst.states is not None:
            worst.states.network = id(each)
        search_network(
            self.harness,
            each.case,
            network,
            thresholds,
            loads,
            self.ratings,
            worst,
            short=True,
            only=asked,
            known=taken,
        )

    def _taken(
        self,
        rest: Network,
        loads: PieceLoads,
        *,
        each: _Fed,
        thresholds: Mapping[str, Threshold],
        worst: WorstFaults,
        asked: frozenset[str],
        changed: frozenset[str],
    ) -> bool:
        """Take what is found in a state with some devices opened; True, since no one else has to search it.

        Where all devices that are set otherwise have opened, what they are set to changes nothing.
        """
        states = worst.states
        if states is None and worst.enough_a:
            asked = frozenset(n for n in asked if worst.value_a(n) <= worst.enough_a.get(n, math.inf))
            if not asked:
                return True
        if changed <= set(rest.opened):
            if states is None:
                _take_over(self._opened(each, rest, loads, asked), worst, asked)
            return True
        if states is not None:
            asked = states.asked((rest.opened,), asked)
        if not asked:
            return True
        found = replace(worst.beginning(), searched=worst.searched)
        self._search(each, rest, loads, thresholds, found, asked)
        _take_over(found, worst, asked)
        if states is not None:
            # The same devices can have opened on the way to several pieces, of which an equal one is not searched.
            over = frozenset(name for name in asked if found.value_a(name) > self._limit_a[name])
            states.note((rest.opened,), over)
        return True

    def _opened(self, each: _Fed, rest: Network, loads: PieceLoads, asked: frozenset[str]) -> WorstFaults:
        """What is found with some devices opened, all of them, and the others as drawn, of the parts asked for."""
        known, found = self._known.setdefault(
            (id(each), rest.opened), (set(), WorstFaults(limit_a=self._limit_a, enough_a=self._enough_a))
        )
        missing = (asked & each.members) - known
        if missing:
            known |= missing
            more = found.beginning()
            self._search(each, rest, loads, self.thresholds[each.case.id], more, missing)
            _take_over(more, found, missing)
        return found

    @cached_property
    def _kept(self) -> list[_Fed]:
        """Every galvanic piece with an output, in the cases that can differ in their answer."""
        made = []
        for case, network, _ in distinct(self.harness, self.cases, self.networks, self.thresholds, self.loading):
            covered: set[str] = set()
            for source, plus in zip(network.source_ids, network.source_plus.tolist(), strict=True):
                if source in covered:
                    continue
                piece, _ = piece_of(network, plus)
                # What a rail can touch hangs on all of the drawing, open parts and the loads behind them included.
                piece = replace(piece, drawn=network.drawn or network)
                covered.update(piece.source_ids)
                members = frozenset((*piece.edge_ids, *self._splices_at(piece)))
                loads = piece_loads(piece, self.harness, self._least_v(case))
                made.append(_Fed(case, piece, loads, members, self._piece_of[source]))
        return made

    def _splices_at(self, piece: Network) -> list[str]:
        nodes = set(piece.node_ids)
        return [splice.id for splice in self.harness.splices if splice.node in nodes]

    def _least_v(self, case: Case) -> Mapping[str, float]:
        return self.loading.get(case.id, CaseLoading()).least_v

    def _floor_a(self, case: Case, thresholds: ThresholdsByCase, asked: frozenset[str]) -> dict[str, float]:
        """What a case carries for good in the parts asked for, in A, where no device and no output opens in it."""
        found: dict[str, float] = {}
        for currents in self._lasting.get(case.id, ()):
            if all(currents.get(name, 0.0) <= acts.held_a for name, acts in thresholds[case.id].items()):
                for name in asked:
                    found[name] = max(currents.get(name, 0.0), found.get(name, 0.0))
        return found

    @cached_property
    def _lasting(self) -> dict[str, list[dict[str, float]]]:
        """Currents in A by id of every lasting state, by case id."""
        made: dict[str, list[dict[str, float]]] = {}
        for case in self.cases:
            for solution in self.continuous.get(case.id, ()):
                network = solution.network
                amps = np.abs(np.concatenate([solution.edge_a, solution.source_a])).tolist()
                made.setdefault(case.id, []).append(
                    dict(zip((*network.edge_ids, *network.source_ids), amps, strict=True))
                )
        return made

    def _is_over(self, answer: PartFault) -> bool:
        """Whether a part is over what it may carry. The overload band is for devices with a conventional tripping
        current and not for a limiter, whose tolerance is no band.
        """
        holder = self._devices.get(answer.held_by or "")
        in_tolerance = answer.in_band and holder is not None and not _has_band(holder)
        return answer.protected is False or in_tolerance

    # -- what is asked for ---------------------------------------------------------------------------------------

    def _drawn_a(self, device: Device | Output) -> float | None:
        words = dict.fromkeys(case.arrangement for case in self.cases)
        return next((a for word in words if (a := nominal_a(device.under(word))) is not None), None)

    def _acts(self, device: Device | Output, case: Case) -> bool:
        acts = self.thresholds[case.id].get(device.id)
        return acts is not None and math.isfinite(acts.held_a)

    def _touched(self, device: Device | Output) -> tuple[str, ...]:
        """Rated parts that hang together with a device by copper and outputs."""
        label = self._piece_of.get(device.id)
        return tuple(name for name in self._rated if self._piece_of.get(name) == label)

    @cached_property
    def _rated(self) -> tuple[str, ...]:
        return tuple(name for name, r in self.ratings.items() if r.allowed_a and name in self.found.parts)

    @cached_property
    def _limit_a(self) -> dict[str, float]:
        """What rated parts may carry, in A."""
        return {name: self.ratings[name].allowed_a or 0.0 for name in self._rated}

    @cached_property
    def _enough_a(self) -> dict[str, float]:
        """The currents in A above which a part is over, its overload band included."""
        most = {c.id: max(self.settings.overload_band, 1.0) for c in self.harness.conductors}
        return {name: a * most.get(name, 1.0) * (1.0 + AT_ITS_END) for name, a in self._limit_a.items()}

    @cached_property
    def _piece_of(self) -> dict[str, int]:
        """The number of the galvanic piece of every part and splice, in whatever arrangement it hangs together."""
        parent: dict[str, str] = {}

        def root(node: str) -> str:
            while (up := parent.setdefault(node, node)) != node:
                parent[node] = node = parent.setdefault(up, up)
            return node

        harness = self.harness
        pairs = [(p.node_a, p.node_b) for p in harness.two_ended]
        pairs += [(o.node_plus, o.node_minus) for o in harness.outputs]
        pairs += [(bond.node, harness.chassis[0].node) for bond in harness.chassis]
        for a, b in pairs:
            parent[root(a)] = root(b)
        numbers: dict[str, int] = {}
        found = {p.id: numbers.setdefault(root(p.node_a), len(numbers)) for p in harness.two_ended}
        found |= {o.id: numbers.setdefault(root(o.node_plus), len(numbers)) for o in harness.outputs}
        found |= {s.id: numbers.setdefault(root(s.node), len(numbers)) for s in harness.splices}
        return found


def _take_over(known: WorstFaults, worst: WorstFaults, asked: frozenset[str]) -> None:
    """Take what is worse for the parts that are asked for."""
    for name in asked:
        hit, radial = known.hits.get(name), known.radial.get(name)
        if hit is not None and hit.better_than(worst.hits.get(name)):
            worst.hits[name] = hit
        if radial is not None and radial.value_a > worst.value_a(name):
            worst.radial[name] = radial
    worst.no_cuts |= known.no_cuts & asked
    worst.too_large |= known.too_large & asked
    worst.unproved += [each for each in known.unproved if each not in worst.unproved]


def _between(low_a: float, high: _Look, higher: _Look) -> tuple[bool, float]:
    """A setting below ``high``: by a straight line through it and the look before, ``higher``, where it falls from
    one to the other (true), else by halving or doubling.
    """
    if math.isinf(high.setting_a):
        return False, 2.0 * low_a if low_a > 0.0 else 1.0
    if higher.nearness > high.nearness > 1.0 and math.isfinite(higher.setting_a):
        slope = (higher.nearness - high.nearness) / (higher.setting_a - high.setting_a)
        setting_a = high.setting_a - (high.nearness - 1.0) / slope
        if low_a < setting_a < high.setting_a:
            return True, setting_a
    return False, math.sqrt(low_a * high.setting_a) if low_a > 0.0 else high.setting_a / 2.0


def _has_band(part: Device | Output) -> bool:
    """Whether a part has a conventional tripping current, which the overload band is for."""
    return isinstance(part, Device) and part.kind is not DeviceKind.LIMITER


def _nearness(answer: PartFault) -> float:
    """The current of a part as a share of its allowed current."""
    return answer.sustained_fault_a / answer.allowed_a if answer.sustained_fault_a and answer.allowed_a else 0.0


SETTING_FIELDS = ("trip_a", "hold_a", "rating_a", "melting_a2s")


def set_to(part: Device | Output, setting_a: float) -> Device | Output:
    """A part with another nominal setting, its tolerances scaled with it."""
    drawn_a = nominal_a(part)
    if isinstance(part, Device) and part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER):
        if drawn_a is None or not drawn_a:
            return part
        # The I²t at which a fuse melts grows with about the square of its rating.
        melting = part.melting_a2s * (setting_a / drawn_a) ** 2 if part.melting_a2s is not None else None
        return replace(part, rating_a=setting_a, melting_a2s=melting)
    band, scale = part.trip_a, setting_a / drawn_a if drawn_a else 1.0
    trip_a = Band(band.nominal * scale, band.lower * scale, band.upper * scale) if band is not None else None
    if isinstance(part, Device) and part.hold_a is not None:
        return replace(part, trip_a=trip_a, hold_a=part.hold_a * scale)
    return replace(part, trip_a=trip_a)


def set_everywhere(part: Device | Output, setting_a: float) -> Device | Output:
    """A part with another nominal setting in every arrangement in which it has one."""
    by_word = {}
    for word, values in part.by_word.items():
        there = set_to(part.under(word), setting_a)
        own = {k: getattr(there, k) for k, v in values.items() if k in SETTING_FIELDS and v is not None}
        by_word[word] = {**values, **own}
    return replace(set_to(part, setting_a), by_word=by_word)


def with_highest(highest: HighestSettings, setting_ranges: Mapping[str, SettingRange]) -> dict[str, SettingRange]:
    """The setting ranges of all devices with their high ends as the sustained fault currents give them."""
    found = dict(setting_ranges)
    for name, got in highest.of_all(setting_ranges).items():
        known = found[name]
        one_open = known.high_one_open
        if got.bound is not None and (one_open is None or one_open.setting_a > got.bound.setting_a):
            one_open = got.bound
        found[name] = replace(
            known,
            high=got.bound,
            high_one_open=one_open,
            protects=got.protects,
            never=got.never,
            cause=got.cause,
            searched=True,
        )
    return found


def lower_highs(ranges: Mapping[str, SettingRange], then: Mapping[str, SettingRange]) -> dict[str, SettingRange]:
    """Setting ranges that hold in a second state as well, such as that of a failed part: the lower high end counts.

    A device whose high end is not determined in the second state has none.
    """
    found = dict(ranges)
    for name, other in then.items():
        known = found[name]
        if other.high is None:
            if other.cause == NOT_DETERMINED and known.high is not None:
                found[name] = replace(known, high=None, high_one_open=None, cause=NOT_DETERMINED)
            continue
        if known.high is None and known.cause == NOT_DETERMINED:
            continue
        if known.high is None or other.high.setting_a < known.high.setting_a:
            one_open = known.high_one_open
            if one_open is None or other.high.setting_a < one_open.setting_a:
                one_open = other.high
            protects = tuple(dict.fromkeys((*known.protects, *other.protects)))
            found[name] = replace(known, high=other.high, high_one_open=one_open, protects=protects, cause="")
    return found
