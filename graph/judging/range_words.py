"""Where the ends of a setting range come from, in words: the current, the part and the factor between them.

Every sentence is made from the end itself and what the device carries and holds for one ampere of its setting, so
that the numbers in it can be multiplied out by hand.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from loadloom.graph.devices.device_bands import held_multiple, ride_through_multiple
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, Device, DeviceKind, Output
from loadloom.graph.model.figures import duration, figures
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.setting_ranges.setting_ranges import Bound

SAME = 1e-3
"""Share within which two currents count as the same: the highest settings are found to within less."""


def range_words(facts: Facts, device: Device) -> tuple[str, str]:
    """How both ends of a device's setting range come about; empty where there is none or it is not told."""
    setting_range = facts.protection.setting_ranges.get(device.id)
    if setting_range is None:
        return "", ""
    words = tuple(dict.fromkeys(case.arrangement for case in facts.cases))
    low, high, limited = setting_range.low, setting_range.high, facts.harness.by_id
    return (
        low_words(device, low, words, facts.settings) if low is not None else "",
        high_words(device, high, limited.get(high.by), words, facts.settings) if high is not None else "",
    )


def low_words(part: Device | Output, low: Bound, words: Iterable[str | None], settings: AnalysisSettings) -> str:
    """How the lowest setting comes about; ``words`` are the arrangements in which the part may act."""
    if low.setting_a <= 0.0:
        return ""
    if low.stalled:
        return f"from there on it ends {_stall(low)}"
    where = f" in {low.by}" if low.by else ""
    long = "" if math.isinf(low.duration_s) else f" for {duration(low.duration_s)}"
    asked = f"{figures(low.current_a)} A{where}{long}"
    share = low.current_a / low.setting_a
    known = (ride_through_multiple(part.under(word), low.duration_s, settings) for word in words)
    # Of several arrangements the one that asks for this setting: the nearest that is no less than the share.
    carried = min((m for m in known if m is not None and m >= share * (1.0 - SAME)), default=share)
    if math.isinf(carried):
        return asked
    divided, why = "", []
    if abs(carried - 1.0) > SAME:
        divided = f" ÷ {figures(carried)}"
        why.append(f"it certainly carries {figures(carried)} times its {_noun(part)}{long}")
    if carried > share * (1.0 + SAME):
        divided += f" ÷ {figures(share / carried)}"
        why.append(f"the rule books let it be loaded to {figures(share / carried)} of that")
    return (
        f"{asked}{divided}, since {' and '.join(why)}"
        if why
        else f"{asked}; it certainly carries its {_noun(part)}"
    )


def high_words(
    part: Device | Output,
    high: Bound,
    limited: object,
    words: Iterable[str | None],
    settings: AnalysisSettings,
) -> str:
    """How the highest setting comes about; ``limited`` is the part that sets it."""
    allowed_a, name = high.current_a, high.by
    if high.stalled:
        return f"up to there it ends {_stall(high)}"
    known = [m for word in words if (m := held_multiple(part.under(word), settings)) is not None]
    multiple = max(known, default=None)
    if multiple is None or high.setting_a <= 0.0 or allowed_a <= 0.0:
        return ""
    noun, held_a = _noun(part), multiple * high.setting_a
    divided = "; it holds no more than it is set to"
    if abs(multiple - 1.0) > SAME:
        divided = f" ÷ {figures(multiple)}, since it may hold {figures(multiple)} times its {noun}"
    band = settings.overload_band
    if abs(held_a / allowed_a - 1.0) <= SAME:
        no_band = ""
        if isinstance(limited, Conductor) and _has_band(part) and multiple > 1.0 + SAME and band > 1.0 + SAME:
            no_band = (
                f"; the overload band of {figures(band)} times is not counted, since {part.id} is not shown to be "
                f"the one device that all current of {name} flows through"
            )
        return f"{figures(allowed_a)} A allowed on {name}{divided}{no_band}"
    holds = f"it then holds up to {figures(held_a)} A" + (
        f", {figures(multiple)} times its {noun}" if abs(multiple - 1.0) > SAME else ""
    )
    if held_a < allowed_a:
        return f"{holds}; with what else can come to {name} that makes the {figures(allowed_a)} A allowed on it"
    if isinstance(limited, Conductor) and _has_band(part):
        if abs(high.setting_a / allowed_a - 1.0) <= SAME:
            return (
                f"rated for the {figures(allowed_a)} A allowed on {name}; {holds}, within the overload band of "
                f"{figures(band)} times what is allowed"
            )
        if abs(held_a / (band * allowed_a) - 1.0) <= SAME:
            return f"{figures(band)} × {figures(allowed_a)} A allowed on {name} (overload band){divided}"
        return f"{holds}: the most with which {name} stays within its allowed {figures(allowed_a)} A or its band"
    return f"{holds}, of which {name} carries the {figures(allowed_a)} A allowed on it"


def _stall(bound: Bound) -> str:
    return f"the {figures(bound.current_a)} A of {bound.by} standing still within {duration(bound.duration_s)}"


def _has_band(part: Device | Output) -> bool:
    return isinstance(part, Device) and part.kind is not DeviceKind.LIMITER


def _noun(part: Device | Output) -> str:
    """What the number on a part is called."""
    return "rating" if _has_band(part) else "setting"
