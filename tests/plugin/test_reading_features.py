"""Drawings with everything that a reading must resolve, held against kicad-cli as the independent second reader."""

from __future__ import annotations

import json
import random
from itertools import pairwise
from pathlib import Path

import pytest
from programs import need
from reading_samples import (
    Project,
    bus_entry,
    directive,
    junction,
    label,
    line,
    schematic,
    sheet,
    sheet_path,
    symbol,
    uid,
)

from loadloom.plugin.drawing import Drawing
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.reading import read_drawing

BOTH = sheet_path("Left"), sheet_path("Right")


def both_ways(path: Path) -> tuple[Drawing, Drawing]:
    return read_drawing(path, kicad_cli=Path(need("kicad-cli"))), read_drawing(path, kicad_cli="none")


def pin_sets(drawing: Drawing) -> set[frozenset[tuple[str, str]]]:
    return {frozenset((pin.reference, pin.number) for pin in net.pins) for net in drawing.nets}


def joined(drawing: Drawing, *pins: str) -> bool:
    wanted = {(pin.split(".")[0], pin.split(".")[1]) for pin in pins}
    return any(wanted <= pins_of_net for pins_of_net in pin_sets(drawing))


def assert_same(drawing: Drawing, other: Drawing) -> None:
    assert drawing.symbols == other.symbols
    assert pin_sets(drawing) == pin_sets(other)
    for net, twin in zip(drawing.nets, other.nets, strict=True):
        assert (net.pins, net.named_by_user, net.classes, net.power_symbol, net.sheets) == (
            twin.pins,
            twin.named_by_user,
            twin.classes,
            twin.power_symbol,
            twin.sheets,
        )
        if net.named_by_user:
            assert net.name == twin.name
    assert drawing.provenance.sha256 == other.provenance.sha256


def test_text_variables_in_fields_and_labels(tmp_path: Path) -> None:
    fields = {
        "Own": "${REFERENCE} ${VALUE} ${Zone}",
        "Zone": "z_${SHEETPATH}",
        "Name": "${SHEETNAME}|${PROJ}|${TITLE}|${REVISION}",
        "Cross": f"${{{uid('Z1.1')}:VALUE}} ${{Z1:VALUE}}",
        "Unknown": "${NOBODY}",
        "Nested": "${Own}!",
    }
    paths = {path: f"A{k}" for k, path in enumerate(BOTH, 1)}
    child = schematic(
        symbol("T:ONE", "A?", 0, 0, fields=fields, paths=paths, value="v${PROJ}"),
        label("label", "n_${PROJ}", 0, 0),
        label("global_label", "g_${SHEETNAME}", 25.4, 0),
        symbol("T:ONE", "B?", 25.4, 0, paths={path: f"B{k}" for k, path in enumerate(BOTH, 1)}),
        uuid_=uid("c"),
        title='(title_block (title "child") (rev "7"))',
    )
    root = schematic(
        symbol("T:ONE", "Z1", 0, 0, value="zed", fields=fields),
        sheet("Left", "c.kicad_sch", 50.8, 0),
        sheet("Right", "c.kicad_sch", 101.6, 0),
        title='(title_block (title "Dome ${PROJ}") (date "2026-01-02") (rev "C") (company "invented"))',
    )
    project = json.dumps({"text_variables": {"PROJ": "north"}})
    path = Project(root, {"c.kicad_sch": child}, project).write(tmp_path)
    by_cli, own = both_ways(path)
    assert_same(by_cli, own)
    a2 = next(found for found in own.symbols if found.reference == "A2")
    assert a2.fields["Own"] == "A2 vnorth z_/Right/"
    assert a2.fields["Cross"] == "zed ${Z1:VALUE}"
    assert a2.fields["Unknown"] == "${NOBODY}"
    assert {"/Left/n_north", "g_Left", "g_Right"} <= {net.name for net in own.nets}
    assert (own.provenance.title, own.provenance.revision) == ("Dome north", "C")
    assert (own.provenance.date, own.provenance.company) == ("2026-01-02", "invented")


def test_a_reference_in_a_field_names_its_unit_and_escapes_are_taken_apart(tmp_path: Path) -> None:
    """As kicad-cli 9.0.8 writes them: unit A of a part of several, ``/`` for ``{slash}`` in what fields say."""
    root = schematic(
        symbol("T:QUAD", "X1", 0, 0, value="${REFERENCE} of {slash}", fields={"Bundle": "A{slash}B ${VALUE}"}),
        symbol("T:ONE", "X2", 25.4, 0, value="${REFERENCE}", fields={"Bundle": "{x} {dblquote}"}),
    )
    by_cli, own = both_ways(Project(root).write(tmp_path))
    assert_same(by_cli, own)
    several, one = own.symbols
    assert (several.value, several.fields["Bundle"]) == ("X1A of /", "A/B X1A of /")
    assert (one.value, one.fields["Bundle"]) == ("X2", '{x} "')


def test_units_bodies_alternates_stacks_and_no_connect_pins(tmp_path: Path) -> None:
    root = schematic(
        symbol("T:QUAD", "U1", 0, 0, unit=1, body=2, fields={"First": "1", "Both": "one"}),
        symbol("T:QUAD", "U1", 25.4, 0, unit=2, body=1, fields={"Second": "2", "Both": "two"}),
        # Unit 0 pins stand on both units: joined here, so that the pin is on one net.
        label("label", "COM", 0, -5.08),
        label("label", "COM", 25.4, -5.08),
        symbol("T:STACK", "J1", 50.8, 0),
        symbol("T:NC", "K1", 50.8, 0),
        symbol("T:ALT", "M1", 76.2, 0, extra=f'(pin "1" (uuid "{uid("m")}") (alternate "TX"))'),
        symbol("T:TWO", "R1", 101.6, 0, angle=90, mirror="x", dnp=True),
        symbol("power:VP", "#PWR1", 104.14, 0, value="VBUS"),
        symbol("T:HID", "H1", 127, 0),
        symbol("T:HID", "H2", 152.4, 0),
    )
    by_cli, own = both_ways(Project(root).write(tmp_path))
    assert_same(by_cli, own)
    by_reference = {found.reference: found for found in own.symbols}
    assert [pin.number for pin in by_reference["J1"].pins] == ["8", "9", "10", "A1", "A2", "A3"]
    assert by_reference["U1"].fields == {"First": "1", "Both": "one", "Second": "2"}
    assert len(by_reference["U1"].uuids) == 2
    assert by_reference["R1"].dnp
    assert by_reference["M1"].pins[0].name == "TX"
    assert by_reference["M1"].pins[0].electrical_type == "output"
    assert joined(own, "J1.8", "J1.9", "J1.10")
    assert not joined(own, "J1.8", "K1.1"), "a pin of type no_connect joins nothing"
    assert joined(own, "J1.A1", "K1.2")
    assert joined(own, "H1.2", "H2.2"), "hidden power pins are joined by name"
    power = {net.name for net in own.nets if net.power_symbol}
    assert power == {"VBUS"}


def test_sheets_used_twice_with_classes_and_dnp(tmp_path: Path) -> None:
    child = schematic(
        symbol("T:ONE", "A?", 0, 0, paths={path: f"A{k}" for k, path in enumerate(BOTH, 1)}),
        line("wire", 0, 0, 10.16, 0),
        directive("THICK", 5.08, 0),
        symbol("T:ONE", "B?", 10.16, 0, paths={path: f"B{k}" for k, path in enumerate(BOTH, 1)}),
        symbol("T:ONE", "C?", 0, 25.4, paths={path: f"C{k}" for k, path in enumerate(BOTH, 1)}),
        label("hierarchical_label", "OUT{slash}1", 0, 25.4),
        label("label", "TAP", 0, 50.8),
        symbol("T:ONE", "D?", 0, 50.8, paths={path: f"D{k}" for k, path in enumerate(BOTH, 1)}),
        uuid_=uid("c"),
    )
    root = schematic(
        sheet("Left", "c.kicad_sch", 50.8, 50.8, [("OUT{slash}1", 50.8, 60.96)]),
        sheet("Right", "c.kicad_sch", 101.6, 50.8, [("OUT{slash}1", 101.6, 60.96)], extra="(dnp yes)"),
        symbol("T:ONE", "X1", 50.8, 60.96),
        line("wire", 101.6, 60.96, 101.6, 40.64),
        line("wire", 101.6, 40.64, 25.4, 40.64),
        symbol("T:ONE", "X2", 25.4, 40.64),
        label("label", "FEED", 76.2, 40.64),
    )
    project = json.dumps(
        {
            "net_settings": {
                "classes": [{"name": name} for name in ("Default", "THICK", "THIN", "FEEDS")],
                "netclass_patterns": [
                    {"netclass": "THIN", "pattern": "*/TAP"},
                    {"netclass": "FEEDS", "pattern": "/FE?D"},
                ],
            }
        }
    )
    by_cli, own = both_ways(Project(root, {"c.kicad_sch": child}, project).write(tmp_path))
    assert_same(by_cli, own)
    assert joined(own, "X1.1", "C1.1")
    assert joined(own, "X2.1", "C2.1")
    assert {found.reference for found in own.symbols if found.dnp} == {"A2", "B2", "C2", "D2"}
    classes = {net.pins[0].reference: net.classes for net in own.nets}
    # kicad-cli 9.0.8 itself says Default for A1 and A2: the class comes from the own reading in both routes.
    assert classes["A1"] == classes["A2"] == ("THICK",)
    assert classes["D1"] == ("THIN",)
    assert classes["C2"] == ("FEEDS",)


def test_buses_by_vector_group_and_alias_through_sheets(tmp_path: Path) -> None:
    child = schematic(
        line("bus", 0, 0, 0, 20.32),
        label("hierarchical_label", "Q[3..0]", 0, 0),
        bus_entry(0, 10.16, 2.54, 2.54),
        line("wire", 2.54, 12.7, 10.16, 12.7),
        label("label", "Q2", 5.08, 12.7),
        symbol("T:ONE", "A?", 10.16, 12.7, paths={path: f"A{k}" for k, path in enumerate(BOTH, 1)}),
        line("bus", 50.8, 0, 50.8, 20.32),
        label("hierarchical_label", "G{USB X}", 50.8, 0),
        symbol("T:ONE", "B?", 76.2, 0, paths={path: f"B{k}" for k, path in enumerate(BOTH, 1)}),
        label("label", "G.DP", 76.2, 0),
        uuid_=uid("c"),
    )
    pins = [("Q[3..0]", 60.96), ("G{USB X}", 66.04)]
    root = schematic(
        '(bus_alias "USB" (members "DP" "DM"))',
        sheet("Left", "c.kicad_sch", 50.8, 50.8, [(name, 50.8, y) for name, y in pins]),
        sheet("Right", "c.kicad_sch", 101.6, 50.8, [(name, 101.6, y) for name, y in pins]),
        line("bus", 50.8, 60.96, 25.4, 60.96),
        label("label", "M[0..3]", 38.1, 60.96),
        line("bus", 50.8, 66.04, 25.4, 66.04),
        label("label", "N{USB X}", 38.1, 66.04),
        symbol("T:ONE", "X1", 0, 0),
        label("label", "M2", 0, 0),
        symbol("T:ONE", "X2", 0, 25.4),
        label("label", "N.DP", 0, 25.4),
    )
    by_cli, own = both_ways(Project(root, {"c.kicad_sch": child}).write(tmp_path))
    assert_same(by_cli, own)
    assert joined(own, "X1.1", "A1.1")
    assert joined(own, "X2.1", "B1.1")
    assert not joined(own, "A1.1", "A2.1")


@pytest.mark.parametrize(
    ("extra", "is_joined"),
    [
        ([], False),
        ([junction(10.16, 0)], True),
        ([label("label", "L", 10.16, 0)], True),
        ([directive("C", 10.16, 0)], True),
    ],
    ids=["bare", "junction", "label", "directive"],
)
def test_a_wire_that_ends_in_the_middle_of_another(tmp_path: Path, extra: list[str], is_joined: bool) -> None:
    root = schematic(
        line("wire", 0, 0, 20.32, 0),
        symbol("T:ONE", "A1", 0, 0),
        line("wire", 10.16, 0, 10.16, 10.16),
        symbol("T:ONE", "B1", 10.16, 10.16),
        *extra,
    )
    by_cli, own = both_ways(Project(root).write(tmp_path))
    assert joined(own, "A1.1", "B1.1") is is_joined
    assert pin_sets(by_cli) == pin_sets(own)


def random_sheet(rng: random.Random, tag: str, paths: tuple[str, ...], size: int) -> list[str]:
    """Wires, pins, labels and power symbols on a small grid; wires are broken at junctions, as KiCad does."""

    def mm(step: int) -> float:
        return round(step * 2.54, 2)

    def place() -> tuple[int, int]:
        return rng.randrange(size), rng.randrange(size)

    junctions = {place() for _ in range(4)}
    items = [junction(mm(x), mm(y)) for x, y in sorted(junctions)]
    for _ in range(12):
        x, y = place()
        x2, y2 = (rng.randrange(size), y) if rng.random() < 0.5 else (x, rng.randrange(size))
        on_path = {(a, b) for a, b in junctions if min(x, x2) <= a <= max(x, x2) and min(y, y2) <= b <= max(y, y2)}
        points = sorted({(x, y), (x2, y2)} | on_path)
        items += [line("wire", mm(a), mm(b), mm(c), mm(d)) for (a, b), (c, d) in pairwise(points)]
    for k in range(12):
        x, y = place()
        library = rng.choice(["T:TWO", "T:TWO", "T:ONE", "T:QUAD", "T:NC", "T:STACK"])
        unit, body = (rng.choice([1, 2]), rng.choice([1, 2])) if library == "T:QUAD" else (1, 1)
        references = {path: f"{tag}{sheet_number}{k:02}" for sheet_number, path in enumerate(paths, 1)}
        items.append(
            symbol(
                library,
                f"{tag}{k}",
                mm(x),
                mm(y),
                rng.choice([0, 90, 180, 270]),
                rng.choice(["", "x", "y"]),
                unit,
                body,
                paths=references,
            )
        )
    kinds = ["label", "label", "global_label"] + (["hierarchical_label"] if tag != "R" else [])
    for _ in range(4):
        kind = rng.choice(kinds)
        names = {"global_label": ["GLOB"], "hierarchical_label": ["H1", "H2"]}.get(kind, ["N1", "N2", "N3"])
        name = rng.choice(names)
        items.append(label(kind, name, *map(mm, place())))
    x, y = place()
    powers = {path: f"#PWR{tag}{k}" for k, path in enumerate(paths, 1)}
    items.append(symbol("power:VP", f"#PWR{tag}", mm(x), mm(y), value="VP1", paths=powers))
    return items


@pytest.mark.parametrize("seed", range(24))
def test_random_drawings_join_what_kicad_joins(tmp_path: Path, seed: int) -> None:
    """Nets as sets of pins must equal kicad-cli's, or the drawing be refused by the own route."""
    rng = random.Random(seed)
    size = rng.choice([6, 8, 10])
    root = random_sheet(rng, "R", (sheet_path(),), size)
    columns = rng.sample(range(size), 2)
    for name, column in zip(("Left", "Right"), columns, strict=True):
        x = round(column * 2.54, 2)
        pins = [(text, x, round(rng.randrange(size) * 2.54, 2)) for text in ("H1", "H2")]
        root.append(sheet(name, "c.kicad_sch", x, 0, pins, size=40))
    child = random_sheet(rng, "C", BOTH, size)
    path = Project(schematic(*root), {"c.kicad_sch": schematic(*child, uuid_=uid("c"))}).write(tmp_path)
    by_cli = read_drawing(path, kicad_cli=Path(need("kicad-cli")))
    try:
        own = read_drawing(path, kicad_cli="none")
    except UnusableError as error:
        assert "stands where lines cross" in error.cause
        return
    assert by_cli.notices == ()
    assert pin_sets(by_cli) == pin_sets(own)
    assert [found.pins for found in by_cli.symbols] == [found.pins for found in own.symbols]
