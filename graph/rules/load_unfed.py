"""A load gets no current, or can't be fed what it asks for.

Formula: no path of copper from an output's plus terminal to the load and back to the same output's minus
terminal; or no solution of the network in which the load gets its power (voltage collapse); or outputs that
hold their current and give less than is asked.

Source: Kirchhoff's laws.

An arrangement that opens a switch or relay on purpose leaves loads off: a load that another case feeds, and that
only the switches of this arrangement leave unfed, is no finding. A load that is fed at nominal voltages and
collapses at the lowest ones is one, since the case is solved at every end of the tolerances.

Passes: a load between an output's plus and minus; a load behind a relay with ``State@night`` = ``open`` that is fed
as drawn.

Fails: a load with both pins on one net, or behind an open switch; a load of 100 W behind 1 Ω from 12 V, which
passes 36 W at most.
"""

from collections.abc import Iterable, Iterator, Sequence

from loadloom.graph.circuit.solution import Solution
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.nothing_judged import has_source
from loadloom.graph.judging.voltages import feeding_voltage_v
from loadloom.graph.model.elements import Load, LoadKind
from loadloom.graph.model.figures import figures, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

LOWEST = " at the lowest voltages, with hot conductors and aged contacts"

RULE = Rule("load-unfed", Severity.ERROR, "Load not fed")


def check(facts: Facts) -> Iterator[Finding]:
    """Report, for every load, the first case in which it is not fed, or not in full.

    Without any source ``nothing-judged`` says so once for all loads.
    """
    if not has_source(facts.harness):
        return
    for load in facts.harness.loads:
        if not load.fitted:
            continue
        fed = [case for case in facts.cases if not _unfed(load, facts.loaded[case.id])]
        for case in facts.cases:
            found = _at(facts, load, case, fed)
            if found is not None:
                yield found
                break


def _at(facts: Facts, load: Load, case: Case, fed: Sequence[Case]) -> Finding | None:
    """What one case does to a load; ``fed`` are the cases that feed it."""
    for solutions, where in ((facts.loaded[case.id], ""), (facts.lowest[case.id], LOWEST)):
        if _unfed(load, solutions):
            if load.node_plus == load.node_minus:
                return _bridged(load, case)
            if _switched_off(facts.harness, case, fed):
                return None
            return RULE.finding(
                load.subject,
                f"Load {load.id} gets no current{where}: no output has both a feed to it and a return from it, or "
                "those that have can't give what the load asks for.",
                "Draw the missing feed or return, close the switch, or move the load to another output.",
                case=case.id,
                value=0.0,
                unit="A",
            )
        collapsed = next((s for s in solutions if load.id in s.collapsed), None)
        if collapsed is not None:
            return _collapse(facts, load, case, collapsed, where)
    return None


def _unfed(load: Load, solutions: Iterable[Solution]) -> bool:
    return any(load.id in solution.unfed for solution in solutions)


def _switched_off(harness: Harness, case: Case, fed: Iterable[Case]) -> bool:
    """Whether a case differs from one that feeds the load by switches that it opens: it is off on purpose."""
    is_open = {s.id for s in harness.switches if not s.under(case.arrangement).fitted}
    return any(
        s.id in is_open and s.under(other.arrangement).fitted
        for other in fed
        if other.arrangement != case.arrangement
        for s in harness.switches
    )


def _bridged(load: Load, case: Case) -> Finding:
    """A load whose terminals are one joint: the other findings on it would only say the same again."""
    return RULE.finding(
        load.subject,
        f"Load {load.id} gets no current: both its terminals are on {load.node_plus}.",
        "Put its terminals on two nets: the feed and the return.",
        case=case.id,
        value=0.0,
        unit="A",
    )


def _collapse(facts: Facts, load: Load, case: Case, solution: Solution, where: str) -> Finding:
    """A load whose voltage collapses, by the outputs that hold their current or by the path to it."""
    there = load.under(case.state)
    unit = {LoadKind.CURRENT: "A", LoadKind.POWER: "W", LoadKind.RESISTANCE: "Ω"}[there.demand_kind]
    asked = f"asks for {quantity(there.demand, unit)}" if there.demand is not None else "states no demand"
    giving = dict(zip(solution.network.source_ids, solution.network.source_hold_a.tolist(), strict=True))
    feeding = facts.topology.fed_by(load.node_plus, load.node_minus)
    holding = [name for name in solution.holding if name in feeding]
    if holding:
        held = " and ".join(f"{name} gives no more than {figures(giving[name])} A" for name in holding)
        why = f"{held}, shared by all that it feeds"
        remedy = f"Use an output with a higher limit than {holding[0]}, or move the load to another output."
    else:
        volts = feeding_voltage_v(facts, load)
        source = f" from {figures(volts)} V" if volts is not None else ""
        why = f"the path to it has too much resistance to pass that{source}, and the voltage at the load collapses"
        remedy = "Shorten the path, use thicker conductors, or feed the load at a higher voltage."
    return RULE.finding(
        load.subject,
        f"Load {load.id} {asked} and can't be fed{where}: {why}.",
        remedy,
        case=case.id,
        value=there.demand,
        unit=unit,
    )
