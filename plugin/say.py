"""What the command line prints beside the tables of the reports: one gate for every line."""

from __future__ import annotations

import sys

from loadloom.reports.safe_text import terminal_text

LONGEST = 4000
"""Characters of a line; a list of files can be long."""


def say(line: str) -> None:
    """Print a line. What would move the cursor, colour, ring or turn the reading direction is made visible."""
    print(terminal_text(line, LONGEST))


def complain(line: str) -> None:
    """The same on standard error."""
    print(terminal_text(line, LONGEST), file=sys.stderr)
