"""A device or an output with another setting than the drawn one."""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.devices.device_bands import nominal_a
from loadloom.graph.model.elements import Band, Device, DeviceKind, Output

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
