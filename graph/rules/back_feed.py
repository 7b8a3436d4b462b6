"""An output that fails short inside is fed backwards by the others through its own lead, and nothing blocks it.

Formula: the most current on each conductor with the output's own voltage gone and its terminals joined by any
resistance, every other output and every device just not opening, > 0.

Source: common practice, no published source.

Passes: two outputs on one load, each behind a diode of its own that can't conduct backwards.

Fails: the same outputs joined by wire alone.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.faults import PartFault
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule("back-feed", Severity.ERROR, "Output fed backwards through its own lead", "must fix")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every output that others can feed backwards."""
    conductors = {c.id for c in facts.harness.conductors}
    by_output: dict[str, list[PartFault]] = {}
    for answer in facts.faults.back_feeds:
        if answer.back_fed_by is not None and answer.id in conductors:
            by_output.setdefault(answer.back_fed_by, []).append(answer)
    for output in facts.harness.outputs:
        parts = by_output.get(output.id)
        if not parts:
            continue
        worst = max(
            parts, key=lambda a: ((a.let_through_a or 0.0) / (a.allowed_a or float("inf")), a.let_through_a)
        )
        assert worst.let_through_a is not None
        over = (
            f", {figures(worst.let_through_a / worst.allowed_a)} times its allowed {figures(worst.allowed_a)} A"
            if worst.allowed_a
            else ""
        )
        held = f"{worst.held_by} just does not open" if worst.held_by else "nothing but copper holds it down"
        yield RULE.finding(
            output.subject,
            f"If output {output.id} fails short inside, the outputs joined with it feed "
            f"{figures(worst.let_through_a)} A backwards through its lead {worst.id}{over}; {held}.",
            f"Put a diode or another part that blocks reverse current into the lead of {output.id}, or a device "
            "that opens on it.",
            case=worst.case,
            value=worst.let_through_a,
            limit=worst.allowed_a,
            unit="A",
        )
