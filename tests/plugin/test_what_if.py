"""Changes tried without redrawing: what they change, what they say, and what is refused."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from drawings import drawing, net, symbol
from small_project import write_twice_used_sheet

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import build_harness
from loadloom.plugin.cli import main
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.drawing_settings import DrawingSettings, NetValues, WireValues
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.values import gauge
from loadloom.plugin.what_if import try_changes

SETTINGS = DrawingSettings(wire_classes={"thin": WireValues(gauge=gauge("0.5 mm²"), length_m=1.0)})


def drawn() -> Drawing:
    return drawing(
        [
            symbol("W7", "wire", value="18 AWG", Length="1 m"),
            symbol("C2", "cable", pins="1A 1B 2A 2B", Gauge="1 mm²", Length="2 m"),
            symbol("CH2", "limiter", value="20 A", fields={"Trip@pooled": "none"}),
            symbol("J1", "connector", pins=2),
            symbol("J2", "connector", pins=2),
        ],
        [net("J1.1 J2.1", "/AUX", "thin"), net("W7.1 J1.2"), net("W7.2 CH2.1"), net("CH2.2 C2.1A")],
    )


def tried(*texts: str) -> tuple[Harness, tuple[str, ...]]:
    found = try_changes(texts, drawn(), SETTINGS)
    harness = build_harness(found.drawing, AnalysisSettings(), found.settings)
    return harness, tuple(change.sentence for change in found.changes)


def test_a_field_is_replaced_and_said_so() -> None:
    harness, said = tried("W7.Gauge=14 AWG")
    assert str(harness.by_id["W7"].gauge) == "14 AWG"
    assert said == ("What if: W7.Gauge is “14 AWG”, instead of the drawing's “18 AWG”.",)


def test_core_word_net_and_names_without_regard_to_case() -> None:
    harness, _ = tried("C2.gauge.2=2.5 mm²", "CH2.Trip@pooled=30 A", "/AUX.Gauge=4 mm²", "J1.1-J2.1.Length=3 m")
    by_id = harness.by_id
    assert (str(by_id["C2.1"].gauge), str(by_id["C2.2"].gauge)) == ("1 mm²", "2.5 mm²")
    assert by_id["CH2"].under("pooled").trip_a.nominal == 30.0 and by_id["CH2"].trip_a.nominal == 20.0
    (wire,) = (c for c in harness.conductors if c.gauge is not None and c.gauge.size == "4")
    assert wire.length_m == 3.0


def test_what_a_pattern_says_of_a_net_holds_on_beside_the_trial() -> None:
    """The hot zone and the bundle come from ``/A*``: a trial of the size alone must not lose their derating."""
    said = WireValues(zone="hot", bundle="B1", length_m=30.0)
    settings = replace(SETTINGS, nets={"/A*": NetValues(said)})
    found = try_changes(["/AUX.Gauge=4 mm²"], drawn(), settings)
    harness = build_harness(found.drawing, AnalysisSettings(), found.settings)
    (wire,) = (c for c in harness.conductors if c.gauge is not None and c.gauge.size == "4")
    assert (wire.zone, wire.bundle, wire.length_m) == ("hot", "B1", 30.0)


def test_the_later_of_two_changes_counts_and_nothing_else_is_touched() -> None:
    harness, said = tried("W7.Gauge=14 AWG", "W7.Gauge=12 AWG")
    assert str(harness.by_id["W7"].gauge) == "12 AWG" and len(said) == 2
    plain = build_harness(drawn(), AnalysisSettings(), SETTINGS)
    assert [c for c in harness.conductors if c.id != "W7"] == [c for c in plain.conductors if c.id != "W7"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("W8.Gauge=14 AWG", "no “W8” (the nearest is W7)"),
        ("W7.Gage=14 AWG", "a wire such as W7 has no field “Gage” (the nearest is Gauge)"),
        ("/AUX.Trip=3 A", "has no field “Trip”"),
        ("/AUX.Gauge=16", "no unit"),
        ("W7=14 AWG", "is no change of a field"),
        ("W7.Gauge", "is no change of a field"),
        ("=", "is no change of a field"),
    ],
)
def test_what_names_nothing_is_refused_with_the_nearest(text: str, words: str) -> None:
    with pytest.raises(UnusableError) as refused:
        tried(text)
    assert words in str(refused.value)


def test_report_compare_and_annotate_take_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = write_twice_used_sheet(tmp_path)
    before = source.read_bytes()
    change = ["--set", "W1.Gauge=2.5 mm²"]
    out = tmp_path / "out.json"
    assert main(["report", str(source), "-o", str(out), *change, "--fail-on", "never"]) == 0
    results = json.loads(out.read_text(encoding="utf-8"))
    assert results["settings"]["what_if"] == [
        {"part": "W1", "field": "Gauge", "drawn": "1 mm²", "tried": "2.5 mm²"}
    ]
    assert results["assumptions"][0].startswith("What if: W1.Gauge is “2.5 mm²”")
    assert {c["id"]: c["gauge"] for c in results["conductors"]}["W1"] == "2.5 mm²"
    assert main(["compare", str(source), str(source), *change]) in (0, 1)
    assert "W1" in capsys.readouterr().out
    assert main(["compare", str(source), str(out), *change]) == 2
    assert main(["annotate", str(source), "-o", str(tmp_path / "copy"), *change]) == 0
    assert "W1.Gauge = 2.5 mm²" in capsys.readouterr().out
    assert source.read_bytes() == before


@pytest.mark.parametrize(
    ("drawn_trip", "tried_trip", "counts"),
    [
        ("20 A ±10 %", "12 A", (12.0, 10.8, 13.2)),
        ("20 A +20/-0 %", "10 A", (10.0, 10.0, 12.0)),
        ("18…22 A", "10 A", (10.0, 9.0, 11.0)),
        ("20 A ±1 A", "10 A", (10.0, 9.0, 11.0)),
        ("20 A ±10 %", "10 A ±0 %", (10.0, 10.0, 10.0)),
        ("20 A ±10 %", "8…12 A", (10.0, 8.0, 12.0)),
        ("20 A", "10 A", (10.0, 10.0, 10.0)),
    ],
)
def test_a_trial_keeps_the_drawn_tolerance(
    drawn_trip: str, tried_trip: str, counts: tuple[float, float, float]
) -> None:
    limiter = symbol("CH1", "limiter", Trip=drawn_trip)
    found = try_changes([f"CH1.Trip={tried_trip}"], drawing([limiter], [net("CH1.1", "/A")]), SETTINGS)
    (device,) = build_harness(found.drawing, AnalysisSettings(), found.settings).devices
    assert device.trip_a is not None
    assert (device.trip_a.nominal, device.trip_a.lower, device.trip_a.upper) == pytest.approx(counts)


def test_a_trial_of_one_arrangement_keeps_the_tolerance_of_the_plain_field() -> None:
    limiter = symbol("CH1", "limiter", value="20 A ±10 %")
    found = try_changes(["CH1.Trip@pooled=40 A"], drawing([limiter], [net("CH1.1", "/A")]), SETTINGS)
    (device,) = build_harness(found.drawing, AnalysisSettings(), found.settings).devices
    assert device.under("pooled").trip_a.upper == pytest.approx(44.0)


def test_the_report_of_a_trial_says_what_the_drawing_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    fixture = Path(__file__).resolve().parents[2] / "fixtures/case_07b_tap_short/harness.kicad_sch"
    assert main(["report", str(fixture), "--set", "W3.Rating=30 A", "-o", str(tmp_path / "x.json")]) in (0, 1)
    assert main(["report", str(fixture), "-o", str(tmp_path / "drawn.json")]) in (0, 1)
    tried_one = json.loads((tmp_path / "x.json").read_text(encoding="utf-8"))
    as_drawn = json.loads((tmp_path / "drawn.json").read_text(encoding="utf-8"))
    assert tried_one["about"]["kind"] == "what if" and as_drawn["about"]["kind"] == "as drawn"
    assert tried_one["about"]["verdict_as_drawn"] == as_drawn["verdict"]
    assert "WHAT IF, not the drawing as it stands: W3.Rating is “30 A”" in " ".join(capsys.readouterr().out.split())


def test_a_trial_is_not_written_into_the_drawing(capsys: pytest.CaptureFixture[str]) -> None:
    fixture = Path(__file__).resolve().parents[2] / "fixtures/case_07b_tap_short/harness.kicad_sch"
    before = fixture.read_bytes()
    assert main(["annotate", str(fixture), "--in-place", "--set", "W3.Rating=30 A"]) == 2
    assert "--in-place writes into the drawing" in capsys.readouterr().err
    assert fixture.read_bytes() == before


def test_a_trial_of_what_the_value_says_contradicts_nothing() -> None:
    """A wire whose value is its size, tried in another one: the value is what would be drawn."""
    harness, _ = tried("W7.Gauge=14 AWG", "CH2.Trip=30 A")
    assert "fields-contradict" not in {found.rule for found in harness.findings}
    assert str(harness.by_id["W7"].gauge) == "14 AWG"
