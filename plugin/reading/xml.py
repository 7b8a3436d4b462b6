"""XML netlists as nodes, in the same shape as the s-expression netlist, so that one reader serves both."""

from __future__ import annotations

import re
from typing import Any

from loadloom.plugin.errors import UnusableError
from loadloom.plugin.incoming import TextFile, shown
from loadloom.plugin.reading.node import Node
from loadloom.plugin.reading.sexpr import DEPTH_LIMIT

_DECLARATION = re.compile(r"<!(?:DOCTYPE|ENTITY)", re.IGNORECASE)


def parse(file: TextFile) -> Node:
    """The root element: attributes become child nodes ``[name, value]``, text a text.

    Raises UnusableError, with the line, for text that is no XML, for DOCTYPE and ENTITY, and for elements nested
    over 200 deep.
    """
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import DefusedXMLParser, ParseError

    where = shown(file.path)
    declared = _DECLARATION.search(file.text)
    if declared:
        line = file.text.count("\n", 0, declared.start()) + 1
        raise UnusableError("declares a document type or entities, which no KiCad netlist does", where, line)
    builder = _Builder()
    parser: Any = DefusedXMLParser(target=builder, forbid_dtd=True)
    builder.expat = parser.parser
    try:
        parser.feed(file.text)
        parser.close()
    except _TooDeepError as error:
        raise UnusableError(f"nests elements more than {DEPTH_LIMIT} deep", where, error.line) from None
    except DefusedXmlException:
        raise UnusableError(
            "declares entities or refers to other files, which no KiCad netlist does", where
        ) from None
    except ParseError as error:
        line = error.position[0]
        raise UnusableError(f"is not sound XML: {str(error).split(':')[0]}", where, line) from None
    if builder.root is None:
        raise UnusableError("holds no XML element", where, 1)
    return builder.root


class _TooDeepError(Exception):
    def __init__(self, line: int) -> None:
        super().__init__()
        self.line = line


class _Builder:
    """Target of the XML parser."""

    def __init__(self) -> None:
        self.root: Node | None = None
        self.expat: Any = None
        self._open: list[Node] = []
        self._text: list[str] = []
        self._leaf = True

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        line = self.expat.CurrentLineNumber
        if len(self._open) >= DEPTH_LIMIT:
            raise _TooDeepError(line)
        node = Node([tag, *(Node([name, value], line) for name, value in attributes.items())], line)
        if self._open:
            self._open[-1].append(node)
        else:
            self.root = node
        self._open.append(node)
        self._text.clear()
        self._leaf = True

    def data(self, text: str) -> None:
        self._text.append(text)

    def end(self, tag: str) -> None:
        node = self._open.pop()
        if self._leaf and self._text:  # Text between elements is only indentation.
            node.append("".join(self._text))
        self._leaf = False

    def close(self) -> None:
        return None
