"""A wire class of the settings, named by a wire that is drawn as a symbol or row, or by the nets at its ends."""

from __future__ import annotations

from pathlib import Path

import pytest
from drawings import build, net, symbol

from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.harness import Harness
from loadloom.plugin.building import build_harness
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings

PARTS = """\
Part,Role,Voltage,Limit,Trip,Load,Rating
PS1,output,12 V,10 A,12 A,,
L1,load,,,,3 A,
"""
CLASS = """\
[wire_class.trunk]
gauge = "2.5 mm²"
insulation = "PVC 70 °C"
bundle = "A"
length = "2 m"
rating = "20 A"
resistance = "14 mΩ"
class = 5
"""


def built(folder: Path, head: str, *rows: str, settings: str = CLASS) -> Harness:
    (folder / "w.csv").write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    (folder / "w.parts.csv").write_text(PARTS, encoding="utf-8")
    (folder / "loadloom.toml").write_text(settings, encoding="utf-8")
    analysis, reading = read_settings(folder / "loadloom.toml")
    return build_harness(read_drawing(folder / "w.csv"), analysis, reading)


def by_id(harness: Harness) -> dict[str, Conductor]:
    return {conductor.id: conductor for conductor in harness.conductors}


def test_a_class_gives_what_the_wire_does_not_state(tmp_path: Path) -> None:
    harness = built(
        tmp_path,
        "Label,From,To,Wire class,Length,Insulation,Size",
        "W1,PS1.1,L1.1,trunk,,,",
        "W2,L1.2,PS1.2,trunk,5 m,XLPE 90 °C,2.5 mm²",
    )
    one, two = by_id(harness)["W1"], by_id(harness)["W2"]
    assert (str(one.gauge), one.insulation, one.bundle, one.length_m) == ("2.5 mm²", "PVC 70 °C", "A", 2.0)
    assert one.own_rating_a == 20.0 and one.make.iec_class == 5 and not one.placeholders
    assert (two.insulation, two.length_m, two.bundle, two.own_rating_a) == ("XLPE 90 °C", 5.0, "A", 20.0)
    assert not {f.rule for f in harness.findings} & {"gauge-missing", "length-missing", "name-unknown"}


def test_a_wire_of_another_size_has_not_the_rating_of_the_class(tmp_path: Path) -> None:
    """A thinner wire than its class's must not be rated as the class is."""
    harness = built(
        tmp_path,
        "Label,From,To,Wire class,Length,Size",
        "W1,PS1.1,L1.1,trunk,1 m,0.5 mm²",
        "W2,L1.2,PS1.2,trunk,1 m,16",
    )
    one, two = by_id(harness)["W1"], by_id(harness)["W2"]
    assert str(one.gauge) == "0.5 mm²" and one.own_rating_a is None and one.resistance_ohm is None
    assert two.gauge is None and two.own_rating_a is None and "gauge" in two.placeholders


def test_the_same_holds_of_a_net_of_the_class(tmp_path: Path) -> None:
    settings = tmp_path / "loadloom.toml"
    settings.write_text(CLASS + '[net."FEED"]\ngauge = "0.5 mm²"\n', encoding="utf-8")
    parts = [symbol("J1", "connector"), symbol("J2", "connector")]
    found = build(parts, [net("J1.1 J2.1", "FEED", "trunk")], *read_settings(settings)).conductors[0]
    assert str(found.gauge) == "0.5 mm²" and found.own_rating_a is None and found.bundle == "A"


@pytest.mark.parametrize(
    ("classes", "gauge"), [(("trunk", "trunk"), "2.5 mm²"), (("trunk", ""), "None"), (("", ""), "None")]
)
def test_the_class_of_the_nets_at_both_ends(classes: tuple[str, str], gauge: str, tmp_path: Path) -> None:
    """A class at one end alone may be meant for another wire that is joined there."""
    settings = tmp_path / "loadloom.toml"
    settings.write_text(CLASS + '[wire_class.Default]\ngauge = "6 mm²"\n', encoding="utf-8")
    parts = [symbol("W1", "wire"), symbol("F1", "fuse"), symbol("F2", "fuse")]
    nets = [net("F1.2 W1.1", "A", classes[0]), net("W1.2 F2.1", "B", classes[1])]
    harness = build(parts, nets, *read_settings(settings))
    assert str(harness.conductors[0].gauge) == gauge
    assert any("wire class trunk" in text for text in harness.assumptions) is (gauge != "None")


@pytest.mark.parametrize(("name", "near"), [("trnk", "; the nearest is trunk."), ("", None)])
def test_a_class_that_nobody_describes(name: str, near: str | None, tmp_path: Path) -> None:
    harness = built(
        tmp_path,
        "Label,From,To,Wire class,Length,Size",
        f"W1,PS1.1,L1.1,{name},1 m,1 mm²",
        "W2,L1.2,PS1.2,trunk,1 m,",
    )
    told = [f.message for f in harness.findings if f.rule == "name-unknown"]
    assert [text.endswith(near) for text in told] == [True] if near else told == []


def test_a_class_that_nothing_is_of_is_told(tmp_path: Path) -> None:
    rows = ("W1,PS1.1,L1.1,1 m,1 mm²", "W2,L1.2,PS1.2,1 m,1 mm²")
    more = '[net."FEED"]\nlength = "3 m"\n[role.library]\n"Device:Lamp" = "load"\n'
    harness = built(tmp_path, "Label,From,To,Length,Size", *rows, settings=CLASS + more)
    told = {f.subject.id for f in harness.findings if f.rule == "role-rule-unused"}
    assert told == {"trunk", "FEED", "Device:Lamp"}


def test_a_cable_takes_it_for_every_core(tmp_path: Path) -> None:
    head = "Label,Cable,From,To,Wire class,Length,Gauge"
    harness = built(tmp_path, head, "C1.1,C1,PS1.1,L1.1,trunk,3 m,", "C1.2,C1,L1.2,PS1.2,trunk,3 m,1 mm²")
    assert {c.id: (str(c.gauge), c.insulation) for c in harness.conductors} == {
        "C1.1": ("2.5 mm²", "PVC 70 °C"),
        "C1.2": ("1 mm²", "PVC 70 °C"),
    }


@pytest.mark.parametrize(("end", "told"), [("X.9", False), ("L1.2", False), ("", True)])
def test_a_shield_may_end_free(end: str, told: bool, tmp_path: Path) -> None:
    """A shield is often joined at one end alone; any other core that ends free is told."""
    core = "2" if told else "S"
    rows = ["C1.1,C1,PS1.1,L1.1", f"C1.{core},C1,PS1.2,{end or 'X.9'}", "W1,,L1.2,PS1.2"]
    rows = [f"{row},1 m,1 mm²" for row in rows]
    harness = built(tmp_path, "Label,Cable,From,To,Length,Size", *rows, settings="")
    assert ("dead-end" in {f.rule for f in harness.findings}) is told
    assert any("C1.S is joined at one end alone" in text for text in harness.assumptions) is (end == "X.9")


def test_the_shield_of_the_librarys_cable_has_to_be_stated() -> None:
    library = {"Gauge": "1 mm²", "Gauge.S": "?"}
    pins = "1A 1B SA SB"
    parts = [symbol("C1", "cable", pins=pins, library_fields=library, Length="1 m")]
    found = {c.id: c for c in build(parts, [net("C1.1A C1.SB")]).conductors}
    assert str(found["C1.1"].gauge) == "1 mm²" and found["C1.S"].gauge is None
    assert "gauge" in found["C1.S"].placeholders
