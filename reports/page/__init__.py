"""The page: one self-contained html file that shows the harness, its charts and its tables."""

from __future__ import annotations

import json
import re
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.naming import place_said
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.ratings.status_words import checked_words
from loadloom.reports.about_words import banner, is_drawn, mark
from loadloom.reports.cover_note import cover_note
from loadloom.reports.do_this import steps
from loadloom.reports.ends import ends, joined_directly, joints, subject_said
from loadloom.reports.file_paths import input_files
from loadloom.reports.guards import PROTECTED, found_elsewhere, guarded, otherwise, protects, why_unprotected
from loadloom.reports.next_step import next_step
from loadloom.reports.open_points import in_one_line, open_points
from loadloom.reports.order_list import (
    LABELS,
    SHARE,
    TO_ORDER,
    OrderColumn,
    OrderList,
    OrderTable,
    said_first,
)
from loadloom.reports.results_json import document, plain
from loadloom.reports.rule_reference import meanings
from loadloom.reports.safe_text import html_text, visible
from loadloom.reports.setting_words import setting_lines
from loadloom.reports.verdict_words import meaning

if TYPE_CHECKING:
    from loadloom.graph.model.results import Results

_SCRIPTS = (
    "d3.min.js",
    "dagre.min.js",
    "figures.js",
    "first.js",
    "harness.js",
    "picture.js",
    "faults.js",
    "charts.js",
    "tables.js",
    "page.js",
)


def render(
    results: Results, section: str = "", since: Results | None = None, order: OrderList | None = None
) -> bytes:
    """The page as UTF-8. It asks the network for nothing: style, script, libraries and results are in it.

    ``section``: markup, already safe, that stands before the harness. ``since``: results of the last revision, of
    which the page lists the changes. ``order``: what is to be ordered, and to build by.
    """
    title = results.provenance.title or results.provenance.file or "harness"
    step = next_step(results)
    parts = {
        "@TITLE@": html_text(f"{f'{said} – ' if (said := mark(results)) else ''}{title[:200]}: {results.verdict}"),
        "@ABOUT@": f'<p class="about" role="note">{html_text(banner(results))}</p>'
        if not is_drawn(results)
        else "",
        "@LEAD@": html_text(" ".join(filter(None, (_sentence(meaning(results)), step and f"Next step: {step}")))),
        "@STYLE@": _asset("page.css"),
        "@SCRIPTS@": "\n".join(f"<script>{_asset(name)}</script>" for name in _SCRIPTS),
        "@LICENCES@": "\n".join(html_text(line) for line in _asset("licences.txt").splitlines()),
        "@SIGN@": _signatures(results),
        "@SECTION@": section,
        "@RESULTS@": data_element("results", document(results))
        + data_element("extra", _extra(results, since, order)),
    }
    template = _asset("page.html")
    return re.sub("|".join(parts), lambda mark: parts[mark.group()], template).encode("utf-8")


def _signatures(results: Results) -> str:
    """The block to sign, on screen and on paper; what is not the drawing as it stands is not signed."""
    if not is_drawn(results):
        said = f"No signatures here: this is {mark(results)}. Sign the report of the drawing itself."
        return f'<p class="about" id="sign">{html_text(said)}</p>\n'
    where = results.provenance
    file = where.file.replace("\\", "/").rpartition("/")[2]  # no folder of the computer that it was made on
    named = [where.title or file, f"revision {where.revision}" if where.revision else "no revision stated"]
    identity = f", SHA-256 {where.sha256}" if where.sha256 else ""
    what = f"{', '.join(filter(None, named))}; {file or 'no file'}{identity}; verdict {results.verdict.upper()}"
    cells = "".join(f'<td data-label="{head}"></td>' for head in ("Name", "Date", "Signature"))
    rows = "".join(f'<tr><th scope="row">{role}</th>{cells}</tr>' for role in ("Prepared", "Checked", "Approved"))
    heads = "".join(f'<th scope="col">{head}</th>' for head in ("", "Name", "Date", "Signature"))
    return (
        '<section id="sign" aria-labelledby="sign-title">\n<h2 id="sign-title">Signatures</h2>\n'
        f'<p class="hint">To be signed on the print, for: {html_text(what)}.</p>\n'
        f'<table class="sign"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>\n</section>\n'
    )


def _places_of_faults(results: Results) -> dict[str, str]:
    """What the places are called that a fault begins or ends at, where that is not their id."""
    places = {place for f in results.faults for place in (f.at, f.to)} | {row.at for row in results.fault_powers}
    named = joints(results)
    said = {place: named.get(place) or place_said(place) for place in sorted(places)}
    return {place: words for place, words in said.items() if words != place}


def _subjects(results: Results) -> dict[str, str]:
    """What the subjects of findings are called, where that is not their id."""
    named = joints(results)
    said = {f.subject.id: subject_said(f.subject.id, named) for f in results.findings}
    said |= {row.id: f"{row.id} ({row.function})" for row in results.loads if row.id in said and row.function}
    return {subject: words for subject, words in said.items() if words != subject}


def _order(order: OrderList | None, verdict: Verdict) -> list[dict[str, Any]]:
    """The tables to order and to build by, without the labels, which are for a printer."""
    return [
        {
            "name": table.name,
            "note": said_first(verdict) + table.note,
            "columns": [
                {
                    "title": f"{column.title}, {column.unit}" if column.unit else column.title,
                    "kind": _kind(column),
                    "values": list(column.values),
                }
                for column in _in_reading_order(table)
            ],
        }
        for table in (order.tables if order is not None else ())
        if table.name != LABELS and table.rows
    ]


def _in_reading_order(table: OrderTable) -> list[OrderColumn]:
    """The columns as the page shows them: how much to order stands right behind what it is."""
    order = [column for column in table.columns if column.title == TO_ORDER]
    at = next((n for n, column in enumerate(table.columns) if isinstance(column.values[0], int)), 0) if order else 0
    rest = [column for column in table.columns if column.title != TO_ORDER]
    return [*rest[:at], *order, *rest[at:]]


def _kind(column: OrderColumn) -> str:
    """How the page's tables write a column."""
    if all(value is None or isinstance(value, str) for value in column.values):
        return "text"
    if column.title == SHARE:
        return "share"
    # Lengths to cut and to order are read to the centimetre, so that 40 mm of ends are seen.
    return "cm" if column.unit == "m" else column.unit or "count"


def _checked(results: Results) -> str:
    """What the numbers of the ratings were held against, in words, where an edition is to be checked."""
    rows = (*results.conductors, *results.contacts)
    marked = {row.rating.status for row in rows if row.rating is not None and row.rating.check_edition}
    said = "; ".join(dict.fromkeys(checked_words(status, check_edition=True) for status in sorted(marked)))
    return f"Where the allowed current says “check your edition”: {said}." if said else ""


def _extra(results: Results, since: Results | None, order: OrderList | None) -> dict[str, Any]:
    """What the page shows beside the results file: made from the results, or from those of the last revision."""
    found: dict[str, Any] = {
        "ends": ends(results),
        "places": _places_of_faults(results),
        "subjects": _subjects(results),
        "joined": plain(joined_directly(results)),
        "open_points": [{**plain(point), "line": in_one_line(point, results)} for point in open_points(results)],
        "rules": list(meanings(results)),
        "files": plain(tuple(input_files(results))),
        "order": _order(order, results.verdict),
        "checked": _checked(results),
        "basis": basis.title if (basis := BASES.get(str(results.settings.get("basis")))) else "",
        "settings": plain(setting_lines(results)),
        "cover": plain(cover_note(results, order)),
        "steps": {part: plain(found) for part, found in steps(results).items()},
        "stands": {row.id: row.setting_stands for row in results.devices},
        "protects": protects(results),
        "otherwise": otherwise(results),
        "unprotected": why_unprotected(results),
        "found_elsewhere": found_elsewhere(results),
        "guards": {
            name: {each.part: each.words for each in found if not each.by_it or each.words != PROTECTED}
            for name, found in guarded(results).items()
        },
        "since": None,
    }
    if since is not None:
        from loadloom.reports.comparison.changes import compare
        from loadloom.reports.comparison.writers import document as compared
        from loadloom.reports.comparison.writers import headline

        comparison = compare(since, results)
        found["since"] = {"headline": headline(comparison), **compared(comparison)}
    return found


def data_element(name: str, data: Any) -> str:
    """Data for the page's script, as an element that holds it as JSON.

    Every ``<`` is written by number, so that no text from a drawing can end the element or become markup; the
    script only ever sets text, never markup. What can't be shown, or would turn the reading direction, is made
    visible.
    """
    embedded = json.dumps(_seen(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    inert = embedded.replace("<", "\\u003c")
    return f'<script type="application/json" id="{name}">{inert}</script>'


def _seen(value: Any) -> Any:
    """The results with every text made visible, keys and values alike, so that they still match."""
    if isinstance(value, str):
        return visible(value)
    if isinstance(value, dict):
        return {visible(key): _seen(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_seen(item) for item in value]
    return value


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _asset(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
