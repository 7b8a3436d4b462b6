"""A part would be over its allowed current after one parallel path opens, or one of several joined outputs is off.

Formula: current after the open circuit / allowed current > 1, for the worst of all single open circuits of
conductors, contacts, switches and diodes and of all joined outputs, in the steady state of each case; of a splice
half the sum of the magnitudes of the currents at it. A state in which an output or device then opens does not last
and does not count for an output that is off.
A part that is over its allowed current with all paths whole has that finding alone.

Source: common practice, no published source; reviewers ask for it to be justified, since a crimp that fails
open shows no sign until the others have aged.

Passes: 50 A over six contacts of ``Contact rating`` 11 A; one open leaves 10.0 A on each of five.

Fails: the same contacts of ``Contact rating`` 9.2 A: 8.33 A each with all whole, 10.0 A with one open.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("open-circuit-overload", Severity.WARNING, "Over its rating with one open circuit")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every part's greatest current after a single open circuit against what it is allowed."""
    for worst in facts.after_opening.values():
        part = worst.part
        allowed_a = facts.ratings[part.id].allowed_a
        if allowed_a is None or exceeds(facts.currents[part.id].worst_continuous[1], allowed_a):
            continue
        if not exceeds(worst.current_a, allowed_a):
            continue
        at_most = "" if worst.exact else "at most "
        yield RULE.finding(
            part.subject,
            f"{part.id} would carry {at_most}{figures(worst.current_a)} A, "
            f"{figures(worst.current_a / allowed_a)} times its allowed {figures(allowed_a)} A, "
            f"{worst.why}.",
            "Add a parallel path, use parts of a higher rating, or state why an open circuit is noticed in time.",
            case=worst.case,
            value=worst.current_a,
            limit=allowed_a,
            unit="A",
            source=facts.ratings[part.id].source,
        )
