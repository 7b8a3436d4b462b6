"""A small conductor is protected by a device that is larger than NEC 240.4(D) allows.

With the bases ``building-nec`` and ``building-nec-free-air``. 240.4(D) limits the device and not the current: 7 A
for 18 AWG, 10 A for 16 AWG, 15 A for 14 AWG, 20 A for 12 AWG and 30 A for 10 AWG copper. For motor and other
circuits 240.4(E) and (G) allow a larger device; the reviewer accepts the finding there.

Formula: setting of the nearest device > the limit of the size.

Source: NEC (NFPA 70) 240.4(D); the limits of 18 and 16 AWG from memory; check your edition.

Passes: 12 AWG behind a breaker of 20 A.

Fails: 12 AWG of 90 °C, allowed 20 A or more, behind a breaker of 25 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Device
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.ratings.nec import greatest_device_a

RULE = Rule("small-conductor-device", Severity.ERROR, "Device too large for a small conductor")

BASES = frozenset({"building-nec", "building-nec-free-air"})


def check(facts: Facts) -> Iterator[Finding]:
    """For every small conductor the largest of its nearest devices, over all arrangements."""
    if facts.settings.basis not in BASES:
        return
    for conductor in facts.harness.conductors:
        limits = [limit for c in conductor.variants() if c.gauge and (limit := greatest_device_a(c.gauge))]
        if not limits:
            continue
        limit_a, source = min(limits)
        worst: tuple[float, str, str] | None = None
        for there in facts.protection.arrangements:
            for guard in there.guards.get(conductor.id, ()):
                device = there.parts.get(guard.device)
                if device is None:
                    continue
                trip_a = device.trip_a.nominal if device.trip_a is not None else None
                setting_a = device.setting_a if isinstance(device, Device) else trip_a
                if setting_a is not None and exceeds(setting_a, limit_a):
                    found = (setting_a, device.id, there.case)
                    worst = found if worst is None or found > worst else worst
        if worst is not None:
            setting_a, name, case = worst
            yield RULE.finding(
                conductor.subject,
                f"{conductor.id} of {conductor.gauge} is protected by {name} of {figures(setting_a)} A, and NEC "
                f"240.4(D) allows at most {figures(limit_a)} A for this size.",
                f"Use a device of at most {figures(limit_a)} A or a larger conductor. Where NEC 240.4(E) or (G) "
                "allows a larger device, accept this finding with that reason.",
                case=case,
                value=setting_a,
                limit=limit_a,
                unit="A",
                source=source,
            )
