"""A number of a device is missing on which it depends whether the device protects what lies behind it.

Formula: none. Missing and needed are: the clearing time of a device in a short circuit whose current is over what a
conductor or contact on its way is allowed (``Delay`` of a limiter, resettable device or output); how soon a limiter
or an output that holds a current or folds it back takes hold, where the current without it is over what it holds
(of an output: its voltage over its ``Resistance``, any current where none is stated); burst and pause of a limit
that tries again; the breaking capacity of a fuse or breaker where the prospective current at it is over 35 A and
over ten times its rating, the least that any fuse can break.

Source: 35 A or ten times the rating: low breaking capacity of IEC 60127-2, value from memory. The rest is common
practice, no published source.

Passes: a limiter with ``Delay``; a fuse with ``Breaking capacity``.

Fails: a limiter with ``Trip`` alone before a battery: how long a short circuit heats the wire is not known, so the
verdict is incomplete.
"""

import math
from collections.abc import Iterator

from loadloom.graph.devices import threshold
from loadloom.graph.elements import Behaviour, Device, DeviceKind, Output
from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule(
    "device-not-determined",
    Severity.WARNING,
    "A number of a device is missing that its protection depends on",
    incomplete=True,
)

LEAST_BREAKING_A = 35.0
"""IEC 60127-2, low breaking capacity: 35 A or ten times the rating, whichever is greater (from memory)."""

LEAST_BREAKING_MULTIPLE = 10.0


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each device and output with something missing that matters."""
    untimed = _untimed(facts)
    parts: tuple[Device | Output, ...] = (*facts.harness.outputs, *facts.harness.devices)
    for part in parts:
        missing: dict[str, str] = {}
        if part.id in untimed:
            missing["how fast it clears a short circuit, so whether that damages anything"] = (
                "name in Curve a band with times, described in the settings ([curve.NAME])"
                if _has_curve(part)
                else "state Delay"
            )
        elif _limits_late(facts, part):
            missing["how soon it limits a short circuit, so whether that damages anything"] = "state Delay"
        if part.behaviour is Behaviour.HICCUP and (part.retry_on_s is None or part.retry_off_s is None):
            missing["burst and pause of its retries, so how warm a short circuit makes what it feeds"] = (
                "state Retry on and Retry off"
            )
        if isinstance(part, Device) and breaking_capacity_matters(facts, part):
            missing["its breaking capacity at DC"] = "state Breaking capacity"
        if missing:
            remedy = ", and ".join(dict.fromkeys(missing.values()))
            yield RULE.finding(
                part.subject,
                f"{part.id} does not state {'; nor '.join(missing)}.",
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
    """Devices of no stated time that have to clear a short circuit of more than a part on its way is allowed."""
    found = set()
    for short in facts.protection.short_circuits.every:
        rating = facts.ratings.get(short.part)
        allowed_a = rating.allowed_a if rating is not None else None
        if short.untimed is not None and (allowed_a is None or exceeds(short.own_greatest_a, allowed_a)):
            found.add(short.untimed)
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
