"""A part carries more than it is allowed for a limited time, and how long it withstands that is not stated.

Formula: current during an event / allowed current > 1, on a contact whose type states no I²t or for more than 5 s,
on a conductor without gauge or with an insulation limit that is not above the ambient, on a splice, a switch or a
diode.

Source: common practice, no published source; 5 s: beyond it heat no longer stays where it is made (IEC 60364-4-43
434.5.2, value from memory).

Passes: a contact of ``Contact rating`` 15 A whose type states 2000 A²·s, with 40 A for 1 s.

Fails: the same without a stated I²t, or for 30 s.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.events import Event, Heat, find_events
from loadloom.graph.model.elements import Conductor, Contact
from loadloom.graph.model.figures import duration, figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.short_circuits.short_circuits import ADIABATIC_LIMIT_S

RULE = Rule(
    "event-not-determined",
    Severity.WARNING,
    "Over its allowed current for a time that nothing states",
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
            f"{event.part.id} carries {figures(demand.current_a)} A for {duration(demand.duration_s)}, "
            f"{figures(demand.current_a / event.allowed_a)} times its allowed {figures(event.allowed_a)} A, and "
            "how long it withstands that is not stated.",
            f"Use one that is allowed {figures(raised(demand.current_a))} A, {_state(event)}or leave out the "
            "load's Duration to have it judged as continuous.",
            case=demand.case,
            value=demand.current_a,
            limit=event.allowed_a,
            unit="A",
        )


def _state(event: Event) -> str:
    """What could be stated so that the event can be judged, in words."""
    if isinstance(event.part, Conductor):
        return "state its Gauge and an insulation whose class is above the ambient, "
    if not isinstance(event.part, Contact):
        return ""
    shorter = "make the load shorter than 5 s, " if event.demand.duration_s > ADIABATIC_LIMIT_S else ""
    return f"state the I²t of its contact type in the settings, {shorter}"
