"""The symbols of a drawing that is laid out: those of the project's own library, and boxes of any pins."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

from loadloom.plugin.incoming import TextFile
from loadloom.plugin.reading.node import Node
from loadloom.plugin.reading.sexpr import parse
from loadloom.plugin.roles import Role

PITCH = 5.08
"""Distance of pins beside each other, in mm."""

GRID = 2.54
"""Grid of all places, in mm."""

LIBRARY = "harness"
"""Nickname of the library that goes with the drawing."""


@dataclass(frozen=True, slots=True)
class Property:
    """A field of the library symbol: text, place (mm, y up), how it is shown."""

    name: str
    text: str
    x: float
    y: float
    effects: str


@dataclass(frozen=True, slots=True)
class Shape:
    """A library symbol. ``pins`` are places by number (mm, y up); ``text`` is its definition, on one line.

    ``left`` and ``right`` are the edges of outline and pins, ``above`` and ``below`` how far outline and shown
    texts reach up and down from the first pin, in mm.
    """

    name: str
    text: str
    pins: dict[str, tuple[float, float]]
    properties: tuple[Property, ...]
    names: dict[str, str] = field(default_factory=dict)
    left: float = 0.0
    right: float = 0.0
    above: float = 0.0
    below: float = 0.0

    @property
    def height(self) -> float:
        """From the first pin down to the last."""
        return -min(y for _, y in self.pins.values())


@cache
def library_shapes() -> dict[str, Shape]:
    """The symbols of ``loadloom.kicad_sym`` by name."""
    resource = files("loadloom.plugin") / "loadloom.kicad_sym"
    text = resource.read_text(encoding="utf-8")
    from pathlib import Path

    root = parse(TextFile(Path("loadloom.kicad_sym"), text, ""))
    return {node.text(1): _shape(node) for node in root.children("symbol")}


def _shape(node: Node) -> Shape:
    pins: dict[str, tuple[float, float]] = {}
    names: dict[str, str] = {}
    for part in node.children("symbol"):
        for pin in part.children("pin"):
            at = pin.child("at")
            assert at is not None
            pins[pin.value("number")] = (float(at.text(1)), float(at.text(2)))
            names[pin.value("number")] = pin.value("name")
    properties = []
    for item in node.children("property"):
        at, effects = item.child("at"), item.child("effects")
        assert at is not None and effects is not None
        properties.append(
            Property(item.text(1), item.text(2), float(at.text(1)), float(at.text(2)), _written(effects))
        )
    outline = [point for part in node.children("symbol") for point in _outline(part)] + list(pins.values())
    edges = [x for x, _ in outline]
    left, right = math.floor(min(edges) / GRID) * GRID, math.ceil(max(edges) / GRID) * GRID
    above, below = _reach([y for _, y in outline], properties)
    return Shape(node.text(1), _written(node), pins, tuple(properties), names, left, right, above, below)


def _reach(heights: Iterable[float], properties: Iterable[Property]) -> tuple[float, float]:
    """How far up and down from the first pin something is drawn, in mm: half a text's height is 0.7 mm."""
    shown = [p.y for p in properties if "(hide yes)" not in p.effects]
    all_heights = [*heights, *(y + 0.7 for y in shown), *(y - 0.7 for y in shown)]
    return max(all_heights), -min(all_heights)


def _outline(node: Node) -> Iterator[tuple[float, float]]:
    for item in node:
        if isinstance(item, Node) and item.name in ("start", "end", "mid", "xy"):
            yield float(item.text(1)), float(item.text(2))
        elif isinstance(item, Node) and item.name not in ("pin", "effects"):
            yield from _outline(item)


_QUOTED = {"property": (1, 2), "symbol": (1,), "name": (1,), "number": (1,), "text": (1,)}


def _written(node: Node) -> str:
    """A node as text; which of its words are quoted follows from what it is."""
    quoted = _QUOTED.get(node.name, ())
    words = []
    for k, item in enumerate(node):
        if isinstance(item, Node):
            words.append(_written(item))
        else:
            words.append(quote(item) if k in quoted else item)
    return f"({' '.join(words)})"


def quote(text: str) -> str:
    """A text as KiCad writes it; control characters are dropped."""
    clean = "".join(c for c in text if c >= " " or c == "\n")
    return '"' + clean.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'


_PLAIN = "(effects (font (size 1.27 1.27)))"
_HIDDEN = "(effects (font (size 1.27 1.27)) (hide yes))"


def box(
    name: str, letters: str, role: Role | None, left: Sequence[str], right: Sequence[str], names: dict[str, str]
) -> Shape:
    """A box with pins on either side, the first of each at the top; ``names`` are names of pins by number."""
    rows = max(len(left), len(right), 1)
    bottom = -PITCH * (rows - 1) - 2.54
    pins: dict[str, tuple[float, float]] = {}
    drawn = []
    for side, numbers in ((-1, left), (1, right)):
        for k, number in enumerate(numbers):
            pins[number] = (side * 7.62, -PITCH * k)
            angle = 0 if side < 0 else 180
            drawn.append(
                f"(pin passive line (at {side * 7.62} {-PITCH * k:g} {angle}) (length 2.54) "
                f"(name {quote(names.get(number) or '~')} (effects (font (size 1 1)))) "
                f"(number {quote(number)} (effects (font (size 1 1)))))"
            )
    properties = [
        Property("Reference", letters, 0.0, 4.064, _PLAIN),
        Property("Value", "", 0.0, bottom - 1.778, _PLAIN),
        *(Property(head, "", 0.0, 0.0, _HIDDEN) for head in ("Footprint", "Datasheet", "Description")),
    ]
    if role is not None:
        properties.append(Property("Role", str(role), 0.0, 0.0, _HIDDEN))
    written = " ".join(
        f"(property {quote(p.name)} {quote(p.text)} (at {p.x:g} {p.y:g} 0) {p.effects})" for p in properties
    )
    text = (
        f"(symbol {quote(name)} (pin_names (offset 0.508)) (exclude_from_sim no) (in_bom yes) (on_board yes) "
        f"{written} "
        f"(symbol {quote(name + '_0_1')} (rectangle (start -5.08 2.54) (end 5.08 {bottom:g}) "
        "(stroke (width 0.254) (type default)) (fill (type background)))) "
        f"(symbol {quote(name + '_1_1')} {' '.join(drawn)}) (embedded_fonts no))"
    )
    edges = (-7.62 if left else -5.08, 7.62 if right else 5.08)
    return Shape(name, text, pins, tuple(properties), dict(names), *edges, *_reach([2.54, bottom], properties))


def renamed(shape: Shape, prefix: str) -> str:
    """The definition for a sheet's own library, where the symbol's name has the library's before it."""
    return re.sub(r'^\(symbol "', f'(symbol "{prefix}:', shape.text, count=1)
