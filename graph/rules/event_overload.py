"""A load of limited duration makes a conductor or contact hotter than its allowed current would.

Formula: rise at the end of the event / rise at the allowed current > 1, of two bodies, copper and insulation, that
start from what flows before (``heat/two_body``). A contact with a stated I²t: I²·t over it. Each event counts, also
where it comes again and its root mean square is allowed.

Source: heat capacity and resistance of copper by IEC 60949; the allowed current as the long end; two bodies in
place of a wall that warms layer by layer, common practice, no published source. Example: 1.5 mm² in PVC of 70 °C at
40 °C, with
``Rating`` 15 A: the copper alone takes up 226² · ln(304.5 / 274.5) · 1.5² = 11 920 A²·s, so 60 A from cold may last
for 3.3 s at least.

Passes: 1.5 mm² with ``Rating`` 15 A, ``Load@kick`` 60 A, ``Duration@kick`` 0.5 s.

Fails: the same with ``Duration@kick`` 30 s.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.events import Heat, find_events
from loadloom.graph.model.figures import duration, figures, i2t
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("event-overload", Severity.ERROR, "Too hot after a load that lasts for a time")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every event against what the part takes up in its time."""
    for event in find_events(facts):
        if event.heat is not Heat.TOO_MUCH:
            continue
        demand = event.demand
        times = demand.current_a / event.allowed_a
        if event.rise is not None:
            noun = "Conductor"
            what = (
                f"it gets {figures(event.rise)} times as warm, above its ambient, as its allowed current makes it"
            )
            value, limit, unit = event.rise, 1.0, "1"
        else:
            assert event.withstand_a2s is not None
            value, limit, unit = demand.current_a**2 * demand.duration_s, event.withstand_a2s, "A²·s"
            noun, what = "Contact", f"that is {i2t(value)}, and it withstands {i2t(limit)}"
        yield RULE.finding(
            event.part.subject,
            f"{noun} {event.part.id} carries {figures(demand.current_a)} A for {duration(demand.duration_s)}, "
            f"{figures(times)} times its allowed {figures(event.allowed_a)} A: {what}.",
            "Use a larger one or a second one in parallel, or make the load shorter or smaller.",
            case=demand.case,
            value=value,
            limit=limit,
            unit=unit,
            source="IEC 60949 (second-hand copy)",
        )
