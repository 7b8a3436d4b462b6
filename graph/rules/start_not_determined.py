"""How a load starts is not determined: a field is stated without its partner, or nothing limits the inrush.

``Starting current`` says nothing without ``Starting time``, ``Inrush`` without ``Inrush time``, ``Pre-charge``
without ``Pre-charge time``. A capacitance that is charged through no resistance at all would draw an endless
current; one whose output gives no more than the loads beside it draw is never charged. The output voltage of a
converter falls where it would have to draw more than its supply can give, or more than its ``Input limit``; how
long the charging takes is then not determined. A load beside a capacitance that is charged, or the input of a
converter, may fall below its ``Minimum voltage`` or ``Input minimum`` for a moment, and state no ``Hold-up time``,
for how long it bridges that. (A longer dip than stated is ``voltage-low`` or ``converter-input-low``.) A start, an
inrush or a stall that draws less than the running load is one that is stated for another voltage, or is no start.

Formula: least resistance of the loop from the output through the capacitor < 0.1 mΩ; input current of a converter =
(output power / efficiency + no-load power) / input voltage, at every moment of the charging.

Source: the load's own fields; the rule itself is common practice, no published source.

Passes: ``Starting current`` = ``30 A``, ``Starting time`` = ``2 s``; ``Capacitance`` = ``470 µF`` behind a wire.

Fails: ``Starting current`` alone; ``Starting current`` = ``30 A`` with ``Stated at`` = ``230 V`` of a load of 8 A
at 24 V; ``Capacitance`` = ``470 µF`` on the terminals of an output without resistance.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.dips import dip_words, told_of
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.load_cases.charging import Charge
from loadloom.graph.load_cases.starts import started_from
from loadloom.graph.model.elements import Load
from loadloom.graph.model.figures import duration, figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.settings import Case

RULE = Rule("start-not-determined", Severity.WARNING, "Start of a load not determined", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Name every capacitance whose inrush nothing limits, or whose charging can't be followed to its end."""
    yield from _less_than_running(facts)
    told: set[str] = set()
    for charge in facts.protection.charges:
        yield from _not_followed(facts, charge, told)
        for load in charge.unlimited:
            if load not in told:
                told.add(load)
                yield RULE.finding(
                    facts.harness.by_id[load].subject,
                    f"Nothing between an output and the capacitance of {load} has a resistance, so its inrush is "
                    "not determined.",
                    "State the Resistance of the output, or the Series resistance of the capacitance.",
                    case=charge.case,
                )


def _less_than_running(facts: Facts) -> Iterator[Finding]:
    """Loads that would draw less at their start or at standstill than they do while they run."""
    found: dict[tuple[str, str], tuple[str, float, float]] = {}

    def note(load: Load, field: str, case: str, amps: float, running_in: Case | None) -> None:
        runs_a = 0.0 if running_in is None else _running_a(facts, load.id, running_in)
        if exceeds(runs_a, amps):
            found.setdefault((load.id, field), (case, amps, runs_a))

    for case in facts.cases if any(case.for_a_time for case in facts.cases) else ():
        for load in facts.harness.loads:
            there = load.under(case.state)
            if there.calm is not None and there.demand is not None and case.for_a_time:
                field = "Inrush" if (case.state or "").startswith("inrush") else "Starting current"
                note(load, field, case.id, there.demand, started_from(case, facts.cases))
    by_id = {case.id: case for case in facts.cases}
    for stall in facts.protection.stalls:
        motor = facts.harness.by_id[stall.load]
        if isinstance(motor, Load) and stall.case in by_id and not by_id[stall.case].for_a_time:
            note(motor, "Stalled current", stall.case, stall.greatest_a, by_id[stall.case])
    for (name, field), (case_id, amps, runs_a) in found.items():
        yield RULE.finding(
            facts.harness.by_id[name].subject,
            f"{name} draws {figures(amps)} A by its {field} at the highest voltage it gets, less than the "
            f"{figures(runs_a)} A with which it runs: one of the two is wrong.",
            f"State {field} in amperes at the voltage of Stated at, and Stated at itself.",
            case=case_id,
            value=amps,
            limit=runs_a,
            unit="A",
        )


def _running_a(facts: Facts, load: str, case: Case) -> float:
    """What a load draws in A in a case with everything nominal."""
    indices = ((solution, solution.network.load_index.get(load)) for solution in facts.loaded.get(case.id, ()))
    return max((abs(float(s.load_a[k])) for s, k in indices if k is not None), default=0.0)


def _not_followed(facts: Facts, charge: Charge, told: set[str]) -> Iterator[Finding]:
    """Capacitances whose charging comes to no end, and converters that can't draw what it asks for."""
    loads = " and ".join(charge.loads)
    if charge.unfinished and charge.loads[0] not in told:
        told.add(charge.loads[0])
        yield RULE.finding(
            facts.harness.by_id[charge.loads[0]].subject,
            f"The capacitance of {loads} is not charged within the time that loadloom follows, so its inrush is "
            "not determined.",
            "Give the output a higher limit, or let the loads beside it begin to draw later.",
            case=charge.case,
        )
    for name, (least_v, lasts_s) in charge.dips.items():
        load = facts.harness.by_id[name]
        if name in told or not isinstance(load, Load) or load.hold_up_s is not None:
            continue
        told.add(name)
        subject, words = told_of(facts, load)
        yield RULE.finding(
            subject,
            f"{dip_words(facts, load, charge)}: whether it bridges that is not determined.",
            f"State a Hold-up time (above {duration(lasts_s)}), charge through a pre-charge resistor, or switch "
            f"{loads} on before {words}.",
            case=charge.case,
            value=least_v,
            limit=load.minimum_v,
            unit="V",
        )
    for name in charge.sinks:
        if name not in told:
            told.add(name)
            yield RULE.finding(
                facts.harness.by_id[name].subject,
                f"While {loads} {'charges' if len(charge.loads) == 1 else 'charge'}, the input of {name} would "
                "have to draw more than its Input limit or its supply allows: its output voltage falls, and how "
                "long the charging takes is not determined.",
                "Charge through a pre-charge resistor, or use an output that limits its current at less.",
                case=charge.case,
            )
