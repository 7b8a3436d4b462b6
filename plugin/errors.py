"""The one family of errors that end a run with exit code 2: input or call that can't be used."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from loadloom.reports.safe_text import terminal_text

LONGEST = 2000
"""Characters of a sentence; what is longer is cut, and says so."""


@dataclass
class UnusableError(Exception):
    """A file or call that can't be used as a whole. ``str()`` is one clear sentence for the user.

    ``file`` and ``line`` say where, ``symbol`` and ``field`` what, ``hint`` what would mend it.
    """

    cause: str
    file: Path | None = None
    line: int | None = None
    symbol: str | None = None
    field: str | None = None
    hint: str | None = None

    def __str__(self) -> str:
        """The sentence on one line, whatever the drawing, the file's name or a library put into it."""
        where = str(self.file) if self.file is not None else ""
        if where and self.line is not None:
            where += f":{self.line}"
        what = " ".join(part for part in (self.symbol, self.field) if part)
        head = ": ".join(part for part in (where, what, self.cause) if part)
        return terminal_text(f"{head} ({self.hint})" if self.hint else head, LONGEST)
