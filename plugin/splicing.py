"""Changing fields in a schematic file without touching anything else: text spliced in at byte spans.

Writing a parsed tree back reformats the whole file. Here the file is only located: every list and atom knows
the bytes it stands on, and an edit replaces or inserts a few of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_bytes

_TOKEN = re.compile(rb'[()]|"(?:[^"\\]|\\.)*"|[^\s()"]+', re.DOTALL)
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r"}


@dataclass(slots=True)
class Span:
    """A list or atom of an s-expression file: bytes ``start`` to ``end`` of the text. An atom has no items."""

    start: int
    end: int
    items: list[Span] = field(default_factory=list)
    is_list: bool = False


@dataclass(frozen=True, slots=True)
class Edit:
    """Bytes ``start`` to ``end`` become ``text``; an insertion where both are the same."""

    start: int
    end: int
    text: bytes


class SchematicText:
    """The bytes of a schematic file, with its placed symbols located.

    Raises UnusableError where the file can't be read or ends inside a bracket.
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        self.content = read_bytes(file)
        self.root = _locate(self.content, file)
        self.edits: list[Edit] = []

    def symbols(self) -> Iterator[Span]:
        """The placed symbols of this sheet."""
        return self.children(self.root, "symbol")

    def children(self, parent: Span, head: str) -> Iterator[Span]:
        """The lists within a list that start with a word."""
        wanted = head.encode()
        for item in parent.items:
            if item.is_list and item.items and self.raw(item.items[0]) == wanted:
                yield item

    def child(self, parent: Span, head: str) -> Span | None:
        """The first list within a list that starts with a word."""
        return next(self.children(parent, head), None)

    def child_text(self, parent: Span, head: str) -> str | None:
        """Second word of the first list with that head; None where there is none."""
        for item in self.children(parent, head):
            if len(item.items) > 1:
                return self.text(item.items[1])
        return None

    def text(self, atom: Span) -> str:
        """An atom's text, quotes and escapes taken off."""
        raw = self.raw(atom).decode("utf-8", "replace")
        if raw.startswith('"'):
            return re.sub(r"\\(.)", lambda m: _ESCAPES.get(m[1], m[1]), raw[1:-1], flags=re.DOTALL)
        return raw

    def numbers(self, span: Span | None) -> list[float]:
        """The leading numbers of a list, after its first word; empty for no list."""
        found: list[float] = []
        for item in span.items[1:] if span is not None else []:
            try:
                found.append(float(self.text(item)))
            except ValueError:
                break
        return found

    def properties(self, symbol: Span) -> dict[str, Span]:
        """The fields of a placed symbol by name."""
        return {self.text(p.items[1]): p for p in self.children(symbol, "property") if len(p.items) > 2}

    def hidden(self, item: Span) -> bool:
        """Whether a field is hidden, as any version since 6 writes it."""
        effects = self.child(item, "effects")
        for place in (item, effects):
            if place is None:
                continue
            if any(
                not atom.is_list and self.raw(atom) == b"hide" for atom in place.items[3 if place is item else 1 :]
            ):
                return True
            if any(
                len(mark.items) < 2 or self.raw(mark.items[1]) == b"yes" for mark in self.children(place, "hide")
            ):
                return True
        return False

    def set_field(self, symbol: Span, name: str, value: str, place: FieldPlace) -> None:
        """Give a placed symbol's field a value: only the value where the field is there, else a new field.

        Names are told apart without regard to case. ``place`` is used for a new field only.
        """
        existing = self.properties(symbol)
        known = next((key for key in existing if key.casefold() == name.casefold()), None)
        if known is not None:
            atom = existing[known].items[2]
            if self.text(atom) != value:
                self.edits.append(Edit(atom.start, atom.end, quoted(value)))
            return
        last = max(existing.values(), key=lambda span: span.end)
        line = self.content.rfind(b"\n", 0, last.start) + 1
        indent = self.content[line : last.start]
        if indent.strip():
            indent = b"\t\t"
        newline = b"\r\n" if b"\r\n" in self.content[:2000] else b"\n"
        step = b"\t" if b"\t" in indent or not indent else b"  "
        size = f"{place.size_mm:g}"
        lines = [
            b"(property " + quoted(name) + b" " + quoted(value),
            step + f"(at {place.x_mm:g} {place.y_mm:g} {place.angle_deg:g})".encode(),
            step + b"(effects",
            step * 2 + b"(font",
            step * 3 + f"(size {size} {size})".encode(),
            step * 3 + b"(color " + " ".join(f"{c}" for c in place.colour).encode() + b" 1)",
            step * 2 + b")",
            *([step * 2 + b"(hide yes)"] if place.hidden else []),
            step + b")",
            b")",
        ]
        self.edits.append(Edit(last.end, last.end, b"".join(newline + indent + row for row in lines)))

    def result(self) -> bytes:
        """The file's bytes with all edits made, those at one place in the order in which they were asked for."""
        pieces, done = [], 0
        for edit in sorted(self.edits, key=lambda e: e.start):
            pieces += [self.content[done : edit.start], edit.text]
            done = edit.end
        return b"".join([*pieces, self.content[done:]])

    def raw(self, span: Span) -> bytes:
        """The bytes of a list or atom."""
        return self.content[span.start : span.end]


@dataclass(frozen=True, slots=True)
class FieldPlace:
    """Where and how a new field is shown: middle in mm, angle, height of letters, colour (0 to 255), or hidden."""

    x_mm: float
    y_mm: float
    angle_deg: float = 0.0
    size_mm: float = 1.0
    colour: tuple[int, int, int] = (0, 90, 160)
    hidden: bool = False


def quoted(text: str) -> bytes:
    """Text as KiCad writes a string; control characters are dropped."""
    clean = "".join(c for c in text if c >= " ")
    return b'"' + clean.replace("\\", "\\\\").replace('"', '\\"').encode("utf-8") + b'"'


def _locate(content: bytes, file: Path) -> Span:
    stack: list[Span] = []
    root: Span | None = None
    for token in _TOKEN.finditer(content):
        first = content[token.start()]
        if first == 0x28:  # (
            stack.append(Span(token.start(), token.start(), is_list=True))
        elif first == 0x29:  # )
            if not stack:
                break
            done = stack.pop()
            done.end = token.end()
            if not stack:
                root = done
                break
            stack[-1].items.append(done)
        elif stack:
            stack[-1].items.append(Span(token.start(), token.end()))
    if root is None:
        line = content.count(b"\n") + 1
        raise UnusableError("a bracket is never closed", file=file, line=line)
    return root
