"""The gates, fed texts that mean harm."""

import csv
import html.parser
import io
import unicodedata

import pytest
from observatory_sample import HOSTILE

from loadloom.reports import safe_text as gate

UNSEEN = {"Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"}


@pytest.mark.parametrize("text", HOSTILE)
def test_visible_text_has_nothing_unseen(text: str) -> None:
    seen = gate.visible(text)
    assert not [c for c in seen if unicodedata.category(c) in UNSEEN]
    assert "\n" not in seen


@pytest.mark.parametrize("text", HOSTILE)
def test_cell_text_fits_a_cell(text: str) -> None:
    cell = gate.cell_text(text)
    assert len(cell.encode("utf-16-le")) // 2 <= gate.CELL_LIMIT


def test_a_cut_text_says_so_and_cuts_no_character_in_two() -> None:
    cell = gate.cell_text("😀" * 30_000)
    assert cell.endswith("(cut, 30000 characters)")
    cell.encode("utf-8")
    assert gate.shortened("x" * 10, 10) == "x" * 10


def test_characters_by_number_stay_text_in_a_cell() -> None:
    assert gate.cell_text("_x0041_") == "_x005F_x0041_"
    assert gate.cell_text("a_x_b") == "a_x_b"


@pytest.mark.parametrize("text", HOSTILE)
def test_no_csv_field_starts_a_formula(text: str) -> None:
    stream = io.StringIO()
    csv.writer(stream).writerow([gate.csv_text(text)])
    ((field,),) = csv.reader(io.StringIO(stream.getvalue()))
    assert not field.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


@pytest.mark.parametrize("text", HOSTILE)
def test_html_text_makes_no_tag(text: str) -> None:
    class Reader(html.parser.HTMLParser):
        tags: int = 0
        data: str = ""

        def handle_starttag(self, tag: str, attrs: object) -> None:
            self.tags += 1

        def handle_data(self, data: str) -> None:
            self.data += data

    reader = Reader()
    reader.feed(gate.html_text(text))
    reader.close()
    assert reader.tags == 0
    assert reader.data == gate.visible(text)
    assert '"' not in gate.html_text(text)
    assert "'" not in gate.html_text(text)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_log_line_stays_one_line_and_one_command(text: str) -> None:
    line = gate.annotation_text(text, is_property=True)
    assert "\n" not in line
    assert "::" not in line
    assert "," not in line
    assert "%" not in line.replace("%25", "").replace("%3A", "").replace("%2C", "")


@pytest.mark.parametrize("text", HOSTILE)
def test_terminal_text_has_no_escape_and_does_not_flood(text: str) -> None:
    shown = gate.terminal_text(text)
    assert "\x1b" not in shown
    assert len(shown) <= 300


def test_page_text_starts_no_code() -> None:
    assert gate.page_text("a&Pb") == "a&&Pb"


def test_harmless_text_stays_what_it_is() -> None:
    plain = "0.75 mm² Ωµ° – 12 V, «Kuppel» Ĵ 望遠鏡"
    assert gate.visible(plain) == plain
    assert gate.csv_text(plain) == plain
    assert gate.cell_text(plain) == plain
    assert gate.json_text(plain) == plain
