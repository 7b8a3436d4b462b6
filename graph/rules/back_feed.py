"""An output that fails short inside is fed backwards by the others through its own lead, and nothing blocks it.

Formula: the most current on each conductor with the output's own voltage gone and its terminals joined by any
resistance, every other output and every device staying just below tripping, > 0. It is a warning where every
conductor and contact on the path is known to be allowed what it then carries, an error elsewhere.

Source: common practice, no published source.

Passes: two outputs on one load, each behind a diode of its own that can't conduct backwards.

Fails: the same outputs joined by wire alone.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.driven_back import nearest
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("back-feed", Severity.ERROR, "Output fed backwards through its own lead")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every output that others can feed backwards."""
    conductors = {c.id for c in facts.harness.conductors}
    rated = conductors | {c.id for c in facts.harness.contacts}
    by_output: dict[str, list[PartFault]] = {}
    for answer in facts.faults.back_feeds:
        if answer.back_fed_by is not None and answer.id in conductors:
            by_output.setdefault(answer.back_fed_by, []).append(answer)
    for output in facts.harness.outputs:
        parts = by_output.get(output.id)
        if not parts:
            continue
        lead = nearest(facts.harness, output, parts)
        worst = max(
            lead, key=lambda a: ((a.sustained_fault_a or 0.0) / (a.allowed_a or math.inf), a.sustained_fault_a)
        )
        assert worst.sustained_fault_a is not None
        over = ""
        if worst.allowed_a:
            times = figures(worst.sustained_fault_a / worst.allowed_a)
            within = not exceeds(worst.sustained_fault_a, worst.allowed_a)
            over = f", {'within' if within else f'{times} times'} its allowed {figures(worst.allowed_a)} A"
        held = (
            f"{worst.held_by} stays just below tripping"
            if worst.held_by
            else "only the resistance of the copper limits it"
        )
        finding = RULE.finding(
            output.subject,
            f"If output {output.id} fails short inside, the outputs joined with it feed "
            f"{figures(worst.sustained_fault_a)} A backwards through its lead {worst.id}{over}; {held}.",
            f"Put a diode or another part that blocks reverse current into the lead of {output.id}, or a device "
            "that opens on it.",
            case=worst.case,
            value=worst.sustained_fault_a,
            limit=worst.allowed_a,
            unit="A",
        )
        harmless = all(
            a.allowed_a is not None
            and a.sustained_fault_a is not None
            and not exceeds(a.sustained_fault_a, a.allowed_a)
            for a in facts.faults.back_feeds
            if a.back_fed_by == output.id and a.id in rated
        )
        yield replace(finding, severity=Severity.WARNING) if harmless else finding
