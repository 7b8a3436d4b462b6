"""Values put into the text of a settings file: only their lines change, and what results is read again."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.roles import best_match


@dataclass(frozen=True, slots=True)
class Edit:
    """A value for one net or part: its table (``net``, ``part``), the names that the settings may know it by, the
    first one for a new table, its key and the text. ``is_key``: whether a key that stands there is this one.
    """

    table: str
    names: tuple[str, ...]
    key: str
    text: str
    is_key: Callable[[str], bool]


def edited(text: str, edits: Iterable[Edit]) -> str:
    """The text of the settings with these values in it.

    What a pattern (``[net."/LEAD*"]``) says of a net or part is repeated in a table of its own, since of several
    tables that fit only the most particular one counts.

    Raises:
        UnusableError: a value stands where it can't be replaced, such as in a table on one line.
    """
    for edit in edits:
        before = tomllib.loads(text)
        tables = _tables(before, edit.table)
        own = next((name for name in edit.names if name in tables), None)
        fitting: Mapping[str, Any] | None = tables[own] if own is not None else None
        for name in edit.names if fitting is None else ():
            fitting = fitting if fitting is not None else best_match(name, tables)
        of = own if own is not None else next((name for name, table in tables.items() if table is fitting), None)
        key = next((key for key in fitting or {} if edit.is_key(key)), edit.key)
        wanted = copy.deepcopy(before)
        wanted.setdefault(edit.table, {})[own or edit.names[0]] = {**(fitting or {}), key: edit.text}
        text = _put(text, edit, of, own is not None, key)
        if _parsed(text) != wanted:
            raise UnusableError(
                f"[{edit.table}] of the settings states {edit.key} of {edit.names[0]} where it can't be replaced",
                hint=f'give it a table of its own, [{edit.table}."{edit.names[0]}"], with one line for each key',
            )
    return text


def _tables(top: Mapping[str, Any], kind: str) -> dict[str, dict[str, Any]]:
    found = top.get(kind, {})
    return {n: t for n, t in found.items() if isinstance(t, dict)} if isinstance(found, dict) else {}


def _parsed(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _put(text: str, edit: Edit, of: str | None, is_own: bool, key: str) -> str:
    """The text with the value in the table ``of``, or in a new one that repeats it."""
    line = f"{_as_key(key)} = {_as_text(edit.text)}"
    head = _head(text, edit.table, of) if of is not None else None
    table, end = "", len(text)
    if head is not None:
        following = re.search(r"^[ \t]*\[", text[head.end() :], re.M)
        end = head.end() + following.start() if following else len(text)
        table = text[head.end() : end]
    written = rf"""^([ \t]*)(?:{re.escape(key)}|"{re.escape(key)}"|'{re.escape(key)}')[ \t]*=.*$"""
    changed, count = re.subn(written, lambda m: m[1] + line, table, count=1, flags=re.M)
    if not count:
        changed = f"\n{line}{table}"
    if is_own and head is not None:
        return text[: head.end()] + changed + text[end:]
    gap = "" if not text or text.endswith("\n") else "\n"
    return f"{text}{gap}\n[{edit.table}.{_as_text(edit.names[0])}]\n{changed.strip()}\n"


def _head(text: str, kind: str, name: str) -> re.Match[str] | None:
    bare = rf"|{re.escape(name)}" if re.fullmatch(r"[A-Za-z0-9_-]+", name) else ""
    named = rf"(?:{re.escape(_as_text(name))}|'{re.escape(name)}'{bare})"
    return re.search(rf"^[ \t]*\[[ \t]*{kind}[ \t]*\.[ \t]*{named}[ \t]*\].*$", text, re.M)


def _as_key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _as_text(key)


def _as_text(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'
