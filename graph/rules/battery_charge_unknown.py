"""Current flows into a battery that states no charge limit.

Formula: a current into its plus terminal in any case and at any end of the tolerances, > 0.

Source: common practice, no published source: a battery that is charged too fast gets hot.

Passes: a battery with ``Charge limit`` beside a charger; a battery that feeds loads alone.

Fails: a battery without ``Charge limit`` beside a charger.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.battery_use import greatest_charge_a
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("battery-charge-unknown", Severity.WARNING, "Battery without a charge limit", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Every battery that is charged and states no limit."""
    for output in facts.harness.outputs:
        if output.battery is None or output.battery.charge_limit_a is not None:
            continue
        charged_a, case = greatest_charge_a(facts, output)
        if charged_a > 0.0:
            yield RULE.finding(
                output.subject,
                f"Up to {figures(charged_a)} A flow into {output.id}, which states no charge limit.",
                "State the field Charge limit, from the data sheet, such as 10 A.",
                case=case,
                value=charged_a,
                unit="A",
            )
