"""Copper of the harness is at a voltage that must not be touched.

Formula: highest voltage between the poles (upper end of the tolerance, outputs in series added up) > limit of the
settings, 60 V DC if nothing else is set.

Source: IEC 62368-1 ES1 and IEC 60364-4-41 extra-low voltage limits for DC, 60 V ripple-free (values from memory).

Passes: an output of 48 V ± 5 %.

Fails: two outputs of 36 V in series: 72 V from end to end.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.highest_voltage import highest_voltages
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("touch-voltage", Severity.WARNING, "Voltage that must not be touched")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each output whose copper is over the limit."""
    highest = highest_voltages(facts)
    words = {case.arrangement: case.id for case in reversed(facts.cases)}
    for output in facts.harness.outputs:
        pieces = [facts.topology.piece[n] for n in (output.node_plus, output.node_minus)]
        worst = max((highest[p] for p in pieces if p in highest), key=lambda h: h.volts, default=None)
        if worst is None or not exceeds(worst.volts, facts.settings.touch_voltage_v):
            continue
        yield RULE.finding(
            output.subject,
            f"The copper of output {output.id} is at up to {figures(worst.volts)} V, over the touch limit of "
            f"{figures(facts.settings.touch_voltage_v)} V.",
            "Guard every live part against touch and mark it, or use a lower voltage.",
            case=words.get(worst.word),
            value=worst.volts,
            limit=facts.settings.touch_voltage_v,
            unit="V",
        )
