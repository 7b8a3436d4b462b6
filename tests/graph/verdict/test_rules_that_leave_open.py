"""What is unknown never passes: which findings leave the verdict open, named one by one.

A warning that only advises may stand beside a pass. One that says that something could not be judged may not, nor
one that says that a text, a pin or a part was not taken as its author meant it. Source: common practice, without a
published source; whoever signs has to see either a number or a gap.
"""

from __future__ import annotations

from loadloom.graph.model.findings import Severity
from loadloom.graph.verdict.registry import all_rules

NOT_JUDGED = {
    *("assumed", "battery-charge-unknown", "crimp-not-determined", "curve-unknown", "device-not-determined"),
    *(
        "efficiency-missing",
        "enclosure-heat-unknown",
        "event-not-determined",
        "gauge-missing",
        "insulation-unknown",
    ),
    *("length-missing", "load-missing", "material-not-rated", "nothing-judged", "protection-not-determined"),
    *("rating-missing", "resistance-missing", "sense-not-determined", "solar-reverse-unknown"),
    *("start-not-determined", "supply-not-determined", "tolerance-missing", "voltage-missing"),
    "withstand-not-determined",
}
NOT_TAKEN_AS_MEANT = {
    *("bus-unreadable", "conductor-not-drawn", "contact-clash", "contact-not-placed", "field-not-read"),
    *("field-unknown", "field-unreadable", "fields-contradict", "name-unknown", "name-used-once", "net-ambiguous"),
    *("net-class-clash", "pin-clash", "readings-differ", "role-guessed", "role-missing", "settings-unused"),
    *("supply-clash", "symbol-left-out", "words-alike"),
}
FAILS_AND_LEAVES_OPEN = {"mate-mismatch", "output-shorted", "outputs-conflict"}
"""Errors that keep what hangs on them from being computed; accepted, they still leave it open."""

ADVICE = {
    *("chassis-carries-load", "cleared-late", "combined-overload", "contactor-opens-into-fault"),
    *("converter-passes-through", "dead-end", "file-version-untested", "fuse-above-wire", "mixed-gauges"),
    *("loads-left-in-series", "not-selective", "nuisance-opening", "open-circuit-overload", "outputs-joined"),
    *(
        "overload-band",
        "part-bypassed",
        "power-available-to-fault",
        "symbols-may-be-missing",
        "touch-voltage",
        "uneven-sharing",
    ),
}


def test_every_warning_leaves_the_verdict_open_or_only_advises() -> None:
    rules = {name: known.rule for name, known in all_rules().items()}
    warnings = {name for name, rule in rules.items() if rule.severity is Severity.WARNING}
    assert warnings == NOT_JUDGED | NOT_TAKEN_AS_MEANT | ADVICE, "say here what a new warning means for a pass"
    assert {name for name in warnings if rules[name].incomplete} == NOT_JUDGED | NOT_TAKEN_AS_MEANT
    others = {name for name, rule in rules.items() if rule.incomplete} - warnings
    assert others == FAILS_AND_LEAVES_OPEN
    assert all(rules[name].severity is Severity.ERROR for name in others)
