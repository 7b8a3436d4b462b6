"""Setting ranges narrowed to the settings with which every motor that stands still is switched off in time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from loadloom.graph.setting_ranges.highest_settings import UNKNOWN
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange
from loadloom.graph.short_circuits.stalls import Stall


def within_stalls(ranges: Mapping[str, SettingRange], stalls: Iterable[Stall]) -> dict[str, SettingRange]:
    """Setting ranges with which, each device by itself, every stall ends while its load stands it.

    A stall that no setting ends with which a device rides through leaves the range of the device as it is, unless
    it is the one that ends the stall as drawn: the stall is a finding of its own.
    """
    found = dict(ranges)
    for stall in stalls:
        for name, (least_a, most_a) in stall.in_time_a.items():
            known = found.get(name)
            if known is None:
                continue
            ends = (Bound(a, stall.load, stall.least_a, stall.stands_s or 0.0, True) for a in (least_a, most_a))
            narrowed = _between(known, *ends)
            as_drawn = known.nominal_a is not None and least_a <= known.nominal_a <= most_a
            if narrowed.is_open is not False or as_drawn:
                found[name] = narrowed
    return found


def _between(known: SettingRange, low: Bound, high: Bound) -> SettingRange:
    if low.setting_a > (known.low.setting_a if known.low is not None else 0.0):
        known = replace(known, low=low)
    if high.setting_a < _end_a(known.high) and not (known.high is None and known.cause.startswith(UNKNOWN)):
        known = replace(known, high=high, cause="", rough=False)
    return known


def _end_a(bound: Bound | None) -> float:
    return bound.setting_a if bound is not None else float("inf")
