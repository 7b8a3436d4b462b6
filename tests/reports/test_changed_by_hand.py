"""Cells are changed by hand and recalculated by LibreOffice; the tool's own run with the same change is the judge.

Nothing in the workbook may say that a part is protected, within its band or below its limit where the tool, asked
with the same change, says otherwise.
"""

from __future__ import annotations

import io
import random
import subprocess
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.workbook import Workbook
from programs import need
from test_workbook import without_stored_values

from loadloom.graph.analysis import analyse
from loadloom.graph.model.elements import Conductor, Splice
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import build_harness
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings, settings_echo
from loadloom.reports.workbook import book
from loadloom.reports.workbook.table import CHANGED_BY_HAND, FIRST_ROW, HEADER_ROW

FIXTURES = Path(__file__).resolve().parents[2] / "fixtures"
NAMES = (
    "case_04_pooled_or_split",
    "case_05_thin_pair_pooled",
    "case_06_behind_a_limiter",
    "case_07c_tap_fused_late",
    "case_09_overload_band",
    "case_11a_joined_outputs",
    "case_13_return_contacts",
    "case_28_shared_bundle",
    "case_v05_dc_feeder",
    "case_15_chain",
    "case_32_power_tree",
)
CHANGES = 30
SEED = 20_261_130


@dataclass(frozen=True)
class Trial:
    """A drawing as it was read, what was changed, and the cells that say the same."""

    name: str
    words: str
    before: Results
    after: Results
    edit: Callable[[Workbook], None]


def titles(sheet: Any) -> dict[str, int]:
    return {str(c.value).split("\n")[0]: c.column for c in sheet[HEADER_ROW] if c.value}


def run(harness: Harness, settings: AnalysisSettings, echo: dict[str, Any]) -> Results:
    return analyse(
        harness,
        settings,
        tool_version="0",
        date="2026-03-01",
        settings_echo=echo,
        progress=lambda _: None,
    )


def conditions(workbook: Workbook) -> dict[str, Any]:
    sheet = workbook["Conditions"]
    return {str(sheet.cell(r, 1).value): sheet.cell(r, 2) for r in range(FIRST_ROW, sheet.max_row + 1)}


@cache
def as_drawn(name: str) -> tuple[AnalysisSettings, Harness, dict[str, Any], Results]:
    """Settings, harness, what is said of the settings, and the results of a fixture before any change."""
    root = next(p for p in (FIXTURES / name).glob("*.kicad_sch"))
    settings, drawn = read_settings(settings_beside(root))
    # Conductors at their own temperature: another ambient is then a matter of solving anew.
    settings = replace(settings, conductor_temperature_c=None)
    harness = build_harness(read_drawing(root, kicad_cli="none"), settings, drawn)
    echo = settings_echo(settings, drawn)
    return settings, harness, echo, run(harness, settings, echo)


def trials(rng: random.Random) -> Iterator[Trial]:
    """Changes of ambient, margin, altitude, and of the rating of one conductor or splice."""
    number = 0
    while number < CHANGES:
        name = NAMES[number % len(NAMES)]
        settings, harness, echo, before = as_drawn(name)
        kind = ("ambient", "margin", "rating", "altitude", "splice", "all")[number % 6]
        after_settings, after_harness = settings, harness
        edits: list[Callable[[Workbook], None]] = []
        words = []

        def set_condition(start: str, value: float) -> Callable[[Workbook], None]:
            def edit(workbook: Workbook) -> None:
                cells = [cell for title, cell in conditions(workbook).items() if title.startswith(start)]
                assert cells, f"{start} is no condition here"
                for cell in cells:
                    cell.value = value

            return edit

        here = {str(entry) for entry in _condition_names(before)}
        if (
            kind in ("ambient", "all")
            and not settings.zones
            and any(t.startswith("Greatest ambient") for t in here)
        ):
            ambient = settings.default_ambient
            value = round(rng.uniform(ambient.min_c, ambient.max_c + 45.0), 1)
            after_settings = replace(after_settings, default_ambient=replace(ambient, max_c=value))
            edits.append(set_condition("Greatest ambient", value))
            words.append(f"ambient {value}")
        if kind in ("margin", "all") and "Margin kept free by policy" in here:
            margin = round(rng.uniform(0.0, 0.5), 2)
            after_settings = replace(after_settings, margin=margin)
            edits.append(set_condition("Margin", margin))
            words.append(f"margin {margin}")
        if kind == "altitude" and "Altitude" in here:
            altitude = round(rng.uniform(0.0, 4000.0))
            after_settings = replace(after_settings, altitude_m=float(altitude))
            edits.append(set_condition("Altitude", float(altitude)))
            words.append(f"altitude {altitude}")
        if not edits or kind in ("rating", "splice", "all"):
            # Close to what a fault can hold on them, where an answer turns.
            known = [c for c in harness.conductors if _held(before, c.id) is not None]
            for part in rng.sample(known, min(4, len(known))):
                limit = round((_held(before, part.id) or 1.0) * rng.uniform(0.6, 1.5), 3)
                after_harness = _with(after_harness, replace(part, own_rating_a=limit))
                edits.append(_set_allowed(part.id, limit))
                words.append(f"{part.id} allowed {limit}")
        if kind == "splice" and harness.splices:
            splice = rng.choice([s for s in harness.splices if s.rating_a] or [None])  # type: ignore[list-item]
            if splice is not None:
                rating = round((splice.rating_a or 1.0) * rng.uniform(0.3, 3.0), 2)
                after_harness = _with(after_harness, replace(splice, rating_a=rating))
                edits.append(_set_splice(splice.id, rating))
                words.append(f"{splice.id} rated {rating}")
        number += 1
        after = run(after_harness, after_settings, echo)
        yield Trial(name, "; ".join(words), before, after, _every(edits))


def _held(results: Results, part: str) -> float | None:
    return next(row.sustained_fault_a for row in results.conductors if row.id == part)


def _condition_names(results: Results) -> Iterator[str]:
    from loadloom.reports.workbook.conditions import Conditions

    for entry in Conditions.of(results).entries:
        yield entry[0]


def _every(edits: list[Callable[[Workbook], None]]) -> Callable[[Workbook], None]:
    def edit(workbook: Workbook) -> None:
        for each in edits:
            each(workbook)

    return edit


def _with(harness: Harness, part: Conductor | Splice) -> Harness:
    if isinstance(part, Splice):
        return replace(harness, splices=tuple(part if s.id == part.id else s for s in harness.splices))
    return replace(harness, conductors=tuple(part if c.id == part.id else c for c in harness.conductors))


def _set(sheet_name: str, title: str, part: str, value: float) -> Callable[[Workbook], None]:
    def edit(workbook: Workbook) -> None:
        sheet = workbook[sheet_name]
        row = next(r for r in range(FIRST_ROW, sheet.max_row + 1) if sheet.cell(r, 1).value == part)
        sheet.cell(row, titles(sheet)[title]).value = value

    return edit


def _set_allowed(part: str, value: float) -> Callable[[Workbook], None]:
    return _set("Ratings used", "Allowed", part, value)


def _set_splice(part: str, value: float) -> Callable[[Workbook], None]:
    return _set("Splices & switches", "Rating", part, value)


def bare(content: bytes) -> bytes:
    """A workbook's values and formulas alone: how cells look calculates nothing, and takes half of LibreOffice's
    time. The workbook as it is goes through LibreOffice in ``test_workbook``.
    """
    looks, plain = openpyxl.load_workbook(io.BytesIO(content)), Workbook()
    plain.remove(plain.active)
    for sheet in looks:
        copied = plain.create_sheet(sheet.title)
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value is not None:
                    copied.cell(cell.row, cell.column).value = cell.value
    for name, defined in looks.defined_names.items():
        plain.defined_names[name] = defined
    stream = io.BytesIO()
    plain.save(stream)
    return stream.getvalue()


def recalculate(books: dict[str, bytes], folder: Path) -> dict[str, Workbook]:
    """Many workbooks in one run of LibreOffice."""
    source, out = folder / "in", folder / "out"
    source.mkdir()
    for name, content in books.items():
        (source / f"{name}.xlsx").write_bytes(without_stored_values(content))
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    files = [str(source / f"{name}.xlsx") for name in books]
    command = [need("soffice"), profile, "--headless", "--convert-to", "xlsx", "--outdir", str(out), *files]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return {name: openpyxl.load_workbook(out / f"{name}.xlsx", data_only=True) for name in books}


def shown(sheet: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    heads = titles(sheet)
    for row in range(FIRST_ROW, sheet.max_row + 1):
        if sheet.cell(row, 1).value is not None:
            yield str(sheet.cell(row, 1).value), {title: sheet.cell(row, n).value for title, n in heads.items()}


def wrong_numbers(workbook: Workbook, after: Results, seen: Counter[str]) -> list[str]:
    """Live numbers that are within their limit where the tool's own run has them beyond it, and allowed currents
    above the tool's."""
    wrong = []
    shares: dict[str, dict[str, float | None]] = {
        "Conductors": {row.id: row.utilisation for row in after.conductors},
        "Contacts": {row.id: row.utilisation for row in after.contacts},
        "Splices & switches": {row.id: row.utilisation for row in (*after.splices, *after.switches)},
        "Devices": {row.id: row.utilisation for row in after.devices},
        # A unit may be called as its output is, and then has no share of its own where it states no power.
        "Outputs & supplies": {
            row.id: row.utilisation for row in (*after.supplies, *after.outputs) if row.utilisation is not None
        },
    }
    for name, tool in shares.items():
        for part, cells in shown(workbook[name]):
            share, said = cells.get("Utilisation"), cells.get("By load")
            if isinstance(share, int | float):
                seen[f"share on {name}"] += 1
                beyond = tool.get(part) is None or (tool[part] or 0.0) > 1 + 1e-9
                if share <= 1.0 and beyond and said != "? solve anew":
                    wrong.append(f"{name}: {part} uses {share}, and the tool says {tool.get(part)}")
    limits = {row.id: row for row in after.loads}
    for part, cells in shown(workbook["Loads"]):
        margin, load = cells.get("Margin"), limits[part]
        if isinstance(margin, int | float):
            seen["margin"] += 1
            if margin >= 0.0 and (load.voltage_v is None or load.voltage_v < (load.minimum_v or 0.0) - 1e-9):
                wrong.append(f"{part} has {margin} V to spare, and the tool says {load.voltage_v} V")
    ratings = {row.id: row.allowed_a for row in (*after.conductors, *after.contacts)}
    for part, cells in shown(workbook["Ratings used"]):
        allowed = cells.get("Allowed")
        if isinstance(allowed, int | float):
            seen["allowed"] += 1
            if ratings[part] is None or allowed > (ratings[part] or 0.0) * (1 + 1e-6):
                wrong.append(f"{part} is allowed {allowed} A, and the tool says {ratings[part]}")
    return wrong


def wrong_claims(workbook: Workbook, after: Results, seen: Counter[str]) -> list[str]:
    """Cells that say something good which the tool's own run does not say."""
    wrong = []
    rows = {row.id: row for row in (*after.conductors, *after.contacts, *after.splices, *after.switches)}
    for name in ("Conductors", "Contacts", "Splices & switches"):
        for part, cells in shown(workbook[name]):
            row = rows[part]
            seen["cells"] += 1
            if cells["Protected"] == "yes":
                seen["yes"] += 1
                if row.protected is not True:
                    wrong.append(f"{part} is shown as protected, and the tool says {row.protected}")
            seen["same protection"] += {"yes": True, "NO": False}.get(cells["Protected"]) is row.protected
            if cells.get("By load") in ("ok", "● high"):
                seen["ok"] += 1
                if row.utilisation is None or row.utilisation > 1 + 1e-9:
                    wrong.append(f"{part} is shown as {cells['By load']}, and the tool says {row.utilisation}")
            if cells.get("Within band") == "in band" and row.protected is not True:
                wrong.append(f"{part} is shown in the band, and the tool says {row.protected}")
    wrong += wrong_numbers(workbook, after, seen)
    opened = {(row.opened, row.case): row for row in after.open_circuits}
    for part, cells in shown(workbook["Open circuits"]):
        row_of = opened.get((part, cells["Load case"]))
        if cells["Judged"] == "ok" and row_of is not None and row_of.worst_current_a is not None:
            allowed = row_of.worst_allowed_a
            if allowed is None or row_of.worst_current_a > allowed * (1 + 1e-9):
                wrong.append(f"{part} opened is shown as ok")
    return wrong


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Trial, Workbook]]:
    made = list(trials(random.Random(SEED)))
    books: dict[str, bytes] = {}
    drawn = {name: bare(book.render(as_drawn(name)[-1])) for name in NAMES}
    for number, trial in enumerate(made):
        workbook = openpyxl.load_workbook(io.BytesIO(drawn[trial.name]))
        trial.edit(workbook)
        stream = io.BytesIO()
        workbook.save(stream)
        books[f"t{number}"] = stream.getvalue()
    recalculated = recalculate(books, tmp_path_factory.mktemp("changed"))
    return [(trial, recalculated[f"t{number}"]) for number, trial in enumerate(made)]


def test_no_cell_says_protected_where_the_tool_with_the_same_change_says_otherwise(
    changed: list[tuple[Trial, Workbook]],
) -> None:
    assert len(changed) >= CHANGES
    seen: Counter[str] = Counter()
    wrong = [
        f"{trial.name}, {trial.words}: {claim}"
        for trial, workbook in changed
        for claim in wrong_claims(workbook, trial.after, seen)
    ]
    assert wrong == []
    # It is no feat to say nothing: most cells still answer, and answer as the tool does.
    assert seen["yes"] > 50 and seen["ok"] > 50
    assert seen["allowed"] > 100 and seen["share on Devices"] > 5 and seen["margin"] > 2, seen
    assert seen["same protection"] > 0.6 * seen["cells"], seen


def test_the_changes_turn_some_verdicts(changed: list[tuple[Trial, Workbook]]) -> None:
    """Else the test above could hardly fail."""
    turned = 0
    for trial, _ in changed:
        was = {row.id: row.protected for row in (*trial.before.conductors, *trial.before.contacts)}
        turned += sum(row.protected is not was[row.id] for row in (*trial.after.conductors, *trial.after.contacts))
    assert turned > 20


def test_after_any_change_the_banner_says_so_and_setting_ranges_are_blank(
    changed: list[tuple[Trial, Workbook]],
) -> None:
    for trial, workbook in changed:
        summary = workbook["Summary"]
        texts = [str(c.value) for row in summary.iter_rows(max_row=4) for c in row[:6] if c.value is not None]
        assert any(text.casefold() == CHANGED_BY_HAND for text in texts), (trial.name, trial.words)
        assert not any(text.startswith(("PASS", "FAIL", "INCOMPLETE")) for text in texts)
        for device, cells in shown(workbook["Devices"]):
            assert not isinstance(cells["Setting range from"], int | float), device
            assert cells["Setting range to"] in (None, "–"), device
            assert cells["Setting range"] is None, device


def test_live_counts_are_the_counts_of_the_sheets(changed: list[tuple[Trial, Workbook]]) -> None:
    for trial, workbook in changed:
        live = {str(r[0].value): r[2].value for r in workbook["Summary"].iter_rows(max_col=3)}
        for name in ("Conductors", "Contacts"):
            cells = [c for _, c in shown(workbook[name])]
            if cells:
                assert live[f"{name} NOT protected"] == sum(c["Protected"] == "NO" for c in cells), trial.words
                assert live[f"{name} over allowed"] == sum(c["By load"] == "▲ OVER" for c in cells), trial.words
