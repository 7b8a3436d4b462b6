"""Finds names that stand for something by themselves, and that a slip of the hand may have made two of."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping

from loadloom.graph.model.elements import Element, Load, Output, TwoEnded
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import natural_key
from loadloom.graph.rules import words_alike
from loadloom.plugin.building.context import listed
from loadloom.plugin.notes import Notes
from loadloom.plugin.values import quoted

SHORTEST = 4
"""Letters of the longer name from which one letter more or less is taken for a slip."""

_Users = Mapping[str, Mapping[str, Subject]]
"""By name: who uses it, by id."""


def report_alike_words(harness: Harness, notes: Notes) -> None:
    """A finding for two names of a kind that are one slip apart, and for a word that is state and arrangement."""
    others = (*harness.outputs, *harness.two_ended, *harness.splices)
    states = _words(harness.loads)
    arrangements = _words(others)
    zoned: tuple[TwoEnded | Output | Load, ...] = (*harness.two_ended, *harness.outputs, *harness.loads)
    kinds: dict[str, _Users] = {
        "states": states,
        "arrangements": arrangements,
        "supplies": _named((o.supply, o) for o in harness.outputs),
        "bundles": _named((c.lies_in, c) for c in harness.conductors),
        "zones": _named((part.zone, part) for part in zoned),
    }
    for kind, users in kinds.items():
        for one, other in itertools.combinations(sorted(users, key=natural_key), 2):
            if one_slip_apart(one, other):
                rarer, commoner = sorted((one, other), key=lambda name: len(users[name]))
                _tell(
                    notes,
                    users[rarer],
                    f"The {kind} {quoted(rarer)} ({_of(users[rarer])}) and {quoted(commoner)} "
                    f"({_of(users[commoner])}) differ by one letter or its case and count as two.",
                    "Spell both alike if they are one, else name them less alike.",
                )
    for word in sorted(states.keys() & arrangements.keys(), key=natural_key):
        _tell(
            notes,
            arrangements[word],
            f"{quoted(word)} is a state on {_of(states[word])} and an arrangement on {_of(arrangements[word])}: "
            "after @, only a load names a state.",
            "Give the arrangement a name of its own, or remove the word from the part that is no load.",
        )


def one_slip_apart(one: str, other: str) -> bool:
    """Whether one letter added, left out, swapped, changed or of another case makes two names the same."""
    a, b = one.casefold(), other.casefold()
    if a == b or max(len(a), len(b)) < SHORTEST:
        return a == b and one != other
    start = next((n for n, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    a, b = a[start:], b[start:]
    end = next((n for n, (x, y) in enumerate(zip(a[::-1], b[::-1], strict=False)) if x != y), min(len(a), len(b)))
    tail = a[len(a) - end :]
    a, b = a[: len(a) - end], b[: len(b) - end]
    if not (a + b).isalpha():
        return False
    if len(a) == len(b) == 1:  # a letter that stands by itself, or last, tells one from the other on purpose
        return tail[:1].isalpha() and max(len(one), len(other)) > SHORTEST
    return len(a) + len(b) == 1 or (len(a) == 2 and a == b[::-1])


def _words(elements: Iterable[Element]) -> _Users:
    return _named((word, element) for element in elements for word in element.by_word)


def _named(pairs: Iterable[tuple[str | None, Element]]) -> _Users:
    found: dict[str, dict[str, Subject]] = {}
    for name, element in pairs:
        if name is not None:
            found.setdefault(name, {})[element.id] = element.subject
    return found


def _of(users: Mapping[str, Subject]) -> str:
    return listed(sorted(users, key=natural_key), 4)


def _tell(notes: Notes, users: Mapping[str, Subject], message: str, remedy: str) -> None:
    first = min(users, key=natural_key)
    notes.find(words_alike.RULE.finding(users[first], message, remedy))
