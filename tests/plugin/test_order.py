"""The order list against sums made from the drawing by other means: the demo's own file, and random harnesses."""

from __future__ import annotations

import csv
import io
import random
import re
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from drawings import drawing, net, symbol

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.plugin import cli
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Drawing, Net, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings
from loadloom.plugin.order import is_labels, is_order, order_list, order_of
from loadloom.plugin.pipeline import analyse_drawing, settings_beside
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings
from loadloom.reports.order_list import OrderList, labels_csv
from loadloom.reports.page import _order

SOUND = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "sound" / "dome_power.kicad_sch"


def of(found: Drawing, settings: AnalysisSettings | None = None) -> OrderList:
    settings, drawn = settings or AnalysisSettings(), DrawingSettings()
    return order_list(found, settings, drawn, build_harness(found, settings, drawn))


def rows(order: OrderList, name: str) -> list[dict[str, object]]:
    table = order.table(name)
    return [{c.title: c.values[k] for c in table.columns} for k in range(table.rows)]


@pytest.fixture(scope="module")
def sound() -> OrderList:
    settings, drawn = read_settings(settings_beside(SOUND))
    found = read_drawing(SOUND, kicad_cli="none")
    return order_list(found, settings, drawn, build_harness(found, settings, drawn))


def placed(text: str) -> list[dict[str, str]]:
    """The symbols of a schematic's text with their properties, found by indentation alone."""
    found = []
    for block in re.findall(r"\n\t\(symbol\n.*?\n\t\)", text, re.S):
        library = re.search(r'\(lib_id "([^"]+)"\)', block)
        if library is not None:
            fields = dict(re.findall(r'\(property "([^"]+)" "([^"]*)"', block))
            found.append({**fields, "lib": library[1].partition(":")[2], "in_bom": block})
    return found


def test_lengths_of_the_demo_are_the_sums_of_its_own_file(sound: OrderList) -> None:
    """Wires as symbols are summed from the text of the sheets; the pier's sheet is used twice; wires drawn as nets
    are those of the net classes, whose lengths the settings state."""
    totals: Counter[str] = Counter()
    pieces: Counter[str] = Counter()
    for file, times in ((SOUND, 1), (SOUND.with_name("pier.kicad_sch"), 2)):
        for part in placed(file.read_text(encoding="utf-8")):
            if part["lib"].startswith("Wire"):
                size = part.get("Gauge") or part["Value"]
                number, unit = re.fullmatch(r"([\d.]+) (m|cm|mm)", part["Length"]).groups()  # type: ignore[union-attr]
                totals[size] += times * float(number) * {"m": 1.0, "cm": 0.01, "mm": 0.001}[unit]
                pieces[size] += times
    ordered = rows(sound, "Order wire")
    nets = [row for row in rows(sound, "Wire list") if str(row["Label"]).startswith("/")]
    for row in nets:
        totals[str(row["Size"])] += row["Length"]  # type: ignore[assignment,operator]
        pieces[str(row["Size"])] += 1
    assert len(nets) == 10  # counted on the sheet: four auxiliary pairs, and one of the computer
    wires = {str(r["Wire or cable"]): r for r in ordered if not str(r["Wire or cable"]).startswith("cable")}
    assert set(wires) == set(totals)
    for size, row in wires.items():
        assert row["Length as drawn"] == pytest.approx(totals[size]), size
        assert row["Pieces"] == pieces[size], size
        # 20 mm at either end of each piece, and a tenth: no less than the wire list's cut lengths come to.
        assert is_ordered(row, 1.1 * (totals[size] + 0.04 * pieces[size])), size


def is_ordered(row: dict[str, object], needed_m: float) -> bool:
    """Whether a row orders what is needed: no less, and less than a centimetre more."""
    return needed_m - 1e-6 <= float(str(row["To order"])) < needed_m + 0.01


def test_what_is_ordered_is_no_less_than_what_is_cut_and_tracks_come_with_their_board() -> None:
    cart = order_of(analyse_drawing(SOUND.parents[1] / "cart_flawed" / "cart.kicad_sch"))
    cut: Counter[str] = Counter()
    for row in rows(cart, "Wire list"):
        if not row["Cable"]:
            cut[str(row["Size"])] += float(str(row["Cut length"]))  # type: ignore[assignment]
    for row in rows(cart, "Order wire"):
        if not str(row["Wire or cable"]).startswith("cable"):
            assert is_ordered(row, 1.1 * cut[str(row["Wire or cable"])])
    assert not [row for row in rows(cart, "Wire list") if str(row["Label"]).startswith("TR")]


def test_a_wire_that_ends_on_a_bus_lands_in_no_contact(sound: OrderList) -> None:
    """W2 of 6 mm² ends where P3, P4 and P5 are joined, whose contacts take 4 mm² at most."""
    landed = {str(row["For"]): row["Wires that land there"] for row in rows(sound, "Order contacts")}
    assert "6 mm²" not in landed["P3"]


def test_fuses_and_housings_of_the_demo_are_counted_as_its_file_has_them(sound: OrderList) -> None:
    fuses: Counter[str] = Counter()
    halves: Counter[str] = Counter()
    for file, times in ((SOUND, 1), (SOUND.with_name("pier.kicad_sch"), 2)):
        for part in placed(file.read_text(encoding="utf-8")):
            if part["lib"] == "Fuse":
                fuses[part["Value"]] += times
            if part["lib"].startswith(("Plug", "Socket")):
                halves[part["lib"].partition("_")[0]] += times
    ordered: Counter[str] = Counter()
    for row in rows(sound, "Order devices"):
        ordered[str(row["Rating"])] += row["Pieces"]  # type: ignore[assignment,operator]
    assert ordered == fuses
    housings: Counter[str] = Counter()
    for row in rows(sound, "Order contacts"):
        housings[str(row["Housing"])] += row["Housings"]  # type: ignore[assignment,operator]
        used = row["Contacts"] + row["Spare positions"]  # type: ignore[operator]
        assert used == row["Housings"] * row["Positions"]  # type: ignore[operator]
    assert housings == halves


SIZES = ("0.5 mm²", "0.75 mm²", "1.5 mm²", "18 AWG", "14 AWG")
COLOURS = ("red", "black", "", "blue")


def random_harness(rng: random.Random) -> tuple[list[Symbol], list[Net], Counter[tuple[str, str]], dict[str, int]]:
    """An output feeds loads through connectors, fuses and wires; what it takes is summed while it is drawn."""
    symbols = [symbol("PS1", "output", Voltage="12 V", Limit="20 A")]
    nets: dict[str, list[str]] = {"plus": ["PS1.1"], "minus": ["PS1.2"]}
    lengths: Counter[tuple[str, str]] = Counter()
    counts = {"contacts": 0, "spare": 0, "fuses": 0, "wires": 0, "unknown": 0}
    number = 0

    def wire(a: str, b: str) -> None:
        nonlocal number
        number += 1
        size, colour = rng.choice(SIZES), rng.choice(COLOURS)
        length = rng.choice((None, rng.randint(1, 400) / 100))
        more = {} if length is None else {"Length": f"{length} m"}
        more |= {"Colour": colour} if colour else {}
        symbols.append(symbol(f"W{number}", "wire", value=size, Insulation="PVC 70 °C", fields=more))
        nets[a].append(f"W{number}.1")
        nets[b].append(f"W{number}.2")
        lengths[size, colour] += length or 0.0  # type: ignore[assignment]
        counts["wires"] += 1
        counts["unknown"] += length is None

    for k in range(1, rng.randint(2, 5)):
        positions = rng.randint(2, 6)
        symbols.append(symbol(f"P{k}", "connector", pins=positions, Contact="blade-6.3", Mates=f"J{k}"))
        symbols.append(symbol(f"J{k}", "connector", pins=positions))
        for pin, rail in ((1, "plus"), (2, "minus")):
            nets[f"p{k}.{pin}"] = [f"P{k}.{pin}"]
            nets[f"l{k}.{pin}"] = [f"J{k}.{pin}", f"L{k}.{pin}"]
            if pin == 1 and rng.random() < 0.7:
                symbols.append(symbol(f"F{k}", "fuse", value="5 A"))
                nets[rail].append(f"F{k}.1")
                nets[f"f{k}"] = [f"F{k}.2"]
                counts["fuses"] += 1
                wire(f"f{k}", f"p{k}.{pin}")
            else:
                wire(rail, f"p{k}.{pin}")
        symbols.append(symbol(f"L{k}", "load", value="2 A"))
        counts["contacts"] += 4
        counts["spare"] += 2 * (positions - 2)
    return symbols, [net(" ".join(pins), name) for name, pins in nets.items()], lengths, counts


@pytest.mark.parametrize("seed", range(20))
def test_random_harnesses_take_what_they_were_drawn_from(seed: int) -> None:
    symbols, nets, lengths, counts = random_harness(random.Random(seed))
    order = of(drawing(symbols, nets))
    found: Counter[tuple[str, str]] = Counter()
    for row in rows(order, "Order wire"):
        found[str(row["Wire or cable"]), str(row["Colour"])] += row["Length as drawn"]  # type: ignore[assignment,operator]
    unknown = sum(r["Without a length"] for r in rows(order, "Order wire"))  # type: ignore[misc,operator]
    assert unknown == counts["unknown"]
    assert set(found) == set(lengths)
    for key, total in lengths.items():
        assert found[key] == pytest.approx(total), key
    contacts = rows(order, "Order contacts")
    assert sum(r["Contacts"] for r in contacts) == counts["contacts"]  # type: ignore[misc]
    assert sum(r["Spare positions"] for r in contacts) == counts["spare"]  # type: ignore[misc]
    assert {r["Contact family"] for r in contacts} == {"blade-6.3"}
    assert sum(r["Pieces"] for r in rows(order, "Order devices")) == counts["fuses"]  # type: ignore[misc]
    assert len(rows(order, "Wire list")) == counts["wires"] and len(order.labels) == 2 * counts["wires"]


def test_the_users_own_fields_are_carried_through() -> None:
    symbols = [
        symbol("PS1", "output", Voltage="12 V", Limit="5 A"),
        symbol(
            "W1", "wire", value="1 mm²", Length="2 m", Colour="red", fields={"Part number": "4711", "Shelf": "B2"}
        ),
        symbol("F1", "fuse", value="5 A", fields={"Part number": "815", "Shelf": "C1"}),
        symbol("L1", "load", value="2 A"),
    ]
    nets = [net("PS1.1 F1.1"), net("F1.2 W1.1"), net("W1.2 L1.1"), net("L1.2 PS1.2")]
    order = of(drawing(symbols, nets))
    (wire,) = rows(order, "Order wire")
    assert (wire["Colour"], wire["Part number"]) == ("red", "4711")
    (listed,) = rows(order, "Wire list")
    assert listed["Shelf"] == "B2" and listed["From"] == "F1.2" and listed["To"] == "L1.1"
    assert listed["Cut length"] == pytest.approx(2.04)
    (fuse,) = rows(order, "Order devices")
    assert (fuse["Part number"], fuse["Shelf"], fuse["Rating"]) == ("815", "C1", "5 A")


def test_what_is_not_fitted_is_not_ordered() -> None:
    symbols = [
        symbol("PS1", "output", Voltage="12 V", Limit="5 A"),
        symbol("W1", "wire", value="1 mm²", Length="2 m"),
        symbol("W2", "wire", value="1 mm²", Length="7 m", dnp=True),
        symbol("L1", "load", value="2 A"),
    ]
    nets = [net("PS1.1 W1.1 W2.1"), net("W1.2 W2.2 L1.1"), net("L1.2 PS1.2")]
    (wire,) = rows(of(drawing(symbols, nets)), "Order wire")
    assert wire["Length as drawn"] == 2.0


def test_one_wire_spelt_in_several_ways_is_one_row_to_order() -> None:
    """1.2 + 3 + 4.2 m of one red wire; another part number is another wire."""
    texts = [
        ("PVC 70°C", "red", "A"),
        ("PVC 70 °C", "Red", "A"),
        ("pvc 70 °C", "red ", "A"),
        ("PVC 70 °C", "red", "B"),
    ]
    lengths = ("1.2 m", "3 m", "4.2 m", "5 m")
    symbols = [symbol("PS1", "output", Voltage="12 V", Limit="5 A"), symbol("L1", "load", value="2 A")]
    for number, ((insulation, colour, part), length) in enumerate(zip(texts, lengths, strict=True), 1):
        own = {"Insulation": insulation, "Colour": colour, "Part number": part}
        symbols.append(symbol(f"W{number}", "wire", value="1 mm²", Length=length, **own))
    nets = [net("PS1.1 W1.1 W2.1"), net("W1.2 W2.2 L1.1"), net("L1.2 W3.1 W4.1"), net("PS1.2 W3.2 W4.2")]
    listed = {r["Part number"]: r for r in rows(of(drawing(symbols, nets)), "Order wire")}
    assert {name: row["Pieces"] for name, row in listed.items()} == {"A": 3, "B": 1}
    assert listed["A"]["Length as drawn"] == pytest.approx(8.4)


def test_a_cable_is_ordered_once_and_settings_stand_by_arrangement(sound: OrderList) -> None:
    cables = [r for r in rows(sound, "Order wire") if str(r["Wire or cable"]).startswith("cable")]
    named = [name for row in cables for name in str(row["For"]).split(", ")]
    assert sorted(named) == ["C1", "C2", "C3", "C4", "C5"]
    channel = {r["Arrangement"]: r for r in rows(sound, "Settings list") if r["Part"] == "CH1"}
    assert channel["as drawn"]["Trip"] == "20 A" and channel["as drawn"]["Tolerance"] == "±10 %"
    assert channel["as drawn"]["Delay"] == "30 ms"
    # The settings of this drawing have no pooled load case: who sets the channels so leaves what was judged.
    assert list(channel) == ["as drawn", "pooled, NOT judged"]
    assert channel["pooled, NOT judged"]["Trip"] == "none: does nothing"
    assert "the verdict says nothing of these settings" in sound.table("Settings list").note


def test_what_is_drawn_is_not_judged_where_every_case_has_another_arrangement() -> None:
    symbols = [
        symbol("PS1", "output", Voltage="12 V", Limit="5 A", **{"Limit@split": "3 A"}),
        symbol("W1", "wire", value="1 mm²", Length="2 m"),
        symbol("L1", "load", value="2 A"),
    ]
    nets = [net("PS1.1 W1.1"), net("W1.2 L1.1"), net("L1.2 PS1.2")]
    drawn = drawing(symbols, nets)
    listed = [r["Arrangement"] for r in rows(of(drawn), "Settings list")]
    assert listed == ["as drawn", "split"]
    split = AnalysisSettings(cases=(Case("split", None, "split"),))
    listed = [r["Arrangement"] for r in rows(of(drawn, split), "Settings list")]
    assert listed == ["as drawn, NOT judged", "split"]


def test_labels_are_csv_that_no_spreadsheet_takes_for_formulas(sound: OrderList) -> None:
    read = list(csv.reader(io.StringIO(labels_csv(sound).decode())))
    assert read[0] == ["Label", "Here", "There"] and len(read) == 1 + 2 * 64
    order = OrderList((), (("=1+1", "A.1", "B.2"),))
    assert "'=1+1" in labels_csv(order).decode()


def test_the_command_line_writes_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = SOUND.parents[2] / "case_15_chain"
    drawn = next(root.glob("*.kicad_sch"))
    files = [tmp_path / name for name in ("order.xlsx", "cart_labels.csv", "review.xlsx")]
    cli.main(["report", str(drawn), "--fail-on", "never", *(a for f in files for a in ("-o", str(f)))])
    capsys.readouterr()
    order = openpyxl.load_workbook(files[0])
    assert order.sheetnames == [
        "Order wire",
        "Order contacts",
        "Contacts in all",
        "Order devices",
        "Settings list",
        "Wire list",
        "Labels",
    ]
    review = openpyxl.load_workbook(files[2])
    assert set(order.sheetnames) <= set(review.sheetnames)
    assert files[1].read_text(encoding="utf-8").startswith("Label,Here,There")
    assert is_order(files[0]) and not is_order(files[2]) and is_labels(files[1]) and not is_labels(files[0])


def test_one_reading_serves_report_order_list_labels_and_wire_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A drawing that is saved anew while a run lasts can't get into one of its files and not into the others."""
    drawn = next((SOUND.parents[2] / "case_15_chain").glob("*.kicad_sch"))
    read: list[Path] = []

    def counted(path: Path, *more: object) -> Drawing:
        read.append(path)
        return read_drawing(path, *more)  # type: ignore[arg-type]

    monkeypatch.setattr("loadloom.plugin.reading.read_drawing", counted)
    files = [tmp_path / n for n in ("r.html", "r.xlsx", "r.json", "order.xlsx", "labels.csv", "wires.csv")]
    asked = ["--set", "W1.Length=3 m", "--fail-on", "never"]
    assert cli.main(["report", str(drawn), *asked, *(a for f in files for a in ("-o", str(f)))]) == 0
    capsys.readouterr()
    assert read == [drawn]
    wires = {str(r[0].value): r for r in openpyxl.load_workbook(files[3])["Wire list"].iter_rows()}
    assert any(cell.value == 3 for cell in wires["W1"])  # what is tried stands in every file
    assert "\nW1,PS1.1,L1.1,4 mm²,3 m," in files[5].read_text(encoding="utf-8").replace("\r", "")


def test_the_page_says_how_much_of_each_wire_to_order(sound: OrderList) -> None:
    """The same tables as in the workbook, without the labels; a length to order is the cut one and a tenth."""
    found = {table["name"]: table for table in _order(sound, Verdict.PASS)}
    assert "Labels" not in found
    wire = {column["title"]: column["values"] for column in found["Order wire"]["columns"]}
    sizes = rows(sound, "Order wire")
    assert wire["Wire or cable"] == [row["Wire or cable"] for row in sizes]
    assert wire["To order, m"] == [row["To order"] for row in sizes]
    assert all(is_ordered(row, 1.1 * float(str(row["Cut length"]))) for row in sizes)
    # How much to order stands right behind what it is.
    titles = list(wire)
    assert titles.index("To order, m") < titles.index("Pieces")
    assert found["Order wire"]["note"].startswith(
        "Each conductor counts with its own drawn length, feed and return apart"
    )
    assert _order(sound, Verdict.FAIL)[0]["note"].startswith("FAIL: these are the parts as drawn")


def test_contacts_in_all_are_those_of_the_housings_by_family_and_by_wire(sound: OrderList) -> None:
    """The contacts of the drawing's own connectors are counted once by housing and once by what is crimped in."""
    by_family: dict[object, int] = defaultdict(int)
    for row in rows(sound, "Order contacts"):
        by_family[row["Contact family"]] += int(str(row["Contacts"]))
    in_all: dict[object, int] = defaultdict(int)
    for row in rows(sound, "Contacts in all"):
        in_all[row["Contact family"]] += int(str(row["Contacts"]))
        low, high = (float(x) for x in str(row["Crimp range"]).removesuffix(" mm²").split(" to "))
        sizes = [
            float(size.removesuffix(" mm²")) for size in str(row["Wire in it"]).split(" + ") if size != "no wire"
        ]
        # The sound demo has no finding crimp-range.
        assert not sizes or (low <= sum(sizes) * 1.001 and sum(sizes) <= high * 1.001)
    assert in_all == by_family and sum(in_all.values()) > 60


def test_the_settings_list_says_the_range_and_why(demo_results: Callable[[str], Results]) -> None:
    """CH1 of the sound demo carries 10.7 A: at 0.9 of its setting it needs 11.9 A; W20 is allowed 24.6 A, which it
    reaches at 1.1 times 22.36 A: 22.3 A, since 22.4 A would be too much.
    """
    settings, drawn = read_settings(settings_beside(SOUND))
    found = read_drawing(SOUND, kicad_cli="none")
    order = order_list(found, settings, drawn, build_harness(found, settings, drawn), demo_results("sound"))
    row = next(row for row in rows(order, "Settings list") if row["Part"] == "CH1")
    assert row["Setting range"] == "11.9 to 22.3 A"
    assert str(row["Why"]).startswith("from: 10.7 A in slew ÷ 0.9") and "to: 24.6 A allowed on W20" in str(
        row["Why"]
    )
    assert "Trip@pooled" in order.table("Settings list").note
