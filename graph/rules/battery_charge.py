"""A battery is charged with more current than its charge limit.

Formula: the greatest current into its plus terminal in any case and at any end of the tolerances, against
``Charge limit``. What another source gives flows into a battery as soon as that source's voltage is higher.

Source: the battery's own data on the drawing; Kirchhoff's laws.

Passes: a charger of constant current 8 A beside a battery with ``Charge limit`` = ``10 A``.

Fails: the same charger of 15 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.battery_use import greatest_charge_a
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("battery-charge-overload", Severity.ERROR, "Battery charged with too much current")


def check(facts: Facts) -> Iterator[Finding]:
    """Report, for every battery, the case in which most current flows into it, where that is too much."""
    for output in facts.harness.outputs:
        if output.battery is None or output.battery.charge_limit_a is None:
            continue
        charged_a, case = greatest_charge_a(facts, output)
        if exceeds(charged_a, output.battery.charge_limit_a):
            yield RULE.finding(
                output.subject,
                f"Up to {figures(charged_a)} A flow into {output.id}, more than its charge limit of "
                f"{figures(output.battery.charge_limit_a)} A.",
                f"Use a charger that limits its current to {figures(output.battery.charge_limit_a)} A, or put a "
                "diode before the battery.",
                case=case,
                value=charged_a,
                limit=output.battery.charge_limit_a,
                unit="A",
            )
