"""An output can't start its loads of constant power: at low voltage they draw more than it gives.

Formula: a load of constant power P that begins to draw at its ``Minimum voltage`` V draws P / V there, more than at
full voltage; a converter's input does so at its ``Input minimum``. All loads of one output together at that voltage
are held against what the output is certain to give: the lower end of its trip, or of its constant current. An
output that limits without opening stays there, below its voltage (error); one that opens may open at every start
(warning). Charging of capacitors is not part of this.

Source: common practice, no published source.

Passes: 60 W with ``Minimum voltage`` = ``10 V`` on a constant current of 10 A.

Fails: the same on a constant current of 5.5 A, which gives 60 W at 12 V and 55 W at 10 V.
"""

from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Load, LoadKind, Output
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.settings import Case

RULE = Rule("converter-starts-into-limit", Severity.ERROR, "Start-up into the limit")


def check(facts: Facts) -> Iterator[Finding]:
    """Every output, by the loads that it feeds alone."""
    for drawn in facts.harness.outputs:
        loads = [
            load
            for load in facts.harness.loads
            if load.fitted and facts.topology.fed_by(load.node_plus, load.node_minus) == (drawn.id,)
        ]
        for case in facts.cases:
            found = _at(facts, drawn, loads, case)
            if found is not None:
                yield found
                break


def _at(facts: Facts, drawn: Output, loads: list[Load], case: Case) -> Finding | None:
    there = facts.protection.under(case)
    if there is None or drawn.id not in there.thresholds:
        return None
    limits = there.thresholds[drawn.id]
    gives_a = limits.non_tripping_a
    output = drawn.under(case.arrangement)
    if gives_a is None or output.voltage_v is None:
        return None
    drawing = [(load, _demand(facts, load, case)) for load in loads]
    known = [(load, kind, demand) for load, (kind, demand) in drawing if demand]
    full_a = _drawn_a(known, output.voltage_v)
    if exceeds(full_a, gives_a):
        return None  # overloaded at full voltage already, which other rules say
    starts = [load.minimum_v for load, kind, _ in known if kind is LoadKind.POWER and load.minimum_v]
    worst_v = max((v for v in starts if v < output.voltage_v), key=lambda v: _drawn_a(known, v), default=None)
    if worst_v is None or not exceeds(_drawn_a(known, worst_v), gives_a):
        return None
    stays = not limits.opens
    finding = RULE.finding(
        drawn.subject,
        f"The loads of {drawn.id} draw {figures(_drawn_a(known, worst_v))} A at the {figures(worst_v)} V where "
        f"they begin to draw, and {drawn.id} is certain to give only {figures(gives_a)} A"
        + (": it may stay there and never reach its voltage." if stays else ": it may open at every start."),
        f"Use an output that gives at least {figures(raised(_drawn_a(known, worst_v)))} A, start the loads one "
        "after the other, or let them begin at a higher voltage.",
        case=case.id,
        value=_drawn_a(known, worst_v),
        limit=gives_a,
        unit="A",
    )
    return finding if stays else replace(finding, severity=Severity.WARNING)


def _demand(facts: Facts, load: Load, case: Case) -> tuple[LoadKind, float | None]:
    """What a load keeps constant, and how much; of a converter's input what it draws while all runs."""
    there = load.under(case.state)
    if load.id not in {c.load_id for c in facts.harness.converters}:
        return there.demand_kind, there.demand
    states = [state.solution for state in facts.loaded_corners.get(case.id, ())]
    powers = [
        abs(float(s.load_a[k] * s.load_v[k]))
        for s in states
        if (k := s.network.load_index.get(load.id)) is not None
    ]
    return LoadKind.POWER, max(powers, default=None)


def _drawn_a(loads: list[tuple[Load, LoadKind, float]], volts: float) -> float:
    """What loads draw together in A at a voltage; those that begin above it draw nothing."""
    total = 0.0
    for load, kind, demand in loads:
        if load.minimum_v is not None and volts < load.minimum_v * (1.0 - 1e-9):
            continue
        total += {LoadKind.CURRENT: demand, LoadKind.POWER: demand / volts, LoadKind.RESISTANCE: volts / demand}[
            kind
        ]
    return total
