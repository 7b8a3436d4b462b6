"""A short circuit just behind a device can draw more than the device is able to break.

Formula: highest voltage / (internal resistance of the output + path to the device, cold, contacts new) > `Breaking
capacity`. The short goes straight to the output's other terminal; where another output's way out shares a bundle,
cable or connector with what lies behind the device, to that one's as well.

Source: IEC 60364-4-43 434.5.1, the breaking capacity is not less than the prospective current (from memory).

Passes: a battery of 24 V and 50 mΩ (480 A) before a device that breaks 1 kA.

Fails: a battery of 24 V and 5 mΩ (4.8 kA) before the same device.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import quantity, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("breaking-capacity", Severity.ERROR, "Short is more than the device can break")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold the prospective current at every device against what it can break, where both are known."""
    for device in facts.harness.devices:
        short = facts.protection.short_circuits.prospective.get(device.id)
        stated = [a for there in device.variants() if (a := there.breaking_capacity_a) is not None]
        capacity_a = min(stated, default=None)
        if short is None or math.isinf(short.current_a) or not exceeds(short.current_a, capacity_a):
            continue
        yield RULE.finding(
            device.subject,
            f"A short circuit behind {device.id} draws up to {quantity(short.current_a, 'A')}, over its breaking "
            f"capacity of {quantity(capacity_a, 'A')}.",
            f"Use a device with a breaking capacity of at least {quantity(raised(short.current_a), 'A')} at DC, "
            "or put one before it that limits the current.",
            case=short.case,
            value=short.current_a,
            limit=capacity_a,
            unit="A",
        )
