"""One shape for everything that is parsed: a node is a list of its name, texts and child nodes, with its line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


class Node(list[Any]):
    """``[name, item, ...]`` where an item is a text or a Node; ``line`` is where it begins in the file (from 1)."""

    __slots__ = ("line",)
    line: int

    def __init__(self, items: list[Any], line: int) -> None:
        super().__init__(items)
        self.line = line

    @property
    def name(self) -> str:
        """The first text, or an empty one."""
        return self[0] if self and isinstance(self[0], str) else ""

    def children(self, *names: str) -> Iterator[Node]:
        """Child nodes of these names, in order."""
        for item in self:
            if isinstance(item, Node) and item and item[0] in names:
                yield item

    def child(self, *names: str) -> Node | None:
        """The first child node of one of these names."""
        return next(self.children(*names), None)

    def text(self, position: int = 1, default: str = "") -> str:
        """The text at a position, or the default if there is none or it is a node."""
        if position < len(self) and isinstance(self[position], str):
            text: str = self[position]
            return text
        return default

    def value(self, name: str, default: str = "") -> str:
        """The first text of the child of that name."""
        found = self.child(name)
        return default if found is None else found.content or default

    @property
    def content(self) -> str:
        """The first text after the name, wherever it stands among child nodes; empty if there is none."""
        return next((item for item in self[1:] if isinstance(item, str)), "")

    def says(self, name: str, default: bool = False) -> bool:
        """A flag, written ``(name yes)``, ``(name)`` or, up to KiCad 7, as the bare word."""
        found = self.child(name)
        if found is not None:
            return found.text(1, "yes") in ("yes", "true")
        return True if name in self[1:] else default
