"""The symbol library: made by its writer, readable by KiCad, one symbol for every role of the drawing interface."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from programs import need

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "fixtures"))

import symbols  # noqa: E402

LIBRARY = ROOT / "plugin" / "loadloom.kicad_sym"

ROLES = {
    "output",
    "limiter",
    "fuse",
    "breaker",
    "resettable",
    "switch",
    "diode",
    "wire",
    "cable",
    "connector",
    "through",
    "splice",
    "load",
    "battery",
    "solar",
    "track",
    "converter",
    "contactor",
    "chassis",
    "ignore",
}
"""Roles of the drawing interface."""

SHAPES = symbols.all_shapes()


def test_the_file_is_what_its_writer_writes() -> None:
    assert LIBRARY.read_text(encoding="utf-8") == symbols.library_text(SHAPES)


def test_every_role_has_a_symbol() -> None:
    assert {shape.role for shape in SHAPES} == ROLES


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_symbol_is_well_formed(shape: symbols.Shape) -> None:
    assert max(Counter(pin.number for pin in shape.pins).values()) == 1
    places = [(pin.x, pin.y) for pin in shape.pins]
    assert len(set(places)) == len(places), "two pins at one place would be joined"
    names = [item.name.casefold() for item in symbols.all_fields(shape)]
    assert len(set(names)) == len(names)


def pins_by_role(role: str) -> list[set[str]]:
    return [{pin.number for pin in shape.pins} for shape in SHAPES if shape.role == role]


def test_pins_are_those_of_the_drawing_interface() -> None:
    for role in ("limiter", "fuse", "breaker", "resettable", "switch", "wire"):
        assert pins_by_role(role) == [{"1", "2"}]
    diode = next(shape for shape in SHAPES if shape.role == "diode")
    assert [(pin.number, pin.name) for pin in diode.pins] == [("1", "A"), ("2", "K")]
    converter = next(shape for shape in SHAPES if shape.role == "converter")
    assert [(pin.number, pin.name) for pin in converter.pins] == [
        *(("1", "IN+"), ("2", "IN-")),
        *(("3", "OUT+"), ("4", "OUT-")),
    ]
    for role in ("cable", "through"):
        for numbers in pins_by_role(role):
            shield = {"SA", "SB"} if "SA" in numbers else set()
            paths = len(numbers - shield) // 2
            assert numbers == shield | {f"{k}{end}" for k in range(1, paths + 1) for end in "AB"}
    for shape in SHAPES:
        if shape.role in ("load", "output"):
            assert {("1", "+"), ("2", "-")} <= {(pin.number, pin.name) for pin in shape.pins}


def test_kicad_draws_every_symbol(tmp_path: Path) -> None:
    cli = need("kicad-cli")
    done = subprocess.run(
        [cli, "sym", "export", "svg", "-o", str(tmp_path), str(LIBRARY)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert len(list(tmp_path.glob("*.svg"))) == len(SHAPES)


def test_kicad_finds_nothing_to_convert(tmp_path: Path) -> None:
    """KiCad's own upgrade leaves the number of symbols and pins as they are."""
    cli = need("kicad-cli")
    out = tmp_path / "again.kicad_sym"
    done = subprocess.run(
        [cli, "sym", "upgrade", "--force", "-o", str(out), str(LIBRARY)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    again, own = out.read_text(encoding="utf-8"), LIBRARY.read_text(encoding="utf-8")
    for mark in ("(pin passive line", "(property ", "(on_board yes)", "(polyline", "(arc"):
        assert again.count(mark) == own.count(mark), mark
