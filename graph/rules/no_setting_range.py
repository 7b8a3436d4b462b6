"""No setting of a device both rides through its loads and protects what lies behind it.

Formula: lowest setting = current to ride through / (non-tripping current, as a multiple of the setting);
highest setting: the one at which the sustained fault current of the first part that the device protects, returns
included, comes to its allowed current with all else as drawn, whatever the device is set to now; for a conductor
behind a device with a conventional tripping current (fuse, breaker, resettable) to the end of its overload band:
rating within the allowed current, tripping current within ``overload_band`` (1.45) times that. A part that is over
its allowed current whatever the device is set to limits no setting. Nor may it be higher than the greatest with
which a load at standstill is switched off within its ``Stalled time``. There is no setting range where lowest >
highest with all paths whole.

Source: limits as named on the device's row; the setting range is common practice, no published source; the band:
IEC 60364-4-43 433.1, value from memory.

Passes: a limiter of ±10 % before a wire of 20 A and a load of 15 A: from 16.7 A to 18.2 A.

Fails: the same with a load of 17 A: from 18.9 A to 18.2 A.
"""

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping

from loadloom.graph.devices.device_bands import held_multiple
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.range_words import range_words
from loadloom.graph.judging.room import room_needed
from loadloom.graph.model.elements import Device, DeviceKind
from loadloom.graph.model.figures import duration, figures, floored, raised
from loadloom.graph.model.findings import End, Finding, Quantity, Rule, Severity, Target
from loadloom.graph.model.naming import all_of, natural_key
from loadloom.graph.setting_ranges.setting_ranges import Bound

RULE = Rule("no-setting-range", Severity.ERROR, "No setting that rides through and protects")


def check(facts: Facts) -> Iterator[Finding]:
    """Look at the setting range of every device; outputs are judged by what lies behind them elsewhere."""
    idle = IdleDevices(facts)
    for device in facts.harness.devices:
        setting_range = facts.protection.setting_ranges.get(device.id)
        if setting_range is None or setting_range.is_open is not False:
            continue
        low, high = setting_range.low, setting_range.high
        assert low is not None and high is not None
        if low.setting_a <= high.setting_a * _within_band(device, facts) * (1.0 + 1e-9):
            continue
        slower = "" if math.isinf(low.duration_s) else f", or one that takes longer than {duration(low.duration_s)}"
        change = f"Put a device before {high.by}, or use one that is allowed more."
        remedy, target = change, None
        if high.stalled or low.stalled:
            load = high.by if high.stalled else low.by
            change = remedy = f"Give {load} a protection of its own against standing still{slower}."
        elif high.setting_a > 0.0:
            need_a = raised(high.current_a * low.setting_a / high.setting_a)
            target = Target(high.by, Quantity.ALLOWED_CURRENT, End.AT_LEAST, need_a)
            most_load_a = floored(low.current_a * high.setting_a / low.setting_a)
            raise_it = f"Raise the allowed current of {high.by} to {figures(need_a)} A"
            too = _others(room_needed(facts, device, idle), high.by)
            change = f"{raise_it}{too}, then set {device.id} to {figures(raised(low.setting_a))} A."
            remedy = (
                f"{raise_it} (a larger one, or more paths in parallel){too}, split the loads so that at most "
                f"{figures(most_load_a)} A go through {device.id}, or use a device with a narrower "
                f"tolerance{slower}."
            )
        yield RULE.finding(
            device.subject,
            f"No setting of {device.id} both rides through and protects: it needs at least "
            f"{figures(low.setting_a)} A to {_carry(low)}, and at most {figures(high.setting_a)} A to "
            f"{_protect(high)}."
            f"{_made(device, facts)}",
            remedy,
            case=None if low.stalled else low.by,
            value=low.setting_a,
            limit=high.setting_a,
            unit="A",
            target=target,
            why=f"{device.id} needs at least {figures(raised(low.setting_a))} A to {_carry(low)}, and at most "
            f"{figures(floored(high.setting_a))} A to {_protect(high)}.",
            change=change,
        )


def _others(needs_a: Mapping[str, float], but: str) -> str:
    """What else has to be raised with it: ``, and also P2.1 and P2.2 (to 9.35 A)``; empty where nothing has to."""
    by_need: dict[float, list[str]] = defaultdict(list)
    for name in sorted(needs_a, key=natural_key):
        if name != but:
            by_need[raised(needs_a[name])].append(name)
    said = [f"{all_of(names)} to {figures(need_a)} A" for need_a, names in sorted(by_need.items())]
    return f", and also {', '.join(said)}" if said else ""


def _carry(low: Bound) -> str:
    how_long = "" if math.isinf(low.duration_s) else f" for {duration(low.duration_s)}"
    return _end_stall(low) if low.stalled else f"carry {figures(low.current_a)} A{how_long}"


def _protect(high: Bound) -> str:
    kept = f"protect {high.by}, which is allowed {figures(high.current_a)} A"
    return _end_stall(high) if high.stalled else kept


def _end_stall(bound: Bound) -> str:
    return f"end the {figures(bound.current_a)} A of {bound.by} standing still within {duration(bound.duration_s)}"


def _made(device: Device, facts: Facts) -> str:
    """How both ends come about, as sentences; empty where that is not told."""
    setting_range = facts.protection.setting_ranges[device.id]
    ends = (("lowest", setting_range.low), ("highest", setting_range.high))
    told = zip(ends, range_words(facts, device), strict=True)
    return "".join(
        f" The {name}, {figures(end.setting_a)} A: {text}."
        for (name, end), text in told
        if end is not None and text
    )


def _within_band(device: Device, facts: Facts) -> float:
    """How far above the strict highest setting the overload band still reaches, as a multiple of it; 1 = not."""
    if facts.protection.setting_ranges[device.id].searched:
        return 1.0
    upper = held_multiple(device, facts.settings)
    if device.kind is DeviceKind.LIMITER or upper is None:
        return 1.0
    return max(1.0, min(upper, facts.settings.overload_band))
