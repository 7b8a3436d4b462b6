"""A conductor or contact would be over its allowed current after one parallel way opens.

Formula: current after the break / allowed current > 1, for the worst of all single breaks, in the steady state
of each case. A part that is over its allowed current with all ways whole has that finding alone.

Source: common practice, no published source; reviewers ask for it to be justified, since a crimp that fails
open shows no sign until the others have aged.

Passes: 50 A over six contacts of ``Contact rating`` 11 A; one open leaves 10.0 A on each of five.

Fails: the same contacts of ``Contact rating`` 9.2 A: 8.33 A each with all whole, 10.0 A with one open.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule("break-overload", Severity.WARNING, "Over its rating with one way open", "justify")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every part's greatest current after a single break against what it is allowed."""
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        rating = facts.ratings.get(part.id)
        currents = facts.currents.get(part.id)
        if rating is None or rating.allowed_a is None or currents is None:
            continue
        if exceeds(currents.worst_steady[1], rating.allowed_a):
            continue
        worst_a, by, case = 0.0, "", ""
        for case_id, each in facts.breaks.items():
            for breaks in each:
                network = breaks.solution.network
                k = network.edge_index[part.id]
                if breaks.broken_by[k] >= 0 and breaks.broken_a[k] > worst_a * (1 + 1e-9):
                    worst_a, by, case = (
                        float(breaks.broken_a[k]),
                        network.edge_ids[breaks.broken_by[k]],
                        case_id,
                    )
        if not exceeds(worst_a, rating.allowed_a):
            continue
        yield RULE.finding(
            part.subject,
            f"{part.id} would carry {figures(worst_a)} A, {figures(worst_a / rating.allowed_a)} times its allowed "
            f"{figures(rating.allowed_a)} A, if {by} opened.",
            "Add a parallel way, use parts of a higher rating, or state why a break is noticed in time.",
            case=case,
            value=worst_a,
            limit=rating.allowed_a,
            unit="A",
            source=rating.source,
        )
