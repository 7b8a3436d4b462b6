"""The symbol library's line in a ``sym-lib-table``, put in and taken out without touching another one."""

from __future__ import annotations

from pathlib import Path

from loadloom.plugin.splicing import SchematicText, Span, quoted

NAME = "loadloom"
EMPTY = b"(sym_lib_table\n  (version 7)\n)\n"


class LibraryTable:
    """A library table file. Raises UnusableError where it can't be read."""

    def __init__(self, file: Path) -> None:
        self._text = SchematicText(file)

    @property
    def content(self) -> bytes:
        """The file as it stands."""
        return self._text.content

    def uri(self) -> str | None:
        """Where the table says that the library lies; None where it does not list it."""
        entry = self._entry()
        return None if entry is None else self._text.child_text(entry, "uri") or ""

    def with_library(self, uri: str) -> bytes:
        """The table with the library at a place."""
        line = (
            b"(lib (name " + quoted(NAME) + b')(type "KiCad")(uri ' + quoted(uri) + b')(options "")'
            b'(descr "Power harness: a symbol for every role"))'
        )
        content, entry = self.content, self._entry()
        if entry is not None:
            return content[: entry.start] + line + content[entry.end :]
        end = self._text.root.items[-1].end
        newline = b"\r\n" if b"\r\n" in content else b"\n"
        return content[:end] + newline + b"  " + line + content[end:]

    def without_library(self) -> bytes:
        """The table without the library."""
        entry = self._entry()
        if entry is None:
            return self.content
        items = self._text.root.items
        before = items[items.index(entry) - 1].end
        return self.content[:before] + self.content[entry.end :]

    def _entry(self) -> Span | None:
        for entry in self._text.children(self._text.root, "lib"):
            if self._text.child_text(entry, "name") == NAME:
                return entry
        return None
