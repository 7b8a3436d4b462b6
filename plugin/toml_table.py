"""A table of a settings file, read key by key; what no one asked for is refused, naming the nearest known key."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import read_text
from loadloom.plugin.renamed import RULES, SETTINGS, nearest_hint
from loadloom.plugin.values import UnreadableValue, number, quoted

T = TypeVar("T")

LARGEST_FILE = 4 * 1024**2
"""Bytes; more is no settings file."""

Path_ = tuple[str | int, ...]


@dataclass(frozen=True)
class SettingsText:
    """The file and its text, to find the line of a key."""

    file: Path
    text: str

    def line_of(self, path: Path_) -> int | None:
        """The line where a key stands, or else the table that holds it; None where neither is found."""
        while path:
            line = self._lines.get(path)
            if line is not None:
                return line
            path = path[:-1]
        return None

    @property
    def _lines(self) -> dict[Path_, int]:
        found: dict[Path_, int] = {}
        head: Path_ = ()
        count: dict[Path_, int] = {}
        for k, line in enumerate(self.text.splitlines(), start=1):
            header = re.match(r"\s*(\[\[?)(.+?)\]\]?\s*(?:#.*)?$", line)
            if header:
                head = _key_path(f"[{header[2]}]")
                if header[1] == "[[":
                    count[head] = count.get(head, -1) + 1
                    head = (*head, count[head])
                found.setdefault(head, k)
                continue
            key = re.match(r"""\s*((?:[A-Za-z0-9_.\s-]|"[^"]*"|'[^']*')+?)\s*=""", line)
            if key:
                found.setdefault((*head, *_key_path(f"{key[1]} = 0")), k)
        return found


class Table:
    """One table. Every key is taken once; ``finish`` refuses the rest."""

    def __init__(self, source: SettingsText, content: Mapping[str, Any], path: Path_ = ()) -> None:
        self.source = source
        self.path = path
        self._left = dict(content)
        self._asked: list[str] = []

    @property
    def rest(self) -> tuple[str, ...]:
        """The keys not taken yet, in the order written."""
        return tuple(self._left)

    def is_table(self, key: str) -> bool:
        """Whether a key that was not taken yet holds a table."""
        return isinstance(self._left.get(key), dict)

    def refuse(self, key: str, cause: str, hint: str | None = None) -> UnusableError:
        """The error for a key of this table."""
        path = (*self.path, *([key] if key else []))
        return UnusableError(
            cause,
            file=self.source.file,
            line=self.source.line_of(path),
            field=".".join(str(step + 1) if isinstance(step, int) else step for step in path),
            hint=hint,
        )

    def take(self, key: str, parse: Callable[[Any], T]) -> T | None:
        """The value of a key, None where it is not written; ``parse`` raises ``UnreadableValue``."""
        self._asked.append(key)
        if key not in self._left:
            return None
        value = self._left.pop(key)
        try:
            return parse(value)
        except UnreadableValue as unreadable:
            shown = quoted(value if isinstance(value, str) else repr(value))
            raise self.refuse(key, f"{shown}: {unreadable.reason}") from None

    def text(self, key: str, parse: Callable[[str], T]) -> T | None:
        """The value of a key that is written as text (with its unit)."""
        return self.take(key, lambda value: parse(as_text(value)))

    def table(self, key: str) -> Table:
        """The table of that name; an empty one where it is not written."""
        content = self.take(key, _as_mapping)
        return Table(self.source, content or {}, (*self.path, key))

    def tables(self, key: str) -> tuple[Table, ...]:
        """The tables of an array of tables."""
        found = self.take(key, _as_mappings) or ()
        return tuple(Table(self.source, content, (*self.path, key, k)) for k, content in enumerate(found))

    def named(self, key: str) -> dict[str, Table]:
        """A table of tables that the user named, by name in the order written."""
        outer = self.table(key)
        return {name: outer.table(name) for name in outer.rest}

    def finish(self, others: Iterable[str] = ()) -> None:
        """Refuse the first key that was not taken; ``others`` are known keys beside those asked for."""
        if not self._left:
            return
        key = next(iter(self._left))
        near = difflib.get_close_matches(key, [*self._asked, *others], n=1, cutoff=0.0)
        hint = nearest_hint(key, near[0], {**SETTINGS, **RULES}) if near else None
        raise self.refuse(key, "is not a known setting", hint)


def read_toml(file: Path, text: str | None = None) -> Table:
    """The whole file as a table; ``text`` in its stead where it is given.

    Raises:
        UnusableError: the file can't be read, is not UTF-8 or not TOML; with the line where it is known.
    """
    if text is None:
        text = read_text(file, LARGEST_FILE, "a settings file", empty=True).text
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"at line (\d+)", str(error))
        line = int(place[1]) if place else None
        cause = re.sub(r" \(at .*\)$", "", str(error))
        raise UnusableError(f"is not valid TOML: {cause}", file=file, line=line) from None
    except (RecursionError, ValueError) as error:
        raise UnusableError(f"is not valid TOML: {type(error).__name__}", file=file) from None
    return Table(SettingsText(file, text), content)


def as_text(value: Any) -> str:
    """A text; a bare number is refused, since it has no unit."""
    if isinstance(value, str):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise UnreadableValue("write it as text with its unit, in quotes")
    raise UnreadableValue("it is not a text")


def as_name(value: Any) -> str:
    """A text that is not empty."""
    text = as_text(value).strip()
    if not text:
        raise UnreadableValue("it is empty")
    return text


def as_plain_text(value: Any) -> str:
    """A text, or a whole number or true or false as text: for values that have no unit."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if isinstance(value, int) else as_name(value)


def as_number(value: Any) -> float:
    """A finite number without unit, above 0."""
    if isinstance(value, str):
        value = number(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnreadableValue("it is not a number")
    try:
        found = float(value)
    except OverflowError:
        found = float("inf")
    if not 0.0 < found < float("inf"):
        raise UnreadableValue("it is not a finite number above 0")
    return found


def number_within(least: float, most: float) -> Callable[[Any], float]:
    """Reads a number without unit from a range."""

    def parse(value: Any) -> float:
        found = as_number(value)
        if not least <= found <= most:
            raise UnreadableValue(f"it is not within {least:.7g}…{most:.7g}")
        return found

    return parse


def count_to(most: int) -> Callable[[Any], int]:
    """Reads a whole number from 0 on."""

    def parse(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
            raise UnreadableValue(f"it is not a whole number from 0 to {most}")
        return value

    return parse


def as_bool(value: Any) -> bool:
    """``true`` or ``false``."""
    if not isinstance(value, bool):
        raise UnreadableValue("it is neither true nor false")
    return value


def as_texts(value: Any) -> tuple[str, ...]:
    """A list of texts."""
    if not isinstance(value, list):
        raise UnreadableValue("it is not a list of texts")
    return tuple(as_name(item) for item in value)


def as_each(parse: Callable[[str], T]) -> Callable[[Any], tuple[T, ...]]:
    """Reads a list of texts, each by ``parse``; one that can't be read is named."""

    def read(text: str) -> T:
        try:
            return parse(text)
        except UnreadableValue as unreadable:
            raise UnreadableValue(f"{quoted(text)} in it: {unreadable.reason}") from None

    return lambda value: tuple(read(text) for text in as_texts(value))


_ALL_NAMED = 20
"""Names up to which all are listed where a text is none of them."""


def one_of(names: Iterable[str]) -> Callable[[Any], str]:
    """Reads a text that must be one of some names; where it is not, the nearest is named, and all if few."""
    known = list(names)

    def parse(value: Any) -> str:
        text = as_name(value)
        if text not in known:
            near = [n for n in known if text and text in n] or difflib.get_close_matches(text, known, 1, 0.0)
            others = f", of {', '.join(known)}" if len(known) <= _ALL_NAMED else ""
            raise UnreadableValue(f"it is not known; {nearest_hint(text, near[0], RULES)}{others}")
        return text

    return parse


def _as_mapping(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise UnreadableValue("it is not a table")
    return value


def _as_mappings(value: Any) -> list[Mapping[str, Any]]:
    if not isinstance(value, list):
        raise UnreadableValue("it is not a list of tables")
    return [_as_mapping(item) for item in value]


def _key_path(line: str) -> Path_:
    """The names in a header or key as TOML itself reads them."""
    try:
        content: Any = tomllib.loads(line)
    except (tomllib.TOMLDecodeError, RecursionError):
        return ()
    path: list[str | int] = []
    while isinstance(content, dict) and len(content) == 1:
        name, content = next(iter(content.items()))
        path.append(name)
    return tuple(path)
