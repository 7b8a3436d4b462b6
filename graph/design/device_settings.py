"""Settings of devices inside their windows: the drawn one where it does, else the nearest that does.

The low end is what the device has to carry. The high end is what protects the parts whose size is not open, the
contacts above all, and the conductors at the thickest size that they may have: up to there sizes can follow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from loadloom.graph.design.groups import Grouping, allowed_by_size
from loadloom.graph.design.shelf import standard_between
from loadloom.graph.devices import held_multiple, nominal_a
from loadloom.graph.elements import Band, Device, DeviceKind, Output
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.guards import whole_shares
from loadloom.graph.harness import Harness
from loadloom.graph.windows import Window, find_windows


@dataclass(frozen=True, slots=True)
class Setting:
    """What is proposed for one device. ``proposed_a`` None: nothing does; ``reason`` says why it changes or not."""

    id: str
    kind: str
    drawn_a: float
    proposed_a: float | None
    low_a: float | None
    low_by: str
    high_a: float | None
    high_by: str
    reason: str

    @property
    def changed(self) -> bool:
        """Whether another setting than the drawn one is proposed."""
        return self.proposed_a is not None and abs(self.proposed_a - self.drawn_a) > 1e-9 * self.drawn_a


def find_settings(facts: Facts, grouping: Grouping, together: Iterable[frozenset[str]] = ()) -> tuple[Setting, ...]:
    """The settings of all devices that act, in the order of the harness. No nominal value, no proposal.

    ``together``: sets of ids that share a field on the drawing; their devices get one setting.
    """
    highest = allowed_by_size(facts, grouping)
    allowed: dict[str, float | None] = {}
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        rating = facts.ratings.get(part.id)
        allowed[part.id] = rating.allowed_a if rating else None
        if part.id in highest:
            known = [a for a in (allowed[part.id], highest[part.id][-1]) if a is not None]
            allowed[part.id] = max(known, default=None)
    protection = facts.protection
    windows = find_windows(
        facts.harness,
        facts.settings,
        facts.cases,
        protection.copper,
        protection.demands,
        allowed,
        lambda _: whole_shares,
    )
    windows = _joint(windows, together)
    found = []
    for device in facts.harness.devices:
        window, drawn_a = windows.get(device.id), device.setting_a
        if window is not None and drawn_a is not None and device.fitted:
            found.append(_setting(device, drawn_a, window, facts))
    return tuple(found)


def _joint(windows: Mapping[str, Window], together: Iterable[frozenset[str]]) -> dict[str, Window]:
    """Windows with those of devices that share one field made one: the setting has to do for all of them."""
    found = dict(windows)
    for names in together:
        several = [windows[name] for name in sorted(names) if name in windows]
        low = max((w.low for w in several if w.low), key=lambda bound: bound.setting_a, default=None)
        high = min((w.high for w in several if w.high), key=lambda bound: bound.setting_a, default=None)
        for window in several:
            found[window.device] = replace(window, low=low, high=high)
    return found


def trip_plan(facts: Facts) -> tuple[Setting, ...]:
    """The setting of every channel that can be set (limiters and outputs with a trip of their own), with the sizes
    as they are: it rides through all cases and keeps all that it guards, in every arrangement in which it acts.

    Where no setting does both, ``high_by`` is the part that prevents it, and ``reason`` what it would have to be
    allowed. What several channels can bring on one part together is its exposure and not in a window.
    """
    found = []
    parts: list[Device | Output] = [d for d in facts.harness.devices if d.kind is DeviceKind.LIMITER]
    # Outputs that are joined: which of them a part hangs on is not a matter of one window.
    parts += [o for o in facts.harness.outputs if facts.topology.feeds(o.node_plus) == (o.id,)]
    for part in parts:
        window, drawn_a = facts.protection.windows.get(part.id), nominal_a(part)
        if window is None or drawn_a is None or not part.fitted:
            continue
        setting = _setting(part, drawn_a, window, facts)
        if window.is_open is False:
            assert window.low is not None and window.high is not None
            need_a = window.high.current_a * window.low.setting_a / window.high.setting_a
            why = (
                f"{window.high.by} prevents it: allowed {figures(window.high.current_a)} A, it would have to be "
                f"allowed {figures(need_a)} A"
            )
            setting = replace(setting, proposed_a=None, reason=why)
        if window.unrated:
            setting = replace(setting, reason=f"{setting.reason}; not rated behind it: {', '.join(window.unrated)}")
        found.append(setting)
    return tuple(found)


def with_settings(harness: Harness, settings_a: Mapping[str, float]) -> Harness:
    """The harness with other nominal settings by device id; tolerances scale with them."""
    devices = tuple(_set(d, settings_a[d.id]) if d.id in settings_a else d for d in harness.devices)
    return replace(harness, devices=devices)


def _set(device: Device, nominal_a: float) -> Device:
    if device.kind is DeviceKind.LIMITER:
        assert device.trip_a is not None
        scale = nominal_a / device.trip_a.nominal
        band = device.trip_a
        return replace(device, trip_a=Band(nominal_a, band.lower * scale, band.upper * scale))
    if device.kind is DeviceKind.RESETTABLE:
        return device
    return replace(device, rating_a=nominal_a)


def _setting(device: Device | Output, drawn_a: float, window: Window, facts: Facts) -> Setting:
    low_a = window.low.setting_a if window.low else None
    high_a = window.high.setting_a * _band(device, facts) if window.high else None
    low, high = low_a or 0.0, math.inf if high_a is None else high_a
    proposed: float | None
    if low > high * (1.0 + 1e-9):
        assert window.low is not None and window.high is not None
        ways = (
            f"it has to carry {figures(window.low.current_a)} A, and {window.high.by} is allowed "
            f"{figures(window.high.current_a)} A at most: no setting does both; more ways or fewer loads do"
        )
        proposed, reason = None, ways
    elif low * (1.0 - 1e-9) <= drawn_a <= high * (1.0 + 1e-9):
        proposed, reason = drawn_a, "as drawn"
    else:
        proposed = _nearest(device, drawn_a, low, high)
        if drawn_a < low:
            assert window.low is not None
            reason = f"to carry {figures(window.low.current_a)} A in case {window.low.by}"
        else:
            assert window.high is not None
            reason = f"to protect {window.high.by}, allowed {figures(window.high.current_a)} A"
        if proposed is None:
            reason += f", but no standard rating is from {figures(low)} to {figures(high)} A"
    return Setting(
        device.id,
        str(device.kind) if isinstance(device, Device) else "output",
        drawn_a,
        proposed,
        low_a,
        window.low.by if window.low else "",
        high_a,
        window.high.by if window.high else "",
        reason,
    )


def _nearest(device: Device | Output, drawn_a: float, low_a: float, high_a: float) -> float | None:
    if isinstance(device, Device) and device.kind is DeviceKind.RESETTABLE:
        return None
    if isinstance(device, Device) and device.kind is not DeviceKind.LIMITER:
        if drawn_a < low_a:
            return standard_between(device.kind, low_a, high_a)
        below = [standard_between(device.kind, low_a, high_a)]
        while below[-1] is not None:
            below.append(standard_between(device.kind, below[-1] * 1.000001, high_a))
        return below[-2] if len(below) > 1 else None
    # A channel is set in steps; which ones is not stated, so that round numbers come first.
    for step in (5.0, 1.0, 0.5, 0.1, 0.01):
        value = (
            math.ceil(low_a / step - 1e-9) * step if drawn_a < low_a else math.floor(high_a / step + 1e-9) * step
        )
        near = abs(value - (low_a if drawn_a < low_a else high_a)) <= 0.1 * value
        if value > 0.0 and low_a * (1 - 1e-9) <= value <= high_a * (1 + 1e-9) and near:
            return round(value, 6)
    return low_a if drawn_a < low_a else high_a


def _band(device: Device | Output, facts: Facts) -> float:
    """How far above the strict high end the overload band reaches, as a multiple; 1 for limiters."""
    upper = held_multiple(device, facts.settings)
    if not isinstance(device, Device) or device.kind is DeviceKind.LIMITER or upper is None:
        return 1.0
    return max(1.0, min(upper, facts.settings.overload_band))
