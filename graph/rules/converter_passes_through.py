"""A converter that is not isolated fails from input to output: its loads get the voltage of the supply.

Formula: the highest voltage at the input against the ``Maximum voltage`` of every load behind it; and the greatest
current that a fault behind it then holds, with the converter's own limit gone and the devices before its input
just below tripping. What the conductors carry in that state is part of their sustained fault current, so that a
conductor that only the converter's own limit protects is ``path-unprotected``. Behind an inverting converter the
loads get the supply's voltage the wrong way round, which none withstands.

Source: common practice, no published source: a semiconductor fails short, and between input and output of a
converter with one common minus there is no other barrier.

Passes: a converter whose input and output are not joined anywhere; loads that withstand the input voltage.

Fails: 12 V made from 24 V with a common minus, and a load with ``Maximum voltage`` = ``15 V`` behind it.
"""

from collections.abc import Iterator

from loadloom.graph.converters.passed_through import open_side
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.voltages import greatest_voltage, wanted_maximum_v
from loadloom.graph.model.elements import Load
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of

RULE = Rule("converter-passes-through", Severity.WARNING, "Supply voltage behind a failed converter")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every converter that can pass on more than what lies behind it bears."""
    loads = {load.id: load for load in facts.harness.loads}
    for converter in facts.harness.converters:
        passed = facts.passed_through.get(converter.id)
        highest = greatest_voltage(facts, loads[converter.load_id])
        if passed is None or highest is None:
            continue
        behind = [
            load
            for load in facts.harness.loads
            if load.fitted and converter.output_id in facts.topology.fed_by(load.node_plus, load.node_minus)
        ]
        bears = {load.id: _bears_v(facts, load) for load in behind}
        side = open_side(facts.harness, converter)
        turned = side is not None and side.turned
        too_much = [name for name, volts in bears.items() if turned or volts is None or volts < highest.volts]
        if not too_much:
            continue
        known = [(volts, name) for name, volts in bears.items() if volts is not None and name in too_much]
        weakest = f"; {min(known)[1]} withstands {figures(min(known)[0])} V" if known else ""
        weakest = ", the wrong way round" if turned else weakest
        held = ""
        if passed.sustained_fault_a is not None and passed.fault is not None:
            by = (
                f"{passed.held_by} stays just below tripping"
                if passed.held_by
                else "only the resistance of the copper limits it"
            )
            held = f" A fault then holds up to {figures(passed.sustained_fault_a)} A on {passed.id}; {by}."
        yield RULE.finding(
            converter.subject,
            f"If {converter.id} fails from input to output, {all_of(too_much)} "
            f"{'gets' if len(too_much) == 1 else 'get'} up to {figures(highest.volts)} V{weakest}.{held}",
            "Use an isolated converter, a device behind it that opens or clamps on over-voltage, or loads that "
            "withstand the supply's voltage.",
            case=highest.case,
            value=highest.volts,
            limit=min(known)[0] if known and not turned else None,
            unit="V",
        )


def _bears_v(facts: Facts, load: Load) -> float | None:
    """What a load withstands in V in every state; None where it does not say so of some state."""
    stated = [wanted_maximum_v(facts, there) for there in load.variants()]
    known = [volts for volts in stated if volts is not None]
    return min(known) if len(known) == len(stated) else None
