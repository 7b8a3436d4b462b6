"""The one thing to do next on a drawing that is not prepared yet: causes before what follows from them."""

from __future__ import annotations

from collections.abc import Sequence

from loadloom.graph.model.findings import Finding, Verdict
from loadloom.graph.model.naming import some_of
from loadloom.graph.model.results import Results

_NAMES_SHOWN = 6

_ROLES = "Say what {} are, by a role in the settings: `loadloom setup` proposes one for each."

_STEPS: tuple[tuple[str, str], ...] = (
    ("symbol-left-out", ""),
    ("nothing placed", _ROLES),
    (
        "no source",
        "Say what feeds the harness: give its supply or inlet the role output, its battery the role battery.",
    ),
    ("pin-clash", "Say which pins are meant (pins = {{ ... }} in the settings) of {}."),
    ("field-unreadable", "Correct what can't be read of {}."),
    (
        "voltage-missing",
        "State the voltage of {} (field Voltage, such as 12 V).",
    ),
    ("limit", "State what {} can give continuously (field Limit, such as 20 A)."),
    ("resistance-missing", "State the internal resistance of {} (field Resistance, such as 10 mΩ)."),
    (
        "tolerance-missing",
        "State the range of the voltage of {} (field Tolerance, such as 2 %; of a battery Voltage, from empty to "
        "full, such as 21…29.2 V).",
    ),
    ("no load", "Say what the harness feeds: give its consumers the role load."),
    ("load-missing", "Say what {} take (field Load, such as 5 A or 60 W)."),
    ("role-missing", _ROLES),
    ("nothing-judged", ""),
    ("net-ambiguous", "Say how the wires of {} run: draw them, or state star, chain or joint for the net."),
    ("conductor-not-drawn", "Draw the wires of {}, or say that its pins are one joint."),
    ("gauge-missing", "State the size of the wires {} (gauge of their wire class, or field Gauge)."),
    ("length-missing", "State how long {} are (field Length, or default_length in the settings)."),
    ("mate-mismatch", "Say which halves mate: correct the field Mates of {}."),
    ("rating-missing", "State the rating of {}."),
    ("role-guessed", "Confirm or correct the guessed roles of {} in the settings."),
)
"""In the order in which they block: whatever stands earlier makes findings of what stands later."""


def next_step(results: Results) -> str | None:
    """One sentence, or None where nothing that the drawing lacks stands in the way of a verdict."""
    if results.verdict is Verdict.PASS:
        return None
    for step, sentence in _STEPS:
        found = _found(step, results)
        if found is None:
            continue
        if not sentence:
            return f"{found[0].message} {found[0].remedy}".strip()
        if sentence is _ROLES:
            kinds = [f.message.partition(" ha")[0] for f in found]
            return sentence.format(some_of(kinds, 3))
        if step == "voltage-missing" and all("Open-circuit" in (f.remedy or "") for f in found):
            sentence = sentence.replace("field Voltage, such as 12 V", "field Open-circuit voltage, such as 24 V")
        names = list(dict.fromkeys(f.subject.reference or f.subject.id for f in found))
        if step in ("net-ambiguous", "conductor-not-drawn", "gauge-missing", "length-missing"):
            names = list(dict.fromkeys(f.subject.id for f in found))
        return sentence.format(some_of(names, _NAMES_SHOWN))
    return None


def is_unprepared(results: Results) -> bool:
    """Whether so much is missing that what is missing comes before what was found."""
    return any(
        _found(step, results) is not None for step in ("role-missing", "no source", "no load", "nothing-judged")
    )


def causes_first(findings: Sequence[Finding]) -> list[str]:
    """Names of rules in the order of causes, for findings of an unprepared drawing."""
    order = ["symbol-left-out", "role-missing", *(step for step, _ in _STEPS)]
    named = dict.fromkeys(finding.rule for finding in findings)
    return [rule for rule in order if rule in named] + [rule for rule in named if rule not in order]


def _found(step: str, results: Results) -> list[Finding] | None:
    """The findings of a step; an empty list where it is something that the results lack; None where it is done."""
    open_ones = [f for f in results.findings if f.accepted is None]
    # Something has to feed a converter's input, and to take what its output gives.
    converters = {load.id.removesuffix(".IN") for load in results.loads if load.id.endswith(".IN")}
    if step == "no source":
        return [] if all(output.id in converters for output in results.outputs) else None
    if step == "no load":
        return [] if all(load.id.removesuffix(".IN") in converters for load in results.loads) else None
    if step == "nothing placed":
        placed = (results.outputs, results.loads, results.devices, results.conductors, results.contacts)
        step = "" if any(placed) else "role-missing"
    outputs = {output.id for output in results.outputs}
    if step == "limit":
        found = [f for f in open_ones if f.rule == "rating-missing" and f.subject.id in outputs]
    elif step == "nothing-judged":
        found = [f for f in open_ones if f.rule == step and f.subject.reference is None]
    else:
        found = [f for f in open_ones if f.rule == step]
    return found or None
