"""Bus names: vectors ``D[0..7]``, groups ``USB{DP DM}`` and aliases."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

_VECTOR = re.compile(r"([^\s\[\]{}]*|~\{[^\s\[\]{}]*)\[(\d{1,5})\.\.(\d{1,5})\](\}?|\}?[~+\-PN]?)")
_GROUP = re.compile(r"([^\s{}\[\]]*)\{(.*)\}")
_FORMATTING = ("~", "_", "^", "$")
MEMBER_LIMIT = 10_000


class BusNameError(ValueError):
    """A bus name that can't be resolved."""


@dataclass(frozen=True, slots=True)
class Bus:
    """Members of a bus: full net names, and how they are matched with those of another bus on the same line.

    Vectors match by position, groups by name: ``keys`` holds what is compared.
    """

    is_vector: bool
    members: tuple[str, ...]
    keys: tuple[str, ...]


def parse_bus(name: str, aliases: Mapping[str, tuple[str, ...]]) -> Bus | None:
    """The bus that a label names, or None if it names a single net.

    Raises BusNameError for a group within a group that is no alias, and for absurdly many members.
    """
    vector = _vector(name)
    if vector is not None:
        return Bus(True, vector, tuple(str(k) for k in range(len(vector))))
    group = _group(name)
    if group is None:
        return None
    prefix, inside = group
    members: list[str] = []
    for word in inside:
        members.extend(_members(word, aliases, 0))
        if len(members) > MEMBER_LIMIT:
            raise BusNameError(f"bus {name!r} has more than {MEMBER_LIMIT:,} members")
    full = tuple(f"{prefix}.{member}" if prefix else member for member in members)
    return Bus(False, full, tuple(members))


def _vector(name: str) -> tuple[str, ...] | None:
    match = _VECTOR.fullmatch(name)
    if match is None:
        return None
    prefix, first, last, suffix = match[1], int(match[2]), int(match[3]), match[4]
    low, high = sorted((first, last))
    if high - low >= MEMBER_LIMIT:
        raise BusNameError(f"bus {name!r} has more than {MEMBER_LIMIT:,} members")
    return tuple(f"{prefix}{k}{suffix}" for k in range(low, high + 1))


def _group(name: str) -> tuple[str, list[str]] | None:
    match = _GROUP.fullmatch(name)
    if match is None or match[1].endswith(_FORMATTING):
        return None
    words = match[2].split()
    return (match[1], words) if words else None


def _members(word: str, aliases: Mapping[str, tuple[str, ...]], depth: int) -> list[str]:
    if depth > 10:
        raise BusNameError(f"bus alias {word!r} leads back to itself")
    vector = _vector(word)
    if vector is not None:
        return list(vector)
    if word in aliases:
        return [member for inner in aliases[word] for member in _members(inner, aliases, depth + 1)]
    if _group(word) is not None:
        raise BusNameError(f"bus group {word!r} within a bus group")
    return [word]
