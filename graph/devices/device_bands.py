"""Protective devices as bands: what each is certain to carry, what it may pass continuously, how fast it opens.

A device is never one number. Below ``non_tripping_a`` it carries continuously; up to ``held_a`` nothing makes
certain that it opens; above it opens no later than its band says. Where a band is not stated, the bound on the safe
side of all shipped standards counts, and ``reason`` says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import zip_longest

import numpy as np

from loadloom.graph.devices.curves import ShippedCurve, own_named, shipped_curves, shipped_named
from loadloom.graph.model.elements import Band, Behaviour, Device, DeviceKind, Output
from loadloom.graph.model.figures import figures
from loadloom.graph.model.settings import AnalysisSettings, Curve, CurvePoint

ASSUMED_TRIP_SHARE = 1.5
"""A unit's own shutdown where none is stated, as a share of its limit: convention of this tool, reported."""

LEAST_RERATING = 0.01
"""A rerating that leaves less of the rating counts as this share: the device opens at once where anything flows."""

TIME_NOT_STATED = math.inf
"""As a slowest time: it opens, but nothing says how late."""

OpeningTime = tuple[float | None, float | None]
"""Fastest and slowest opening in s. Fastest None: it carries continuously. Slowest None: it may never open."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """The currents in A at which a device acts.

    ``non_tripping_a``: certainly carries continuously, the lower end; None where it is not determined. ``held_a``:
    the most it may pass continuously without opening (upper tolerance, conventional tripping current,
    constant-current hold, upper trip of a hiccup limit, foldback the greater of knee and short-circuit current);
    inf = never opens. ``tripping_within_s``: how long clearing may take just above ``held_a``; None = not stated.
    ``opens``: false where it limits without opening (constant current, foldback) and where it never acts.
    ``assumed``: rests on the 150 %-of-limit assumption of outputs, or the device's own number is missing (it
    then counts as never opening): what only this protects is not determined to be protected or not.
    ``reason`` is one phrase with the source. ``rides_through_s``: how long a greater current may last without it
    acting; inf = not stated, None = it acts by its own heat, which pulses warm as they warm a conductor.
    """

    non_tripping_a: float | None
    held_a: float
    tripping_within_s: float | None
    opens: bool
    assumed: bool
    reason: str
    rides_through_s: float | None = None


@dataclass(frozen=True, slots=True)
class BandChoice:
    """Which time–current bands stand for a fuse or breaker: the worst of ``curves`` counts at every current.

    ``named`` is false where the device names none, or one that is not known: then all shipped bands of its
    kind count together. ``note`` says what was chosen and why.
    """

    curves: tuple[Curve, ...]
    named: bool
    note: str


def band_choice(device: Device, settings: AnalysisSettings) -> BandChoice:
    """The bands of a fuse or breaker: the user's own of that name, else a shipped one, else all of its kind."""
    if device.curve is not None:
        own = own_named(device.curve, settings.curves)
        if own is not None:
            return BandChoice((own,), True, f"{own.name}, {own.source}")
        shipped = shipped_named(device.curve)
        if shipped:
            chosen = _covering(shipped, device.rating_a)
            if chosen:
                return BandChoice(chosen, True, f"{chosen[0].name} gates, {chosen[0].source}")
            why = f"{shipped[0].curve.name} has no gates for this rating"
        else:
            why = f"no curve named {device.curve} is known"
    else:
        why = "no curve named"
    curves = _all_of_kind("breaker" if device.kind is DeviceKind.BREAKER else "fuse")
    names = ", ".join(dict.fromkeys(c.name for c in curves))
    return BandChoice(curves, False, f"{why}: the widest of {names}")


def curve_source(part: Device | Output, settings: AnalysisSettings) -> str | None:
    """Where the bands of a fuse or breaker are published; None for what has no curve."""
    if not isinstance(part, Device) or part.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER):
        return None
    return "; ".join(dict.fromkeys(curve.source for curve in band_choice(part, settings).curves)) or None


def threshold(part: Device | Output, settings: AnalysisSettings, ambient_c: float | None) -> Threshold:
    """The threshold of a device or output at an ambient in °C.

    With ``ambient_c`` None each end is taken at its own corner of the zone: carrying at the greatest ambient,
    certain clearing at the least. Ambient matters only where the user's curve has a rerating. ``part`` is
    already resolved for the arrangement. Of a device with two steps, or with a fuse in series, the one that acts at
    less counts at either end.
    """
    if isinstance(part, Output):
        return _with_fast(_output_threshold(part), part)
    if part.kind is DeviceKind.LIMITER:
        found = _with_fast(_limiter_threshold(part), part)
        inside = fuse_inside(part)
        return found if inside is None else _lesser(found, _fuse_threshold(inside, settings, ambient_c))
    if part.kind is DeviceKind.RESETTABLE:
        return _resettable_threshold(part, settings, ambient_c)
    found = _fuse_threshold(part, settings, ambient_c)
    if part.magnetic is not None and part.rating_a is not None and found.non_tripping_a is not None:
        return replace(found, non_tripping_a=min(found.non_tripping_a, part.magnetic.lower * part.rating_a))
    return found


def fuse_inside(device: Device) -> Device | None:
    """The fuse in series inside a limiter, as a device of its own; None where it has none."""
    if device.kind is not DeviceKind.LIMITER or device.fuse_rating_a is None:
        return None
    return replace(
        device, kind=DeviceKind.FUSE, rating_a=device.fuse_rating_a, curve=device.fuse_curve, fuse_rating_a=None
    )


def opening_time_s(part: Device | Output, current_a: float, settings: AnalysisSettings) -> OpeningTime:
    """Fastest and slowest opening in s at a continuous current in A.

    Fastest is taken at the greatest ambient, slowest at the least. Fastest None: it carries this continuously; 0.0
    where nothing is stated about how soon. Slowest None: it may never open; ``TIME_NOT_STATED`` where it opens
    but nothing says how late. A device of two steps, or with a fuse in series, opens with the first of them.
    """
    if isinstance(part, Output) or part.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER):
        found = _either(_limit_time_s(part, current_a, settings), _fast_time_s(part, current_a))
        inside = fuse_inside(part) if isinstance(part, Device) else None
        return found if inside is None else _either(found, opening_time_s(inside, current_a, settings))
    return _either(_curve_time_s(part, current_a, settings), _magnetic_time_s(part, current_a))


def _either(one: OpeningTime, other: OpeningTime) -> OpeningTime:
    """When the first of two opens."""
    fastest = [t for t in (one[0], other[0]) if t is not None]
    slowest = [t for t in (one[1], other[1]) if t is not None]
    return (min(fastest) if fastest else None), (min(slowest) if slowest else None)


def _limit_time_s(part: Device | Output, current_a: float, settings: AnalysisSettings) -> OpeningTime:
    """Of an electronic limit's slow step, or of a resettable part."""
    if isinstance(part, Output):
        limits = _output_threshold(part)
    elif part.kind is DeviceKind.LIMITER:
        limits = _limiter_threshold(part)
    else:
        limits = _resettable_threshold(part, settings, None)
    if limits.non_tripping_a is not None and _at_most(current_a, limits.non_tripping_a):
        return None, None
    delay = part.delay_s
    # What a resettable device states is how late it trips at most; how soon it may is not stated.
    sudden = isinstance(part, Device) and part.kind is DeviceKind.RESETTABLE
    fastest = 0.0 if sudden else delay or 0.0
    if not limits.opens or _at_most(current_a, limits.held_a):
        return (None, None) if math.isinf(limits.held_a) and not limits.opens else (fastest, None)
    return fastest, TIME_NOT_STATED if delay is None else delay


def _fast_step(part: Device | Output) -> Band | None:
    """The faster step of an electronic limit that opens; one that is not active, or holds its current, has none."""
    off = isinstance(part, Device) and (not part.active or part.kind is not DeviceKind.LIMITER)
    off |= isinstance(part, Output) and part.never_trips
    opens = part.behaviour in (Behaviour.LATCH_OFF, Behaviour.HICCUP)
    return part.fast_trip_a if opens and not off else None


def _fast_time_s(part: Device | Output, current_a: float) -> OpeningTime:
    step, delay = _fast_step(part), part.fast_delay_s
    if step is None or _at_most(current_a, step.lower):
        return None, None
    return delay or 0.0, delay if not _at_most(current_a, step.upper) else None


def _curve_time_s(part: Device, current_a: float, settings: AnalysisSettings) -> OpeningTime:
    """Of a fuse, or of the thermal part of a breaker."""
    if part.rating_a is None:
        return 0.0, None
    fast: list[float | None] = []
    slow: list[float | None] = []
    for curve in _thermal_curves(part, settings):
        hot, cold = _rerating(curve, settings, part.zone, None)
        fast.append(_fastest_s(curve, current_a / (part.rating_a * hot)))
        multiple = current_a / (part.rating_a * cold)
        late_s = _slowest_s(curve, multiple)
        slow.append(_beyond_last_gate_s(curve, multiple, late_s) if part.kind is DeviceKind.FUSE else late_s)
    opening = [t for t in fast if t is not None]
    certain = [t for t in slow if t is not None]
    fastest = min(opening) if opening else None
    if fastest is not None and part.melting_a2s is not None and current_a > 0.0:
        # Heat that is lost on the way makes it later, never sooner.
        fastest = max(fastest, part.melting_a2s / current_a**2)
    return fastest, (max(certain) if len(certain) == len(slow) else None)


def _thermal_curves(part: Device, settings: AnalysisSettings) -> tuple[Curve, ...]:
    """The bands of a fuse or breaker; where its magnetic part is stated, a standard's own band without that
    part."""
    curves = band_choice(part, settings).curves
    if part.magnetic is None:
        return curves
    shipped = {s.curve.name for each in shipped_curves().values() for s in each if s.kind == "breaker"}
    return tuple(
        replace(curve, points=curve.points[:-1]) if curve.gates and curve.name in shipped else curve
        for curve in curves
    )


def _magnetic_time_s(part: Device, current_a: float) -> OpeningTime:
    """Of the magnetic part of a breaker: at once above its lower end, for certain above its upper end."""
    if part.magnetic is None or part.rating_a is None:
        return None, None
    multiple = current_a / part.rating_a
    if _at_most(multiple, part.magnetic.lower):
        return None, None
    late = TIME_NOT_STATED if part.magnetic_s is None else part.magnetic_s
    return 0.0, None if _at_most(multiple, part.magnetic.upper) else late


def nominal_a(part: Device | Output) -> float | None:
    """The nominal number printed on a part or set on it, in A; for an output its own stated trip."""
    if isinstance(part, Output):
        return part.trip_a.nominal if part.trip_a is not None else None
    return part.setting_a


def ride_through_multiple(device: Device | Output, duration_s: float, settings: AnalysisSettings) -> float | None:
    """The greatest multiple of its nominal that a part certainly carries for a time in s (inf = continuously).

    At the greatest ambient. None where the part's number is missing; inf for one that never acts.
    """
    nominal = nominal_a(device)
    if isinstance(device, Output) and device.never_trips:
        return math.inf
    if isinstance(device, Device) and device.kind is DeviceKind.LIMITER and not device.active:
        return math.inf
    if not nominal:
        return None
    if isinstance(device, Device) and device.kind in (DeviceKind.FUSE, DeviceKind.BREAKER):
        multiple = min(
            _carried_multiple(curve, duration_s) * _rerating(curve, settings, device.zone, None)[0]
            for curve in _thermal_curves(device, settings)
        )
        if device.melting_a2s is not None and math.isfinite(duration_s) and duration_s > 0.0:
            multiple = max(multiple, math.sqrt(device.melting_a2s / duration_s) / nominal)
        return multiple if device.magnetic is None else min(multiple, device.magnetic.lower)
    if isinstance(device, Device) and device.kind is DeviceKind.RESETTABLE:
        carries = threshold(device, settings, None).non_tripping_a
        return None if carries is None else carries / nominal
    # What does not change with the setting is asked for itself (``carries_whatever_set``).
    slow = _output_threshold(device) if isinstance(device, Output) else _limiter_threshold(device)
    if device.delay_s is not None and duration_s < device.delay_s:
        return math.inf
    return None if slow.non_tripping_a is None else slow.non_tripping_a / nominal


def carries_whatever_set(
    device: Device | Output, current_a: float, duration_s: float, settings: AnalysisSettings
) -> bool:
    """Whether what does not change with a device's setting, its fast step and the fuse inside it, carries a current
    in A for a time in s (inf = continuously).
    """
    fast = _fast_step(device)
    rides = device.fast_delay_s is not None and duration_s < device.fast_delay_s
    if fast is not None and not rides and not _at_most(current_a, fast.lower):
        return False
    inside = fuse_inside(device) if isinstance(device, Device) else None
    if inside is None:
        return True
    multiple = ride_through_multiple(inside, duration_s, settings)
    return multiple is not None and _at_most(current_a, multiple * (inside.rating_a or 0.0))


def held_multiple(device: Device | Output, settings: AnalysisSettings) -> float | None:
    """``held_a`` as a multiple of the nominal; None where the part's number is missing or it never acts."""
    nominal = nominal_a(device)
    held = threshold(device, settings, None).held_a
    return held / nominal if nominal and math.isfinite(held) else None


def most_setting_a(part: Device | Output, held_a: float, settings: AnalysisSettings) -> float | None:
    """The highest nominal with which a part holds no more than ``held_a``; its band scales with it.

    None where the part's number is missing or it never acts, and where no setting brings it down to that: an output
    that folds back still gives its limit.
    """
    multiple = held_multiple(part, settings)
    return held_a / multiple if multiple and held_a >= given_anyway_a(part) * (1.0 - 1e-9) else None


def given_anyway_a(part: Device | Output) -> float:
    """What a part gives continuously however low it is set, in A: the limit of an output that folds back."""
    if isinstance(part, Output) and part.behaviour is Behaviour.FOLDBACK and part.trip_a is not None:
        return part.limit_a or 0.0
    return 0.0


def band(part: Device | Output, settings: AnalysisSettings) -> tuple[tuple[float, float | None, float | None], ...]:
    """Points (current in A, fastest s, slowest s) for the time–current chart, in ascending order of current.

    At a gate or limit there are two points, just below and just above it, so that steps stay steps. Times that
    are not stated are None.
    """
    corners = sorted(corner_currents_a(part, settings))
    currents = [c for corner in corners for c in (corner * (1.0 - 1e-6), corner * (1.0 + 1e-6))]
    if corners:
        currents.append(corners[-1] * 10.0)
    points = []
    for current_a in currents:
        fastest, slowest = opening_time_s(part, current_a, settings)
        points.append((current_a, fastest, slowest if slowest is not None and math.isfinite(slowest) else None))
    return tuple(points)


def hiccup_share(part: Device | Output) -> float | None:
    """RMS of the bursts of a hiccup limit as a share of the burst current; None where burst and pause are not
    both stated or the part does not retry.
    """
    if part.behaviour is not Behaviour.HICCUP or part.retry_on_s is None or part.retry_off_s is None:
        return None
    whole = part.retry_on_s + part.retry_off_s
    return math.sqrt(part.retry_on_s / whole) if whole > 0.0 else None


# --- limiters, resettable parts and outputs -------------------------------------------------------------------


def _with_fast(found: Threshold, part: Device | Output) -> Threshold:
    """A threshold with the faster step of the same limit, which counts where it lies below the slow one."""
    step = _fast_step(part)
    if step is None:
        return found
    carries = step.lower if found.non_tripping_a is None else min(found.non_tripping_a, step.lower)
    if found.held_a <= step.upper or part.fast_delay_s is None:
        return replace(found, non_tripping_a=carries)
    reason = f"the fast step opens above {figures(step.upper)} A"
    return Threshold(carries, step.upper, part.fast_delay_s, True, False, reason, part.fast_delay_s)


def _lesser(one: Threshold, other: Threshold) -> Threshold:
    """The threshold of two devices in series as one: what acts at less counts at either end."""
    known = [t.non_tripping_a for t in (one, other)]
    carries = None if None in known else min(a for a in known if a is not None)
    first = one if one.held_a <= other.held_a else other
    return replace(
        first, non_tripping_a=carries, reason=f"{first.reason} (in series: {one.reason}; {other.reason})"
    )


def _output_threshold(output: Output) -> Threshold:
    if output.never_trips:
        return Threshold(math.inf, math.inf, None, False, False, "the output never trips, as stated")
    trip, limit = output.trip_a, output.limit_a
    if output.behaviour is Behaviour.CONSTANT_CURRENT and (trip or limit is not None):
        held = trip or Band.exact(limit or 0.0)
        return Threshold(held.lower, held.upper, None, False, False, f"constant current of {figures(held.upper)} A")
    if trip is not None:
        return _acting(trip, output, floor_a=limit or 0.0, what="the unit's own trip")
    if limit is not None:
        held = Band(ASSUMED_TRIP_SHARE * limit, limit, ASSUMED_TRIP_SHARE * limit)
        found = _acting(
            held, output, floor_a=limit, what=f"no trip stated: 150 % of the limit of {figures(limit)} A"
        )
        return replace(found, assumed=True)
    return Threshold(None, math.inf, None, False, False, "neither trip nor limit stated: counts as never opening")


def _limiter_threshold(device: Device) -> Threshold:
    if not device.active:
        return Threshold(math.inf, math.inf, None, False, False, "not active")
    if device.trip_a is None:
        return Threshold(None, math.inf, None, False, True, "no trip stated: counts as never opening")
    return _acting(device.trip_a, device, floor_a=0.0, what="limiter")


def _acting(trip: Band, part: Device | Output, *, floor_a: float, what: str) -> Threshold:
    """What an electronic limit holds; ``floor_a`` is a short-circuit current stated beside the knee."""
    if part.behaviour is Behaviour.CONSTANT_CURRENT:
        return Threshold(
            trip.lower, trip.upper, None, False, False, f"{what}, constant current of {figures(trip.upper)} A"
        )
    if part.behaviour is Behaviour.FOLDBACK:
        held = max(trip.upper, floor_a)
        return Threshold(trip.lower, held, None, False, False, f"{what}, foldback from {figures(held)} A")
    how = {Behaviour.LATCH_OFF: "opens and stays open", Behaviour.HICCUP: "opens and tries again"}[part.behaviour]
    reason = f"{what}, {how} above {figures(trip.upper)} A"
    rides_s = math.inf if part.delay_s is None else part.delay_s
    return Threshold(trip.lower, trip.upper, part.delay_s, True, False, reason, rides_s)


def _resettable_threshold(device: Device, settings: AnalysisSettings, ambient_c: float | None) -> Threshold:
    own = own_named(device.curve, settings.curves) if device.curve is not None else None
    hot, cold = _rerating(own, settings, device.zone, ambient_c)
    carries = device.hold_a * hot if device.hold_a is not None else None
    if device.trip_a is None:
        return Threshold(carries, math.inf, None, False, True, "no trip current stated: counts as never opening")
    held = device.trip_a.upper * cold
    return Threshold(
        carries, held, device.delay_s, True, False, f"resettable, trips for certain at {figures(held)} A"
    )


# --- fuses and breakers ---------------------------------------------------------------------------------------


def _fuse_threshold(device: Device, settings: AnalysisSettings, ambient_c: float | None) -> Threshold:
    if device.rating_a is None:
        return Threshold(None, math.inf, None, False, True, "no rating stated: counts as never opening")
    choice = band_choice(device, settings)
    carries, held, within = math.inf, 0.0, 0.0
    for curve in choice.curves:
        hot, cold = _rerating(curve, settings, device.zone, ambient_c)
        carries = min(carries, _carried_multiple(curve, math.inf) * hot)
        first = next((p for p in curve.points if p.max_s is not None), None)
        held = max(held, first.multiple * cold if first else math.inf)
        within = max(within, first.max_s or 0.0 if first else 0.0)
    percent = f"{100.0 * held:.4g} %" if math.isfinite(held) else "never"
    reason = f"certain to open only above {percent} of its rating ({choice.note})"
    finite = math.isfinite(held)
    return Threshold(
        carries * device.rating_a, held * device.rating_a, within if finite else None, finite, False, reason
    )


def _covering(shipped: Sequence[ShippedCurve], rating_a: float | None) -> tuple[Curve, ...]:
    """The bands whose range of ratings holds a rating; in a gap between two ranges both neighbours."""
    if rating_a is None:
        return tuple(s.curve for s in shipped)
    inside = [s.curve for s in shipped if s.rating_min_a <= rating_a <= s.rating_max_a]
    if inside:
        # A rating at the border of two ranges belongs to the lower one ("0-30 A", "<= 3 A").
        return (inside[0],)
    below = [s.curve for s in shipped if s.rating_max_a < rating_a]
    above = [s.curve for s in shipped if s.rating_min_a > rating_a]
    return (below[-1], above[0]) if below and above else ()


@cache
def _all_of_kind(kind: str) -> tuple[Curve, ...]:
    return tuple(s.curve for curves in shipped_curves().values() for s in curves if s.kind == kind)


def _carried_multiple(curve: Curve, duration_s: float) -> float:
    """The greatest multiple that a band carries for a time; the rating itself is carried continuously by definition
    unless the band starts below it.
    """
    for_good = [p.multiple for p in curve.points if p.min_s == math.inf]
    least = max(for_good) if for_good else min(1.0, curve.points[0].multiple)
    if math.isinf(duration_s):
        return least
    timed = [p for p in curve.points if p.min_s is not None and math.isfinite(p.min_s) and p.multiple > least]
    best = least
    for here, following in zip_longest(timed, timed[1:]):
        if (here.min_s or 0.0) < duration_s:
            break
        best = here.multiple
        if following is not None and not curve.gates and (following.min_s or 0.0) < duration_s:
            best = _crossing(here, following, duration_s)
    return best


def _crossing(here: CurvePoint, following: CurvePoint, duration_s: float) -> float:
    """Where the fastest time between two points falls to a time, on log–log axes."""
    if not following.min_s or not here.min_s:
        return here.multiple
    share = math.log(here.min_s / duration_s) / math.log(here.min_s / following.min_s)
    return here.multiple * math.pow(following.multiple / here.multiple, share)


def _fastest_s(curve: Curve, multiple: float) -> float | None:
    if _at_most(multiple, _carried_multiple(curve, math.inf)):
        return None
    timed = [(p.multiple, p.min_s) for p in curve.points if p.min_s is not None and math.isfinite(p.min_s)]
    at_or_above = [point for point in timed if _at_most(multiple, point[0])]
    if not at_or_above:
        return 0.0
    below = [point for point in timed if not _at_most(multiple, point[0])]
    if curve.gates or not below:
        return at_or_above[0][1]
    return _log_log(below[-1], at_or_above[0], multiple, if_zero=0.0)


def _slowest_s(curve: Curve, multiple: float) -> float | None:
    timed = [(p.multiple, p.max_s) for p in curve.points if p.max_s is not None]
    passed = [point for point in timed if _at_most(point[0], multiple)]
    if not passed:
        return None
    ahead = [point for point in timed if not _at_most(point[0], multiple)]
    if curve.gates or not ahead:
        return passed[-1][1]
    return _log_log(passed[-1], ahead[0], multiple, if_zero=passed[-1][1])


def _beyond_last_gate_s(curve: Curve, multiple: float, late_s: float | None) -> float | None:
    """The latest time of a fuse at more than the last gate of its standard: no more I²t than at that gate.

    A fuse melts by the heat of its current; at a greater current less of that heat is lost on the way, so that its
    I²t falls towards the melting I²t (common practice, no published source).
    """
    gates = [p.multiple for p in curve.points if p.max_s is not None]
    if late_s is None or not curve.gates or not gates or _at_most(multiple, gates[-1]):
        return late_s
    return late_s * (gates[-1] / multiple) ** 2


def _log_log(first: tuple[float, float], second: tuple[float, float], multiple: float, if_zero: float) -> float:
    """Straight line on log–log axes; a time of 0 has no place on them, there ``if_zero`` counts."""
    if first[1] <= 0.0 or second[1] <= 0.0:
        return if_zero
    share = math.log(multiple / first[0]) / math.log(second[0] / first[0])
    return first[1] * math.pow(second[1] / first[1], share)


def _rerating(
    curve: Curve | None, settings: AnalysisSettings, zone: str | None, ambient_c: float | None
) -> tuple[float, float]:
    """The least and the greatest share of the rating by the user's rerating, over the ambients of a zone or at one.

    Beyond its last points a rerating goes on as straight as between the last two: in deeper cold a fuse carries
    still more. It is never less than ``LEAST_RERATING``.
    """
    if curve is None or not curve.rerating:
        return 1.0, 1.0
    ambient = settings.ambient(zone)
    hot, cold = (ambient.max_c, ambient.min_c) if ambient_c is None else (ambient_c, ambient_c)
    inside = [share for t, share in curve.rerating if cold <= t <= hot]
    shares = [_share_at(curve.rerating, hot), _share_at(curve.rerating, cold), *inside]
    return max(min(shares), LEAST_RERATING), max(*shares, LEAST_RERATING)


def _share_at(points: Sequence[tuple[float, float]], at_c: float) -> float:
    """The share of the rating at an ambient; beyond the points no more in heat and no less in cold than at them."""
    temperatures, shares = [t for t, _ in points], [share for _, share in points]
    if len(points) > 1 and not temperatures[0] <= at_c <= temperatures[-1]:
        (t1, s1), (t2, s2) = points[:2] if at_c < temperatures[0] else points[-2:]
        beyond = s1 + (s2 - s1) * (at_c - t1) / (t2 - t1)
        return max(beyond, shares[0]) if at_c < temperatures[0] else min(beyond, shares[-1])
    return float(np.interp(at_c, temperatures, shares))


def corner_currents_a(part: Device | Output, settings: AnalysisSettings) -> set[float]:
    """Currents in A at which a band has a step or a point."""
    if isinstance(part, Device) and part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER):
        if part.rating_a is None:
            return set()
        corners = set()
        for curve in _thermal_curves(part, settings):
            for share in _rerating(curve, settings, part.zone, None):
                corners |= {p.multiple * share * part.rating_a for p in curve.points}
                corners.add(_carried_multiple(curve, math.inf) * share * part.rating_a)
        if part.magnetic is not None:
            corners |= {part.magnetic.lower * part.rating_a, part.magnetic.upper * part.rating_a}
        return corners
    limits = threshold(part, settings, None)
    found = {a for a in (limits.non_tripping_a, limits.held_a) if a is not None and math.isfinite(a)}
    step = _fast_step(part)
    if step is not None:
        found |= {step.lower, step.upper}
    inside = fuse_inside(part) if isinstance(part, Device) else None
    return found | (corner_currents_a(inside, settings) if inside is not None else set())


def _at_most(value: float, limit: float) -> bool:
    """Whether a solved current is within a limit, rounding of the solve allowed for."""
    return value <= limit * (1.0 + 1e-9)
