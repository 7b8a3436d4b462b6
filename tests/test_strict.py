"""``strict``: every assumption that a result rests on is a reason for incomplete; the list is whole everywhere."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from test_fields_matter import DRAWN, SETTINGS, limiter_to_fuse, splice_to_through
from test_variants import Sketch

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.plugin.cli import main
from loadloom.plugin.settings_file import read_settings
from loadloom.reports import annotations, csv_table, junit, page, sarif, terminal

FIXTURE = Path(__file__).resolve().parents[1] / "fixtures/case_16_handbook_drop/harness.kicad_sch"
STRICT = replace(SETTINGS, strict=True)


def assumed(results: Results) -> list[str]:
    return [finding.message for finding in results.findings if finding.rule == "assumed"]


def changed(reference: str, **fields: str | None) -> Sketch:
    draw = next(d for d in (each() for each in DRAWN) if reference in {symbol.reference for symbol in d.symbols})
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.reference == reference)
    written = {**draw.symbols[at].fields, **{name.replace("_", " "): text for name, text in fields.items()}}
    draw.symbols[at] = replace(draw.symbols[at], fields={n: t for n, t in written.items() if t is not None})
    return draw


@pytest.mark.parametrize("drawn", DRAWN, ids=lambda drawn: drawn.__name__)
def test_a_harness_that_states_everything_passes_strictly(drawn: Callable[[], Sketch]) -> None:
    """All but the methods by which starts and tracks are judged, which nothing can state, and what the drawings
    leave out: units of most outputs, bundles of some, a coil's highest voltage.
    """
    by_choice = re.compile(
        r"Assumed: (BT1|DC1|K9\.COIL|L3|TR1|W6|W11|W13)\b|.* for (K9\.BD|PV1):|.*: no Supply is stated"
    )
    messages = [message for message in assumed(drawn().results(STRICT)) if not by_choice.match(message)]
    # X1 has no contact type, and that of J1 states no I²t.
    assert [message for message in messages if "crimp range" not in message and "no I²t" not in message] == []


@pytest.mark.parametrize(
    ("reference", "fields", "says"),
    [
        ("PS1", {"Tolerance": None}, "No voltage tolerance is stated for PS1"),
        ("PS1", {"Behaviour": None}, "No Behaviour is stated for PS1"),
        ("PS1", {"Trip": "14 A"}, "no tolerance is stated with Trip"),
        ("W1", {"Bundle": None}, "no Bundle is stated"),
        ("W1", {"Voltage_rating": None}, "no Voltage rating is stated"),
        ("F1", {"Resistance": None}, "No resistance is stated for F1"),
        ("L2", {"Minimum_voltage": None}, "no Minimum voltage is stated"),
        ("X1", {"Contact_resistance": None}, "No contact resistance is stated for X1.1"),
    ],
)
def test_each_assumption_is_a_reason_for_incomplete(
    reference: str, fields: dict[str, str | None], says: str
) -> None:
    draw = changed(reference, **fields)
    strict, lax = draw.results(STRICT), draw.results(SETTINGS)
    assert any(says in message for message in assumed(strict)), assumed(strict)
    assert strict.verdict is Verdict.INCOMPLETE
    assert assumed(lax) == [] and lax.verdict is not Verdict.INCOMPLETE
    assert any(says in sentence for sentence in lax.assumptions)


def test_what_is_stated_weighs_nothing() -> None:
    draw = splice_to_through()
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.reference == "L2")
    draw.symbols[at] = replace(draw.symbols[at], dnp=True)
    results = draw.results(STRICT)
    assert any(sentence.startswith("Not fitted (DNP)") for sentence in results.assumptions)
    assert not any("Not fitted" in message for message in assumed(results))


def test_the_settings_and_the_command_line_ask_for_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings = tmp_path / "loadloom.toml"
    settings.write_text("strict = true\n", encoding="utf-8")
    assert read_settings(settings)[0].strict
    found = {}
    for name, more in (("lax", ()), ("option", ("--strict",)), ("settings", ("--settings", str(settings)))):
        out = tmp_path / f"{name}.json"
        main(["report", str(FIXTURE), "-o", str(out), *more])
        found[name] = json.loads(out.read_text(encoding="utf-8"))
    rules = {name: {finding["rule"] for finding in each["findings"]} for name, each in found.items()}
    assert "assumed" not in rules["lax"] and "assumed" in rules["option"] & rules["settings"]
    assert found["option"]["verdict"] != "pass" and found["option"]["settings"]["strict"] is True
    assert "--strict" not in capsys.readouterr().err


def test_the_list_of_assumptions_is_whole_in_every_format() -> None:
    results = limiter_to_fuse().results(SETTINGS)
    many = replace(results, assumptions=tuple(f"Number {k} of what nobody stated." for k in range(60)))
    told = (
        terminal.text(many, 200),
        annotations.render(many),
        junit.render(many).decode(),
        sarif.render(many).decode(),
        csv_table.table(many, "assumptions").decode(),
        page.render(many).decode(),
    )
    for text in told:
        assert all(sentence in text for sentence in many.assumptions)


@pytest.mark.parametrize("text", ["none", "None", "B", None])
def test_a_bundle_of_none_states_that_a_wire_lies_apart(text: str | None) -> None:
    """Two channels, each with its return: apart, none touches another, and nothing is assumed; in one bundle the
    feed behind the greater limiter is pinched onto the return of the lesser one, beside the load of 1 A there."""
    wire = {"Gauge": "2.5 mm²", "Length": "1 m", "Insulation": "PVC 70 °C", **({"Bundle": text} if text else {})}
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="30 A", Trip="40 A", Delay="1 ms", Resistance="5 mΩ")
    for k, trip in enumerate(("3 A", "12 A")):
        draw(f"Q{k}", "limiter", f"p q{k}", trip, Delay="1 ms")
        draw(f"W{k}", "wire", f"q{k} a{k}", fields=wire)
        draw(f"L{k}", "load", f"a{k} b{k}", Load="1 A")
        draw(f"R{k}", "wire", f"b{k} m", fields=wire)
    results = draw.results()
    (row,) = (row for row in results.conductors if row.id == "R0")
    assert row.sustained_fault_a == pytest.approx(13.0 if text == "B" else 3.0)
    assert any("no Bundle is stated" in words for words in results.assumptions) is (text is None)
    assert "name-used-once" not in {found.rule for found in results.findings}
