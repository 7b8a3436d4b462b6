"""Stacked pins: one drawn pin whose number names several, as ``[8,9,10]`` or ``[A1-A4]``."""

from __future__ import annotations

import re

_RANGE = re.compile(r"([^\d\s,\-\[\]]*)(\d{1,4})-([^\d\s,\-\[\]]*)(\d{1,4})")
_PLAIN = re.compile(r"[^\s,\-\[\]]+")


def pin_numbers(number: str) -> tuple[str, ...]:
    """The pins that a pin number names; one that is not written as a stack is itself."""
    if not (number.startswith("[") and number.endswith("]")):
        return (number,)
    numbers: list[str] = []
    for part in number[1:-1].split(","):
        word = part.strip()
        span = _RANGE.fullmatch(word)
        if span:
            prefix, first, last_prefix, last = span[1], int(span[2]), span[3], int(span[4])
            if last_prefix not in ("", prefix) or first > last:
                return (number,)
            numbers.extend(f"{prefix}{k}" for k in range(first, last + 1))
        elif _PLAIN.fullmatch(word):
            numbers.append(word)
        else:
            return (number,)
    return tuple(dict.fromkeys(numbers))
