"""A load that lasts for a time only makes a conductor or contact hotter than its allowed current may.

Formula: rise at the end of the event / rise at the allowed current = r² - (r² - r₀²)·exp(-t/τ) > 1, with r and r₀
the current during and before it over the allowed current, and τ = k²·S² / allowed², k of copper from the ambient to
the insulation's limit. A contact with a stated I²t: I²·t over it. Each event counts, also where it comes again and
its root mean square is allowed.

Source: k by IEC 60949; a body with one time constant, common practice, no published source. Example: 1.5 mm² in PVC
of 70 °C at 40 °C takes up k²·S² = 226² · ln(304.5 / 274.5) · 1.5² = 11 920 A²·s; with ``Rating`` 15 A, 60 A from
cold may last for 3.42 s.

Passes: 1.5 mm² with ``Rating`` 15 A, ``Load@kick`` 60 A, ``Duration@kick`` 0.5 s.

Fails: the same with ``Duration@kick`` 30 s.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures, i2t
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.judging.events import Heat, find_events

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
                f"its rise is then {figures(event.rise)} times the one that its allowed current makes continuously"
            )
            value, limit, unit = event.rise, 1.0, "1"
        else:
            assert event.withstand_a2s is not None
            value, limit, unit = demand.current_a**2 * demand.duration_s, event.withstand_a2s, "A²·s"
            noun, what = "Contact", f"{i2t(value)} where it withstands {i2t(limit)}"
        yield RULE.finding(
            event.part.subject,
            f"{noun} {event.part.id} carries {figures(demand.current_a)} A for {figures(demand.duration_s)} s, "
            f"{figures(times)} times its allowed {figures(event.allowed_a)} A: {what}.",
            "Use a thicker one, a second one in parallel, or make the load shorter or smaller.",
            case=demand.case,
            value=value,
            limit=limit,
            unit=unit,
            source="IEC 60949",
        )
