"""A fuse or breaker names a curve that is not known, or one that does not hold for its rating.

What the named curve would say is not known, so the verdict is incomplete. On a resettable fuse the curve gives
the rerating by ambient.

Formula: none; the widest band of the shipped standards counts instead, as for a device that names none.

Source: the names shipped are those of UL 248-14, IEC 60127-2 F and IEC 60898-1 B, C and D; own curves are in the
settings.

Passes: `Curve` = `C` on a breaker of 10 A; an own curve that the settings define.

Fails: `Curve` = `blade` with no such curve in the settings; `IEC 60127-2 F` on a fuse of 30 A (it ends at 10 A).
"""

from collections.abc import Iterator

from loadloom.graph.devices.curves import own_named
from loadloom.graph.devices.device_bands import band_choice, fuse_inside
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import DeviceKind
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("curve-unknown", Severity.WARNING, "Curve of a device is not known", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """List every fuse, breaker and resettable fuse whose curve could not be used."""
    for drawn in facts.harness.devices:
        device = fuse_inside(drawn) or drawn
        if device.kind is DeviceKind.RESETTABLE and device.curve is not None:
            if own_named(device.curve, facts.settings.curves) is None:
                yield RULE.finding(
                    device.subject,
                    f"Resettable fuse {device.id} counts without a rerating by ambient: the settings describe no "
                    f"curve named {device.curve}.",
                    f"Describe it as [curve.{device.curve}] in the settings, or remove the name.",
                )
            continue
        if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER) or device.curve is None:
            continue
        choice = band_choice(device, facts.settings)
        if choice.named:
            continue
        yield RULE.finding(
            device.subject,
            f"{device.kind.value.capitalize()} {device.id} counts with the widest band of its kind: {choice.note}.",
            "Describe this curve in the settings, or name a standard that holds for the rating.",
        )
