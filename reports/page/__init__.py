"""The page: one self-contained html file that shows the harness, its charts and its tables."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import TYPE_CHECKING

from loadloom.reports.results_json import document
from loadloom.reports.safe_text import html_text

if TYPE_CHECKING:
    from loadloom.graph.results import Results

_SCRIPTS = ("d3.min.js", "dagre.min.js", "figures.js", "picture.js", "charts.js", "tables.js", "page.js")


def render(results: Results) -> bytes:
    """The page as UTF-8. It asks the network for nothing: style, script, libraries and results are in it.

    The results are embedded as JSON with every ``<`` written by number, so that no text from a drawing can end
    the element or become markup; the script only ever sets text, never markup.
    """
    embedded = json.dumps(document(results), ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    title = results.provenance.title or results.provenance.file or "harness"
    parts = {
        "@TITLE@": html_text(f"{title}: {results.verdict}"),
        "@STYLE@": _asset("page.css"),
        "@SCRIPTS@": "\n".join(f"<script>{_asset(name)}</script>" for name in _SCRIPTS),
        "@LICENCES@": html_text(_asset("licences.txt")),
        "@RESULTS@": embedded.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029"),
    }
    page = _asset("page.html")
    for mark, text in parts.items():
        before, _, after = page.partition(mark)
        page = before + text + after
    return page.encode("utf-8")


def _asset(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
