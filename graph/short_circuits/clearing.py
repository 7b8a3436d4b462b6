"""What opens in a short circuit: which devices may be the first, and how late one of them is certain to be open."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.devices.device_bands import Threshold, hiccup_share, opening_time_s
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.settings import AnalysisSettings

DeviceCurrents = tuple[tuple[Device | Output, float], ...]
"""Devices and outputs with the current in A through each."""


@dataclass(frozen=True, slots=True)
class Clearing:
    """The device that clears a short last, and how late; ``slowest_s`` inf = not stated."""

    device: Device | Output
    slowest_s: float


@dataclass(frozen=True, slots=True)
class Held:
    """A short that flows continuously: its current, the heat of it in W outside the outputs, ``devices`` on the
    path with their currents, ``capped_by`` what holds the current without opening, and what the parts carry (A, by
    id; empty where all of it flows through each).
    """

    current_a: float
    heat_w: float
    devices: DeviceCurrents
    capped_by: str | None
    carried_a: Mapping[str, float]

    @property
    def gravity(self) -> tuple[bool, float]:
        """What a limit holds by itself is less grave than what nothing limits; rounding tells no currents
        apart.
        """
        return self.capped_by is None, float(f"{self.current_a:.9g}")


@dataclass(frozen=True, slots=True)
class Retry:
    """A limit that opens and tries again: the part's current in A while it tries, and that of equal heat (None
    where burst and pause are not stated).
    """

    device: str
    burst_a: float
    rms_a: float | None

    @classmethod
    def of(cls, again: Sequence[Device | Output], own_a: float, given_a: float) -> Retry:
        """Of the limits that try ``again``, with the part's own current in A while they do, and what the first of
        them gives then. Several share no clock, so that their bursts may follow one another.
        """
        burst_a = own_a
        if len(again) == 1 and isinstance(again[0], Output) and again[0].trip_a is not None and given_a > 0.0:
            # A unit that retries limits its own bursts; a separate limiter passes what comes until it opens.
            burst_a *= min(1.0, again[0].trip_a.upper / given_a)
        shares = [share for part in again if (share := hiccup_share(part)) is not None]
        stated = len(shares) == len(again) and math.isfinite(burst_a)
        rms_a = burst_a * math.sqrt(min(1.0, sum(share**2 for share in shares))) if stated else None
        return cls(again[0].id, burst_a, rms_a)

    @property
    def gravity_a(self) -> float:
        """What retries are compared by: the current of equal heat, 0 where it is not known."""
        return self.rms_a or 0.0


@dataclass(frozen=True, slots=True)
class Flow:
    """One short at one corner with some of the joined outputs off, as ``outputs_off`` says, over every order in
    which devices may open.

    ``current_a`` is the short's current at once, ``own_a`` the part's own share of it. ``clearing``: the last
    device to open and the time until then; None = some order leaves it ``held``. ``own_i2t_a2s``: None where no
    time is stated, or it is held. ``retry``: the worst of the limits that try again.
    """

    current_a: float
    own_a: float
    clearing: Clearing | None
    held: Held | None
    own_i2t_a2s: float | None
    retry: Retry | None
    outputs_off: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Openers:
    """``certain``: the device that is certain to have opened first, ``within_s`` (inf = not stated); None where
    none is certain to. ``first``: all that may be the first to open until then.
    """

    certain: Device | Output | None
    within_s: float
    first: tuple[Device | Output, ...]


def openers(
    flows: Iterable[tuple[Device | Output, float]],
    thresholds: Mapping[str, Threshold],
    settings: AnalysisSettings,
) -> Openers:
    """What may open at the currents in A through devices and outputs."""
    timed: list[tuple[Device | Output, float, float | None]] = []
    for part, current_a in flows:
        limits = thresholds[part.id]
        if not limits.opens:
            continue
        if not math.isfinite(current_a):
            # Nothing stated limits the current: any device that opens at all opens.
            timed.append((part, 0.0, math.inf))
            continue
        fastest, slowest = opening_time_s(part, current_a, settings)
        if current_a <= limits.held_a:
            slowest = None
        if fastest is not None or slowest is not None:
            timed.append((part, fastest or 0.0, slowest))
    certain = [(slowest, part) for part, _, slowest in timed if slowest is not None]
    if not certain:
        return Openers(None, math.inf, ())
    within_s, part = min(certain, key=lambda found: found[0])
    return Openers(part, within_s, tuple(part for part, fastest, _ in timed if fastest <= within_s))
