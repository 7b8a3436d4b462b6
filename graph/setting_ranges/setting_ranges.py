"""Setting ranges: from the lowest nominal that rides through the loads to the highest that still protects.

Low end: the lowest nominal whose lower limit carries every demand for as long as it lasts, in all cases of the
arrangement. High end: the highest nominal whose upper limit, times the factor of the guard (``guards``), keeps
every conductor and contact that it guards within its allowed current, out and back. Both ends scale the band
that the device has now.

On the return a device answers for every return that a load behind it uses, up to the next device on that
way. What several guards can send down one return together is the combined overload current and not this setting
range.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.devices.device_bands import (
    carries_whatever_set,
    held_multiple,
    nominal_a,
    ride_through_multiple,
)
from loadloom.graph.load_cases.demands import INRUSH, Demand, Demands
from loadloom.graph.model.elements import Device, DeviceKind, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.rule_books import least_rating_a
from loadloom.graph.structure.guards import Arrangement, Guarded, Guards, guard
from loadloom.graph.structure.paths import Paths


@dataclass(frozen=True, slots=True)
class Bound:
    """One end of a setting range: a nominal setting in A, and the part (high end), case (low end) or stalled load
    that sets it."""

    setting_a: float
    by: str
    current_a: float
    """The current that has to be carried, or the allowed current that must not be passed, in A."""
    duration_s: float = math.inf
    """How long the current has to be carried, in s; inf = continuously."""
    stalled: bool = False
    """Whether ``by`` is a load at standstill, whose current has to be ended within the time."""


@dataclass(frozen=True, slots=True)
class SettingRange:
    """The setting range of a device or output over all arrangements in which it acts; nominal settings.

    ``low`` None: nothing draws through it. ``high`` None: nothing rated that it guards. ``unrated``: parts
    that it guards and whose allowed current is not determined, so that the high end may be lower still.
    ``protects``: parts that it keeps within what they may carry; ``never``: parts that are over it whatever the
    device is set to; ``cause``: why there is no high end. ``searched``: the high end is the one that the sustained
    fault currents give (``highest_settings``), and not the closed form alone; ``rough``: it is a bound on the safe
    side, and a higher setting may protect as well.
    """

    device: str
    nominal_a: float | None
    low: Bound | None
    high: Bound | None
    guarded: tuple[str, ...]
    unrated: tuple[str, ...]
    protects: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    cause: str = ""
    searched: bool = False
    rough: bool = False

    @property
    def is_open(self) -> bool | None:
        """Whether there is any setting that does both; None where an end is not determined."""
        if self.low is None or self.high is None:
            return None
        return self.low.setting_a <= self.high.setting_a * (1.0 + 1e-9)


def find_setting_ranges(
    harness: Harness,
    settings: AnalysisSettings,
    cases: tuple[Case, ...],
    arrangements: Iterable[Arrangement],
    demands: Demands,
    allowed_a: Mapping[str, float | None],
) -> dict[str, SettingRange]:
    """Setting ranges by id of device and output. ``allowed_a`` is by conductor and contact id; only those count."""
    found: dict[str, SettingRange] = {}
    for arrangement in arrangements:
        here = {case.id for case in cases if case.arrangement == arrangement.word}
        whole = _highs(arrangement, allowed_a)
        parts: dict[str, Device | Output] = {o.output.id: o.output for o in arrangement.outputs}
        parts |= arrangement.devices
        for name, part in parts.items():
            upper = held_multiple(part, settings)
            reach = whole.get(name, _Reach())
            setting_range = SettingRange(
                name,
                nominal_a(part),
                _low(part, [d for d in demands.get(name, ()) if d.case in here], settings),
                reach.bound(upper),
                tuple(reach.guarded),
                tuple(reach.unrated),
            )
            found[name] = _narrower(found[name], setting_range) if name in found else setting_range
    return found


def _low(part: Device | Output, demands: Iterable[Demand], settings: AnalysisSettings) -> Bound | None:
    lowest: Bound | None = None
    at_once = ride_through_multiple(part, 0.0, settings)
    for demand in demands:
        if demand.current_a <= 0.0:
            continue
        multiple = ride_through_multiple(part, demand.duration_s, settings)
        if multiple is None or multiple <= 0.0:
            return None
        if not carries_whatever_set(part, demand.current_a, demand.duration_s, settings):
            return None  # no setting helps
        least_a = demand.current_a / multiple
        if demand.corner == INRUSH and multiple == at_once and (lowest is None or least_a > lowest.setting_a):
            return None  # the band does not say what the device carries for so short a time
        if math.isinf(demand.duration_s) and _is_fuse(part):
            fuse = isinstance(part, Device) and part.kind is DeviceKind.FUSE
            least_a = least_rating_a(settings, least_a, fuse=fuse)
        bound = Bound(least_a, demand.case, demand.current_a, demand.duration_s)
        if lowest is None or bound.setting_a > lowest.setting_a:
            lowest = bound
    return lowest


def _is_fuse(part: Device | Output) -> bool:
    return isinstance(part, Device) and part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER)


def _narrower(one: SettingRange, other: SettingRange) -> SettingRange:
    """The setting range that both allow."""
    return SettingRange(
        one.device,
        one.nominal_a if one.nominal_a is not None else other.nominal_a,
        max(_present(one.low, other.low), key=lambda b: b.setting_a, default=None),
        min(_present(one.high, other.high), key=lambda b: b.setting_a, default=None),
        tuple(dict.fromkeys((*one.guarded, *other.guarded))),
        tuple(dict.fromkeys((*one.unrated, *other.unrated))),
    )


def _present(*bounds: Bound | None) -> list[Bound]:
    return [b for b in bounds if b is not None]


# --- the high end ---------------------------------------------------------------------------------------------


class _Reach:
    """The least current through one guard that brings a part it guards to its allowed current."""

    def __init__(self) -> None:
        self.least_a = math.inf
        self.part: str | None = None
        self.allowed_a = math.nan
        self.guarded: dict[str, None] = {}
        self.unrated: dict[str, None] = {}

    def add(self, part: str, allowed_a: float | None, factor: float) -> None:
        self.guarded[part] = None
        if allowed_a is None:
            self.unrated[part] = None
        elif factor > 0.0 and allowed_a / factor < self.least_a:
            self.least_a, self.part, self.allowed_a = allowed_a / factor, part, allowed_a

    def bound(self, upper: float | None) -> Bound | None:
        """As a nominal setting; ``upper`` is the upper limit as a multiple of the nominal."""
        if self.part is None or not upper:
            return None
        return Bound(self.least_a / upper, self.part, self.allowed_a)


def _highs(arrangement: Arrangement, allowed_a: Mapping[str, float | None]) -> dict[str, _Reach]:
    found: dict[str, _Reach] = {}
    ids = arrangement.branches.ids
    for view in arrangement.outputs:
        feed = guard(view.feed, view.output.id, arrangement)
        for k, guards in enumerate(feed.of_branch):
            if ids[k] in allowed_a:
                for g in guards or ():
                    found.setdefault(g.device, _Reach()).add(ids[k], allowed_a[ids[k]], g.factor)
        _add_returns(arrangement, view.back, feed, allowed_a, found)
    for stack in arrangement.stacks:
        feed = guard(stack.feed, stack.output.id, arrangement)
        _add_returns(arrangement, stack.back, feed, allowed_a, found)
    return found


@dataclass(frozen=True, slots=True)
class _Tightest:
    """The part of a return that reaches its allowed current first: its id, allowed current and share."""

    part: str
    allowed_a: float
    share: float

    @property
    def most_a(self) -> float:
        """The current into the return at which it is there."""
        return self.allowed_a / self.share


def _add_returns(
    arrangement: Arrangement,
    back: Paths,
    feed: Guarded,
    allowed_a: Mapping[str, float | None],
    found: dict[str, _Reach],
) -> None:
    """Hold the returns of every load against the guards of its feed; devices in the return guard what is beyond
    them, towards the output.
    """
    ids = arrangement.branches.ids
    tightest: dict[int, _Tightest | None] = {back.root: None}
    for block in back.blocks:
        before = tightest[block.entry]
        most: FloatArray = block.shares.max(axis=1) if block.exits else np.zeros(len(block.branches))
        for share, k in zip(most.tolist(), block.branches, strict=True):
            allowed = allowed_a.get(ids[k])
            if allowed is not None and share > 0.0:
                part = _Tightest(ids[k], allowed, share)
                if before is None or part.most_a < before.most_a:
                    before = part
        acting = arrangement.acting(block)
        if acting:
            for place, name in acting:
                through = block.shares[place].max() if block.exits else 0.0
                if before is not None and through > 0.0:
                    found.setdefault(name, _Reach()).add(before.part, before.allowed_a, before.share / through)
            before = None
        for node in block.inside:
            tightest[node] = before
    for _, plus, minus in arrangement.loads:
        guards: Guards | None = feed.of_node[plus]
        part_back = tightest.get(minus)
        if guards is None or part_back is None:
            continue
        for g in guards:
            found.setdefault(g.device, _Reach()).add(
                part_back.part, part_back.allowed_a, g.factor * part_back.share
            )
