"""How ids and references are put in order, ``P2`` before ``P10`` on every machine, and named in a sentence."""

from __future__ import annotations

import re
from collections.abc import Sequence

_RUN_OF_DIGITS = re.compile(r"([0-9]+)")
_SHARE = re.compile(r"[01]\.[0-9]{2}")
_LAST_NUMBER = re.compile(r"(?<![0-9])(?:0|[1-9][0-9]{0,8})$")
"""Of no leading zero, and short enough to be read as a number."""
_UNNAMED_JOINT = re.compile(r"(?<![^\W_])@(?=[^\s@]*\.\S)")
"""What stands before the pin in the id of such a joint; ``Trip@night`` is the field of an arrangement."""


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


def place_said(place: str) -> str:
    """A place of a fault in a sentence: ``the middle of W7`` for ``W7:0.50``, ``P1.1 and P1.3`` for ``P1.1|P1.3``.

    The beginning of a conductor is its end at pin 1 or A. A joint is called by the terminal whose name it bears.
    """
    part, colon, share = place.rpartition(":")
    if colon and _SHARE.fullmatch(share):
        along = {0.0: "the beginning", 0.5: "the middle", 1.0: "the end"}.get(float(share))
        return f"{along} of {part}" if along else f"{part} at {100 * float(share):.0f} % of its length"
    return " and ".join(end.removeprefix("@") for end in place.split("|"))


def with_article(noun: str) -> str:
    """``a fuse``, ``an output``."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


def some_of(names: Sequence[str], at_most: int) -> str:
    """Names in a sentence: ``F1, F2 and 3 more``."""
    more = f" and {len(names) - at_most} more" if len(names) > at_most else ""
    return ", ".join(names[:at_most]) + more


def all_of(names: Sequence[str]) -> str:
    """Every name in a sentence, runs of three or more numbers shortened: ``F1, F3 and W1 to W9``."""
    said: list[str] = []
    for run in _runs(names):
        said += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else run
    return " and ".join(filter(None, (", ".join(said[:-1]), *said[-1:])))


def as_drawn(sentence: str) -> str:
    """A sentence with joints that no net names (``@J1.3``) called by the pin that a person finds: ``J1.3``."""
    return _UNNAMED_JOINT.sub("", sentence)


def _runs(names: Sequence[str]) -> list[list[str]]:
    """Neighbours that differ in a last number only, and in that by one."""
    runs: list[list[str]] = []
    for name in names:
        if runs and name == _next_name(runs[-1][-1]):
            runs[-1].append(name)
        else:
            runs.append([name])
    return runs


def _next_name(name: str) -> str | None:
    """``W10`` after ``W9``; None where no number ends the name."""
    last = _LAST_NUMBER.search(name)
    return f"{name[: last.start()]}{int(last.group()) + 1}" if last else None
