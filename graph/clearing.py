"""Which device clears a dead short, and how late."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loadloom.graph.devices import Threshold, opening_time_s
from loadloom.graph.elements import Device, Output
from loadloom.graph.settings import AnalysisSettings

DeviceCurrents = tuple[tuple[Device | Output, float], ...]
"""Devices and outputs with the current in A through each."""


@dataclass(frozen=True, slots=True)
class Clearing:
    """The device that is certain to clear a short first, and how late; ``slowest_s`` inf = not stated."""

    device: Device | Output
    slowest_s: float


@dataclass(frozen=True, slots=True)
class Flow:
    """One short at one corner with some of the joined outputs off, as ``outputs_off`` says.

    ``current_a`` is the short's current at once, ``own_a`` the part's own share of it. ``devices`` on the way with
    their currents, ``capped_by`` the output or limiter that holds the current without opening. ``clearing``: the
    last device to open and the time until then; None = never cleared, then ``held_a`` is what still flows and
    ``heat_w`` the heat of it outside the outputs. ``own_i2t_a2s``: None where no time is stated.
    """

    current_a: float
    own_a: float
    heat_w: float
    devices: DeviceCurrents
    capped_by: str | None
    clearing: Clearing | None
    own_i2t_a2s: float | None
    held_a: float
    outputs_off: tuple[str, ...] = ()


def first_to_open(
    flows: Iterable[tuple[Device | Output, float]],
    thresholds: Mapping[str, Threshold],
    settings: AnalysisSettings,
) -> Clearing | None:
    """The device that is certain to open first; None where none is certain to. Currents in A."""
    found: Clearing | None = None
    for part, current_a in flows:
        if not math.isfinite(current_a):
            # Nothing stated limits the current: any device that opens at all opens.
            slowest = math.inf if thresholds[part.id].opens else None
        elif current_a <= thresholds[part.id].held_a:
            slowest = None
        else:
            slowest = opening_time_s(part, current_a, settings)[1]
        if slowest is not None and (found is None or slowest < found.slowest_s):
            found = Clearing(part, slowest)
    return found
