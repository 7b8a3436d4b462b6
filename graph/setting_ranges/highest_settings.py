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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from loadloom.graph.cases.case_loading import CaseLoading
from loadloom.graph.devices import Threshold, nominal_a, threshold
from loadloom.graph.elements import Device, DeviceKind
from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.faults.cases import ThresholdsByCase, distinct
from loadloom.graph.faults.opened import opened_networks
from loadloom.graph.faults.part_faults import part_fault
from loadloom.graph.faults.piece import PieceLoads, piece_loads
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.unproved import bound_unproved
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.harness import Harness
from loadloom.graph.results import Rating
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange
from loadloom.graph.settings import AnalysisSettings, Case
from loadloom.graph.solving.network import Network
from loadloom.graph.solving.solution import Solution

NEVER_OPENS = 1e6
"""Multiple of the drawn setting that stands for a device that never opens."""

ALL_BUT_SHUT = 1e-9
"""Multiple of the drawn setting that stands for a device that lets nothing through."""

WITHIN = 2e-5
"""Share within which the highest setting is found."""

STEP_PAST = 2e-3
"""Share above a setting that is looked at to see that a part is over there."""

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
    """The function at one setting: every part that was asked for with its answer, worst over arrangements, and how
    near the nearest is to what it may carry (1 = there).
    """

    setting_a: float
    over: Mapping[str, PartFault]
    nearness: float
    nearest: str


@dataclass(frozen=True)
class HighestSettings:
    """The highest settings of the devices of a harness.

    ``networks`` are those of every case with nothing opened, ``thresholds`` as drawn, ``loading`` what the cases
    themselves do, ``continuous`` their lasting states, ``found`` the fault search as drawn.
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
    _spent: list[int] = field(default_factory=lambda: [0])

    def of(self, device: Device, setting_range: SettingRange | None) -> Highest:
        """The highest setting of a device. ``setting_range`` is what the closed form says of it: where the search
        begins."""
        drawn_a = self._drawn_a(device)
        if drawn_a is None or not any(self._acts(device, case) for case in self.cases):
            return Highest(None, "it never acts, or its number is missing")
        mine = self._touched(device)
        answers = {name: a for name in mine if (a := self.found.parts.get(name)) is not None}
        over = {name for name, a in answers.items() if _is_over(device, a)}
        fine = {name for name, a in answers.items() if a.allowed_a is not None} - over
        if not over and not fine:
            return Highest(None, "nothing that it could protect has an allowed current")
        never = set(self._look(device, None, over, shut=True).over) if over else set()
        mended = over - never
        unlimited = self._look(device, None, fine, shut=False)
        protects = tuple(sorted(mended | set(unlimited.over)))
        left_out = tuple(sorted(never))
        if mended:
            low_a, high = 0.0, self._look(device, drawn_a, mended)
        elif unlimited.over:
            low_a, high = drawn_a, replace(unlimited, setting_a=math.inf)
        else:
            return Highest(None, self._why_none(device, unlimited, answers), protects, left_out)
        found_a, last = self._crossing(device, low_a, high, setting_range)
        part = max(last.over.values(), key=_nearness)
        return Highest(Bound(found_a, part.id, part.allowed_a or 0.0), "", protects, left_out)

    def _crossing(
        self, device: Device, low_a: float, high: _Look, setting_range: SettingRange | None
    ) -> tuple[float, _Look]:
        """The setting at which the first part comes to what it may carry, between one that does and one that does
        not; and the last look at which something was over.
        """
        wanted = set(high.over)
        start = (
            setting_range.high.setting_a if setting_range is not None and setting_range.high is not None else None
        )
        for _ in range(MOST_LOOKS):
            if low_a > 0.0 and high.setting_a <= low_a * (1.0 + WITHIN):
                break
            guess, start = start if start is not None else self._tangent(device, high), None
            if guess is None or not low_a < guess < high.setting_a:
                guess = self._between(device, low_a, high.setting_a)
            look = self._look(device, guess, wanted)
            if look.over:
                wanted, high = set(look.over), look
                continue
            low_a = guess
            # Where a part is near its end, a step past it settles that this is the highest.
            beyond_a = guess * (1.0 + STEP_PAST)
            if look.nearness >= 1.0 - WITHIN and beyond_a < high.setting_a:
                past = self._look(device, beyond_a, wanted)
                if past.over:
                    return low_a, past
                low_a = beyond_a
        return low_a, high

    def _between(self, device: Device, low_a: float, high_a: float) -> float:
        if math.isinf(high_a):
            return 2.0 * max(low_a, self._drawn_a(device) or 1.0)
        return math.sqrt(low_a * high_a) if low_a > 0.0 else high_a / 2.0

    def _tangent(self, device: Device, look: _Look) -> float | None:
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
            if device.kind is not DeviceKind.LIMITER:
                # By the band the printed number may be the current that the part is allowed.
                spare_a = (
                    (self.settings.overload_band - 1.0) * allowed_a * (held_a - enough_a) / (value_a - allowed_a)
                )
                setting_a = max(setting_a, min(enough_a, look.setting_a * (enough_a + spare_a) / held_a))
            best = setting_a if best is None else min(best, setting_a)
        return best

    def _why_none(self, device: Device, look: _Look, answers: Mapping[str, PartFault]) -> str:
        return (
            "however high it is set, other devices or the copper keep all that it feeds within its allowed current"
        )

    # -- the function --------------------------------------------------------------------------------------------

    def _look(self, device: Device, setting_a: float | None, parts: Iterable[str], *, shut: bool = False) -> _Look:
        """The parts that are over what they may carry with a device set to ``setting_a``; None: all but shut, or
        never opening.
        """
        asked = frozenset(parts)
        changed = self.harness
        acts: dict[str | None, Threshold] = {}
        for word in dict.fromkeys(case.arrangement for case in self.cases):
            there = device.under(word)
            drawn = threshold(there, self.settings, None)
            if setting_a is None:
                acts[word] = replace(drawn, held_a=drawn.held_a * ALL_BUT_SHUT if shut else math.inf)
            else:
                acts[word] = threshold(set_to(there, setting_a), self.settings, None)
        if setting_a is not None:
            one = set_everywhere(device, setting_a)
            changed = replace(
                self.harness, devices=tuple(one if d.id == one.id else d for d in self.harness.devices)
            )
        thresholds = {
            case.id: {**self.thresholds[case.id], device.id: acts[case.arrangement]}
            if self._acts(device, case)
            else self.thresholds[case.id]
            for case in self.cases
        }
        worst = self._searched(device, thresholds, asked)
        maker = RowMaker(self.ratings)
        for found in worst.values():
            maker.note(found.radial.values())
        over: dict[str, PartFault] = {}
        nearness, nearest = 0.0, ""
        for name in sorted(asked):
            for found in worst.values():
                allowed_a = self.ratings[name].allowed_a if name in self.ratings else None
                if not allowed_a:
                    continue
                near, answer = found.value_a(name) / allowed_a, None
                if near > 1.0:
                    answer = part_fault(
                        changed, self.settings, thresholds, self.ratings, maker, name, found, {}, unreadable=False
                    )
                    near = _nearness(answer) if _is_over(device, answer) else 1.0
                if near > nearness:
                    nearness, nearest = near, name
                if answer is not None and _is_over(device, answer):
                    known = over.get(name)
                    if known is None or _nearness(known) < near:
                        over[name] = answer
        return _Look(setting_a if setting_a is not None else math.inf, over, nearness, nearest)

    def _searched(
        self, device: Device, thresholds: ThresholdsByCase, asked: frozenset[str]
    ) -> dict[str | None, WorstFaults]:
        worst: dict[str | None, WorstFaults] = {}
        if not asked:
            return worst
        for case, network, loads in self._kept:
            found = worst.setdefault(case.arrangement, WorstFaults())
            mine = thresholds[case.id]
            rest = [
                (n, piece_loads(n, self.harness, self._least_v(case)))
                for n in opened_networks(network, mine, loads)
            ]
            for each, drawn in ((network, loads), *rest):
                search_network(self.harness, case, each, mine, drawn, self.ratings, found, short=True, only=asked)
        for each in worst.values():
            bound_unproved(each.unproved, each, short=True)
        for case in self.cases:
            if case.arrangement in worst:
                worst[case.arrangement].raise_to(case, self._floor_a(device, case, thresholds, asked))
        return worst

    @cached_property
    def _kept(self) -> list[tuple[Case, Network, PieceLoads]]:
        return distinct(self.harness, self.cases, self.networks, self.thresholds, self.loading)

    def _least_v(self, case: Case) -> Mapping[str, float]:
        return self.loading.get(case.id, CaseLoading()).least_v

    def _floor_a(
        self, device: Device, case: Case, thresholds: ThresholdsByCase, asked: frozenset[str]
    ) -> dict[str, float]:
        """What a case carries continuously in the parts asked for, in A, where no device and no output opens in
        it."""
        found: dict[str, float] = {}
        for currents, tripped in self._lasting.get(case.id, ()):
            acts = thresholds[case.id].get(device.id)
            if tripped - {device.id} or (acts is not None and currents.get(device.id, 0.0) > acts.held_a):
                continue
            for name in asked:
                found[name] = max(currents.get(name, 0.0), found.get(name, 0.0))
        return found

    @cached_property
    def _lasting(self) -> dict[str, list[tuple[dict[str, float], frozenset[str]]]]:
        """Currents in A by id of every lasting state of a case, and the devices and outputs that open in it."""
        made: dict[str, list[tuple[dict[str, float], frozenset[str]]]] = {}
        for case in self.cases:
            for solution in self.continuous.get(case.id, ()):
                network = solution.network
                amps = np.abs(np.concatenate([solution.edge_a, solution.source_a])).tolist()
                currents = dict(zip((*network.edge_ids, *network.source_ids), amps, strict=True))
                limits = self.thresholds[case.id]
                tripped = frozenset(n for n, t in limits.items() if currents.get(n, 0.0) > t.held_a)
                made.setdefault(case.id, []).append((currents, tripped))
        return made

    # -- what is asked for ---------------------------------------------------------------------------------------

    def _drawn_a(self, device: Device) -> float | None:
        words = dict.fromkeys(case.arrangement for case in self.cases)
        return next((a for word in words if (a := nominal_a(device.under(word))) is not None), None)

    def _acts(self, device: Device, case: Case) -> bool:
        acts = self.thresholds[case.id].get(device.id)
        return acts is not None and math.isfinite(acts.held_a)

    def _touched(self, device: Device) -> tuple[str, ...]:
        """Rated parts that hang together with a device by copper and outputs."""
        label = self._piece_of.get(device.id)
        return tuple(name for name in self._rated if self._piece_of.get(name) == label)

    @cached_property
    def _rated(self) -> tuple[str, ...]:
        return tuple(name for name, r in self.ratings.items() if r.allowed_a and name in self.found.parts)

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
        found |= {s.id: numbers.setdefault(root(s.node), len(numbers)) for s in harness.splices}
        return found


def _is_over(device: Device, answer: PartFault) -> bool:
    """Whether a part is over what it may carry. The overload band is for devices with a conventional tripping
    current and not for a limiter, whose tolerance is no band.
    """
    in_tolerance = answer.in_band and answer.held_by == device.id and device.kind is DeviceKind.LIMITER
    return answer.protected is False or in_tolerance


def _nearness(answer: PartFault) -> float:
    """The current of a part as a share of its allowed current."""
    return answer.sustained_fault_a / answer.allowed_a if answer.sustained_fault_a and answer.allowed_a else 0.0


def set_to(device: Device, setting_a: float) -> Device:
    """A device with another nominal setting, its tolerances scaled with it."""
    if device.kind is DeviceKind.RESETTABLE or device.kind is DeviceKind.LIMITER:
        drawn_a = device.setting_a
        scale = setting_a / drawn_a if drawn_a else 1.0
        band = device.trip_a
        trip = (
            replace(band, nominal=band.nominal * scale, lower=band.lower * scale, upper=band.upper * scale)
            if band
            else None
        )
        return replace(device, trip_a=trip, hold_a=device.hold_a * scale if device.hold_a is not None else None)
    return replace(device, rating_a=setting_a if device.rating_a is not None else None)


SETTING_FIELDS = ("trip_a", "hold_a", "rating_a")


def set_everywhere(device: Device, setting_a: float) -> Device:
    """A device with another nominal setting in every arrangement in which it has one."""
    changed = set_to(device, setting_a)
    by_word = {}
    for word, values in device.by_word.items():
        there = set_to(device.under(word), setting_a)
        by_word[word] = {
            k: getattr(there, k) if k in SETTING_FIELDS and v is not None else v for k, v in values.items()
        }
    return replace(changed, by_word=by_word)


def with_highest(highest: HighestSettings, setting_ranges: Mapping[str, SettingRange]) -> dict[str, SettingRange]:
    """The setting ranges of all devices with their high ends as the sustained fault currents give them."""
    found = dict(setting_ranges)
    for device in highest.harness.devices:
        setting_range = setting_ranges.get(device.id)
        if setting_range is None:
            continue
        got = highest.of(device, setting_range)
        one_open = setting_range.high_one_open
        if got.bound is not None and (one_open is None or one_open.setting_a > got.bound.setting_a):
            one_open = got.bound
        found[device.id] = replace(
            setting_range,
            high=got.bound,
            high_one_open=one_open,
            protects=got.protects,
            never=got.never,
            cause=got.cause,
            searched=True,
        )
    return found
