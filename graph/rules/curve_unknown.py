"""A fuse or breaker names a curve that is not known, or one that does not hold for its rating.

Formula: none; the widest band of the shipped standards counts instead, as for a device that names none.

Source: the names shipped are those of UL 248-14, IEC 60127-2 F and IEC 60898-1 B, C and D; own curves are in the
settings.

Passes: `Curve` = `C` on a breaker of 10 A; an own curve that the settings define.

Fails: `Curve` = `blade` with no such curve in the settings; `IEC 60127-2 F` on a fuse of 30 A (it ends at 10 A).
"""

from collections.abc import Iterator

from loadloom.graph.devices import band_choice
from loadloom.graph.elements import DeviceKind
from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule("curve-unknown", Severity.WARNING, "Curve of a device is not known", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """List every fuse and breaker whose curve could not be used."""
    for device in facts.harness.devices:
        if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER) or device.curve is None:
            continue
        choice = band_choice(device, facts.settings)
        if choice.named:
            continue
        yield RULE.finding(
            device.subject,
            f"{device.kind.value.capitalize()} {device.id} counts with the widest band of its kind: {choice.note}.",
            "Define this curve in the settings, or name one that is shipped and holds for the rating.",
        )
