"""A fault could burn more than 240 W somewhere continuously: reported once, for the worst place.

Formula: the most of fault current × (open voltage − fault current × loop resistance) that no device or output
opens on, against the classes of 15 W, 100 W and 240 VA; every place is listed in the results.

Source: 240 VA is the hazardous energy level of IEC 60950-1 (1.2.8.10, value from memory) and a limit per output in
published supply design guides; a limit for access to energy, no rule for wires: information.

Passes: 12 V behind a limiter that holds 15 A: 180 W.

Fails: 12 V straight at an output that holds 125 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.power import POWER_CLASSES
from loadloom.graph.model.figures import quantity
from loadloom.graph.model.findings import Finding, Rule, Severity, Subject
from loadloom.graph.model.naming import place_said

RULE = Rule("power-available-to-fault", Severity.WARNING, "Power that a fault could draw")


def check(facts: Facts) -> Iterator[Finding]:
    """Name the place of the greatest fault power, and how many are above the highest class."""
    most = POWER_CLASSES[-1]
    above = [row for row in facts.faults.powers if row.power_w > most.most_w]
    if not above:
        return
    worst = max(above, key=lambda row: row.power_w)
    part = facts.harness.by_id.get(worst.at.partition(":")[0])
    held = (
        f"{worst.held_by} stays just below tripping"
        if worst.held_by
        else "only the resistance of the copper limits it"
    )
    yield RULE.finding(
        part.subject if part else Subject(worst.at),
        f"A fault at {place_said(worst.at)} could burn {quantity(worst.power_w, 'W')} continuously ({held}). At "
        f"{len(above)} of {len(facts.faults.powers)} places a fault could burn more than {most.name}.",
        "Limit each feed at its source end, or keep what carries this power enclosed and apart.",
        case=worst.case,
        value=worst.power_w,
        limit=most.most_w,
        unit="W",
        source=most.source,
    )
