"""A fuse or breaker names no time–current curve, so the widest band of the standards counts for it.

Formula: fuse: certain to open only above 210 % of its rating (IEC 60127-2), where UL 248-14 has 135 %; breaker:
above 145 % (IEC 60898-1), instantaneous only at the D band.

Source: gates of UL 248-14, IEC 60127-2 and IEC 60898-1; taking the widest is this tool's convention.

Passes: a fuse with `Curve` = `UL 248-14`.

Fails: a fuse with `Rating` alone.
"""

from collections.abc import Iterator

from loadloom.graph.devices.device_bands import band_choice, fuse_inside, threshold
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import DeviceKind
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("curve-assumed", Severity.NOTE, "Curve of a device is assumed")


def check(facts: Facts) -> Iterator[Finding]:
    """List every fuse and breaker without a curve."""
    for drawn in facts.harness.devices:
        device = fuse_inside(drawn) or drawn
        if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER) or device.curve is not None:
            continue
        known = any(drawn.id in a.thresholds for a in facts.protection.arrangements)
        if device.rating_a is None or not known:
            continue
        limits = threshold(device, facts.settings, None)
        yield RULE.finding(
            device.subject,
            f"{device.kind.value.capitalize()} {device.id} names no curve, so it counts as certain to open only "
            f"above {figures(limits.held_a)} A, {figures(limits.held_a / device.rating_a)} times its rating "
            f"({band_choice(device, facts.settings).note}).",
            "State the field Curve: a standard, such as UL 248-14, or a curve that the settings describe.",
            value=limits.held_a,
            unit="A",
        )
