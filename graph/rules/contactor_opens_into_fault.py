"""A contactor that is switched off during a fault can't interrupt what the fault drives through it.

Formula: the greater of the prospective current just behind a pole (highest voltage / (internal resistance + path,
cold, contacts new)) and its sustained fault current > its ``Breaking capacity``. Protective devices open first as a
rule; the contactor must stay closed until they have, also when its coil loses its voltage in the fault. The poles
of one contactor are reported together. An open contactor never counts as protection: its contacts may have welded.

Source: the part's own data at DC on the drawing. That a contactor needs a device before it that clears short
circuits, and is allowed to weld meanwhile, is the idea of IEC 60947-4-1's coordination (from memory).

Passes: a contactor with ``Breaking capacity`` = ``500 A`` behind a battery of 24 V and 60 mΩ (400 A).

Fails: the same with ``Breaking capacity`` = ``300 A``.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Switch
from loadloom.graph.model.figures import quantity, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("contactor-opens-into-fault", Severity.WARNING, "Contactor can't interrupt a fault")


def check(facts: Facts) -> Iterator[Finding]:
    """Report every contactor once, by the pole with the greatest current over what it interrupts."""
    worst: dict[str, tuple[float, Finding]] = {}
    for switch in facts.harness.switches:
        stated = [there.breaking_a for there in switch.variants() if there.breaking_a is not None]
        if not stated:
            continue
        finding = _of_pole(facts, switch, min(stated))
        part = switch.part or switch.id
        if finding is not None and finding.value is not None:
            share = finding.value / min(stated)
            if part not in worst or share > worst[part][0]:
                worst[part] = share, finding
    for _, finding in worst.values():
        yield finding


def _of_pole(facts: Facts, switch: Switch, breaks_a: float) -> Finding | None:
    short = facts.protection.short_circuits.prospective.get(switch.id)
    held = facts.faults.parts.get(switch.id)
    short_a = short.current_a if short is not None and math.isfinite(short.current_a) else 0.0
    held_a = held.sustained_fault_a if held is not None and held.sustained_fault_a is not None else 0.0
    if not exceeds(max(short_a, held_a), breaks_a):
        return None
    lasting = (
        f"; a fault on which nothing opens holds up to {quantity(held_a, 'A')}" if exceeds(held_a, breaks_a) else ""
    )
    return RULE.finding(
        switch.subject,
        f"A short circuit behind {switch.id} draws up to {quantity(max(short_a, held_a), 'A')} through it, more "
        f"than its breaking capacity of {quantity(breaks_a, 'A')}{lasting}.",
        f"Keep {switch.id} closed until the device before it has opened: feed its coil from where the voltage "
        "stays. Or use a contactor with a breaking capacity of at least "
        f"{quantity(raised(max(short_a, held_a)), 'A')} at DC.",
        case=short.case if short is not None else None,
        value=max(short_a, held_a),
        limit=breaks_a,
        unit="A",
    )
