"""S-expressions of ``.kicad_sch`` and ``.net`` files as nodes with line numbers.

kicad-skip is the project's layer for these files, and what is used here is the parser under it, sexpdata: the
same tree, but kicad-skip wraps every list of it in objects that this reading never looks at, which measured
1.7 s against 0.4 s for 1,000 symbols and 10.5 s against 2.3 s for 5,000. A guard scans the text first, since the
parser answers faulty files with AssertionError or RecursionError and without a line.
"""

from __future__ import annotations

import re
from functools import cache
from itertools import islice
from typing import TYPE_CHECKING, Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import TextFile, shown
from loadloom.plugin.reading.node import Node

if TYPE_CHECKING:
    from collections.abc import Iterator

DEPTH_LIMIT = 200
OLD_FORMAT = "open its project in KiCad 7 or newer, save it there, and give the .kicad_sch that this writes"
# A quoted text, a bracket, or what the parser would take for something else than KiCad does.
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[()]|["\[\]\';]', re.DOTALL)


def parse(file: TextFile) -> Node:
    """The one expression of a file.

    Raises UnusableError, with the line, where brackets or quotes don't close, something follows the
    expression, or brackets are nested over 200 deep.
    """
    lines = _guard(file)
    try:
        expressions = _parser()(file.text).parse()
    except (Exception, RecursionError) as error:  # The parser has no error class of its own for all its faults.
        raise UnusableError(f"can't be parsed: {type(error).__name__}", shown(file.path)) from None
    if len(expressions) != 1 or not isinstance(expressions[0], list):
        raise UnusableError("is not one bracketed expression", shown(file.path), 1)
    return _with_lines(expressions[0], iter(lines))


def _guard(file: TextFile) -> list[int]:
    """Line of every opening bracket, in order; refuses what the parser must not see."""
    text, where = file.text, shown(file.path)
    first = re.match(r"\s*", text)
    start = first.end() if first else 0
    if text[start] != "(":
        cause = "is a schematic of KiCad 5 or older" if text.startswith("EESchema") else "is not a KiCad file"
        hint = OLD_FORMAT if text.startswith("EESchema") else None
        raise UnusableError(cause, where, 1, hint=hint)
    lines: list[int] = []
    open_lines: list[int] = []
    line, counted_to, ended = 1, 0, -1
    for match in _TOKEN.finditer(text):
        token = match.group()
        if len(token) > 1:
            continue
        at = match.start()
        line += text.count("\n", counted_to, at)
        counted_to = at
        if token == "(":
            if not open_lines and lines:
                raise UnusableError("goes on after its closing bracket", where, line)
            open_lines.append(line)
            lines.append(line)
            if len(open_lines) > DEPTH_LIMIT:
                raise UnusableError(f"nests brackets more than {DEPTH_LIMIT} deep", where, line)
        elif token == ")":
            if not open_lines:
                raise UnusableError("has a closing bracket too many", where, line)
            open_lines.pop()
            ended = at + 1
        elif token == '"':
            raise UnusableError("has a quoted text that never ends: the file is cut off or damaged", where, line)
        else:
            raise UnusableError(f"has an unquoted {token}, which KiCad never writes", where, line)
    if open_lines:
        raise UnusableError(
            "ends inside a bracket: the file is cut off or damaged", where, open_lines[-1], hint="it opens here"
        )
    if text[ended:].strip():
        raise UnusableError("goes on after its closing bracket", where, text.count("\n", 0, ended) + 1)
    return lines


@cache
def _parser() -> Any:
    """A parser that leaves every bare word a text; by itself it reads ``t``, ``nil``, ``5e12`` as other things."""
    import sexpdata

    class Parser(sexpdata.Parser):  # type: ignore[misc]  # the package has no types
        def atom(self, token: str) -> str:
            return token

    return Parser


def _with_lines(items: list[Any], lines: Iterator[int]) -> Node:
    line = next(islice(lines, 1))
    return Node([_with_lines(item, lines) if isinstance(item, list) else item for item in items], line)
