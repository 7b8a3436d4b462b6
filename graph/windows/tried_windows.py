"""The high end of every setting window, tried by the fault search: what is protected as drawn stays so there.

The closed form (``windows``) looks from one output at what one device guards. Loads that draw beside a fault, other
outputs on the same copper and a fault close to one of several ways can put more on a part. So all devices are set
to their high ends at once and searched again; the device that holds a fault that overloads what is protected as
drawn is lowered until it no longer does. What holds for all at their high ends holds for each alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from loadloom.graph.devices import nominal_a
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.let_through import SAME
from loadloom.graph.harness import Harness
from loadloom.graph.windows.setting_windows import Bound, Window
from loadloom.graph.windows.trial import Trial

ROUNDS = 5
"""Searches of all devices together at most; then each is tried alone, and where it does not protect, or may not be
tried any more, the drawn setting is the highest that is known to.
"""


def tried_windows(trial: Trial, windows: Mapping[str, Window], faults: FaultAnswer) -> dict[str, Window]:
    """The windows, those narrowed that do not protect at their high end."""
    high, drawn_a = _high_ends(trial, windows)
    if not high:
        return dict(windows)
    most_a = {
        a.id: max(a.allowed_a, a.let_through_a) * (1.0 + SAME)
        for a in faults.parts.values()
        if a.protected is True and a.allowed_a is not None and a.let_through_a is not None
    }
    found = dict(windows)
    for name, bound in _lowered(trial, high, drawn_a, most_a).items():
        one_open = windows[name].high_one_open
        if one_open is not None and one_open.setting_a > bound.setting_a:
            one_open = bound
        found[name] = replace(windows[name], high=bound, high_one_open=one_open)
    return found


def search_high_ends(trial: Trial, windows: Mapping[str, Window]) -> None:
    """Search with all devices at their high ends, for ``tried_windows``, while the drawn settings are searched."""
    high, _ = _high_ends(trial, windows)
    if high:
        trial.let_through(_held_a(trial, high))


def may_close(harness: Harness, windows: Mapping[str, Window]) -> bool:
    """Whether a high end that comes down could leave a device without a window: none comes down below the drawn
    setting, so that only one that is set below its low end could.
    """
    return any(
        (drawn_a := nominal_a(d)) is not None
        and (window := windows.get(d.id)) is not None
        and window.low is not None
        and window.high is not None
        and drawn_a < min(window.low.setting_a, window.high.setting_a)
        for d in harness.devices
    )


def _high_ends(trial: Trial, windows: Mapping[str, Window]) -> tuple[dict[str, Bound], dict[str, float]]:
    """The high ends above the drawn setting, and all drawn settings in A, by device; none where not to be tried."""
    drawn_a = {d.id: a for d in trial.harness.devices if (a := nominal_a(d)) is not None}
    if not trial.fits:
        return {}, drawn_a
    high = {
        name: window.high
        for name, window in windows.items()
        if window.high is not None and name in drawn_a and window.high.setting_a > drawn_a[name]
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
        got = trial.let_through(held_a, asked)
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
                    or answer.let_through_a is None
                    or answer.let_through_a <= most_a[part]
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
    got = trial.let_through(held_a)
    return got is not None and not any(a > most_a[name] for name, a in got.items() if name in most_a)
