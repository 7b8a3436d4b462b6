"""A part without an allowed current is named; common practice, no published source: a blank is never a pass."""

from dataclasses import replace

import pytest
from wired import analysed, contact, fuse, harness, load, output, wire

from loadloom.graph.model.elements import Element
from loadloom.graph.model.findings import Finding, Verdict
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.material import is_copper
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings, ContactType

METRIC = AnalysisSettings(basis="building-iec", conductor_temperature_c=20.0, resistance_table="copper")


def drawn(pin: Element, **size: float) -> Harness:
    return harness(
        output("PS1", "p", "m"),
        pin,
        wire("W1", "a", "lp", length_m=1.0, **size),
        wire("W2", "lm", "m", length_m=1.0, rated=20.0, **size),
        load("L1", "lp", "lm", 1.0),
    )


def missing(drawn: Harness, settings: AnalysisSettings = METRIC) -> list[Finding]:
    done = analysed(drawn, settings)
    return [f for f in done.findings if f.rule == "rating-missing"]


def test_a_contact_that_states_nothing_is_named() -> None:
    got = missing(drawn(contact("P1.1", "p", "a"), mm2=1.5))
    assert [f.subject.id for f in got] == ["P1.1"]
    assert "neither a contact rating nor a contact type" in got[0].message and "Contact rating" in got[0].remedy


def test_a_contact_of_a_type_or_with_a_rating_is_not() -> None:
    settings = replace(METRIC, contact_types={"pin": ContactType("pin", rated_a=((9, 5.0),))})
    assert missing(drawn(contact("P1.1", "p", "a", contact_type="pin"), mm2=1.5), settings) == []
    assert missing(drawn(contact("P1.1", "p", "a", rated=5.0), mm2=1.5)) == []


def test_a_size_that_the_basis_does_not_cover_is_named_with_the_reason() -> None:
    """IEC 60364-5-52 is in mm²; W2 states a rating of its own."""
    got = missing(drawn(contact("P1.1", "p", "a", rated=5.0), awg=16))
    assert [f.subject.id for f in got] == ["W1"] and "which is in mm²" in got[0].message


def test_what_a_finding_of_reading_tells_is_not_told_twice() -> None:
    unreadable = contact("P1.1", "p", "a", placeholders=frozenset({"own_rating_a"}))
    assert missing(drawn(unreadable, mm2=1.5)) == []


def test_of_ratings_that_differ_by_arrangement_the_least_counts_in_all() -> None:
    """8.5 A for 0.75 mm² (IEC 60204-1 table 6, B2), 5 A where the drawing says so for one arrangement."""
    parts = (
        output("PS1", "p", "m"),
        contact("P1.1", "p", "a", rated=9.0, by_word={"pooled": {"own_rating_a": 1.0}}),
        wire(
            "W1",
            "a",
            "lp",
            length_m=1.0,
            mm2=0.75,
            insulation="PVC 70 °C",
            by_word={"pooled": {"own_rating_a": 5.0}},
        ),
        wire(
            "W2",
            "lm",
            "n",
            length_m=1.0,
            mm2=0.75,
            insulation="PVC 70 °C",
            by_word={"hot": {"insulation": "XLPE"}},
        ),
        wire(
            "W3",
            "n",
            "m",
            length_m=1.0,
            rated=9.0,
            voltage_rating_v=60.0,
            by_word={"hot": {"voltage_rating_v": 5.0}},
        ),
        load("L1", "lp", "lm", 2.0),
    )
    done = analysed(harness(*parts), AnalysisSettings())
    allowed = {row.id: row.allowed_a for row in (*done.conductors, *done.contacts)}
    assert (allowed["P1.1"], allowed["W1"], allowed["W2"]) == (1.0, 5.0, 8.5)
    assert {f.subject.id for f in done.findings if f.rule in ("contact-overload", "voltage-rating")} == {
        "P1.1",
        "W3",
    }
    told = [line for line in done.assumptions if "the rating differs by arrangement" in line]
    assert told == ["W1 to W3 and P1.1: the rating differs by arrangement: the least rating counts in all."]


def test_insulation_that_nobody_knows_is_told_once_and_never_passes() -> None:
    """A text that is not understood leaves a wire unrated; no text at all is told where a table rates it."""
    parts = (
        output("PS1", "p", "m"),
        wire("W1", "p", "lp", length_m=1.0, mm2=1.5, insulation="PVC 150 °C"),
        wire("W2", "lm", "n", length_m=1.0, mm2=1.5, insulation=None),
        wire("W3", "n", "m", length_m=1.0, mm2=1.5, insulation=None, rated=9.0),
        load("L1", "lp", "lm", 2.0),
    )

    def done(settings: AnalysisSettings) -> Results:
        return analysed(harness(*parts), settings)

    plain = done(AnalysisSettings())
    told = {f.subject.id for f in plain.findings if f.rule == "insulation-unknown"}
    assert told == {"W1", "W2"}
    assert not any(f.rule == "rating-missing" and f.subject.id == "W1" for f in plain.findings)
    allowed = {row.id: row.allowed_a for row in plain.conductors}
    assert (allowed["W1"], allowed["W2"], allowed["W3"]) == (None, 13.1, 9.0)  # IEC 60204-1 table 6, B2, 40 °C
    assert plain.verdict is not Verdict.PASS
    stated = done(AnalysisSettings(insulation_default_c=70.0))
    assert {f.subject.id for f in stated.findings if f.rule == "insulation-unknown"} == {"W1"}
    # A list that looks at the area alone does not rest on the insulation; a text that contradicts itself is told.
    by_area = done(AnalysisSettings(basis="common-practice"))
    assert {f.subject.id for f in by_area.findings if f.rule == "insulation-unknown"} == {"W1"}
    assert {row.id: row.allowed_a is None for row in by_area.conductors} == dict.fromkeys(("W1", "W2", "W3"), False)


@pytest.mark.parametrize(
    ("material", "copper"),
    [
        (None, True),
        ("copper", True),
        ("Cu", True),
        ("Cu-ETP", True),
        ("tinned copper", True),
        ("copper, silver-plated", True),
        ("nickel plated copper", True),
        ("Al", False),
        ("aluminium", False),
        ("CCA", False),
        ("copper-clad aluminium", False),
        ("copper clad steel", False),
        ("copper nickel", False),
        ("CuNi44", False),
        ("tin bronze", False),
        ("silver-plated", False),
        ("steel", False),
        ("?", False),
    ],
)
def test_what_is_not_copper_is_not_rated(material: str | None, copper: bool) -> None:
    """Resistivity of aluminium 0.0283 against 0.017241 Ω·mm²/m (IEC 60889 from memory, IEC 60028)."""
    assert is_copper(material) is copper
    parts = (
        output("PS1", "p", "m"),
        wire("W1", "p", "lp", length_m=1.0, mm2=1.5, insulation="PVC 70 °C", material=material),
        wire("W2", "lm", "m", ohm=0.01, rated=9.0, material=material),
        load("L1", "lp", "lm", 2.0),
    )
    done = analysed(harness(*parts), AnalysisSettings())
    told = [f.subject.id for f in done.findings if f.rule == "material-not-rated"]
    assert told == ([] if copper else ["W1", "W2"])
    assert not any(f.rule == "rating-missing" for f in done.findings)
    allowed = {row.id: row.allowed_a for row in done.conductors}
    assert allowed == {"W1": 13.1 if copper else None, "W2": 9.0}  # IEC 60204-1 table 6, B2
    assert copper or done.verdict is not Verdict.PASS


def test_small_conductors_limit_their_device_with_the_nec_bases() -> None:
    """NEC 240.4(D): 20 A for 12 AWG copper, whatever its insulation; other bases do not ask for it."""

    def told(basis: str, rating_a: float, **size: float) -> list[Finding]:
        drawn = harness(
            output("PS1", "p", "m", trip_a=500.0),
            fuse("F1", "p", "a", rating_a),
            wire("W1", "a", "lp", length_m=1.0, insulation="90 °C", terminal_c=90.0, **size),
            wire("W2", "lm", "m", length_m=1.0, rated=60.0, ohm=0.01),
            load("L1", "lp", "lm", 2.0),
        )
        done = analysed(drawn, AnalysisSettings(basis=basis))
        return [f for f in done.findings if f.rule == "small-conductor-device"]

    (found,) = told("building-nec", 25.0, awg=12)
    assert (found.subject.id, found.value, found.limit) == ("W1", 25.0, 20.0)
    assert "F1" in found.message
    assert not told("building-nec", 20.0, awg=12)
    assert told("building-nec-free-air", 35.0, awg=10)
    assert not told("building-nec", 40.0, awg=8)
    assert not told("vehicle", 25.0, awg=12)
