"""A contactor has to interrupt more current than it can.

Formula: the greatest current through a pole in any case, at once, against its ``Breaking capacity``; and with every
load at standstill that states a ``Stalled current``, the others drawing beside it. A contactor may be asked to open
in any case, and a motor that stalls is switched off by its contactor. What a fault drives through it is told by
``contactor-opens-into-fault``.

Source: the part's own data at DC on the drawing; a contactor's breaking capacity at DC falls with the voltage, so
it must be stated for the voltage that stands there.

Passes: 12 A through a contactor of 40 A with ``Breaking capacity`` = ``20 A``; a motor behind it that draws
``15 A`` at standstill.

Fails: 25 A through the same; a motor behind it with ``Stalled current`` = ``60 A``.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Switch
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

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
                f"{switch.id} carries up to {figures(current_a)} A when it may have to open, more than its "
                f"breaking capacity of {figures(min(stated))} A.",
                f"Use a contactor with a breaking capacity of at least {figures(raised(current_a))} A at DC, or "
                "switch the loads off before it opens.",
                case=case,
                value=current_a,
                limit=min(stated),
                unit="A",
            )
        else:
            yield from _with_a_stall(facts, switch, min(stated))


def _with_a_stall(facts: Facts, switch: Switch, breaks_a: float) -> Iterator[Finding]:
    """Report the stalled motor that sends the most through a pole, where that is more than it interrupts."""
    worst = max(
        (stall for stall in facts.protection.stalls if switch.id in stall.carried_a),
        key=lambda stall: stall.carried_a[switch.id],
        default=None,
    )
    if worst is not None and exceeds(worst.carried_a[switch.id], breaks_a):
        yield RULE.finding(
            switch.subject,
            f"{switch.id} carries up to {figures(worst.carried_a[switch.id])} A while {worst.load} is stalled, "
            f"more than its breaking capacity of {figures(breaks_a)} A.",
            f"Use a contactor with a breaking capacity of at least {figures(raised(worst.carried_a[switch.id]))} "
            f"A at DC, or limit the current of {worst.load}.",
            case=worst.case,
            value=worst.carried_a[switch.id],
            limit=breaks_a,
            unit="A",
        )
