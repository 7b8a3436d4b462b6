"""What the ``.kicad_pro`` beside a schematic says: text variables, net classes, and bus aliases of KiCad 10."""

from __future__ import annotations

import fnmatch
import json
import re
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import is_there, read_text, shown


@dataclass(frozen=True, slots=True)
class Project:
    """Text variables, net classes by pattern or by exact net name, bus aliases.

    ``top_sheets`` are the files that KiCad 10 lists as top-level sheets, without folders.
    """

    name: str = ""
    text_variables: dict[str, str] = field(default_factory=dict)
    patterns: tuple[tuple[str, str], ...] = ()
    assignments: dict[str, tuple[str, ...]] = field(default_factory=dict)
    classes: frozenset[str] = frozenset()
    bus_aliases: dict[str, tuple[str, ...]] = field(default_factory=dict)
    top_sheets: tuple[str, ...] = ()

    def classes_of(self, net_name: str) -> set[str]:
        """Classes that patterns and assignments give to a net, without ``Default``."""
        found = {name for pattern, name in self.patterns if _matches(pattern, net_name)}
        found.update(self.assignments.get(net_name, ()))
        return clean(found)


def clean(classes: Iterable[str]) -> set[str]:
    """Without ``Default`` and empty names."""
    return {name for name in classes if name and name != "Default"}


def read_project(path: Path) -> Project:
    """Read a project file; one that is missing is an empty project, since a schematic can stand alone.

    Raises UnusableError for one that is there and can't be used.
    """
    if not is_there(path):
        return Project(name=path.stem)
    where = shown(path)
    text = read_text(path).text
    try:
        content = json.loads(text)
    except json.JSONDecodeError as error:
        raise UnusableError(f"is not a sound project file: {error.msg}", where, error.lineno) from None
    except RecursionError:
        raise UnusableError("is not a sound project file: it nests too deep", where) from None
    if not isinstance(content, dict):
        raise UnusableError("is not a sound project file", where, 1)
    settings = _dictionary(content.get("net_settings"))
    schematic = _dictionary(content.get("schematic"))
    return Project(
        name=path.stem,
        text_variables={k: v for k, v in _dictionary(content.get("text_variables")).items() if isinstance(v, str)},
        patterns=tuple(_patterns(settings)),
        assignments={
            net: _names(value) for net, value in _dictionary(settings.get("netclass_assignments")).items()
        },
        classes=frozenset(
            item["name"]
            for item in _list(settings.get("classes"))
            if isinstance(item, dict) and isinstance(item.get("name"), str)
        ),
        bus_aliases={name: _names(members) for name, members in _dictionary(schematic.get("bus_aliases")).items()},
        top_sheets=tuple(
            item["filename"]
            for item in _list(schematic.get("top_level_sheets"))
            if isinstance(item, dict) and isinstance(item.get("filename"), str)
        ),
    )


def _dictionary(value: Any) -> dict[str, Any]:
    return value if isinstance(value, dict) else {}


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _names(value: Any) -> tuple[str, ...]:
    values = value if isinstance(value, list) else [value]
    return tuple(name for name in values if isinstance(name, str))


def _patterns(settings: dict[str, Any]) -> Iterable[tuple[str, str]]:
    for item in _list(settings.get("netclass_patterns")):
        if (
            isinstance(item, dict)
            and isinstance(item.get("pattern"), str)
            and isinstance(item.get("netclass"), str)
        ):
            yield item["pattern"], item["netclass"]


@lru_cache(maxsize=4096)
def _compiled(pattern: str) -> tuple[re.Pattern[str], ...]:
    """KiCad takes a pattern both as wildcards and as a regular expression, each for the whole name."""
    compiled = [re.compile(fnmatch.translate(pattern.replace("[", "[[]")))]
    with suppress(re.error):
        compiled.append(re.compile(pattern))
    return tuple(compiled)


def _matches(pattern: str, net_name: str) -> bool:
    return any(expression.fullmatch(net_name) for expression in _compiled(pattern))
