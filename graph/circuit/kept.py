"""What one solve or search finds and the next can use.

The same copper is solved at many voltages, and the same states are searched with a device set otherwise each time.
What hangs on neither is kept here, the latest used ones up to ``MOST_BYTES``.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import TypeVar, cast

import numpy as np

MOST_BYTES = 120_000_000
"""What is kept at a time; what was used the longest ago goes first."""

PLACE_BYTES = 500
"""About what a place of fault takes."""

Kept = TypeVar("Kept")


class _Kept(threading.local):
    """What one thread keeps, with its size in bytes, what was used last at the end."""

    def __init__(self) -> None:
        self.by_key: OrderedDict[object, tuple[object, int]] = OrderedDict()
        self.total = 0


_KEPT = _Kept()


def keep(key: object, make: Callable[[], Kept]) -> Kept:
    """What is kept under a key, made if there is nothing."""
    by_key = _KEPT.by_key
    if key in by_key:
        by_key.move_to_end(key)
        return cast(Kept, by_key[key][0])
    made = make()
    size = _bytes(made)
    if size > MOST_BYTES // 10:
        return made
    by_key[key] = made, size
    _KEPT.total += size
    while _KEPT.total > MOST_BYTES:
        _KEPT.total -= by_key.popitem(last=False)[1][1]
    return made


def _bytes(value: object) -> int:
    """About how many bytes a value takes."""
    if isinstance(value, np.ndarray):
        return value.nbytes
    if isinstance(value, tuple):
        return sum(map(_bytes, value))
    if not is_dataclass(value):
        return PLACE_BYTES
    held = [getattr(value, each.name) for each in fields(value)]
    arrays = sum(each.nbytes for each in held if isinstance(each, np.ndarray))
    arrays += getattr(value, "bytes_later", 0)
    return PLACE_BYTES + arrays + PLACE_BYTES * sum(len(each) for each in held if isinstance(each, list))
