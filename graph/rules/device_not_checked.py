"""Something about a device is not stated, so that one check of it could not be made.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with `Voltage rating` and `Breaking capacity`; a limiter with `Delay`.

Fails: a fuse of 10 A without them where a short circuit draws 30 A, which any fuse can break. A fuse whose curve is
a gate table: it must open within 120 s, and nothing says how much sooner in a short circuit. What the protection
depends on is `device-not-determined`.
"""

import math
from collections.abc import Iterator

from loadloom.graph.elements import Device, DeviceKind, Output
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.judging.late_clearing import cleared_late_by_gate
from loadloom.graph.overload import exceeds
from loadloom.graph.rules.device_not_determined import breaking_capacity_matters

_A_CURVE = "name in Curve a band with times, described in the settings ([curve.NAME])"

RULE = Rule("device-not-checked", Severity.NOTE, "A check of a device could not be made")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each device and output with something missing."""
    late = _cleared_late(facts)
    parts: tuple[Device | Output, ...] = (*facts.harness.outputs, *facts.harness.devices)
    for part in parts:
        missing: dict[str, str] = {}
        if part.id in late:
            gate = f"its gate says only within {figures(late[part.id])} s"
            missing[f"how fast it clears a short circuit ({gate}; damage before clearing not checked)"] = _A_CURVE
        if isinstance(part, Device) and part.kind is not DeviceKind.LIMITER:
            missing |= _not_rated(facts, part)
        if missing:
            remedy = ", and ".join(dict.fromkeys(missing.values()))
            yield RULE.finding(
                part.subject,
                f"{part.id} does not state {'; nor '.join(missing)}.",
                f"{remedy[0].upper()}{remedy[1:]}, from the data sheet.",
            )


def _cleared_late(facts: Facts) -> dict[str, float]:
    """By device id: the latest clearing time in s that a gate gives where the conductor needs to know better."""
    found: dict[str, float] = {}
    for short in facts.protection.short_circuits.every:
        row = short.row
        if row.cleared_by is None or row.i2t_a2s is None or row.withstand_a2s is None or row.slowest_s is None:
            continue
        if exceeds(row.i2t_a2s, row.withstand_a2s) and cleared_late_by_gate(facts, row):
            found[row.cleared_by] = max(row.slowest_s, found.get(row.cleared_by, 0.0))
    return found


def _not_rated(facts: Facts, device: Device) -> dict[str, str]:
    found: dict[str, str] = {}
    if device.voltage_rating_v is None:
        found["its voltage rating at DC"] = "state Voltage rating"
    short = facts.protection.short_circuits.prospective.get(device.id)
    if short is not None and device.breaking_capacity_a is None and not breaking_capacity_matters(facts, device):
        found["its breaking capacity at DC"] = "state Breaking capacity"
    if short is not None and math.isinf(short.current_a):
        found[
            "enough to say what a short circuit behind it draws (no resistance on the path, nor of the output)"
        ] = "state Resistance of the output"
    return found
