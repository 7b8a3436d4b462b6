"""A device does not state a number that decides whether it protects what lies behind it.

Formula: none. Missing and needed are: the clearing time of a device in a short circuit whose current is over what a
conductor or contact on its way is allowed (``Delay`` of a limiter, resettable device or output); how soon a limiter
or an output that holds a current or folds it back takes hold, where the current without it is over what it holds
(of an output: its voltage over its ``Resistance``, any current where none is stated); burst and pause of a limit
that tries again; the breaking capacity of a fuse or breaker where the prospective current at it is over 35 A and
over ten times its rating, the least that any fuse can break. A fuse or breaker that is known only by the gates of
a standard clears within the time of its last gate, a fuse at greater currents with no more I²t than there; needed
is its curve where a conductor or contact on its way does not withstand that much.

Source: 35 A or ten times the rating: low breaking capacity of IEC 60127-2, value from memory. The rest is common
practice, no published source.

Passes: a limiter with ``Delay``; a fuse with ``Breaking capacity``; a fuse of 10 A by UL 248-14 gates, which leave
it 48 kA²s (twice its rating for 120 s), before 2.5 mm² in PVC, which withstands 83 kA²s.

Fails: a limiter with ``Trip`` alone before a battery: how long a short circuit heats the wire is not known, so the
verdict is incomplete. The same fuse of 10 A before 1.5 mm², which withstands 30 kA²s, where nothing else
limits the current.
"""

import math
from collections.abc import Iterator

from loadloom.graph.devices.device_bands import threshold
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.by_gates import by_gates
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.slow_overloads import slow_overloads
from loadloom.graph.model.elements import Behaviour, Device, DeviceKind, Output
from loadloom.graph.model.figures import duration, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule(
    "device-not-determined",
    Severity.WARNING,
    "A number of a device is missing that its protection depends on",
    incomplete=True,
)

_A_CURVE = "describe its time–current curve in the settings ([curve.NAME]) and name it in Curve"

LEAST_BREAKING_A = 35.0
"""IEC 60127-2, low breaking capacity: 35 A or ten times the rating, whichever is greater (from memory)."""

LEAST_BREAKING_MULTIPLE = 10.0


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each device and output with something missing that matters."""
    untimed, gates = _untimed(facts), by_gates(facts)
    parts: tuple[Device | Output, ...] = (*facts.harness.outputs, *facts.harness.devices)
    for part in parts:
        missing: dict[str, str] = {}
        if part.id in untimed:
            missing[
                f"{part.id} does not state how fast it clears a short circuit, so whether the short circuit "
                "damages anything is not determined."
            ] = _A_CURVE if _has_curve(part) else "state Delay"
        elif part.id in gates:
            name, most_s = gates[part.id]
            missing[
                f"{part.id} does not state how fast it clears, only the gates of a standard, which leave it up to "
                f"{duration(most_s)}: whether {name} is damaged by then is not determined."
            ] = _A_CURVE
        elif _limits_late(facts, part):
            missing[
                f"{part.id} does not state how soon it limits a short circuit, so whether the short circuit "
                "damages anything is not determined."
            ] = "state Delay"
        if part.behaviour is Behaviour.HICCUP and (part.retry_on_s is None or part.retry_off_s is None):
            missing[
                f"{part.id} does not state burst and pause of its retries, so how hot a short circuit makes what "
                "it feeds is not determined."
            ] = "state Retry on and Retry off"
        if isinstance(part, Device) and breaking_capacity_matters(facts, part):
            short = facts.protection.short_circuits.prospective[part.id]
            draws = f", and a short circuit behind it draws up to {quantity(short.current_a, 'A')}"
            missing[
                f"{part.id} does not state its breaking capacity at "
                f"DC{draws if short.current_a < math.inf else ''}."
            ] = "state Breaking capacity"
        if missing:
            remedy = ", and ".join(dict.fromkeys(missing.values()))
            yield RULE.finding(
                part.subject,
                " ".join(missing),
                f"{remedy[0].upper()}{remedy[1:]}, from the data sheet.",
            )


def breaking_capacity_matters(facts: Facts, device: Device) -> bool:
    """Whether a fuse or breaker states no breaking capacity, and more may flow than any breaks."""
    short = facts.protection.short_circuits.prospective.get(device.id)
    if not _has_curve(device) or device.breaking_capacity_a is not None or short is None:
        return False
    least_a = max(LEAST_BREAKING_A, LEAST_BREAKING_MULTIPLE * (device.rating_a or 0.0))
    return exceeds(short.current_a, least_a)


def _has_curve(part: Device | Output) -> bool:
    return isinstance(part, Device) and part.kind in (DeviceKind.FUSE, DeviceKind.BREAKER)


def _untimed(facts: Facts) -> frozenset[str]:
    """Devices of no stated time that have to clear a short circuit, or a lesser fault, of more than a part on its
    way is allowed."""
    found = set()
    for short in facts.protection.short_circuits.every:
        rating = facts.ratings.get(short.part)
        allowed_a = rating.allowed_a if rating is not None else None
        if short.untimed is not None and (allowed_a is None or exceeds(short.own_greatest_a, allowed_a)):
            found.add(short.untimed)
    parts: tuple[Device | Output, ...] = (*facts.harness.outputs, *facts.harness.devices)
    if any(part.delay_s is None for part in parts):
        found.update(slow.opens for slow in slow_overloads(facts) if math.isinf(slow.duration_s))
    return frozenset(found)


def _limits_late(facts: Facts, drawn: Device | Output) -> bool:
    """Whether a part that holds a current does not say how soon, and more flows until then, in any arrangement."""
    return any(_limits_late_as(facts, part) for part in drawn.variants())


def _limits_late_as(facts: Facts, part: Device | Output) -> bool:
    holds = part.behaviour in (Behaviour.CONSTANT_CURRENT, Behaviour.FOLDBACK)
    held_a = threshold(part, facts.settings, None).held_a
    if not part.fitted or not holds or part.delay_s is not None or math.isinf(held_a):
        return False
    if isinstance(part, Output):
        return exceeds(_given_at_first_a(part), held_a)
    short = facts.protection.short_circuits.prospective.get(part.id)
    return part.kind is DeviceKind.LIMITER and short is not None and exceeds(short.current_a, held_a)


def _given_at_first_a(output: Output) -> float:
    """What an output gives into a short circuit at its terminals in A until it limits; inf without Resistance."""
    if not output.voltage_v:
        return 0.0
    if not output.resistance_ohm:
        return math.inf
    above = output.tolerance.above if output.tolerance is not None else 0.0
    return output.voltage_v * (1.0 + above) / output.resistance_ohm
