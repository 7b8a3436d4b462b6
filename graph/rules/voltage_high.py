"""A load may get more voltage than it withstands.

Formula: voltage at the load with the output at the high end of its tolerance and no other load, against
``Maximum voltage`` (or the settings' load voltage tolerance).

Source: the load's own data on the drawing.

Passes: a load that withstands 13.2 V on an output of 12 V ±5 %.

Fails: a load that withstands 12.5 V on the same output: 12.6 V.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.voltages import tightest_maximum
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("voltage-high", Severity.ERROR, "Voltage at the load too high")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the greatest voltage at every fed load with what it withstands."""
    for load in facts.harness.loads:
        greatest, maximum_v = tightest_maximum(facts, load)
        if maximum_v is None or greatest is None or greatest.volts <= maximum_v + 1e-9:
            continue
        yield RULE.finding(
            load.subject,
            f"Load {load.id} may get {greatest.volts:.4g} V, {figures(greatest.volts - maximum_v)} V more than the "
            f"{maximum_v:.4g} V that it withstands.",
            "Use an output of a lower voltage or a tighter tolerance, or a load that withstands more.",
            case=greatest.case,
            value=greatest.volts,
            limit=maximum_v,
            unit="V",
        )
