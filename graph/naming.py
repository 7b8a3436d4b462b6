"""How ids and references are put in order, ``P2`` before ``P10`` on every machine, and named in a sentence."""

from __future__ import annotations

import re
from collections.abc import Sequence

_RUN_OF_DIGITS = re.compile(r"([0-9]+)")


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key that orders the numbers inside a text by their value.

    Runs of ASCII digits compare as numbers and come before letters: ``W7`` < ``W10`` < ``W10.2`` < ``Wa``. A
    text comes before its own continuation. Texts that differ only in leading zeros (``W1``, ``W01``) still get
    different keys, so the order never depends on the order of the input.
    """
    key: list[tuple[int, int, str]] = []
    for position, part in enumerate(_RUN_OF_DIGITS.split(text)):
        if position % 2:  # Compared by length, then digits: int() refuses very long runs.
            digits = part.lstrip("0")
            key.append((0, len(digits), digits))
        elif part:
            key.append((1, 0, part))
    key.append((-1, 0, text))
    return tuple(key)


def some_of(names: Sequence[str], at_most: int) -> str:
    """Names in a sentence: ``F1, F2 and 3 more``."""
    more = f" and {len(names) - at_most} more" if len(names) > at_most else ""
    return ", ".join(names[:at_most]) + more
