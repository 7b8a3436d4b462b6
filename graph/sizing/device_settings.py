"""Settings of devices inside their setting ranges: the drawn one where it does, else the nearest that does.

A *slot* is what one field of the drawing sets: the plain value of a device, or its value in one arrangement. The
low end of a slot's setting range is what the device has to carry in the arrangements that the slot counts in. The
high end is what protects the parts behind it: contacts with the best family that they may have, conductors as thick
as they are drawn or as their load asks for. Only where nothing is left between the two may conductors grow for the
sake of a device, and then the device is set as low as it rides through.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from loadloom.graph.devices.device_bands import given_anyway_a, held_multiple, nominal_a
from loadloom.graph.facts.facts import Facts
from loadloom.graph.load_cases.demands import together
from loadloom.graph.model.elements import Band, Conductor, Device, DeviceKind, Element, Output
from loadloom.graph.model.figures import figures
from loadloom.graph.model.harness import Harness
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange, find_setting_ranges
from loadloom.graph.setting_ranges.stalled import within_stalls
from loadloom.graph.sizing.groups import Grouping, allowed_by_size
from loadloom.graph.sizing.shelf import standard_between

ROUNDED_WITHIN = 0.1
"""Share of a setting that may be given away for the sake of a rounder one."""

Slot = tuple[str, str | None]
"""Id of a device or output, and the arrangement whose own value it is; None = the plain value."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What is proposed for one slot. ``drawn_a`` None: a channel that is off. ``proposed_a`` None: nothing does;
    ``reason`` says why it changes or not.
    """

    id: str
    kind: str
    drawn_a: float | None
    proposed_a: float | None
    low_a: float | None
    low_by: str
    high_a: float | None
    high_by: str
    reason: str
    arrangement: str | None = None

    @property
    def slot(self) -> Slot:
        """What the setting is for."""
        return self.id, self.arrangement

    @property
    def changed(self) -> bool:
        """Whether another setting than the drawn one is proposed."""
        if self.proposed_a is None:
            return False
        return self.drawn_a is None or abs(self.proposed_a - self.drawn_a) > 1e-9 * self.drawn_a


def find_settings(
    facts: Facts,
    grouping: Grouping,
    together: Iterable[frozenset[str]] = (),
    *,
    contacts_a: Mapping[str, float] | None = None,
    off: Iterable[Slot] = (),
) -> tuple[Setting, ...]:
    """The settings of all devices that act, in the order of the harness. No nominal value, no proposal.

    ``together``: sets of ids that share a field on the drawing; their devices get one setting. ``contacts_a``:
    allowed current in A of contacts with the best family that they may have, by id. ``off``: slots that are off
    in the drawing and were turned on in ``facts``.
    """
    sane, most = _allowed(facts, grouping, contacts_a or {})
    together = tuple(together)
    strict = _joint(slot_setting_ranges(facts, sane), together)
    widest = _joint(slot_setting_ranges(facts, most), together)
    turned_on = set(off)
    found = []
    for part in _settable(facts):
        for slot in slots(part, facts):
            there: Device | Output = part.under(slot[1])
            setting_range, drawn_a = strict.get(slot), nominal_a(there)
            if setting_range is not None and drawn_a is not None:
                found.append(_setting(there, drawn_a, setting_range, widest[slot], facts, slot, slot in turned_on))
    return tuple(found)


def _settable(facts: Facts) -> Iterable[Device | Output]:
    named = set(facts.settings.design.settable)
    yield from (d for d in facts.harness.devices if d.fitted)
    yield from (o for o in facts.harness.outputs if o.fitted and o.id in named and not o.solar)


def slots(part: Device | Output, facts: Facts) -> dict[Slot, tuple[str | None, ...]]:
    """The slots of a part with the arrangements that each counts in; those of the cases only."""
    attribute = "trip_a" if isinstance(part, Output) or part.kind is DeviceKind.LIMITER else "rating_a"
    found: dict[Slot, tuple[str | None, ...]] = {}
    for word in dict.fromkeys(case.arrangement for case in facts.cases):
        own = word is not None and attribute in part.by_word.get(word, {})
        slot = (part.id, word if own else None)
        found[slot] = (*found.get(slot, ()), word)
    return found


def slot_setting_ranges(facts: Facts, allowed_a: Mapping[str, float | None]) -> dict[Slot, SettingRange]:
    """The setting range of every slot that acts, over the arrangements that it counts in: by the closed form, and
    narrowed to the settings with which every motor that stands still is switched off in time.
    """
    protection = facts.protection
    word_of = {case.id: case.arrangement for case in facts.cases}
    demands = together(protection.demands, protection.shared)
    by_word: dict[str | None, Mapping[str, SettingRange]] = {}
    for there in protection.copper:
        ranges = find_setting_ranges(
            facts.harness,
            facts.settings,
            facts.cases,
            [there],
            demands,
            allowed_a,
        )
        still = [stall for stall in protection.stalls if word_of[stall.case] == there.word]
        by_word[there.word] = within_stalls(ranges, still)
    found = {}
    parts: tuple[Device | Output, ...] = (*facts.harness.devices, *facts.harness.outputs)
    for part in parts:
        for slot, words in slots(part, facts).items():
            setting_ranges = [w[part.id] for word in words if (w := by_word.get(word)) is not None and part.id in w]
            if setting_ranges:
                found[slot] = _narrowest(setting_ranges)
    return found


def reported_ranges(facts: Facts) -> dict[Slot, SettingRange]:
    """The setting ranges that the full analysis gives, of devices and outputs with one slot only: of those that are
    set otherwise in some arrangement it gives one range for all of their settings together.
    """
    parts: tuple[Device | Output, ...] = (*facts.harness.devices, *facts.harness.outputs)
    found = {}
    for part in parts:
        known, mine = facts.protection.setting_ranges.get(part.id), slots(part, facts)
        if known is not None and len(mine) == 1:
            found[next(iter(mine))] = known
    return found


def _within(known: SettingRange, reported: SettingRange | None) -> SettingRange:
    """A range of the closed form within the one that the full analysis gives."""
    return known if reported is None else _narrowest([known, reported])


def _allowed(
    facts: Facts, grouping: Grouping, contacts_a: Mapping[str, float]
) -> tuple[dict[str, float | None], dict[str, float | None]]:
    """Allowed currents by part: at the size drawn or that the load asks for, and at the thickest."""
    by_size = allowed_by_size(facts, grouping)
    group_of = grouping.group_of
    sane: dict[str, float | None] = {}
    most: dict[str, float | None] = {}
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        rating = facts.ratings.get(part.id)
        here = rating.allowed_a if rating else None
        if part.id in contacts_a:
            here = max(here or 0.0, contacts_a[part.id])
        sane[part.id] = most[part.id] = here
        if part.id in by_size:
            currents = facts.currents.get(part.id)
            load_a = currents.worst_continuous[1] if currents is not None else 0.0
            sizes = [
                (size.area_mm2, a)
                for size, a in zip(group_of[part.id].sizes, by_size[part.id], strict=True)
                if a is not None
            ]
            area_mm2, enough = next(((area, a) for area, a in sizes if a >= load_a * (1.0 - 1e-9)), (0.0, None))
            drawn = part.gauge.area_mm2 if isinstance(part, Conductor) and part.gauge is not None else 0.0
            most_mm2 = facts.settings.design.thicken_at_most * max(area_mm2, drawn)
            reach = [a for area, a in sizes if area <= most_mm2]
            sane[part.id] = max((a for a in (here, enough) if a is not None), default=None)
            most[part.id] = max((a for a in (here, enough, *reach) if a is not None), default=None)
    return sane, most


def _narrowest(setting_ranges: Sequence[SettingRange]) -> SettingRange:
    low = max((w.low for w in setting_ranges if w.low), key=lambda bound: bound.setting_a, default=None)
    high = min((w.high for w in setting_ranges if w.high), key=lambda bound: bound.setting_a, default=None)
    unrated = tuple(dict.fromkeys(name for w in setting_ranges for name in w.unrated))
    return replace(setting_ranges[0], low=low, high=high, unrated=unrated)


def _joint(
    setting_ranges: Mapping[Slot, SettingRange], together: Iterable[frozenset[str]]
) -> dict[Slot, SettingRange]:
    """Setting ranges with those of devices that share one field made one: the setting has to do for all of them."""
    found = dict(setting_ranges)
    for names in together:
        for word in dict.fromkeys(word for name, word in setting_ranges if name in names):
            several = {
                slot: setting_ranges[slot] for name in sorted(names) if (slot := (name, word)) in setting_ranges
            }
            if several:
                one = _narrowest(list(several.values()))
                found.update(
                    {slot: replace(one, device=setting_range.device) for slot, setting_range in several.items()}
                )
    return found


def trip_plan(facts: Facts) -> tuple[Setting, ...]:
    """The setting of every channel that can be set (limiters and outputs with a trip of their own), with the sizes
    as they are: it rides through all cases and keeps all that it guards, in every arrangement in which it acts.

    Where no setting does both, ``high_by`` is the part that prevents it, and ``reason`` what it would have to be
    allowed. What several channels can bring on one part together is its combined overload current and not in a
    setting range.
    """
    found = []
    parts: list[Device | Output] = [d for d in facts.harness.devices if d.kind is DeviceKind.LIMITER]
    # Outputs that are joined: which of them a part hangs on is not a matter of one setting range.
    # What a solar string gives is no setting of it.
    parts += [o for o in facts.harness.outputs if not o.solar and facts.topology.feeds(o.node_plus) == (o.id,)]
    ratings = {name: rating.allowed_a for name, rating in facts.ratings.items()}
    names = [part.id for part in (*facts.harness.conductors, *facts.harness.contacts)]
    setting_ranges = slot_setting_ranges(facts, {name: ratings.get(name) for name in names})
    reported = reported_ranges(facts)
    setting_ranges = {slot: _within(known, reported.get(slot)) for slot, known in setting_ranges.items()}
    for part in parts:
        for slot in slots(part, facts) if part.fitted else ():
            setting_range, drawn_a = setting_ranges.get(slot), nominal_a(part.under(slot[1]))
            if setting_range is None or drawn_a is None:
                continue
            setting = _setting(
                part.under(slot[1]), drawn_a, setting_range, setting_range, facts, slot, was_off=False
            )
            if setting_range.is_open is False:
                assert setting_range.low is not None and setting_range.high is not None
                need_a = setting_range.high.current_a * setting_range.low.setting_a / setting_range.high.setting_a
                why = (
                    f"{setting_range.high.by} prevents it: allowed {figures(setting_range.high.current_a)} A, "
                    "it would have to "
                    f"be allowed {figures(need_a)} A"
                )
                setting = replace(setting, proposed_a=None, reason=why)
            if setting.changed and isinstance(part, Output) and part.id not in facts.settings.design.settable:
                setting = replace(setting, reason=f"{setting.reason}; {part.id} is not named in settable")
            if setting_range.unrated:
                why = f"{setting.reason}; not rated behind it: {', '.join(setting_range.unrated)}"
                setting = replace(setting, reason=why)
            found.append(setting)
    return tuple(found)


def refused(setting: Setting, found: Sequence[tuple[str, str]]) -> Setting:
    """A setting that is no answer, since the analysis then finds this (rule and subject)."""
    assert setting.proposed_a is not None
    (rule, subject), *more = found
    where = f"{rule} on {subject}" if subject else rule
    others = f" and {len(more)} more" if more else ""
    reason = f"{setting.reason}; {figures(setting.proposed_a)} A would, but then there is {where}{others}"
    return replace(setting, proposed_a=None, reason=reason)


def with_settings(harness: Harness, settings_a: Mapping[Slot, float]) -> Harness:
    """The harness with other nominal settings by slot; tolerances scale with them.

    A channel that is off has to be turned on first (``channels_off``), which gives it a tolerance.
    """
    mine: dict[str, dict[str | None, float]] = {}
    for (name, word), nominal in settings_a.items():
        mine.setdefault(name, {})[word] = nominal

    def changed(part: Device | Output) -> Device | Output:
        found: Device | Output = part
        for word, nominal in mine[part.id].items():
            values = _values(part.under(word), nominal)
            if word is None:
                found = replace(found, **values)
            else:
                found = replace(found, by_word={**found.by_word, word: {**found.by_word.get(word, {}), **values}})
        return found

    devices = tuple(changed(d) if d.id in mine else d for d in harness.devices)
    outputs = tuple(changed(o) if o.id in mine else o for o in harness.outputs)
    return replace(
        harness,
        devices=tuple(d for d in devices if isinstance(d, Device)),
        outputs=tuple(o for o in outputs if isinstance(o, Output)),
    )


def _values(part: Device | Output, nominal: float) -> dict[str, Any]:
    if isinstance(part, Output) or part.kind is DeviceKind.LIMITER:
        band = part.trip_a
        assert band is not None
        scale = nominal / band.nominal
        return {"trip_a": Band(nominal, band.lower * scale, band.upper * scale)}
    if part.kind is DeviceKind.RESETTABLE:
        return {}
    # A fuse of another rating is another fuse: at which I²t it melts is not known.
    other = part.melting_a2s is not None and part.rating_a != nominal
    return {"rating_a": nominal, **({"melting_a2s": None} if other else {})}


def _setting(
    device: Device | Output,
    drawn_a: float,
    setting_range: SettingRange,
    widest: SettingRange,
    facts: Facts,
    slot: Slot,
    was_off: bool,
) -> Setting:
    """``widest``: the setting range where conductors may grow; its high end may use the overload band."""
    low, high = _ends(setting_range)
    fits = low <= high * (1.0 + 1e-9)
    kept = fits and low * (1.0 - 1e-9) <= drawn_a <= high * (1.0 + 1e-9)
    proposed = drawn_a if kept else _nearest(device, drawn_a, low, high) if fits else None
    bound = setting_range.high
    if kept:
        reason = "off as drawn, and nothing else protects what is behind it" if was_off else "as drawn"
    elif drawn_a > high and high * (held_multiple(device, facts.settings) or 0.0) < given_anyway_a(device):
        proposed = drawn_a
        assert setting_range.high is not None
        reason = (
            f"as drawn: however low it is set it gives its limit of {figures(given_anyway_a(device))} A, and "
            f"{setting_range.high.by} is allowed {figures(setting_range.high.current_a)} A"
        )
    elif proposed is not None:
        reason = _why_low(setting_range) if drawn_a < low else _why_high(setting_range)
    else:
        proposed, high, bound, reason = _with_more_copper(device, drawn_a, setting_range, widest, facts)
    return Setting(
        device.id,
        str(device.kind) if isinstance(device, Device) else "output",
        None if was_off else drawn_a,
        proposed,
        low if setting_range.low else None,
        setting_range.low.by if setting_range.low else "",
        high if bound else None,
        bound.by if bound else "",
        reason,
        slot[1],
    )


def _with_more_copper(
    device: Device | Output, drawn_a: float, setting_range: SettingRange, widest: SettingRange, facts: Facts
) -> tuple[float | None, float, Bound | None, str]:
    """Proposal, high end and reason where no value does unless conductors grow: the less the device holds, the
    less they have to.
    """
    low, high = _ends(widest)
    high *= _band(device, facts)
    if low > high * (1.0 + 1e-9):
        low, high = _ends(setting_range)
        if low <= high * (1.0 + 1e-9):
            return None, high, setting_range.high, _no_standard(low, high, drawn_a < low, setting_range)
        assert setting_range.low is not None and setting_range.high is not None
        return (
            None,
            high,
            setting_range.high,
            no_setting(setting_range.low, setting_range.high),
        )
    proposed = _nearest(device, min(drawn_a, low), low, high) if drawn_a < low else _nearest(device, 0.0, low, high)
    if proposed is None:
        return None, high, widest.high, _no_standard(low, high, drawn_a < low, setting_range)
    if abs(proposed - drawn_a) <= 1e-9 * drawn_a:
        return proposed, high, widest.high, "as drawn"
    reason = _why_low(setting_range)
    if setting_range.high is not None:
        high_end = setting_range.high
        reason += f"; {high_end.by} is allowed {figures(high_end.current_a)} A and has to be rated higher for it"
    return proposed, high, widest.high, reason


def no_setting(low: Bound, high: Bound) -> str:
    """Why no setting rides through and protects, in words."""
    carries = f"it has to carry {figures(low.current_a)} A, and {high.by} is allowed {figures(high.current_a)} A"
    return f"{carries} at most: no setting does both; more paths or fewer loads do"


def _no_standard(low: float, high: float, too_small: bool, setting_range: SettingRange) -> str:
    why = _why_low(setting_range) if too_small else _why_high(setting_range)
    return f"{why}, but no standard rating is from {figures(low)} to {figures(high)} A"


def _why_high(setting_range: SettingRange) -> str:
    assert setting_range.high is not None
    return protects(setting_range.high)


def _why_low(setting_range: SettingRange) -> str:
    assert setting_range.low is not None
    return carries(setting_range.low)


def _ends(setting_range: SettingRange) -> tuple[float, float]:
    return (
        setting_range.low.setting_a if setting_range.low else 0.0,
        setting_range.high.setting_a if setting_range.high else math.inf,
    )


def protects(high: Bound) -> str:
    """What a setting is for that is no higher than the upper end of a range, in words."""
    return _ends_stall(high) or f"to protect {high.by}, allowed {figures(high.current_a)} A"


def carries(low: Bound) -> str:
    """What a setting is for that is no lower than the lower end of a range, in words."""
    return _ends_stall(low) or f"to carry {figures(low.current_a)} A in case {low.by}"


def _ends_stall(bound: Bound) -> str:
    """The same where a motor at standstill asks for it; empty elsewhere."""
    if not bound.stalled:
        return ""
    return (
        f"to end the {figures(bound.current_a)} A of {bound.by} at standstill within {figures(bound.duration_s)} s"
    )


def lower_setting(part: Element, slot: Slot, low_a: float, most_a: float) -> float | None:
    """The greatest value in steps of what a device is made or set in that is from ``low_a`` to ``most_a``."""
    if not isinstance(part, Device | Output) or low_a > most_a * (1.0 + 1e-9):
        return None
    return _nearest(part.under(slot[1]), math.inf, low_a, most_a)


def raised_setting(part: Element, slot: Slot, low_a: float, most_a: float) -> float | None:
    """The least value in steps of what a device is made or set in that is from ``low_a`` to ``most_a``."""
    if not isinstance(part, Device | Output) or low_a > most_a * (1.0 + 1e-9):
        return None
    return _nearest(part.under(slot[1]), 0.0, low_a, most_a)


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
    for step in (5.0, 1.0, 0.5, 0.1, 0.05, 0.01, 0.001):
        value = (
            math.ceil(low_a / step - 1e-9) * step if drawn_a < low_a else math.floor(high_a / step + 1e-9) * step
        )
        near = abs(value - (low_a if drawn_a < low_a else high_a)) <= ROUNDED_WITHIN * value
        if value > 0.0 and low_a * (1 - 1e-9) <= value <= high_a * (1 + 1e-9) and near:
            return round(value, 6)
    return low_a if drawn_a < low_a else high_a


def _band(device: Device | Output, facts: Facts) -> float:
    """How far above the strict high end the overload band reaches, as a multiple; 1 for limiters."""
    upper = held_multiple(device, facts.settings)
    if not isinstance(device, Device) or device.kind is DeviceKind.LIMITER or upper is None:
        return 1.0
    return max(1.0, min(upper, facts.settings.overload_band))
