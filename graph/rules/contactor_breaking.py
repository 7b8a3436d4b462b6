"""A contactor has to interrupt more current than it can.

Formula: the greatest current through a pole in any case, at once, against its ``Breaking capacity``. A contactor
may be asked to open in any case. What a fault drives through it is for the protective devices: they open first.

Source: the part's own data at DC on the drawing; a contactor's breaking capacity at DC falls with the voltage, so
it must be stated for the voltage that stands there.

Passes: 12 A through a contactor of 40 A with ``Breaking capacity`` = ``20 A``.

Fails: 25 A through the same.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule("contactor-breaking", Severity.ERROR, "Contactor can't interrupt its current")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the greatest current of every pole with what it interrupts."""
    for switch in facts.harness.switches:
        stated = [there.breaking_a for there in switch.variants() if there.breaking_a is not None]
        if not stated or switch.id not in facts.currents:
            continue
        case, current_a = facts.currents[switch.id].worst_peak
        if exceeds(current_a, min(stated)):
            yield RULE.finding(
                switch.subject,
                f"{switch.id} carries {figures(current_a)} A when it may have to open, and interrupts "
                f"{figures(min(stated))} A.",
                "Use a contactor with a higher breaking capacity at DC, or switch the loads off before it opens.",
                case=case,
                value=current_a,
                limit=min(stated),
                unit="A",
            )
