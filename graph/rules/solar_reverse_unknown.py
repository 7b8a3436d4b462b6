"""Other sources can drive a current back through a solar string that does not state how much it withstands.

Formula: a current backwards through the string's lead while the string has failed short, > 0.

Source: common practice, no published source.

Passes: a string with ``Reverse current``; a string alone.

Fails: two strings side by side without it.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.driven_back import driven_back
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("solar-reverse-unknown", Severity.WARNING, "Solar string without a reverse current", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Every string that is fed backwards and states no limit."""
    for output in facts.harness.outputs:
        if output.solar is None or output.solar.reverse_a is not None:
            continue
        back = driven_back(facts, output)
        if back.current_a > 0.0:
            yield RULE.finding(
                output.subject,
                f"Sources beside {output.id} can drive up to {figures(back.current_a)} A back "
                "through it, and the largest fuse that its modules allow is not stated.",
                "State the field Reverse current, from the data sheet, such as 15 A.",
                case=back.case,
                unit="A",
            )
