"""The high end of every setting range, tried by the fault search: what is protected as drawn stays so there.

The closed form (``setting_ranges``) looks from one output at what one device guards. Loads that draw beside a
fault, other outputs on the same copper and a fault close to one of several paths can put more on a part. So all
devices are set to their high ends at once and searched again; the device that holds a fault that overloads what is
protected as drawn is lowered until it no longer does. What holds for all at their high ends holds for each alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from loadloom.graph.devices import nominal_a
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.sustained_fault import SAME
from loadloom.graph.harness import Harness
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange
from loadloom.graph.setting_ranges.trial import Trial

ROUNDS = 5
"""Searches of all devices together at most; then each is tried alone, and where it does not protect, or may not be
tried any more, the drawn setting is the highest that is known to.
"""


def tried_setting_ranges(
    trial: Trial, setting_ranges: Mapping[str, SettingRange], faults: FaultAnswer
) -> dict[str, SettingRange]:
    """The setting ranges, those narrowed that do not protect at their high end."""
    high, drawn_a = _high_ends(trial, setting_ranges)
    if not high:
        return dict(setting_ranges)
    most_a = {
        a.id: max(a.allowed_a, a.sustained_fault_a) * (1.0 + SAME)
        for a in faults.parts.values()
        if a.protected is True and a.allowed_a is not None and a.sustained_fault_a is not None
    }
    found = dict(setting_ranges)
    for name, bound in _lowered(trial, high, drawn_a, most_a).items():
        one_open = setting_ranges[name].high_one_open
        if one_open is not None and one_open.setting_a > bound.setting_a:
            one_open = bound
        found[name] = replace(setting_ranges[name], high=bound, high_one_open=one_open)
    return found


def search_high_ends(trial: Trial, setting_ranges: Mapping[str, SettingRange]) -> None:
    """Search with all devices at their high ends, for ``tried_setting_ranges``, while the drawn settings are
    searched."""
    high, _ = _high_ends(trial, setting_ranges)
    if high:
        trial.sustained_fault(_held_a(trial, high))


def may_close(harness: Harness, setting_ranges: Mapping[str, SettingRange]) -> bool:
    """Whether a high end that comes down could leave a device without a setting range: none comes down below the
    drawn setting, so that only one that is set below its low end could.
    """
    return any(
        (drawn_a := nominal_a(d)) is not None
        and (setting_range := setting_ranges.get(d.id)) is not None
        and setting_range.low is not None
        and setting_range.high is not None
        and drawn_a < min(setting_range.low.setting_a, setting_range.high.setting_a)
        for d in harness.devices
    )


def _high_ends(
    trial: Trial, setting_ranges: Mapping[str, SettingRange]
) -> tuple[dict[str, Bound], dict[str, float]]:
    """The high ends above the drawn setting, and all drawn settings in A, by device; none where not to be tried."""
    drawn_a = {d.id: a for d in trial.harness.devices if (a := nominal_a(d)) is not None}
    if not trial.fits:
        return {}, drawn_a
    high = {
        name: setting_range.high
        for name, setting_range in setting_ranges.items()
        if setting_range.high is not None and name in drawn_a and setting_range.high.setting_a > drawn_a[name]
    }
    return high, drawn_a


def _held_a(trial: Trial, bounds: Mapping[str, Bound]) -> dict[str, dict[str, float]]:
    devices = {d.id: d for d in trial.harness.devices if d.id in bounds}
    return {name: trial.held_a(devices[name], bound.setting_a) for name, bound in bounds.items()}


def _lowered(
    trial: Trial, high: Mapping[str, Bound], drawn_a: Mapping[str, float], most_a: Mapping[str, float]
) -> dict[str, Bound]:
    """The high ends that had to be lowered, none below the drawn setting."""
    now = dict(high)
    found: dict[str, Bound] = {}
    # No device that is lowered puts more on any part: what held before need not be searched again.
    asked: frozenset[str] | None = None
    for last in (False,) * (ROUNDS - 1) + (True,):
        held_a = _held_a(trial, now)
        got = trial.sustained_fault(held_a, asked)
        broken = sorted(name for name, a in (got or {}).items() if name in most_a and a > most_a[name])
        if got is not None and not broken:
            return found
        asked = frozenset(broken) if got is not None else asked
        answers = trial.answers(broken, held_a) if got is not None else None
        if answers is None or last:
            break
        progress = False
        for part, each in answers.items():
            for answer in each:
                if (
                    answer.held_by not in now
                    or answer.sustained_fault_a is None
                    or answer.sustained_fault_a <= most_a[part]
                ):
                    continue
                name = answer.held_by
                assert answer.held_a
                share = (answer.held_to_protect_a or 0.0) / answer.held_a
                setting_a = max(now[name].setting_a * share, drawn_a[name])
                if setting_a < now[name].setting_a:
                    now[name] = found[name] = Bound(setting_a, part, answer.allowed_a or 0.0)
                    progress = True
        if not progress:
            break
    return found | {
        name: replace(bound, setting_a=drawn_a[name])
        for name, bound in now.items()
        if not _holds_alone(trial, _held_a(trial, {name: bound}), most_a)
    }


def _holds_alone(trial: Trial, held_a: Mapping[str, Mapping[str, float]], most_a: Mapping[str, float]) -> bool:
    """Whether all stays protected with one device set otherwise; not where that may not be tried any more."""
    got = trial.sustained_fault(held_a)
    return got is not None and not any(a > most_a[name] for name, a in got.items() if name in most_a)
