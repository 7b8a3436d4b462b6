"""A device does not state a number, so one check of the device could not be made.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with `Voltage rating` and `Breaking capacity`; a limiter with `Delay`.

Fails: a fuse of 10 A without them where a short circuit draws 30 A, which any fuse can break. What the protection
depends on is `device-not-determined`.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Device, DeviceKind, Output
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.rules.device_not_determined import breaking_capacity_matters

RULE = Rule("device-not-checked", Severity.NOTE, "A check of a device could not be made")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each device and output with something missing."""
    parts: tuple[Device | Output, ...] = (*facts.harness.outputs, *facts.harness.devices)
    for part in parts:
        missing: dict[str, str] = {}
        if isinstance(part, Device) and part.kind is not DeviceKind.LIMITER:
            missing |= _not_rated(facts, part)
        if missing:
            remedy = ", and ".join(dict.fromkeys(missing.values()))
            yield RULE.finding(
                part.subject,
                " ".join(missing),
                f"{remedy[0].upper()}{remedy[1:]}, from the data sheet.",
            )


def _not_rated(facts: Facts, device: Device) -> dict[str, str]:
    found: dict[str, str] = {}
    if device.voltage_rating_v is None:
        found[f"{device.id} does not state its voltage rating at DC."] = "state Voltage rating"
    short = facts.protection.short_circuits.prospective.get(device.id)
    if short is not None and device.breaking_capacity_a is None and not breaking_capacity_matters(facts, device):
        found[f"{device.id} does not state its breaking capacity at DC."] = "state Breaking capacity"
    if short is not None and math.isinf(short.current_a):
        found[
            f"What a short circuit behind {device.id} draws is not determined: neither its path nor the output "
            "states a resistance."
        ] = "state Resistance of the output"
    return found
