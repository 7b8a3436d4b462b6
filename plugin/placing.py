"""Finding a free place on a sheet for a few short texts beside a symbol.

Everything that is drawn becomes a box or, for lines, a row of thin boxes; of the places round the symbol the
nearest one that covers nothing is taken, else the one that covers least.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from loadloom.plugin.splicing import SchematicText, Span

_WIDTHS = {**dict.fromkeys(".,:;'|!ilj", 0.5), " ": 0.7, **dict.fromkeys("%@mwMW", 1.3)}
_WIDTH, _CAPITAL = 0.85, 1.0
"""Width of a letter over its height, a little above those of KiCad's own font (of its SVG export)."""

LINE_HEIGHT = 1.5
"""Height of a line of text over that of its letters, with the room between lines."""

_PAPER_MM = {
    "A5": (210.0, 148.0),
    "A4": (297.0, 210.0),
    "A3": (420.0, 297.0),
    "A2": (594.0, 420.0),
    "A1": (841.0, 594.0),
    "A0": (1189.0, 841.0),
    "A": (279.4, 215.9),
    "B": (431.8, 279.4),
    "C": (558.8, 431.8),
    "D": (863.6, 558.8),
    "E": (1117.6, 863.6),
    "USLetter": (279.4, 215.9),
    "USLegal": (355.6, 215.9),
    "USLedger": (431.8, 279.4),
}
"""Paper sizes lying, ISO 216 and ANSI Y14.1."""

_FRAME_MM = 12.5
_CELL_MM = 10.0
_LINE_MM = 0.25
_CLEAR_MM = 0.4
_STEP_MM = 0.635
_REACH_MM = 14.0
_FAR_MM = 60.0
"""Where it is looked for a free place when there is none near by."""
_COVERED = 100.0
"""What a square millimetre that is covered counts, as a distance in mm."""
_SURE_MM = 1.0
"""By how much a text has to lie nearer to its own symbol than to any other, to be read as its own."""
_MISTAKEN_MM = 8.0
"""What it counts, as a distance, that a text could be read as another symbol's."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle on the sheet, in mm, y down."""

    left: float
    top: float
    right: float
    bottom: float

    def overlap_mm2(self, other: Box) -> float:
        """Area that both cover."""
        width = min(self.right, other.right) - max(self.left, other.left)
        height = min(self.bottom, other.bottom) - max(self.top, other.top)
        return width * height if width > 0 and height > 0 else 0.0

    def distance_mm(self, other: Box) -> float:
        """Distance between the nearest edges; 0 where they touch."""
        across = max(self.left - other.right, other.left - self.right, 0.0)
        down = max(self.top - other.bottom, other.top - self.bottom, 0.0)
        return math.hypot(across, down)

    def outside_mm2(self, other: Box) -> float:
        """Area of the other that lies outside this one."""
        return (other.right - other.left) * (other.bottom - other.top) - self.overlap_mm2(other)

    def around(self, other: Box) -> Box:
        """The least box that holds both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    @classmethod
    def of(cls, x: float, y: float, width: float, height: float) -> Box:
        """The box round a middle."""
        return cls(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


class SheetSpace:
    """What is taken on a sheet. ``taken`` grows with every place that is given away."""

    def __init__(self, text: SchematicText, leave_out: frozenset[str] = frozenset()) -> None:
        """``leave_out``: fields that don't count as drawn, by name."""
        self._cells: dict[tuple[int, int], list[Box]] = defaultdict(list)
        self._text = text
        self._leave_out = leave_out
        self._shapes = _library_boxes(text)
        self._page = _page(text)
        self._bodies: list[Box] = []
        for box in self._everything():
            self.take(box)

    def take(self, box: Box) -> None:
        """Mark a box as taken."""
        for cell in _cells(box):
            self._cells[cell].append(box)

    def cost_mm2(self, box: Box) -> float:
        """Area of what a text in this box would cover."""
        near = {id(other): other for cell in _cells(box) for other in self._cells.get(cell, ())}
        return sum(box.overlap_mm2(other) for other in near.values())

    def place(
        self, symbol: Span, sizes: Sequence[tuple[float, float]], named: Sequence[bool] = ()
    ) -> tuple[int, float, float]:
        """The best place beside a symbol for a block of one of several sizes (width, height in mm).

        ``named``: of which sizes the text names its symbol; another one is kept from places that lie nearer to some
        other symbol, where it would be read as that one's. Gives which size was taken and the middle of the block,
        and marks it as taken.
        """
        body = self.body(symbol)
        best: tuple[float, int, float, float] | None = None
        for offsets in (_offsets(_REACH_MM, _STEP_MM), _offsets(_FAR_MM, 2 * _STEP_MM)):
            for choice, (width, height) in enumerate(sizes):
                says_whose = choice < len(named) and named[choice]
                for distance, x, y in _candidates(body, width, height, offsets):
                    # A later size is taken where it lies nearer. What is covered counts far more than distance.
                    score = distance + choice
                    if best is not None and score >= best[0]:
                        break
                    box = Box.of(x, y, width + _CLEAR_MM, height + _CLEAR_MM)
                    outside = self._page.outside_mm2(box) if self._page else 0.0
                    score += _COVERED * (self.cost_mm2(box) + outside)
                    if best is not None and score >= best[0]:
                        continue
                    if not says_whose and self._nearer_to_another(Box.of(x, y, width, height), body):
                        score += _MISTAKEN_MM
                    if best is None or score < best[0]:
                        best = (score, choice, x, y)
            # Further away only where nothing is free near by.
            if best is not None and best[0] < _REACH_MM + len(sizes) + _MISTAKEN_MM:
                break
        assert best is not None
        _, choice, x, y = best
        self.take(Box.of(x, y, *sizes[choice]))
        return choice, x, y

    def _nearer_to_another(self, box: Box, body: Box) -> bool:
        """Whether some other symbol lies as near to a text as its own, or nearly so."""
        own = box.distance_mm(body)
        return any(box.distance_mm(other) < own + _SURE_MM for other in self._bodies if other != body)

    def body(self, symbol: Span) -> Box:
        """The box round a placed symbol's outline and pins."""
        text = self._text
        x, y, angle = _at(text, symbol)
        name = text.child_text(symbol, "lib_name") or text.child_text(symbol, "lib_id") or ""
        unit = int((text.numbers(text.child(symbol, "unit")) or [1])[0])
        local = self._shapes.get((name, unit)) or self._shapes.get((name, 0)) or Box(-1, -1, 1, 1)
        mirror = text.child_text(symbol, "mirror")
        corners = [
            _turned(px, py, angle, mirror) for px in (local.left, local.right) for py in (local.top, local.bottom)
        ]
        xs, ys = [x + c[0] for c in corners], [y + c[1] for c in corners]
        return Box(min(xs), min(ys), max(xs), max(ys))

    def _everything(self) -> Iterator[Box]:
        text, root = self._text, self._text.root
        for head in ("wire", "bus", "polyline", "bus_entry"):
            for item in text.children(root, head):
                yield from _lines(_points(text, item))
        for head in ("junction", "no_connect"):
            for item in text.children(root, head):
                yield Box.of(*_at(text, item)[:2], 1.5, 1.5)
        for head in ("text", "label", "global_label", "hierarchical_label", "directive_label", "netclass_flag"):
            for item in text.children(root, head):
                yield _text_box(text, item, text.text(item.items[1]), extra=2.0 if "label" in head else 0.0)
        for item in text.children(root, "sheet"):
            x, y, _ = _at(text, item)
            width, height = text.numbers(text.child(item, "size"))[:2] or (0.0, 0.0)
            yield Box(x, y, x + width, y + height)
            yield from self._fields(item)
        for item in text.children(root, "text_box"):
            x, y, _ = _at(text, item)
            width, height = text.numbers(text.child(item, "size"))[:2] or (0.0, 0.0)
            yield Box(x, y, x + width, y + height)
        for item in text.children(root, "rectangle"):
            corners = [text.numbers(text.child(item, head)) for head in ("start", "end")]
            if all(len(corner) >= 2 for corner in corners):
                (x0, y0), (x1, y1) = corners[0][:2], corners[1][:2]
                yield from _lines([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)])
        for symbol in text.symbols():
            self._bodies.append(self.body(symbol))
            yield self._bodies[-1]
            yield from self._fields(symbol)

    def _fields(self, owner: Span) -> Iterator[Box]:
        text = self._text
        turned = bool(_at(text, owner)[2] % 360) or text.child_text(owner, "mirror") is not None
        for name, span in text.properties(owner).items():
            value = text.text(span.items[2])
            if text.hidden(span) or not value or name.casefold() in self._leave_out:
                continue
            if text.child_text(span, "show_name") == "yes":
                value = f"{name}: {value}"
            yield _text_box(text, span, value, both_ways=turned)


def text_width_mm(text: str, size_mm: float) -> float:
    """Width of a line of text of a letter height."""
    return size_mm * sum(_WIDTHS.get(c, _CAPITAL if c.isupper() else _WIDTH) for c in text)


def _candidates(
    body: Box, width: float, height: float, offsets: Sequence[tuple[float, str, float, float]]
) -> Iterator[tuple[float, float, float]]:
    """Middles of a block round a body, the nearest first, with the distance in mm before them."""
    middle_x, middle_y = (body.left + body.right) / 2, (body.top + body.bottom) / 2
    for away, side, out, slide in offsets:
        if side == "below":
            yield away, middle_x + slide, body.bottom + out + height / 2
        elif side == "above":
            yield away, middle_x + slide, body.top - out - height / 2
        elif side == "right":
            yield away, body.right + out + width / 2, middle_y + slide
        else:
            yield away, body.left - out - width / 2, middle_y + slide


@functools.cache
def _offsets(reach_mm: float, step_mm: float) -> list[tuple[float, str, float, float]]:
    """Steps away from a body: distance with a preference for below and above, side, out of it, along it."""
    count = int(reach_mm / step_mm)
    preference = {"below": 0.0, "above": 0.2, "right": 1.0, "left": 1.2}
    found = [
        (0.4 + out * step_mm + abs(slide) * 2 * step_mm + more, side, 0.4 + out * step_mm, slide * 2 * step_mm)
        for out in range(count)
        for slide in range(-count // 2, count // 2 + 1)
        for side, more in preference.items()
    ]
    return sorted(offset for offset in found if offset[0] <= reach_mm)


def _page(text: SchematicText) -> Box | None:
    """The page inside its frame; None for a size that is not known."""
    paper = text.child(text.root, "paper")
    words = [text.text(atom) for atom in paper.items[1:]] if paper is not None else []
    if words and words[0] == "User":
        sizes = text.numbers(Span(0, 0, [paper.items[0], *paper.items[2:]])) if paper is not None else []
        width, height = (sizes[0], sizes[1]) if len(sizes) == 2 else (0.0, 0.0)
    else:
        width, height = _PAPER_MM.get(words[0] if words else "", (0.0, 0.0))
    if "portrait" in words:
        width, height = height, width
    return Box(_FRAME_MM, _FRAME_MM, width - _FRAME_MM, height - _FRAME_MM) if width and height else None


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for column in range(math.floor(box.left / _CELL_MM), math.floor(box.right / _CELL_MM) + 1):
        for row in range(math.floor(box.top / _CELL_MM), math.floor(box.bottom / _CELL_MM) + 1):
            yield column, row


def _at(text: SchematicText, item: Span) -> tuple[float, float, float]:
    numbers = [*text.numbers(text.child(item, "at")), 0.0, 0.0, 0.0]
    return numbers[0], numbers[1], numbers[2]


def _points(text: SchematicText, item: Span) -> list[tuple[float, float]]:
    found = []
    points = text.child(item, "pts")
    for point in text.children(points, "xy") if points is not None else ():
        numbers = text.numbers(point)
        if len(numbers) >= 2:
            found.append((numbers[0], numbers[1]))
    return found


def _lines(points: list[tuple[float, float]]) -> Iterator[Box]:
    """Thin boxes along straight lines; a slanting one is cut into short pieces."""
    for (x0, y0), (x1, y1) in itertools.pairwise(points):
        straight = x0 == x1 or y0 == y1
        count = 1 if straight else max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / 2))
        for k in range(count):
            xs = sorted(x0 + (x1 - x0) * (k + end) / count for end in (0, 1))
            ys = sorted(y0 + (y1 - y0) * (k + end) / count for end in (0, 1))
            yield Box(xs[0] - _LINE_MM, ys[0] - _LINE_MM, xs[1] + _LINE_MM, ys[1] + _LINE_MM)


def _text_box(text: SchematicText, item: Span, value: str, *, extra: float = 0.0, both_ways: bool = False) -> Box:
    """Box of a text; with ``both_ways`` it holds the text whichever way its owner turns the justification."""
    x, y, angle = _at(text, item)
    effects = text.child(item, "effects")
    font = text.child(effects, "font") if effects is not None else None
    sizes = text.numbers(text.child(font, "size")) if font is not None else []
    size = sizes[0] if sizes else 1.27
    rows = value.split("\n")
    width = max(text_width_mm(row, size) for row in rows) + extra * size
    height = size * (1.2 + (len(rows) - 1) * 1.62)
    sides = effects and text.child(effects, "justify")
    words = {text.text(atom) for atom in sides.items[1:]} if sides else set()
    left = -width if "right" in words else 0.0 if "left" in words else -width / 2
    top = -height if "bottom" in words else 0.0 if "top" in words else -height / 2
    if both_ways:
        left, top, width, height = -max(width + left, -left), -max(height + top, -top), 0.0, 0.0
        right, bottom = -left, -top
    else:
        right, bottom = left + width, top + height
    box = Box(x + left, y + top, x + right, y + bottom)
    if both_ways or angle % 180:
        # Counter-clockwise by 90°: what was to the right is above.
        upright = Box(x + top, y - right, x + bottom, y - left)
        return box.around(upright) if both_ways else upright
    return box


def _turned(px: float, py: float, angle: float, mirror: str | None) -> tuple[float, float]:
    """A library point (y up) on the sheet (y down): counter-clockwise by the angle, then mirrored."""
    turn = math.radians(angle)
    x, y = px, -py
    x, y = x * math.cos(turn) + y * math.sin(turn), -x * math.sin(turn) + y * math.cos(turn)
    return (-x if mirror == "y" else x), (-y if mirror == "x" else y)


def _library_boxes(text: SchematicText) -> dict[tuple[str, int], Box]:
    """Box round outline and pins of every library symbol by name and unit, in library coordinates (y up)."""
    found: dict[tuple[str, int], Box] = {}
    library = text.child(text.root, "lib_symbols")
    for symbol in text.children(library, "symbol") if library is not None else ():
        name = text.text(symbol.items[1])
        units: dict[int, Box] = {}
        for part in text.children(symbol, "symbol"):
            numbers = text.text(part.items[1]).rsplit("_", 2)
            if len(numbers) == 3 and numbers[1].isdigit():
                box = _outline(text, part)
                if box is not None:
                    unit = int(numbers[1])
                    units[unit] = units[unit].around(box) if unit in units else box
        shared = units.get(0)
        for unit, box in units.items():
            found[name, unit] = box.around(shared) if shared is not None else box
    return found


def _outline(text: SchematicText, part: Span) -> Box | None:
    points: list[tuple[float, float]] = []
    for item in part.items:
        if not item.is_list:
            continue
        points += _points(text, item)
        for head in ("start", "mid", "end"):
            numbers = text.numbers(text.child(item, head))
            if len(numbers) >= 2:
                points.append((numbers[0], numbers[1]))
        centre = text.numbers(text.child(item, "center"))
        radius = text.numbers(text.child(item, "radius"))
        if len(centre) >= 2 and radius:
            points += [(centre[0] + d * radius[0], centre[1] + d * radius[0]) for d in (-1, 1)]
        if text.raw(item.items[0]) == b"pin":
            x, y, angle = _at(text, item)
            length = (text.numbers(text.child(item, "length")) or [2.54])[0]
            turn = math.radians(angle)
            # Half a letter beside the pin: its number stands there.
            for px, py in ((x, y), (x + length * math.cos(turn), y + length * math.sin(turn))):
                points += [(px - 0.3, py - 0.3), (px + 0.3, py + 0.3)]
    if not points:
        return None
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return Box(min(xs), min(ys), max(xs), max(ys))
