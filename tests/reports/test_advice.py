"""Advice in all its formats: complete, safe with hostile texts, the same bytes for the same input."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

import jsonschema
import openpyxl
import pytest
from advice_sample import HOSTILE, small_advice
from rich.console import Console

from loadloom.graph.sizing.advise import Advised
from loadloom.reports import advice_schema
from loadloom.reports.advice import WRITERS, check_suffix, print_advice, rendered
from loadloom.reports.advice_tables import headline, tables
from loadloom.reports.safe_file import WriteError


@pytest.fixture(scope="module")
def advised() -> Advised:
    return small_advice()


def printed(advised: Advised) -> str:
    stream = io.StringIO()
    print_advice(advised, Console(file=stream, width=120, color_system=None))
    return stream.getvalue()


def test_numbers_add_up(advised: Advised) -> None:
    advice = advised.advice
    # 2 m × 10 mm² + 2 m × 6 mm² + 1 m × 6 mm² = 38 cm³ of 8.89 g each.
    assert advice.copper_drawn_g == pytest.approx(38.0 * 8.89)
    assert advice.copper_g == pytest.approx(sum(r.area_mm2 * r.length_m for r in advice.sizes) * 8.89)
    assert advice.copper_g < advice.copper_drawn_g and advice.loss_w > advice.loss_drawn_w
    (fuse_row,) = (d for d in advice.devices if d.id == "F1")
    assert fuse_row.proposed_a == 3.0
    assert advice.spread is not None and advice.spread.moved


def test_a_narrow_terminal_leaves_room_for_the_reason(advised: Advised) -> None:
    narrow = io.StringIO()
    print_advice(advised, Console(file=narrow, width=80, color_system=None))
    assert "Setting range from" in printed(advised) and "Setting range from" not in narrow.getvalue()
    assert "Proposed A" in narrow.getvalue() and "Why" in narrow.getvalue()


def test_small_losses_are_in_milliwatts_and_sizes_on_one_line(advised: Advised) -> None:
    small = replace(
        advised.advice, sizes=tuple(replace(r, loss_drawn_w=9e-4, loss_w=1.8e-3) for r in advised.advice.sizes)
    )
    fields = {f"{f.title}, {f.unit}": f.values for f in next(iter(tables(small))).fields}
    assert fields["Loss drawn, mW"][0] == pytest.approx(0.9) and fields["Loss proposed, mW"][0] == pytest.approx(
        1.8
    )
    page = WRITERS[".html"](advised).decode()
    assert '{"title":"Proposed","kind":"short"}' in page.replace('": "', '":"').replace('", "', '","')


def test_every_format_says_the_same(advised: Advised) -> None:
    advice = advised.advice
    document = json.loads(WRITERS[".json"](advised))
    assert document["format"] == "loadloom-advice"
    assert {row["id"]: row["proposed"] for row in document["sizes"]} == {r.id: r.proposed for r in advice.sizes}
    book = openpyxl.load_workbook(io.BytesIO(WRITERS[".xlsx"](advised)))
    sheet = book["Advice sizes"]
    header = [cell.value for cell in sheet[4]]
    rows = {row[0]: row for row in sheet.iter_rows(min_row=5, values_only=True) if row[0]}
    assert {name: rows[name][header.index("Proposed")] for name in rows} == {r.id: r.proposed for r in advice.sizes}
    page = WRITERS[".html"](advised).decode()
    text = printed(advised)
    for name in ("W1", "F1", "CH1"):
        assert name in page.partition('id="harness-section"')[0]
    # The review of what is proposed stands beside the advice, in the workbook and on the page.
    assert book.sheetnames[0] == "Summary" and "Conductors" in book.sheetnames
    assert '<script type="application/json" id="results">' in page
    assert "W1" in text and "F1" in text and "Spread of the loads" in text
    assert headline(advice).split(":")[0] in page


def test_json_holds_to_the_published_schema(advised: Advised) -> None:
    published = files("loadloom.reports").joinpath("loadloom-advice.schema.json").read_text(encoding="utf-8")
    assert published == advice_schema.text(), (
        "run python -m loadloom.reports.advice_schema and publish what it prints"
    )
    schema = json.loads(published)
    for part in (schema, *schema["$defs"].values()):
        part["additionalProperties"] = False
    jsonschema.Draft202012Validator.check_schema(schema)
    document = json.loads(WRITERS[".json"](advised))
    validator = jsonschema.Draft202012Validator(schema)
    validator.validate(document)
    document["sizes"][0]["proposed"] = 4
    assert not validator.is_valid(document)


def test_hostile_texts_stay_texts(advised: Advised) -> None:
    page = WRITERS[".html"](advised).decode()
    assert HOSTILE.strip() not in page and "<script>alert" not in page and "\x07" not in page
    nasty = replace(advised, advice=replace(advised.advice, assumptions=(HOSTILE,)))
    book = openpyxl.load_workbook(io.BytesIO(WRITERS[".xlsx"](nasty)))
    cell = book["Advice assumptions"]["A5"]
    assert cell.data_type == "s" and cell.quotePrefix
    assert "\x07" not in printed(nasty)
    assert "<script>alert" not in WRITERS[".html"](nasty).decode()


def test_same_input_same_bytes(advised: Advised) -> None:
    for write in WRITERS.values():
        assert write(advised) == write(advised)


def test_a_suffix_is_written_in_either_case_or_refused(advised: Advised) -> None:
    assert rendered(advised, Path("x.JSON")) == WRITERS[".json"](advised)
    with pytest.raises(WriteError, match="no advice is written as that"):
        check_suffix(Path("x.csv"))
