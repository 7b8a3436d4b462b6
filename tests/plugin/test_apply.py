"""Proposals written into a copy: KiCad opens it, only those fields change, and its analysis is as promised."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from programs import need
from shared_results import once, shared_folder
from small_project import write_twice_used_sheet
from wired import limiter

from loadloom.graph.model.elements import Band
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.sizing.judging import OF_CONDUCTORS
from loadloom.plugin.advise import AdvisedDrawing, advise_drawing, shared
from loadloom.plugin.apply import Applied, apply_advice, proposed_fields
from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.proposed_fields import setting_text
from loadloom.plugin.settings_edit import Edit, edited
from loadloom.plugin.splicing import SchematicText
from loadloom.plugin.values import current_band_a
from loadloom.reports.advice_tables import headline

FLAWED = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "flawed" / "dome_power.kicad_sch"
DATE = "2026-01-01"
OWN_TABLE = """size,allowed_a,ambient_c,insulation_c,note
0.75 mm²,4,40,70,"house rule, invented"
1.5 mm²,8,40,70,"house rule, invented"
2.5 mm²,12,40,70,"house rule, invented"
"""
LONG_NAMES = ("Contact resistance", "Voltage rating", "Breaking capacity")


def keys(results: Results) -> set[tuple[str, str]]:
    return {(f.rule, f.subject.id) for f in results.findings if f.accepted is None}


def fields_of(file: Path) -> dict[str, dict[str, str]]:
    """Fields by uuid of the placed symbol."""
    text = SchematicText(file)
    return {
        text.child_text(span, "uuid") or "": {n: text.text(p.items[2]) for n, p in text.properties(span).items()}
        for span in text.symbols()
    }


@pytest.fixture(scope="module")
def flawed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, AdvisedDrawing, Applied]:
    """The flawed demo, advised and applied: once for the whole run, which takes one worker two minutes."""
    folder = shared_folder(tmp_path_factory) / "flawed"

    def made() -> tuple[Path, AdvisedDrawing, Applied]:
        shutil.copytree(FLAWED.parent, folder / "drawn")
        source = folder / "drawn" / FLAWED.name
        found = advise_drawing(source, date=DATE)
        return source, found, apply_advice(found, source, folder / "copy")

    return once(folder, "applied", made)


@pytest.fixture(scope="module")
def again(flawed: tuple[Path, AdvisedDrawing, Applied]) -> Results:
    """The analysis of the copy."""
    source, _, _ = flawed
    folder = source.parents[1]
    return once(folder, "again", lambda: analyse_file(folder / "copy" / source.name, date=DATE))


def test_analysis_of_the_copy_is_what_was_promised(
    flawed: tuple[Path, AdvisedDrawing, Applied], again: Results
) -> None:
    """Sizes and settings went into the drawing: reading it again finds the same harness with the same findings, and
    it passes.
    """
    _, found, _ = flawed
    assert again.verdict is Verdict.PASS
    advice = found.advised.advice
    assert {c.id: c.gauge for c in again.conductors} == {row.id: row.proposed for row in advice.sizes}
    plain = [s for s in advice.devices if s.arrangement is None]
    settings = {s.id: s.proposed_a if s.proposed_a is not None else s.drawn_a for s in plain}
    written = {d.id: d.setting_a for d in again.devices} | {o.id: o.trip_a for o in again.outputs}
    assert {name: written[name] for name in settings} == pytest.approx(settings)
    families = {f.connector: f.proposed for f in advice.families if f.changed}
    assert {c.connector: c.contact_type for c in again.contacts if c.connector in families} == families
    assert keys(again) == {(f.rule, f.subject.id) for f in advice.remaining}


@pytest.mark.parametrize(
    "case", ["case_04_pooled_or_split", "case_14_common_return", "case_32_power_tree", "stock_symbols"]
)
def test_copies_of_small_drawings_are_what_was_promised(
    case: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every current, allowed current and setting of the review is found again in the copy, read anew.

    Case 4 has a channel that is off when pooled and that no setting could turn on (it carries 50 A, its contacts
    are allowed 11 A); case 14 has channels of 10 A +45/-0 %, which come down. Stock symbols pass as drawn,
    with a fuse known by gates alone that thinner wire would leave open.
    """
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    source = FLAWED.parents[2] / case / "harness.kicad_sch"
    found = advise_drawing(source, date=DATE)
    apply_advice(found, source, tmp_path / "copy")
    promised, read = found.advised.results, analyse_file(tmp_path / "copy" / source.name, date=DATE)
    assert (read.verdict, keys(read)) == (promised.verdict, keys(promised))
    assert promised.verdict is Verdict.PASS or found.advised.advice.verdict_drawn is not Verdict.PASS
    for table in ("conductors", "contacts"):
        for there, here in zip(getattr(promised, table), getattr(read, table), strict=True):
            for number in ("current_a", "allowed_a", "sustained_fault_a", "combined_overload_a"):
                assert getattr(here, number) == pytest.approx(getattr(there, number), rel=1e-6), (here.id, number)
    assert [(d.id, d.setting_a) for d in read.devices] == [(d.id, d.setting_a) for d in promised.devices]


STATED = (
    # the rating stands in a table of the part, in one that a pattern gives, and in the rule for its library symbol
    ('"Device:Fuse" = "fuse"', '[part.F1]\nrating = "40 A" # too much\n'),
    ('"Device:Fuse" = "fuse"', '[part."F?"]\nrole = "fuse"\n"rating" = "40 A"\nvoltage_rating = "60 V"\n'),
    ('"Device:Fuse" = { role = "fuse", rating = "40 A" }', ""),
)


@pytest.mark.parametrize(("rule", "part"), STATED)
def test_what_the_settings_state_is_proposed_there(
    rule: str, part: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Settings stand before the drawing: a fuse of 40 A by them stays one of 40 A if only the symbol says 10 A.

    The sizes of both nets come from one pattern as well, whose bundle has to hold on in the copy.
    """
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    stock = FLAWED.parents[2] / "stock_symbols"
    shutil.copytree(stock, tmp_path / "drawn")
    text = (stock / "loadloom.toml").read_text(encoding="utf-8").replace('"Device:Fuse" = "fuse"', rule)
    text = text.replace('[net."/LEAD-"]\nlength = "3 m"\n', "").replace("/LEAD+", "/LEAD*")
    text = text.replace('length = "3 m"', 'length = "3 m"\nbundle = "B1"')
    (tmp_path / "drawn" / "loadloom.toml").write_text(f"{text}\n{part}", encoding="utf-8")
    source = tmp_path / "drawn" / "harness.kicad_sch"
    found = advise_drawing(source, date=DATE)
    apply_advice(found, source, tmp_path / "copy")
    promised, read = found.advised.results, analyse_file(tmp_path / "copy" / source.name, date=DATE)
    # The proposal is judged with what the drawing says beside the settings, which the copy no longer contradicts.
    assert keys(read) == keys(promised) - {("fields-contradict", "F1")}
    assert read.devices[0].setting_a == promised.devices[0].setting_a
    assert read.devices[0].setting_a is not None and read.devices[0].setting_a < 40.0
    lines = [(c.id, c.gauge, c.bundle, c.length_m, c.allowed_a) for c in read.conductors]
    assert lines == [(c.id, c.gauge, c.bundle, c.length_m, c.allowed_a) for c in promised.conductors]
    assert {c.bundle for c in read.conductors} == {"B1"}


@pytest.mark.parametrize(
    "table", ['[net]\n"/A" = { gauge = "1 mm²" }\n', 'net."/A".gauge = "1 mm²"\n', "[net]\n'/A'.gauge = '1 mm²'\n"]
)
def test_a_value_on_one_line_with_its_table_is_refused(table: str) -> None:
    """A second table of the same name would make the copy's settings unreadable."""
    with pytest.raises(UnusableError, match="can't be replaced"):
        edited(table, [Edit("net", ("/A", "A"), "gauge", "2.5 mm²", lambda key: key == "gauge")])


@pytest.mark.parametrize("above", [0.0, 0.05, 0.45])
@pytest.mark.parametrize("below", [0.0, 0.05, 0.1])
def test_a_setting_is_written_so_that_it_is_read_back(above: float, below: float) -> None:
    """Whatever rounding scaling leaves in a band: the text gives the same three currents to a millionth."""
    for drawn_a, set_a in ((10.0, 3.4), (3.0, 0.7), (0.1, 23.1), (40.0, 12.9)):
        scale = set_a / drawn_a
        band = Band(set_a, drawn_a * (1.0 - below) * scale, drawn_a * (1.0 + above) * scale)
        device = limiter("CH1", "a", "b", band)
        again = current_band_a(setting_text(device))
        assert (again.nominal, again.lower, again.upper) == pytest.approx((band.nominal, band.lower, band.upper))


def test_nothing_that_sizes_can_mend_is_left(flawed: tuple[Path, AdvisedDrawing, Applied], again: Results) -> None:
    """What remains of the rules that sizes answer for is listed, with what would mend it."""
    _, found, _ = flawed
    advice = found.advised.advice
    conductors = {c.id for c in again.conductors} | {load.id for load in again.loads}
    left = {(row.rule, row.subject) for row in advice.left}
    sized = {(r, s) for r, s in keys(again) if r in OF_CONDUCTORS and s in conductors}
    assert sized <= left
    assert all(row.remedy for row in advice.left)
    mended = {(f.rule, f.subject.id) for f in advice.mended}
    # Every error that is planted, and what else its README names but what a lid or a reason answers for.
    assert not [f for f in advice.remaining if f.severity is Severity.ERROR]
    planted = {
        *(("path-unprotected", name) for name in ("C3.1", "W10", "W12", "C1.1", "C2.1", "W20", "W22", "W111")),
        *(("path-unprotected", name) for name in ("W3", "W4", "W6", "W8")),
        *(("damage-before-clearing", name) for name in ("W1", "W3", "W4")),
        *(("voltage-low", name) for name in ("L5", "L6")),
        *(("rule-book", name) for name in ("W5", "W7")),
        *(("wire-overload", "W1"), ("return-overload", "W2"), ("output-overload", "BT1")),
        *(("fault-never-cleared", "C3.1"), ("fuse-above-wire", "FU5"), ("device-never-opens", "FU9")),
        *(("contact-unprotected", name) for name in ("P1.1", "P2.3", "P4.1", "P101.1", "P201.4")),
        *(("contact-overload", "P1.1"), ("uneven-sharing", "P1.1"), ("open-circuit-overload", "P1.2")),
        *(("return-overload", "P2.3"), ("no-setting-range", "CH1"), ("limiter-would-trip", "CH2")),
        *(("breaking-capacity", "FU7"), ("voltage-rating", "FU10"), ("fuse-would-open", "FU1")),
        *(("not-selective", "FU5"), ("overload-band", "W7"), ("combined-overload", "W5")),
        *(("nuisance-opening", "FU105"), ("back-feed", "PS2")),
    }
    assert planted <= mended


def test_only_proposed_fields_differ(flawed: tuple[Path, AdvisedDrawing, Applied]) -> None:
    source, found, _ = flawed
    proposed = proposed_fields(found)
    by_uuid = {uuid: s.reference for s in found.drawing.symbols for uuid in s.uuids}
    for sheet in ("dome_power.kicad_sch", "pier.kicad_sch"):
        before = fields_of(source.parent / sheet)
        after = fields_of(source.parents[1] / "copy" / sheet)
        assert before.keys() == after.keys()
        for uuid, fields in after.items():
            changed = {n for n, text in fields.items() if before[uuid].get(n) != text}
            allowed = set(proposed.get(by_uuid.get(uuid, ""), {}))
            assert changed <= allowed and before[uuid].keys() <= fields.keys(), (uuid, changed, allowed)
        plain, copy = (
            p.read_text(encoding="utf-8") for p in (source.parent / sheet, source.parents[1] / "copy" / sheet)
        )
        names = "|".join((*("Gauge", "Value", "Rating", "Trip", "Limit", "Contact", "State"), *LONG_NAMES))
        strip = re.compile(rf'\(property "({names})([.@]\w+)?" "[^"]*"')
        assert strip.sub("", plain) == strip.sub("", copy)


def test_kicad_opens_the_copy(flawed: tuple[Path, AdvisedDrawing, Applied], tmp_path: Path) -> None:
    """As many complaints of KiCad's own rule check as about the drawing itself."""
    source, _, _ = flawed
    counts = []
    for file in (source, source.parents[1] / "copy" / source.name):
        report = tmp_path / "erc.json"
        command = [need("kicad-cli"), "sch", "erc", "--format", "json", "-o", str(report), str(file)]
        subprocess.run(command, check=True, capture_output=True, timeout=120)
        sheets = json.loads(report.read_text(encoding="utf-8"))["sheets"]
        counts.append(sorted(v["type"] for sheet in sheets for v in sheet["violations"]))
    assert counts[0] == counts[1]


def test_instances_of_one_sheet_share_their_size(tmp_path: Path) -> None:
    """Branch A hangs on 20 m and branch B on 1 m: the one field of their sheet gets what branch A needs."""
    source = write_twice_used_sheet(tmp_path)
    sheet = source.with_name("branch.kicad_sch")
    sheet.write_text(sheet.read_text(encoding="utf-8").replace('"Rating" "10 A"', '"Rating" ""'), encoding="utf-8")
    found = advise_drawing(source, date=DATE)
    groups = list(shared(found.drawing, found.harness))
    assert groups and all(len(group) == 2 for group in groups)
    sizes = {row.id: row.proposed for row in found.advised.advice.sizes}
    for group in groups:
        assert len({sizes[name] for name in group if name in sizes}) <= 1
    apply_advice(found, source, tmp_path / "copy")
    again = analyse_file(tmp_path / "copy" / source.name, date=DATE)
    assert {c.id: c.gauge for c in again.conductors} == sizes


@pytest.mark.parametrize(
    "tried",
    [("L101.Load=60 W", "L201.Load=60 W"), ("W1.Gauge=4 mm²",), ("W1.Gauge=",), ("W1.Gauge=16",), ("W1.Gauge=x",)],
)
def test_a_copy_holds_what_was_tried_as_it_was_tried(
    tried: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Wires say their size in ``Value``: what is tried in its stead stands there, not beside it.

    The outside check is the copy itself, read anew: it must give the findings and currents that were promised.
    """
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    (tmp_path / "drawn").mkdir()
    source = write_twice_used_sheet(tmp_path / "drawn")
    found = advise_drawing(source, date=DATE, what_if=tried)
    apply_advice(found, source, tmp_path / "copy")
    promised, read = found.advised.results, analyse_file(tmp_path / "copy" / source.name, date=DATE)
    assert (read.verdict, keys(read)) == (promised.verdict, keys(promised))
    for there, here in zip(promised.conductors, read.conductors, strict=True):
        assert (here.id, here.gauge) == (there.id, there.gauge)
        assert here.current_a == pytest.approx(there.current_a, rel=1e-6)


@pytest.mark.parametrize("tried", ["L101.Load=160 W", "L101.Load@slew=60 W", "W201.Gauge=4 mm²"])
def test_a_trial_on_one_instance_of_a_sheet_is_not_written_for_all(
    tried: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One symbol, drawn once on a sheet used twice, can't hold 160 W for L101 and 48 W for L201: a copy would
    draw 160 W at both, 13.3 A of 24 V where the promise says 8.7 A.
    """
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")
    (tmp_path / "drawn").mkdir()
    source = write_twice_used_sheet(tmp_path / "drawn")
    found = advise_drawing(source, date=DATE, what_if=(tried,))
    with pytest.raises(UnusableError, match="one symbol on a sheet that is used several times"):
        apply_advice(found, source, tmp_path / "copy")
    assert not (tmp_path / "copy").exists()


def test_command_line_refuses_and_writes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source = write_twice_used_sheet(tmp_path)
    before = source.read_bytes()
    assert main(["size", str(source), "--apply", str(source)]) == 2
    assert main(["size", str(source), "-o", str(tmp_path / "x.pdf")]) == 2
    outputs = [tmp_path / f"advice{suffix}" for suffix in (".json", ".html", ".xlsx")]
    options = [text for output in outputs for text in ("-o", str(output))]
    options += ["--apply", str(tmp_path / "copy" / "other.kicad_sch"), "--set", "FU1.Rating=5 A"]
    assert main(["size", str(source), *options, "--fail-on", "never"]) == 0
    said = capsys.readouterr().out
    assert "as proposed" in said and "other.kicad_sch" in said
    assert all(output.stat().st_size > 1000 for output in outputs)
    document = json.loads(outputs[0].read_text(encoding="utf-8"))
    assert document["format"] == "loadloom-advice"
    assert document["settings"]["what_if"][0]["part"] == "FU1"
    assert document["assumptions"][0].startswith("The settings name no stocked_sizes")
    assert source.read_bytes() == before and (tmp_path / "copy" / "other.kicad_sch").is_file()
    # What was tried is part of what was proposed, so that it is in the copy as well.
    written = {d.id: d.setting_a for d in analyse_file(tmp_path / "copy" / "other.kicad_sch", date=DATE).devices}
    assert written == {d["id"]: d["proposed_a"] or d["drawn_a"] for d in document["devices"]}
    assert written["FU1"] == 5.0
    with pytest.raises(UnusableError):
        apply_advice(advise_drawing(source, date=DATE), source, source)


def test_the_copy_is_there_though_the_reader_of_the_terminal_went_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: object) -> None:
        raise BrokenPipeError

    monkeypatch.setattr("loadloom.reports.advice.print_advice", gone)
    monkeypatch.setattr("loadloom.plugin.cli._print_no_more", lambda: None)
    source, copy = write_twice_used_sheet(tmp_path), tmp_path / "copy"
    assert main(["size", str(source), "--apply", str(copy)]) == 2
    assert (copy / source.name).is_file()


def test_settings_from_elsewhere_go_with_the_copy(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """``--settings`` with a table beside it: the copy is read by them without the option, and is as promised."""
    source = write_twice_used_sheet(tmp_path)
    for sheet in (source, source.with_name("branch.kicad_sch")):
        sheet.write_text(
            sheet.read_text(encoding="utf-8").replace('"Rating" "10 A"', '"Rating" ""'), encoding="utf-8"
        )
    house = tmp_path / "house"
    house.mkdir()
    (house / "own.csv").write_text(OWN_TABLE, encoding="utf-8")
    settings = house / "rules of the house.toml"
    settings.write_text(
        'basis = "own-table"\nampacity_table = "own.csv"\nstocked_sizes = ["0.75 mm²", "1.5 mm²", "2.5 mm²"]\n',
        encoding="utf-8",
    )
    output = tmp_path / "advice.json"
    words = ["size", str(source), "--settings", str(settings), "-o", str(output), "--apply", str(tmp_path / "copy")]
    assert main([*words, "--fail-on", "never"]) == 0
    assert "copied to" in capsys.readouterr().out
    assert not (tmp_path / "loadloom.toml").exists()
    sizes = {row["id"]: row["proposed"] for row in json.loads(output.read_text(encoding="utf-8"))["sizes"]}
    assert set(sizes.values()) <= {"0.75 mm²", "1.5 mm²", "2.5 mm²"}
    again = analyse_file(tmp_path / "copy" / source.name, date=DATE)
    assert {row.id: row.gauge for row in again.conductors} == sizes
    ratings = [row.rating for row in again.conductors if row.rating is not None]
    assert len(ratings) == len(sizes)
    assert {(r.source, r.base_a in (4.0, 8.0, 12.0)) for r in ratings} == {("stated by the user", True)}


def table_of_the_story(story: str) -> dict[str, tuple[str, str]]:
    """By part, with ``(pooled)`` behind it for that arrangement: what is drawn and what is proposed."""
    rows = [line.strip("|").split("|") for line in story.splitlines() if line.startswith("| ")]
    cells = [[cell.strip() for cell in row] for row in rows if len(row) == 4][1:]
    return {name: (drawn, proposed) for names, drawn, proposed, _ in cells for name in names.split(", ")}


def test_numbers_of_the_story_are_those_of_the_tool(
    flawed: tuple[Path, AdvisedDrawing, Applied], demo_results: Callable[[str], Results]
) -> None:
    """What ``STORY.md`` says about the demo is what comes out."""
    _, found, _ = flawed
    story = (FLAWED.parents[1] / "STORY.md").read_text(encoding="utf-8")
    flat = " ".join(story.replace("\n>", " ").split())
    drawn, advice = demo_results("flawed"), found.advised.advice
    counts = f"{drawn.count(Severity.ERROR)} errors and {drawn.count(Severity.WARNING)} warnings"
    assert drawn.verdict is Verdict.FAIL and counts in flat
    assert headline(advice) in flat
    readme = (FLAWED.parents[3] / "README.md").read_text(encoding="utf-8")
    assert headline(advice) in " ".join(readme.replace("\n>", " ").split())
    for name, words in (
        ("W3", "can be made to carry {} continuously, {} times its allowed {}"),
        ("C1.1", "can be made to carry the same {}, {} times its allowed {}"),
    ):
        row = next(row for row in drawn.conductors if row.id == name)
        assert row.sustained_fault_a is not None and row.allowed_a is not None
        share = figures(row.sustained_fault_a / row.allowed_a)
        assert words.format(f"{figures(row.sustained_fault_a)} A", share, f"{figures(row.allowed_a)} A") in flat
    contact = next(row for row in drawn.contacts if row.id == "P1.1")
    assert f"carries {figures(contact.current_a)} A where {figures(contact.allowed_a)} A are allowed" in flat
    assert {f.rule for f in advice.remaining} == {"power-available-to-fault", "outputs-joined", "touch-voltage"}
    assert len(advice.remaining) == 3 and "three warnings" in flat

    told = table_of_the_story(story)
    proposed = {row.id: (row.drawn, row.proposed) for row in advice.sizes}
    proposed |= {row.connector: (row.drawn, row.proposed) for row in advice.families}
    proposed |= {row.id: (f"{row.drawn:g} {row.unit}", f"{row.proposed:g} {row.unit}") for row in advice.ratings}
    proposed |= {row.id: ("closed", "open") for row in advice.openings}
    for device in advice.devices:
        name = device.id if device.arrangement is None else f"{device.id} ({device.arrangement})"
        before = "off" if device.drawn_a is None else f"{device.drawn_a:g} A"
        if device.changed:
            proposed[name] = before, f"{device.proposed_a:g} A"
    assert told == {name: proposed[name] for name in told}
    changed = {row.connector for row in advice.families if row.changed} | {row.id for row in advice.openings}
    changed |= {row.id for row in advice.ratings} | {name for name in proposed if name.endswith(")")}
    changed |= {d.id for d in advice.devices if d.changed and d.arrangement is None}
    assert changed <= told.keys()
    thicker = {
        r.id for r in advice.sizes if r.copper_drawn_g is not None and (r.copper_g or 0.0) > r.copper_drawn_g
    }
    assert thicker == {name for name in told if name in {row.id for row in advice.sizes}}


def test_sound_and_misdrawn_are_what_the_story_says(demo_results: Callable[[str], Results]) -> None:
    verdicts = {name: demo_results(name) for name in ("sound", "misdrawn")}
    assert verdicts["sound"].verdict is Verdict.PASS and verdicts["misdrawn"].verdict is Verdict.FAIL
    accepted = {f.rule for f in verdicts["sound"].findings if f.accepted is not None}
    assert accepted == {"outputs-joined", "touch-voltage"}
    assert {f.rule for f in verdicts["sound"].findings if f.accepted is None} == {"power-available-to-fault"}
