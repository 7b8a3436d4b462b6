"""The gates: every text that may come from a drawing passes one of these on its path into a file.

One gate per format, each a pure function of one text. What can't be shown is made visible, not dropped, so that
a reader sees that something odd stands in the drawing.
"""

from __future__ import annotations

import html
import re
from functools import lru_cache

CELL_LIMIT = 32_767
"""Longest text of a spreadsheet cell in UTF-16 units (ECMA-376 part 1 leaves it open; the programs' limit)."""

_FORMAT = (
    "\u00ad\u061c\u180e\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
)
"""Characters of Unicode's category Cf that show nothing: marks of direction, joiners, tags, the soft hyphen."""

_UNSEEN = re.compile(f"[{_FORMAT}\u0080-\u009f\ud800-\udfff\u2028\u2029\ufffe\uffff]")
_CONTROL = {code: chr(0x2400 + code) for code in range(0x20)} | {0x7F: "\u2421"}
_SHEET_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_FORMULA_START = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")


def visible(text: str) -> str:
    """A text on one line with everything unprintable made visible.

    Control characters become their control pictures (``␇``), marks that turn the reading direction or show
    nothing, lone surrogates and other unseen or forbidden characters become ``⟨U+202E⟩``.
    """
    return _UNSEEN.sub(lambda match: f"⟨U+{ord(match.group()):04X}⟩", text).translate(_CONTROL)


def shortened(text: str, limit: int) -> str:
    """A text of at most ``limit`` UTF-16 units; a cut one ends with how long it was."""
    if len(text) * 2 <= limit or _utf16_units(text) <= limit:
        return text
    end = f" … (cut, {len(text)} characters)"
    room = limit - len(end)
    cut = text.encode("utf-16-le", "surrogatepass")[: 2 * room]
    return cut.decode("utf-16-le", "ignore") + end


@lru_cache(maxsize=65_536)  # the same words stand in many cells
def cell_text(text: str, limit: int = CELL_LIMIT) -> str:
    """For a spreadsheet cell; the cell must also be typed as text and quoted (see ``looks_like_formula``).

    ``_x0041_`` is how the file format writes characters by number: its underscore is escaped, so that the text
    stays what it was.
    """
    return shortened(_SHEET_ESCAPE.sub("_x005F_", visible(text)), limit)


def looks_like_formula(text: str) -> bool:
    """Whether a spreadsheet program could take a text for a formula when it is typed or pasted."""
    return text.startswith(_FORMULA_START)


def page_text(text: str) -> str:
    """For a spreadsheet's page header or footer, where ``&`` starts a code; short, since the whole has 255."""
    return shortened(visible(text), 60).replace("&", "&&")


def csv_text(text: str) -> str:
    """For a CSV field: a text that a spreadsheet would take for a formula gets an apostrophe in front."""
    seen = visible(text)
    return f"'{seen}" if looks_like_formula(text) or looks_like_formula(seen) else seen


def html_text(text: str) -> str:
    """For HTML text and quoted attributes."""
    return html.escape(visible(text), quote=True)


def json_text(text: str) -> str:
    """For JSON: as it stands, save lone surrogates, which no UTF-8 file can hold."""
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def terminal_text(text: str, limit: int = 300) -> str:
    """For a terminal: no escape sequence gets through, and nothing floods the screen."""
    return shortened(visible(text), limit)


def annotation_text(text: str, *, is_property: bool = False, limit: int = 2000) -> str:
    """For a line of a CI log: percent-coded where the line's own grammar has a meaning for a character."""
    coded = shortened(visible(text), limit).replace("%", "%25")
    return coded.replace(":", "%3A").replace(",", "%2C") if is_property else coded


def _utf16_units(text: str) -> int:
    return len(text.encode("utf-16-le", "surrogatepass")) // 2
