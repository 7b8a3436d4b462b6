"""A load gets less voltage than it needs.

Formula: voltage at the load with the output at the low end of its tolerance, conductors at the limit of their
insulation and contacts aged, in every case, against ``Minimum voltage`` (or the settings' load voltage
tolerance). While a capacitance beside it charges, it may be lower for no longer than the load's ``Hold-up time``.
What remote sense adds counts up to ``Sense limit``; without it nothing counts, and the message says so.

Source: the load's own data on the drawing; drop = R·I along the feed and back.

Passes: 2.0 A through 2 × 1.5 m of 18 AWG from 12 V, ``Minimum voltage`` 11.4 V.

Fails: the same with 2 × 15 m.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.dips import too_long_dips
from loadloom.graph.judging.voltages import tightest_minimum
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("voltage-low", Severity.ERROR, "Voltage at the load too low")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the least voltage at every fed load with what it needs."""
    inputs = {converter.load_id for converter in facts.harness.converters}
    for load in facts.harness.loads:
        if load.id not in inputs:
            yield from too_long_dips(facts, load, RULE)
        least, minimum_v = tightest_minimum(facts, load)
        if minimum_v is None or least is None or least.volts >= minimum_v - 1e-9:
            continue
        sensed = any(
            output.senses and output.sense_limit_v is None
            for output in facts.harness.outputs
            if output.id in facts.topology.fed_by(load.node_plus, load.node_minus)
        )
        without = "; what remote sense adds is not counted" if sensed else ""
        if least.volts < 0.0:
            remedy = "Swap its two wires, or the pins of the symbol."
        else:
            remedy = (
                "Shorten the path, use thicker conductors in feed and return, or raise the supply voltage by at "
                f"least {figures(raised(minimum_v - least.volts))} V."
            )
        yield RULE.finding(
            load.subject,
            f"Load {load.id} gets {round(least.volts, 3):.4g} V, {figures(minimum_v - least.volts)} V less than "
            f"the {minimum_v:.4g} V that it needs{without}.",
            remedy,
            case=least.case,
            value=least.volts,
            limit=minimum_v,
            unit="V",
        )
