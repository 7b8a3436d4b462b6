"""A part carries more than it is allowed for some time, and nothing says how long it stands that.

Formula: current during an event / allowed current > 1 for more than 5 s, on a contact, or on a conductor without
gauge or with an insulation limit that is not above the ambient.

Source: common practice, no published source; 5 s: beyond it heat no longer stays where it is made (IEC 60364-4-43
434.5.2, value from memory).

Passes: a contact of ``Contact rating`` 15 A with 40 A for 1 s.

Fails: the same for 30 s.
"""

from collections.abc import Iterator

from loadloom.graph.events import Heat, find_events
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule(
    "event-not-judged",
    Severity.WARNING,
    "Over its allowed current for a time that nothing states",
    "not evaluated",
    incomplete=True,
)


def check(facts: Facts) -> Iterator[Finding]:
    """Name every part with an event over its allowed current that can't be judged."""
    for event in find_events(facts):
        if event.heat is not Heat.NOT_STATED:
            continue
        demand = event.demand
        yield RULE.finding(
            event.part.subject,
            f"{event.part.id} carries {figures(demand.current_a)} A for {figures(demand.duration_s)} s, "
            f"{figures(demand.current_a / event.allowed_a)} times its allowed {figures(event.allowed_a)} A, and "
            "nothing states how long it stands that.",
            "Use one that is allowed the current for good, make the load shorter than 5 s, or leave out its "
            "duration to have it judged as steady.",
            case=demand.case,
            value=demand.current_a,
            limit=event.allowed_a,
            unit="A",
        )
