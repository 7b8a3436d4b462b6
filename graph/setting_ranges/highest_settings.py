"""The highest permissible setting of every device, from the sustained fault currents themselves.

The sustained fault current of a part is looked at as a function of what one device is set to, all others as drawn.
What the device is set to now plays no part. A part is *protected by* the device where it is within its allowed
current, or its overload band, with the device all but shut, and over it with the device never opening. The highest
setting is the one at which the first of these parts comes to its allowed current. Parts that are over it whatever
the device is set to set no end; they are named.

It comes from one pass over all states (``least_currents``): the least current that the device holds where a part
is at what it may carry, or at the end of its overload band; whether the band counts is a rule on what the device,
others and the copper hold. No setting is tried. Large radial pieces have no such pass: there all devices that can't
add to one another are brought down together, by the closed form.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import Network, piece_of
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.devices.device_bands import Threshold, held_multiple, nominal_a, threshold
from loadloom.graph.devices.other_settings import set_everywhere, set_to
from loadloom.graph.faults.answer import FaultAnswer, PartFault
from loadloom.graph.faults.band_cover import BandCovers
from loadloom.graph.faults.budgets import RADIAL_FROM
from loadloom.graph.faults.cases import ThresholdsByCase, distinct
from loadloom.graph.faults.part_faults import part_fault
from loadloom.graph.faults.piece import Piece, piece_loads, pieces_of
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.radial.radial_rows import on_way
from loadloom.graph.faults.rows import RowMaker
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.tolerances import AT_ITS_END, NOTHING_A
from loadloom.graph.faults.unproved import bound_unproved
from loadloom.graph.faults.worst_faults import FoundHit, WorstFaults
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.elements import Device, DeviceKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.setting_ranges.least_currents import Fed, Least, LeastCurrents
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange

NEVER_ACTS = "it never acts, or its number is missing"
NOTHING_RATED = "nothing that it could protect has an allowed current"
KEPT_BY_OTHERS = (
    "however high it is set, other devices or the copper keep all that it feeds within what it may carry"
)
BY_VOLTAGES = (
    "not determined: at which voltages of joined outputs, or resistances of the paths that share it, a fault draws "
    "the most hangs on this setting; a report with another one tells"
)
BY_PLACEHOLDERS = "not determined: outputs of other voltages are joined through 0 Ω"
UNKNOWN = "not determined"
"""How causes begin that say that no end was found, though there may be one."""

NOT_SETTLED = "not determined: whether others alone keep all that it feeds in its overload band is not certain"
TOO_ROUGH = "not determined: a bound on the safe side lies below what it has to carry"
NOT_DETERMINED = "not determined: the connected part of the harness is too large to look at every device by itself"

STEP_PAST = 2e-3
"""Share above a setting that is looked at to see that a part is over there."""

NEVER_A = 1e9
"""A setting in A at which a device never opens, and still counts as one."""

MOST_ROUNDS = 12
"""Looks at a group of devices together."""

WITHIN = 3e-4
"""Share within which the highest setting is found where it lies at no corner that is met exactly."""


@dataclass(frozen=True, slots=True)
class Highest:
    """What was found of a device. ``bound`` None: no setting is too high, or none could be found; ``cause`` says
    why.

    ``protects``: the parts that it keeps within their allowed current; ``never``: parts that are over theirs
    whatever it is set to. ``rough``: the bound is on the safe side, and a higher setting may protect as well.
    """

    bound: Bound | None
    cause: str
    protects: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    rough: bool = False


@dataclass(frozen=True)
class _Look:
    """The fault search with some devices set otherwise: every part that is over with its answer, worst over
    arrangements; and of those that the closed form answers for, the devices on the way of the fault and the part's
    current per ampere of it.
    """

    over: Mapping[str, PartFault]
    ways: Mapping[str, tuple[tuple[str, ...], float]]


@dataclass(frozen=True)
class HighestSettings:
    """The highest settings of the devices of a harness.

    ``networks`` are those of every case with nothing opened, ``thresholds`` as drawn, ``loading`` what the cases
    themselves do, ``continuous`` their lasting states, ``found`` the fault search as drawn, ``upstream`` the
    devices and outputs before a device, ``by_bands`` those in loops that have no highest setting, since at which
    resistances and voltages within their bands a fault draws the most hangs on it.
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
    by_bands: Collection[str]
    _known_covers: dict[str | None, BandCovers] = field(default_factory=dict, init=False)

    def of_all(self, ranges: Mapping[str, SettingRange]) -> dict[str, Highest]:
        """The highest setting of every device that has a range by the closed form.

        What is looked at hangs on how the harness hangs together and on no setting.
        """
        devices: list[Device | Output] = [d for d in self.harness.devices if d.id in ranges]
        if any(self._is_over(a) for a in self.found.parts.values()):
            # An output's own trip is looked at where bringing it down may be a remedy.
            devices += [o for o in self.harness.outputs if o.id in ranges and o.trip_a is not None]
        by_piece: dict[int, list[str]] = {}
        found: dict[str, Highest] = {}
        for part in devices:
            if self._piece_of.get(part.id) in self._disagreeing:
                found[part.id] = Highest(None, BY_PLACEHOLDERS)
            elif part.id in self.by_bands:
                found[part.id] = Highest(None, BY_VOLTAGES)
            elif self._drawn_a(part) is None or not self._words(part.id):
                found[part.id] = Highest(None, NEVER_ACTS)
            elif not self._touched(part):
                found[part.id] = Highest(None, NOTHING_RATED)
            else:
                by_piece.setdefault(self._piece_of[part.id], []).append(part.id)
        for label, names in by_piece.items():
            if label in self._radial:
                for level in self._levels(name for name in names if name not in self._in_loops):
                    found |= self._level(level)
                found |= {name: Highest(None, NOT_DETERMINED) for name in names if name not in found}
                continue
            given = (self.harness, self.settings, self.ratings, self._limit_a, self._band_a, self._with_band)
            least = LeastCurrents(*given, lambda word, name, part: self._covers(word).feeds(part, name))
            fed = [each for each in self._kept if each.label == label]
            known = least.of(fed, self.thresholds, self._lasting, names)
            for name in names:
                by_word = {word: known[word, name] for word in self._words(name) if (word, name) in known}
                found[name] = self._of(self._devices[name], by_word)
        return found

    # -- from the least currents -------------------------------------------------------------------------------

    def _of(self, device: Device | Output, known: Mapping[str | None, Least]) -> Highest:
        """The highest setting of a device from the least currents that it holds, by arrangement. What the device is
        set to plays no part.
        """
        mine, never = set(self._touched(device)), self._over_without(device.id)
        for least in known.values():
            never |= least.beyond
        unknown: set[str] = set()
        for word, least in known.items():
            late = least.never - never
            unknown |= late - least.without.keys()
            shut = ((part, least.without[part]) for part in late & least.without.keys())
            never |= {part for part, hit in shut if self._is_over_at(device, 0.0, word, part, hit)}
        if unknown - never:
            # No state without the device is known, which is rare: the search itself is asked, with the device all
            # but shut. What is said of the part as drawn may be the doing of the device as it is set now.
            never |= self._look({device.id: 0.0}, unknown - never).over.keys()
        ends: dict[str, float] = {}
        for word, least in known.items():
            for part, held_a in least.ends.held_a.items():
                if part in mine - never:
                    setting_a = self._end(device, word, part, held_a, least)
                    ends[part] = min(setting_a, ends.get(part, math.inf))
        high_a, part = min(((a, part) for part, a in ends.items()), default=(math.inf, ""))
        left_out = tuple(sorted(never & mine))
        if math.isinf(high_a):
            return Highest(None, KEPT_BY_OTHERS, (), left_out)
        if high_a <= 0.0:
            cause = NOT_DETERMINED if any(least.bounded for least in known.values()) else NOT_SETTLED
            return Highest(None, cause, (), left_out)
        protects = tuple(sorted(name for name, setting_a in ends.items() if math.isfinite(setting_a)))
        rough = any(least.bounded or part in least.ends.pulsed for least in known.values())
        return Highest(Bound(high_a, part, self._limit_a[part]), "", protects, left_out, rough)

    def _over_without(self, name: str) -> set[str]:
        """Parts that are over as drawn by faults of which a device carries nothing, and past their band."""
        found = set()
        for word in self._words(name):
            for part, answer in self.found.by_arrangement.get(word, {}).items():
                if answer.carries is None or name in answer.carries or not self._is_over(answer):
                    continue
                # By the sum of ratings a device can satisfy the band of what it carries nothing of.
                if not self._with_band or (answer.sustained_fault_a or 0.0) > self._band_a.get(part, 0.0):
                    found.add(part)
        return found

    def _end(self, device: Device | Output, word: str | None, part: str, held_a: float, least: Least) -> float:
        """The setting in A from which on a device lets a part come over: above its allowed current and out of its
        overload band.

        The band counts where the device's rating is no more than the conductor may have, be it by itself, where
        what else can enter runs through others that satisfy the band, or together with what others count with; up
        to its end, or to where another one holds what is above its allowed current.
        """
        strict_a = self._setting_a(device, word, held_a)
        if part not in self._band_a:
            return strict_a
        top_a = self._setting_a(device, word, least.ends.banded_a.get(part, math.inf))
        covers, band = self._covers(word), self.settings.overload_band
        room_a = covers.room_a(part, device.id, self._limit_a[part], band) if _has_band(device) else 0.0
        room_a = min(room_a, self._setting_a(device, word, room_a * band)) if room_a > NOTHING_A else 0.0
        if held_a <= NOTHING_A:  # others alone bring it above its allowed current, within the band
            if part not in least.without:  # as drawn it is not over, and the device has no part in it or has room
                room_a = 0.0 if least.bounded else room_a
                return min(top_a, room_a) if covers.feeds(part, device.id) else top_a
            ends, hit = (top_a, min(top_a, room_a)), least.without[part]
            return next((a for a in ends if not self._is_over_at(device, a, word, part, hit)), 0.0)
        if not _has_band(device):
            return strict_a
        by_others_a = least.ends.by_others_a(part, self._limit_a[part], self._band_a[part])
        top_a = min(top_a, self._setting_a(device, word, by_others_a * (1.0 - AT_ITS_END)))
        rated_a = max(room_a, held_a if covers.sees_all(part, device.id, self._limit_a[part], band) else 0.0)
        return max(strict_a, min(rated_a, top_a))

    def _is_over_at(
        self, device: Device | Output, setting_a: float, word: str | None, part: str, hit: FoundHit
    ) -> bool:
        """Whether a part is over by a fault that a device carries nothing of, at a setting in A of it."""
        thresholds, changed = self._changed({device.id: setting_a})
        worst = WorstFaults(hits={part: hit})
        covers = BandCovers(changed, word, thresholds[hit.case.id])
        by = (changed, self.settings, thresholds, self.ratings, RowMaker(self.ratings), part, worst)
        return self._is_over(part_fault(*by, {}, False, covers))

    def _setting_a(self, device: Device | Output, word: str | None, held_a: float) -> float:
        """The setting in A at which a device holds a current."""
        there, setting_a = device.under(word), held_a
        if not math.isfinite(held_a):
            return math.inf
        for _ in range(3):  # the multiple that a fuse holds can hang on its size
            multiple = held_multiple(set_to(there, setting_a), self.settings)
            setting_a = held_a / multiple if multiple else math.inf
        return setting_a

    def _covers(self, word: str | None) -> BandCovers:
        """What satisfies overload bands in an arrangement, as drawn."""
        if word not in self._known_covers:
            case = next(case for case in self.cases if case.arrangement == word)
            self._known_covers[word] = BandCovers(self.harness, word, self.thresholds[case.id])
        return self._known_covers[word]

    def _tangent(self, device: Device | Output, setting_a: float, answer: PartFault) -> float | None:
        """Where a part that is over would be where it may be, if all went on as at this setting."""
        held_a, enough_a, value_a, allowed_a = (
            answer.held_a,
            answer.held_to_protect_a,
            answer.sustained_fault_a,
            answer.allowed_a,
        )
        if answer.held_by != device.id or not held_a or enough_a is None or not value_a or not allowed_a:
            return None
        if not math.isfinite(held_a) or value_a <= allowed_a:
            return None
        strict_a = setting_a * enough_a / held_a
        if _has_band(device) and answer.id in self._band_a:
            # By the band the printed number may be the current that the part is allowed.
            spare_a = (self._band_a[answer.id] - allowed_a) * (held_a - enough_a) / (value_a - allowed_a)
            banded_a = min(enough_a, setting_a * (enough_a + spare_a) / held_a)
            if strict_a < banded_a < setting_a * (1.0 - WITHIN):
                return banded_a
        return strict_a

    # -- groups of devices in a piece that is answered in closed form --------------------------------------------

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

    def _level(self, names: Sequence[str]) -> dict[str, Highest]:
        """The highest settings of parts of which none lies behind another, looked at together, from never opening
        down until no part is over.

        A fault goes through one of them and not through two, and what loads draw beside it is their demand,
        whatever the others are set to. So what one of them holds is its own doing, and one look does for all. What
        comes out of no look is not determined.
        """
        mine = set(self._touched(self._devices[names[0]]))
        over = self._over_as_drawn(mine, self._words(names[0]))
        never = set(self._look(dict.fromkeys(names, 0.0), over).over) if over else set()
        now, asked = dict.fromkeys(names, NEVER_A), mine - never
        last: dict[str, PartFault] = {}
        protects: dict[str, set[str]] = defaultdict(set)
        open_ones = set(names)
        for _ in range(MOST_ROUNDS):
            look = self._look(now, asked)
            lower: dict[str, float] = {}
            for part, answer in look.over.items():
                way, gain = look.ways.get(part, ((), 0.0))
                name = next((n for n in (answer.held_by or "", *way) if n in now), "")
                guess = self._lower(name, now[name], answer, gain) if name else None
                if guess is None:  # it hangs on these and is none's alone
                    return {n: Highest(None, NOT_DETERMINED) for n in names}
                protects[name].add(part)
                if guess < lower.get(name, math.inf):
                    lower[name], last[name] = guess, answer
            open_ones = set(lower)
            if not lower:
                break
            now |= lower
        left_out = tuple(sorted(never))
        found: dict[str, Highest] = {}
        # What is over as drawn by more than one of them is cured by no one of them alone.
        shared = {p for p in over if sum(p in each for each in protects.values()) > 1}
        for name in names:
            if name in open_ones or protects[name] & shared:
                found[name] = Highest(None, NOT_DETERMINED)
            elif name in last:
                answer = last[name]
                kept = tuple(sorted(protects[name]))
                found[name] = Highest(Bound(now[name], answer.id, answer.allowed_a or 0.0), "", kept, left_out)
            else:
                found[name] = Highest(None, KEPT_BY_OTHERS, (), left_out)
        return found

    def _lower(self, name: str, setting_a: float, answer: PartFault, gain: float) -> float | None:
        """A lower setting of a device at which a part that is over would be where it may be, or nearer to it; None
        where none is known. ``gain``: the part's current per ampere of the fault.
        """
        device = self._devices[name]
        tangent_a = self._tangent(device, setting_a, answer)
        if tangent_a is not None or gain <= 0.0:
            return tangent_a
        # Copper holds the fault, or another device, or there is none: at the most the part has what this one lets
        # through. By the band its rating counts first.
        through_a = (answer.allowed_a or 0.0) / gain
        strict_a = min(self._setting_a(device, word, through_a) for word in self._words(name))
        tried = [strict_a * (1.0 + STEP_PAST), strict_a]
        if _has_band(device) and answer.id in self._band_a:
            tried += [strict_a * self.settings.overload_band * (1.0 + STEP_PAST), through_a]
        return max((a for a in tried if a < setting_a * (1.0 - AT_ITS_END)), default=None)

    # -- what is asked for ---------------------------------------------------------------------------------------

    def _words(self, name: str) -> tuple[str | None, ...]:
        """The arrangements in which a device or output acts: in others it has nothing to protect."""
        acting = (case.arrangement for case in self.cases if self._acts(self._devices[name], case))
        return tuple(dict.fromkeys(acting))

    def _over_as_drawn(self, parts: Iterable[str], words: Iterable[str | None]) -> set[str]:
        answers = [self.found.by_arrangement[word] for word in words if word in self.found.by_arrangement]
        return {name for name in parts for each in answers if name in each and self._is_over(each[name])}

    # -- the function --------------------------------------------------------------------------------------------

    def _look(self, settings_a: Mapping[str, float], parts: Iterable[str]) -> _Look:
        """The parts that are over what they may carry with some devices set otherwise: 0 lets all but nothing
        through, infinity everything.
        """
        asked = frozenset(parts)
        thresholds, changed = self._changed(settings_a)
        deciding = all(not 0.0 < a < NEVER_A for a in settings_a.values())
        worst = self._searched(thresholds, asked, settings_a, self._enough_a if deciding else {})
        maker = RowMaker(self.ratings)
        over: dict[str, PartFault] = {}
        ways: dict[str, tuple[tuple[str, ...], float]] = {}
        for word, found in worst.items():
            maker.note(found.radial.values())
            here = next(thresholds[case.id] for case in self.cases if case.arrangement == word)
            covers = BandCovers(changed, word, here)
            for name in sorted(asked & self._limit_a.keys()):
                if found.value_a(name) <= self._limit_a[name]:
                    continue
                answer = part_fault(
                    *(changed, self.settings, thresholds, self.ratings, maker, name, found, {}, False, covers)
                )
                if self._is_over(answer) and (name not in over or _nearness(over[name]) < _nearness(answer)):
                    over[name] = answer
                    if name in found.radial:
                        ways[name] = on_way(found.radial[name])
        return _Look(over, ways)

    def _changed(self, settings_a: Mapping[str, float]) -> tuple[ThresholdsByCase, Harness]:
        """The thresholds with some devices set otherwise, and the harness that they are of."""
        acts: dict[tuple[str, str | None], Threshold] = {}
        plain: dict[str, Device | Output] = {}
        for name, setting_a in settings_a.items():
            device = self._devices[name]
            for word in dict.fromkeys(case.arrangement for case in self.cases):
                there = device.under(word)
                if 0.0 < setting_a < NEVER_A:
                    acts[name, word] = threshold(set_to(there, setting_a), self.settings, None)
                else:
                    drawn = threshold(there, self.settings, None)
                    acts[name, word] = replace(drawn, held_a=setting_a or NOTHING_A)
            if setting_a < NEVER_A:  # all but shut, it counts with no rating either
                plain[name] = set_everywhere(device, setting_a or NOTHING_A)
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
        changed: Iterable[str],
        enough_a: Mapping[str, float],
    ) -> dict[str | None, WorstFaults]:
        """The worst by arrangement."""
        worst: dict[str | None, WorstFaults] = {}
        words = {word for name in changed for word in self._words(name)}
        for each in self._kept:
            if asked.isdisjoint(each.members) or each.case.arrangement not in words:
                continue
            found = worst.setdefault(each.case.arrangement, WorstFaults(limit_a=self._limit_a, enough_a=enough_a))
            limits = thresholds[each.case.id]
            search_network(
                *(self.harness, each.case, each.network, limits, each.loads, self.ratings, found),
                short=True,
                only=asked,
            )
        for found in worst.values():
            bound_unproved(found.unproved, found, short=True)
        for case in self.cases:
            if case.arrangement in worst:
                worst[case.arrangement].raise_to(case, self._floor_a(case, thresholds, asked))
        return worst

    @cached_property
    def _disagreeing(self) -> frozenset[int]:
        """The numbers of galvanic pieces in which outputs disagree through 0 Ω, in some case."""
        return frozenset(label for label, piece in self._pieces if piece.disagrees)

    @cached_property
    def _radial(self) -> frozenset[int]:
        """The numbers of galvanic pieces that the search answers in closed form."""
        return frozenset(
            label for label, piece in self._pieces if len(piece.node_ids) >= RADIAL_FROM and RadialPiece.fits(piece)
        )

    @cached_property
    def _in_loops(self) -> frozenset[str]:
        """Devices and outputs that current has a path around, in some case."""
        found: set[str] = set()
        for _, piece in self._pieces:
            found.update(piece.branches.ids[k] for k in np.flatnonzero(piece.in_loop).tolist())
        return frozenset(found)

    @property
    def _pieces(self) -> Iterator[tuple[int, Piece]]:
        """Every galvanic piece in every case that is looked at, with its number."""
        for each in self._kept:
            for piece in pieces_of(each.network, self.thresholds[each.case.id], each.loads):
                yield each.label, piece

    @cached_property
    def _kept(self) -> list[Fed]:
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
                made.append(Fed(case, piece, loads, members, self._piece_of[source]))
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
    def _band_a(self) -> dict[str, float]:
        """The ends of the overload bands of conductors, in A."""
        band, conductors = self.settings.overload_band, {c.id for c in self.harness.conductors}
        return {name: a * band for name, a in self._limit_a.items() if band > 1.0 and name in conductors}

    @cached_property
    def _with_band(self) -> frozenset[str]:
        """The devices that the overload band is for, where there is any."""
        return frozenset(d.id for d in self.harness.devices if _has_band(d) and self._band_a)

    @cached_property
    def _enough_a(self) -> dict[str, float]:
        """The currents in A above which a part is over, its overload band included."""
        return {name: self._band_a.get(name, a) * (1.0 + AT_ITS_END) for name, a in self._limit_a.items()}

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


def _has_band(part: Device | Output) -> bool:
    """Whether a part has a conventional tripping current, which the overload band is for."""
    return isinstance(part, Device) and part.kind is not DeviceKind.LIMITER


def _nearness(answer: PartFault) -> float:
    """The current of a part as a share of its allowed current."""
    return answer.sustained_fault_a / answer.allowed_a if answer.sustained_fault_a and answer.allowed_a else 0.0


def with_highest(highest: HighestSettings, setting_ranges: Mapping[str, SettingRange]) -> dict[str, SettingRange]:
    """The setting ranges of all devices with their high ends as the sustained fault currents give them."""
    found = dict(setting_ranges)
    for name, got in highest.of_all(setting_ranges).items():
        known = found[name]
        if got.rough and got.bound and known.low and got.bound.setting_a < known.low.setting_a:
            got = Highest(None, TOO_ROUGH, (), got.never)  # that none does both is not certain
        found[name] = replace(
            known,
            high=got.bound,
            protects=got.protects,
            never=got.never,
            cause=got.cause,
            searched=True,
            rough=got.rough,
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
            if other.cause.startswith(UNKNOWN) and known.high is not None:
                found[name] = replace(known, high=None, cause=other.cause)
            continue
        if known.high is None and known.cause.startswith(UNKNOWN):
            continue
        if known.high is None or other.high.setting_a < known.high.setting_a:
            protects = tuple(dict.fromkeys((*known.protects, *other.protects)))
            found[name] = replace(known, high=other.high, protects=protects, cause="", rough=other.rough)
    return found
