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

from loadloom.graph.elements import Splice, TwoEnded
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.open_circuits.after_opening import worst_after_opening
from loadloom.graph.overload import exceeds

RULE = Rule("open-circuit-overload", Severity.WARNING, "Over its rating with one open circuit")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every part's greatest current after a single open circuit against what it is allowed."""
    harness = facts.harness
    parts: list[TwoEnded | Splice] = [*harness.conductors, *harness.contacts]
    parts += [*harness.switches, *harness.diodes, *harness.splices]
    for part in parts:
        rating = facts.ratings.get(part.id)
        currents = facts.currents.get(part.id)
        if rating is None or rating.allowed_a is None or currents is None:
            continue
        if exceeds(currents.worst_continuous[1], rating.allowed_a):
            continue
        worst = worst_after_opening(facts, part)
        if worst is None or not exceeds(worst.current_a, rating.allowed_a):
            continue
        at_most = "" if worst.exact else "at most "
        yield RULE.finding(
            part.subject,
            f"{part.id} would carry {at_most}{figures(worst.current_a)} A, "
            f"{figures(worst.current_a / rating.allowed_a)} times its allowed {figures(rating.allowed_a)} A, "
            f"{worst.why}.",
            "Add a parallel path, use parts of a higher rating, or state why an open circuit is noticed in time.",
            case=worst.case,
            value=worst.current_a,
            limit=rating.allowed_a,
            unit="A",
            source=rating.source,
        )
