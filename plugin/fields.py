"""The fields of a symbol, read by name without regard to case, for one core or pin and one word at a time.

A field's name is ``Name``, ``Name.k`` for core or pin k, ``Name@word`` in a state or arrangement, or
``Name.k@word``. For core k under a word the first of ``Name.k@word``, ``Name.k``, ``Name@word`` and ``Name``
that is written counts: what is said of one core stands before what is said of all. An empty field is as good as
none. Fields of the placed symbol stand before those of its library symbol.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from loadloom.graph.model.elements import Band, Gauge
from loadloom.graph.model.findings import Subject
from loadloom.graph.rules import field_unreadable, fields_contradict
from loadloom.plugin.drawing import Symbol
from loadloom.plugin.notes import Notes, subject_of
from loadloom.plugin.roles import FIELDS, Role
from loadloom.plugin.values import UnreadableValue, quoted, shown

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class FieldKey:
    """A field's name taken apart; ``name`` and ``part`` casefolded, ``word`` as first spelt in the drawing."""

    name: str
    part: str | None = None
    word: str | None = None


@dataclass(frozen=True, slots=True)
class WrittenField:
    """A field as drawn. ``rival`` is the name of another field that differs only in case."""

    written: str
    text: str
    rival: str | None = None


class Words:
    """One spelling for every word after ``@``, whatever the case it is written in."""

    def __init__(self, preferred: Iterable[str] = ()) -> None:
        self._spelling: dict[str, str] = {}
        for word in preferred:
            self.spell(word)

    def spell(self, word: str) -> str:
        """The spelling of a word that was met first."""
        return self._spelling.setdefault(word.casefold(), word)


_NAMED = frozenset({Role.LOAD, Role.OUTPUT, Role.BATTERY, Role.SOLAR, Role.CONVERTER})
_TYPE = re.compile(r"[^\W\d]{2}")
_QUANTITY = re.compile(r"\d\s*[mk]?(V|A|W|Ω|Ohm)(?![^\W\d])|(?<!\S)[\d.,]+(?!\S)")


class SymbolFields:
    """All fields of one symbol in a role."""

    def __init__(self, symbol: Symbol, role: Role, notes: Notes, words: Words) -> None:
        self.symbol = symbol
        self.role = role
        self._notes = notes
        self._fields = _by_key(symbol.fields, words)
        for key, field in _by_key(symbol.library_fields, words).items():
            self._fields.setdefault(key, field)

    def words(self, part: str | None = None) -> tuple[str, ...]:
        """The words that any field of this core or pin is written for, in order of appearance."""
        spec = FIELDS[self.role]
        known = {name.casefold() for name in spec.names if name not in spec.whole}
        found = dict.fromkeys(
            key.word
            for key in self._fields
            if key.word is not None and key.name in known and key.part in (None, _folded(part))
        )
        return tuple(word for word in found if word is not None)

    def view(self, part: str | None = None, word: str | None = None) -> View:
        """The fields as they are for one core or pin and one word."""
        return View(self, part, word, self._notes)

    def written(self, name: str, part: str | None, word: str | None) -> WrittenField | None:
        """The field that counts for a core or pin and a word, or None where none is written."""
        name, folded = name.casefold(), _folded(part)
        parts = (folded, None) if folded is not None else (None,)
        words = (word, None) if word is not None else (None,)
        for p in parts:
            for w in words:
                field = self._fields.get(FieldKey(name, p, w))
                if field is not None:
                    return field
        return None

    def main_text(self, name: str) -> WrittenField | None:
        """The symbol's ``Value``, where ``name`` is the role's main field and the value can be meant for it.

        A value without any digit (``Fuse``, or the library symbol's own name) is a label, not a value; so is a type
        such as ``DRV8871`` of a source or load.
        """
        main = FIELDS[self.role].main
        value = self.symbol.value.strip()
        if main is None or main.casefold() != name.casefold():
            return None
        label = value == self.symbol.library_id.rpartition(":")[2] or not any(c.isdigit() for c in value)
        label = label or (self.role in _NAMED and _TYPE.match(value) is not None and not _QUANTITY.search(value))
        return None if label and value.casefold() != "none" else WrittenField("Value", value)

    def written_fields(self) -> Iterable[tuple[FieldKey, WrittenField]]:
        """All fields that hold something, in the order drawn, those of the library symbol last."""
        return self._fields.items()

    def label(self, name: str) -> str | None:
        """The symbol's ``Value`` where it says what the part is called, and not what field ``name`` would say."""
        value = self.symbol.value.strip()
        if value in ("", "~", "?") or value == self.symbol.library_id.rpartition(":")[2]:
            return None
        return value if self.main_text(name) is None or self.written(name, None, None) is not None else None


class View:
    """The fields of a symbol for one core or pin and one word.

    ``placeholders`` gathers the attributes whose text could not be read.
    """

    def __init__(self, fields: SymbolFields, part: str | None, word: str | None, notes: Notes) -> None:
        self.fields = fields
        self.part = part
        self.word = word
        self.notes = notes
        self.placeholders: set[str] = set()

    def get(
        self,
        attribute: str,
        name: str,
        parse: Callable[[str], T],
        *,
        optional_value: bool = False,
        instead: str = "",
    ) -> T | None:
        """The value of a field, or None where it is missing or unreadable (then a finding and a placeholder).

        The role's main field falls back on ``Value``; with ``optional_value`` a ``Value`` that can't be read
        as it counts as missing instead of unreadable. ``instead`` says what stands in for an unreadable value.
        """
        field = self.fields.written(name, self.part, self.word)
        from_value = field is None
        if field is None:
            field = self.fields.main_text(name)
        if field is None:
            return None
        if field.rival is not None:
            reason = f"the field {quoted(field.rival)} differs from it only in case"
            remedy = f"Keep one of {shown(field.written)} and {shown(field.rival)}."
            self._unreadable(attribute, field, reason + instead, remedy=remedy)
            return None
        try:
            if "?" in field.text:
                raise UnreadableValue("it holds a question mark")
            found = parse(field.text)
        except UnreadableValue as unreadable:
            if not (from_value and optional_value):
                self._unreadable(
                    attribute, field, unreadable.reason + instead, as_name=name if from_value else None
                )
            return None
        if field == self.fields.written(name, None, None):  # What is said of one core, pin or word stands alone.
            self._compare_with_value(name, field, parse, found)
        return found

    def _compare_with_value(self, name: str, field: WrittenField, parse: Callable[[str], T], found: T) -> None:
        """Tells of a ``Value`` that people read on the drawing and order by, and that says another thing."""
        value = self.fields.main_text(name)
        if value is None:
            return
        try:
            differs = _differ(found, parse(value.text))
        except UnreadableValue:
            return
        if differs:
            reference = self.fields.symbol.reference
            self.notes.find(
                fields_contradict.RULE.finding(
                    subject_of(self.fields.symbol, field=field.written),
                    f"{reference}: Value reads {quoted(value.text)}, {shown(field.written)} reads "
                    f"{quoted(field.text)}, which counts.",
                    "Correct one of the two.",
                )
            )

    def text(self, attribute: str, name: str) -> str | None:
        """The text of a field, stripped; None where it is missing."""
        return self.get(attribute, name, str.strip)

    def states(self, name: str) -> bool:
        """Whether the field is written at all (for this core or pin and word), readable or not."""
        return self.fields.written(name, self.part, self.word) is not None

    def subject(self, id: str, field: str | None = None) -> Subject:
        """What a finding about this part points at."""
        return subject_of(self.fields.symbol, id=id, field=field)

    def _unreadable(
        self,
        attribute: str,
        field: WrittenField,
        reason: str,
        as_name: str | None = None,
        remedy: str | None = None,
    ) -> None:
        self.placeholders.add(attribute)
        reference = self.fields.symbol.reference
        meant = f" (read as {as_name})" if as_name else ""
        self.notes.find(
            field_unreadable.RULE.finding(
                subject_of(self.fields.symbol, field=field.written),
                f"{reference}: field {shown(field.written)}{meant} reads {quoted(field.text)}: {reason}.",
                remedy or _how_to_write(as_name or shown(field.written)),
            )
        )


ROUNDED = 0.05
"""Readings no farther apart are one nominal value, rounded (common practice, no published source)."""


def _differ(one: object, other: object) -> bool:
    """Whether two readings of one field are farther apart than rounding explains; what can't be compared is not."""
    if isinstance(one, Band) and isinstance(other, Band):
        low, high = (one, other) if one.nominal <= other.nominal else (other, one)
        return high.lower > low.upper * (1.0 + ROUNDED)
    if isinstance(one, Gauge) and isinstance(other, Gauge):
        return not math.isclose(one.area_mm2, other.area_mm2, rel_tol=ROUNDED)
    if isinstance(one, tuple) and isinstance(other, tuple):  # A load in A, W or Ω.
        return one[0] == other[0] and not math.isclose(one[1], other[1], rel_tol=ROUNDED)
    if isinstance(one, float) and isinstance(other, float):
        return not math.isclose(one, other, rel_tol=ROUNDED)
    return False


def attributes(fields: SymbolFields, part: str | None, make: Callable[[View], dict[str, Any]]) -> dict[str, Any]:
    """Attributes of one element, ``placeholders`` and ``by_word`` included.

    ``make`` gives the attributes that follow from a view; under every word those that differ are kept.
    """
    plain = _made(fields.view(part), make)
    by_word: dict[str, Mapping[str, Any]] = {}
    for word in fields.words(part):
        there = _made(fields.view(part, word), make)
        by_word[word] = {name: value for name, value in there.items() if value != plain[name]}
    return {**plain, "by_word": by_word}


def _made(view: View, make: Callable[[View], dict[str, Any]]) -> dict[str, Any]:
    values = make(view)
    return {**values, "placeholders": frozenset(view.placeholders)}


def folded(name: str) -> str:
    """A field's name for comparison: without regard to case and to how many blanks stand in it."""
    return " ".join(name.split()).casefold()


def _folded(part: str | None) -> str | None:
    return None if part is None else part.casefold()


def _by_key(fields: Mapping[str, str], words: Words) -> dict[FieldKey, WrittenField]:
    found: dict[FieldKey, WrittenField] = {}
    for written, text in fields.items():
        if not text.strip() or text.strip() == "~":
            continue
        key = _key(written, words)
        earlier = found.get(key)
        found[key] = WrittenField(written, text, earlier.written if earlier else None)
    return found


def _key(written: str, words: Words) -> FieldKey:
    head, at, word = written.partition("@")
    name, dot, part = head.partition(".")
    spelt = words.spell(word.strip()) if at and word.strip() else None
    return FieldKey(
        " ".join(name.split()).casefold(), part.strip().casefold() if dot and part.strip() else None, spelt
    )


_WRITTEN_OTHERWISE = {
    "behaviour": "as latch-off, hiccup, constant-current or foldback",
    "state": "as open or closed",
    "strands": "as solid or as the number of strands",
    "tinned": "as yes or no",
    "layer": "as outer or inner",
    "vias": "as their number and finished hole, such as 6 × 0.3 mm",
    "class": "as 1, 2, 5 or 6 (IEC 60228)",
    "rows": "as the number of rows, or as the pins of every row with / between the rows, such as 1 2 / 3 4",
    "power derating": "as points, such as 40 °C: 100 %; 50 °C: 70 %",
    "mounting derating": "as the share that it leaves, such as 80 %, or upside down: 80 %; dust filter: 90 %",
    "efficiency": "as one share, such as 92 %, or as points, such as 20 %: 90 %; 100 %: 89 %",
}


def _how_to_write(name: str) -> str:
    """What mends an unreadable field; ``name`` as written, with pin and word."""
    plain = name.split("@")[0].split(".")[0].strip().lower()
    return f"Write {name} {_WRITTEN_OTHERWISE.get(plain, 'with one value and its unit')}."
