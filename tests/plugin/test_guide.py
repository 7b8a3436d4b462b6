"""The guide for KiCad users says what is true: its pictures are there, its numbers are the program's."""

from __future__ import annotations

import importlib.util
import re
import sys
import textwrap
from pathlib import Path

import pytest

from loadloom.graph.model.findings import Verdict
from loadloom.plugin.pipeline import analyse_file
from loadloom.plugin.roles import FIELDS, Role

ROOT = Path(__file__).resolve().parents[2]
GUIDE = ROOT / "plugin" / "GUIDE.md"
TEXT = GUIDE.read_text(encoding="utf-8")
DRAWN = TEXT.split("**State the conditions**")[0]


@pytest.fixture
def harness(tmp_path: Path) -> Path:
    """The harness of the guide, as its pictures show it."""
    spec = importlib.util.spec_from_file_location("take_pictures", ROOT / "tests/take_pictures.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    path = list(sys.path)
    spec.loader.exec_module(module)
    sys.path[:] = path
    drawing = module.first_harness(tmp_path / "project")
    assert isinstance(drawing, Path)
    return drawing


def test_pictures_and_links_lead_somewhere() -> None:
    targets = re.findall(r"\]\(([^)]+)\)", TEXT)
    headings = {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"(?m)^#+ (.+)$", TEXT)}
    assert len([t for t in targets if t.endswith(".png")]) >= 8
    for target in targets:
        assert target[1:] in headings if target.startswith("#") else (GUIDE.parent / target).is_file(), target
    for path in re.findall(r"`((?:fixtures|plugin)/[\w/.]+)`", TEXT):
        assert (ROOT / path).exists(), path


def test_the_readme_lists_every_field_of_every_role_and_no_other() -> None:
    table = (ROOT / "README.md").read_text(encoding="utf-8").split("| `Role` | pins |")[1].split("\n\n")[0]
    rows = [line.split(" | ") for line in table.splitlines() if line.startswith("| `")]
    listed = {role: f"{row[2]} {row[1]}" for row in rows for role in re.findall(r"`([a-z]+)`", row[0])}
    assert listed.keys() == {str(role) for role in FIELDS}
    for role, spec in FIELDS.items():
        common, *own = re.split(r"[;,] an? ([a-z]+) (?=`)", listed[role])
        text = common + "".join(words for of, words in zip(own[::2], own[1::2], strict=True) if of == role)
        told = set(re.findall(r"`([A-Z][a-z][A-Za-z0-9 -]+)`", text))
        if "the same, for all cores" in listed[role]:
            told = set(FIELDS[Role.WIRE].names)
        elif listed[role].startswith("as `connector`"):
            told = set(FIELDS[Role.CONNECTOR].names) - {"Mates"}
        assert told == set(spec.names), role


def test_the_first_harness_passes_with_the_numbers_of_the_guide(harness: Path) -> None:
    drawn = harness.read_text(encoding="utf-8")
    for field, value in re.findall(r"`([A-Z][a-z ]+)` = `([^`]+)`", DRAWN):
        assert f'(property "{field}" "{value}"' in drawn, (field, value)
    told = re.findall(r"`([A-Z][a-z ]+)` = `([^`]+)`", DRAWN)
    known = {name for spec in FIELDS.values() for name in spec.names}
    library, placed = drawn.split("\n\t(symbol\n", 1)
    stated = [pair for pair in re.findall(r'\(property "([^"]+)" "([^"]+)"', placed) if pair[0] in known]
    by_hand = [(name, text) for name, text in stated if f'(property "{name}" "{text}"' not in library]
    # Who follows the guide to the letter draws this harness, and no field less.
    assert len(by_hand) > 10 and [pair for pair in by_hand if pair not in told] == []
    results = analyse_file(harness)
    assert results.verdict is Verdict.PASS and f"rests on {len(results.assumptions)} assumptions" in TEXT
    (wire,) = [row for row in results.conductors if row.id == "W1"]
    assert (wire.current_a, wire.allowed_a, wire.sustained_fault_a) == pytest.approx((3.0, 8.5, 6.75), rel=5e-3)


def test_the_settings_of_the_guide_do_what_it_says(harness: Path) -> None:
    settings = re.findall(r"```toml\n(.*?)```", TEXT, re.S)[0]
    harness.with_name("loadloom.toml").write_text(textwrap.dedent(settings), encoding="utf-8")
    results = analyse_file(harness)
    (wire,) = [row for row in results.conductors if row.id == "W1"]
    assert results.verdict is Verdict.PASS and wire.allowed_a == pytest.approx(9.18, abs=0.005)
    assert f"9.18 A, and {len(results.assumptions)} assumptions are left" in TEXT


def test_the_larger_fuse_fails_with_the_numbers_of_the_guide(harness: Path) -> None:
    drawn = harness.read_text(encoding="utf-8")
    harness.write_text(drawn.replace('(property "Value" "5 A"', '(property "Value" "15 A"'), encoding="utf-8")
    results = analyse_file(harness)
    assert results.verdict is Verdict.FAIL
    (wire,) = [row for row in results.conductors if row.id == "W1"]
    assert wire.allowed_a is not None and wire.sustained_fault_a is not None
    assert wire.sustained_fault_a == pytest.approx(12.0, rel=5e-3)
    assert wire.sustained_fault_a / wire.allowed_a == pytest.approx(1.41, abs=0.005)
    (fault,) = [row for row in results.faults if row.id == wire.sustained_fault]
    assert fault.fault_resistance_ohm == pytest.approx(0.904, rel=5e-3)
    assert any(f.rule == "device-never-opens" and f.subject.id == "FU1" for f in results.findings)
