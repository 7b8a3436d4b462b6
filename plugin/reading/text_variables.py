"""Text variables ``${NAME}`` in fields and labels, as KiCad's schematic editor resolves them."""

from __future__ import annotations

import re
from collections.abc import Callable

_VARIABLE = re.compile(r"\$\{([^${}]+)\}")
_ROUNDS = 10
_LENGTH_LIMIT = 100_000

Lookup = Callable[[str], str | None]


def expand(text: str, *lookups: Lookup) -> str:
    """Replace every variable that one of the lookups knows; others stay as they stand, as in KiCad.

    Values may hold variables themselves; a variable that leads back to itself stays unresolved.
    """
    if "${" not in text:
        return text

    def found(match: re.Match[str]) -> str:
        for lookup in lookups:
            value = lookup(match[1])
            if value is not None:
                return value
        return match[0]

    for _ in range(_ROUNDS):
        expanded = _VARIABLE.sub(found, text)
        if expanded == text or len(expanded) > _LENGTH_LIMIT:
            break
        text = expanded
    return text


def unresolved(text: str) -> str | None:
    """The first variable still in the text."""
    match = _VARIABLE.search(text)
    return match[0] if match else None


_ESCAPES = {
    "slash": "/",
    "backslash": "\\",
    "colon": ":",
    "dblquote": '"',
    "quote": "'",
    "lt": "<",
    "gt": ">",
    "bar": "|",
    "tab": "\t",
    "return": "\n",
    "space": " ",
    "brace": "{",
    "amp": "&",
}
_ESCAPE = re.compile(r"(?<![$~^_])\{(" + "|".join(_ESCAPES) + r")\}")


def unescape(text: str) -> str:
    """``{slash}`` is ``/``, and so on: how KiCad writes characters that its names can't hold."""
    return _ESCAPE.sub(lambda match: _ESCAPES[match[1]], text) if "{" in text else text
