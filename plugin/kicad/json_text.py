"""Changing single values in a JSON file's text and leaving every other byte as it stands.

Loading and dumping would reorder, reformat and round. Here the text is only located, and a few characters are
replaced, inserted or taken out. Taking out what was inserted gives the same text again.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, field
from typing import Any

_SPACE = re.compile(r"[ \t\r\n]*")
_ATOM = re.compile(r"[^\s,\]\}]+")


@dataclass(slots=True)
class Place:
    """A value in the text: characters ``start`` to ``end``, members or items, ``key_start`` of its key."""

    start: int
    end: int
    key_start: int
    members: dict[str, Place] = field(default_factory=dict)
    items: list[Place] = field(default_factory=list)


class JsonText:
    """The text of a JSON file with the place of every value.

    Raises ValueError for text that is not JSON.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.value: Any = json.loads(text)
        self._root = self._read(_after_space(text, 0), 0)

    def get(self, *path: str) -> Any:
        """The value at a path of keys; None where there is none."""
        value = self.value
        for key in path:
            if not isinstance(value, dict) or key not in value:
                return None
            value = value[key]
        return value

    def has(self, *path: str) -> bool:
        """Whether there is a value at a path of keys."""
        return self._find(path) is not None

    def with_value(self, path: tuple[str, ...], value: Any) -> str:
        """The text with a value at a path replaced, or added where its object has no such key.

        Raises KeyError where the object itself is missing.
        """
        place = self._find(path)
        if place is not None:
            return self._spliced(place.start, place.end, _dumped(value))
        parent = self._find(path[:-1])
        if parent is None or self.text[parent.start] != "{":
            raise KeyError(path)
        return self._inserted(parent, list(parent.members.values()), f"{_dumped(path[-1])}: ", value)

    def with_item(self, path: tuple[str, ...], value: Any) -> str:
        """The text with an item added at the end of the list at a path. KeyError where there is no list."""
        place = self._find(path)
        if place is None or self.text[place.start] != "[":
            raise KeyError(path)
        return self._inserted(place, place.items, "", value)

    def without_item(self, path: tuple[str, ...], index: int) -> str:
        """The text without an item of the list at a path."""
        place = self._find(path)
        if place is None:
            raise KeyError(path)
        return self._taken_out(place, place.items, index)

    def without_key(self, path: tuple[str, ...]) -> str:
        """The text without the member at a path."""
        parent = self._find(path[:-1])
        if parent is None or path[-1] not in parent.members:
            raise KeyError(path)
        return self._taken_out(parent, list(parent.members.values()), list(parent.members).index(path[-1]))

    def _find(self, path: tuple[str, ...]) -> Place | None:
        place: Place | None = self._root
        for key in path:
            if place is None:
                return None
            place = place.members.get(key)
        return place

    def _inserted(self, parent: Place, siblings: list[Place], key: str, value: Any) -> str:
        """One more member or item, indented as its siblings are, or by two columns more than its parent."""
        if siblings:
            last = siblings[-1]
            lead = self._lead(siblings[0])
            return self._spliced(last.end, last.end, f",{lead}{key}{_indented(value, lead)}")
        if "\n" not in self.text:
            return self._spliced(parent.start + 1, parent.end - 1, f"{key}{_dumped(value)}")
        outer = self._line_indent(parent.start)
        lead = f"\n{outer}  "
        return self._spliced(parent.start + 1, parent.end - 1, f"{lead}{key}{_indented(value, lead)}\n{outer}")

    def _taken_out(self, parent: Place, siblings: list[Place], index: int) -> str:
        if len(siblings) == 1:
            return self._spliced(parent.start + 1, parent.end - 1, "")
        if index > 0:  # from the end of the one before, so that the comma goes too
            return self._spliced(siblings[index - 1].end, siblings[index].end, "")
        return self._spliced(siblings[0].key_start, siblings[1].key_start, "")

    def _lead(self, place: Place) -> str:
        """The white space before a member or item, with the end of line before it."""
        start = place.key_start
        before = len(self.text[:start].rstrip(" \t\r\n"))
        return self.text[before:start]

    def _line_indent(self, at: int) -> str:
        line = self.text.rfind("\n", 0, at) + 1
        return self.text[line : line + len(self.text[line:]) - len(self.text[line:].lstrip(" \t"))]

    def _spliced(self, start: int, end: int, new: str) -> str:
        return self.text[:start] + new + self.text[end:]

    def _read(self, at: int, key_start: int) -> Place:
        text = self.text
        place = Place(at, at, key_start)
        if text[at] == "{":
            at = _after_space(text, at + 1)
            while text[at] != "}":
                key, after = _string(text, at)
                member = self._read(_after_space(text, _after_space(text, after) + 1), at)
                place.members[key] = member
                at = self._next(member.end)
        elif text[at] == "[":
            at = _after_space(text, at + 1)
            while text[at] != "]":
                item = self._read(at, at)
                place.items.append(item)
                at = self._next(item.end)
        elif text[at] == '"':
            place.end = _string(text, at)[1]
            return place
        else:
            atom = _ATOM.match(text, at)
            assert atom is not None  # json.loads has read the text
            place.end = atom.end()
            return place
        place.end = at + 1
        return place

    def _next(self, at: int) -> int:
        at = _after_space(self.text, at)
        return _after_space(self.text, at + 1) if self.text[at] == "," else at


def _after_space(text: str, at: int) -> int:
    found = _SPACE.match(text, at)
    return found.end() if found else at


def _string(text: str, at: int) -> tuple[str, int]:
    value, end = json.JSONDecoder().raw_decode(text, at)
    assert isinstance(value, str)
    return value, end


def _dumped(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _indented(value: Any, lead: str) -> str:
    """A value as KiCad lays it out, its lines after the first indented like the place that it goes to."""
    if "\n" not in lead:
        return _dumped(value)
    newline, _, indent = lead.rpartition("\n")
    rows = json.dumps(value, ensure_ascii=False, indent=2, sort_keys=True).split("\n")
    return f"{newline}\n{indent}".join(rows) if len(rows) > 1 else rows[0]
