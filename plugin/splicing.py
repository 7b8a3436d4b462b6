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

_TOKEN = re.compile(rb'[()]|"(?:[^"\\]|\\.)*"|[^\s()"]+', re.DOTALL)


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
    """The bytes of a schematic file, with its placed symbols located."""

    def __init__(self, file: Path) -> None:
        self.file = file
        try:
            self.content = file.read_bytes()
        except OSError as error:
            raise UnusableError(f"can't be read: {error.strerror or error}", file=file) from error
        self.root = _locate(self.content, file)
        self.edits: list[Edit] = []

    def symbols(self) -> Iterator[Span]:
        """The placed symbols of this sheet."""
        return self.children(self.root, "symbol")

    def children(self, parent: Span, head: str) -> Iterator[Span]:
        """The lists within a list that start with a word."""
        wanted = head.encode()
        for item in parent.items:
            if item.is_list and item.items and self._raw(item.items[0]) == wanted:
                yield item

    def child_text(self, parent: Span, head: str) -> str | None:
        """Second word of the first list with that head; None where there is none."""
        for item in self.children(parent, head):
            if len(item.items) > 1:
                return self.text(item.items[1])
        return None

    def text(self, atom: Span) -> str:
        """An atom's text, quotes and escapes taken off."""
        raw = self._raw(atom).decode("utf-8", "replace")
        if raw.startswith('"'):
            return re.sub(r"\\(.)", lambda m: {"n": "\n", "t": "\t"}.get(m[1], m[1]), raw[1:-1])
        return raw

    def properties(self, symbol: Span) -> dict[str, Span]:
        """The fields of a placed symbol by name."""
        return {self.text(p.items[1]): p for p in self.children(symbol, "property") if len(p.items) > 2}

    def position_mm(self, symbol: Span) -> tuple[float, float, float]:
        """Place (x, y) in mm and angle in degrees of a placed symbol."""
        for at in self.children(symbol, "at"):
            numbers = [float(self.text(item)) for item in at.items[1:4]]
            return numbers[0], numbers[1], numbers[2] if len(numbers) > 2 else 0.0
        return 0.0, 0.0, 0.0

    def set_field(
        self, symbol: Span, name: str, value: str, at_mm: tuple[float, float], *, shown: bool, size_mm: float = 1.0
    ) -> None:
        """Give a placed symbol's field a value: only the value where the field is there, else a new field."""
        existing = self.properties(symbol)
        if name in existing:
            atom = existing[name].items[2]
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
        hidden = [] if shown else [step + b"(hide yes)"]
        lines = [
            b"(property " + quoted(name) + b" " + quoted(value),
            step + f"(at {at_mm[0]:g} {at_mm[1]:g} 0)".encode(),
            step + b"(effects",
            step + step + b"(font",
            step + step + step + f"(size {size_mm:g} {size_mm:g})".encode(),
            step + step + b")",
            *[step + h for h in hidden],
            step + b")",
            b")",
        ]
        self.edits.append(Edit(last.end, last.end, b"".join(newline + indent + row for row in lines)))

    def result(self) -> bytes:
        """The file's bytes with all edits made."""
        content = self.content
        for edit in sorted(self.edits, key=lambda e: e.start, reverse=True):
            content = content[: edit.start] + edit.text + content[edit.end :]
        return content

    def _raw(self, span: Span) -> bytes:
        return self.content[span.start : span.end]


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
