"""The new texts of an annotated drawing as KiCad draws them: they touch no other text and no symbol.

Nothing is solved: every part gets the longest notes there are, so that there is as little room as there can be.
What KiCad draws is read from its own picture, stroke by stroke, and not from our estimate of its letters.
"""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace

import pytest
import wire_lists
from programs import need

from loadloom.plugin.annotate import FIELDS, Note, annotate
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Drawing
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.placing import Box, SheetSpace
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings
from loadloom.plugin.splicing import SchematicText

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
SVG = "{http://www.w3.org/2000/svg}"
LEAST_LETTER_MM = 1.25
"""KiCad's own texts are 1.27 mm high unless somebody changes them; common practice, no published source."""


@dataclass(frozen=True)
class Drawn:
    """A text as KiCad draws it: the box round its strokes."""

    text: str
    box: Box


def longest_notes(source: Path) -> tuple[Drawing, dict[str, list[Note]]]:
    """A drawing, and notes by which everything in it fails by its sustained fault current."""
    settings, drawing_settings = read_settings(settings_beside(source))
    drawing = read_drawing(source, kicad_cli="none")
    harness = build_harness(drawing, settings, drawing_settings)
    notes: dict[str, list[Note]] = {}
    for conductor in harness.conductors:
        note = Note("core 2" if conductor.cable else "", 10.7, 1.01, "FAIL path-unprotected +2, fault 110 A", 3)
        notes[conductor.cable or conductor.id] = [note, note]
    for contact in harness.contacts:
        note = Note("pin 3", 9.73, 1.39, "FAIL contact-unprotected +2, fault 100 A", 3)
        notes[contact.id.rpartition(".")[0]] = [note, note]
    for device in harness.devices:
        notes[device.id] = [Note("", 15.1, 2.02, "FAIL fuse-would-open +2", 3)]
    return drawing, notes


def texts_of(picture: Path) -> Iterator[Drawn]:
    """Every text of a picture once; KiCad draws the texts of fields twice."""
    seen = set()
    for group in ET.parse(picture).getroot().iter(f"{SVG}g"):
        if group.get("class") != "stroked-text":
            continue
        numbers = [
            float(n) for path in group.iter(f"{SVG}path") for n in re.findall(r"-?[\d.]+", path.get("d", ""))
        ]
        if numbers:
            xs, ys = numbers[::2], numbers[1::2]
            drawn = Drawn(group.findtext(f"{SVG}desc") or "", Box(min(xs), min(ys), max(xs), max(ys)))
            if drawn not in seen:
                seen.add(drawn)
                yield drawn


def new_places(sheet: SchematicText) -> list[tuple[str, float, float]]:
    """The texts of the new fields with their middles."""
    return [
        (sheet.text(span.items[2]), *sheet.numbers(sheet.child(span, "at"))[:2])
        for symbol in sheet.symbols()
        for name, span in sheet.properties(symbol).items()
        if name in FIELDS
    ]


@pytest.fixture(scope="module")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A drawing that the tool laid out itself, of a wire list of sixty rows."""
    from loadloom.plugin.cli import main

    folder = tmp_path_factory.mktemp("laid_out")
    listed = wire_lists.write(folder, "sixty.csv", *wire_lists.sixty())
    assert main(["draw", str(listed), "-o", str(folder / "drawn" / "sixty.kicad_sch")]) == 0
    return folder / "drawn" / "sixty.kicad_sch"


@pytest.mark.parametrize("name", ["dome", "cart", "sixty"])
def test_new_texts_touch_no_text_and_no_symbol(
    name: str, laid_out: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sources = {
        "dome": FIXTURES / "observatory" / "flawed" / "dome_power.kicad_sch",
        "cart": FIXTURES / "observatory" / "cart_flawed" / "cart.kicad_sch",
        "sixty": laid_out,
    }
    drawing, notes = longest_notes(sources[name])
    monkeypatch.setattr("loadloom.plugin.annotate.notes_by_reference", lambda _: notes)
    monkeypatch.setattr("loadloom.plugin.annotate.mark", lambda _: "")
    files = annotate(drawing, SimpleNamespace(), sources[name], tmp_path / "copy").files  # type: ignore[arg-type]
    command = [
        need("kicad-cli"),
        "sch",
        "export",
        "svg",
        "-o",
        str(tmp_path / "svg"),
        str(tmp_path / "copy" / sources[name].name),
    ]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    sheets = [SchematicText(file) for file in files]
    pictures = sorted((tmp_path / "svg").glob("*.svg"))
    looked_at = 0
    for picture in pictures:
        drawn = list(texts_of(picture))
        words = {d.text for d in drawn}
        sheet = max(sheets, key=lambda s: sum(text in words for text, _, _ in new_places(s)))
        places = new_places(sheet)
        space = SheetSpace(sheet)
        bodies = [space.body(symbol) for symbol in sheet.symbols()]
        new = [
            d
            for d in drawn
            for text, x, y in places
            if d.text == text
            and abs((d.box.left + d.box.right) / 2 - x) < 1
            and abs((d.box.top + d.box.bottom) / 2 - y) < 1
        ]
        for one in new:
            looked_at += 1
            for other in drawn:
                if other is not one:
                    assert one.box.overlap_mm2(other.box) < 0.02, (picture.name, one, other)
            assert all(one.box.overlap_mm2(body) < 0.02 for body in bodies), (picture.name, one)
            if one.text.startswith("FAIL"):  # it has capitals and letters with a descender
                assert one.box.bottom - one.box.top > LEAST_LETTER_MM, one
    assert looked_at > 50
