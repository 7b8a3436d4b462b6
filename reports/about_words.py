"""The banner of a report that is not about the drawing as it stands: what it is, what was changed, and the verdict
of the drawing itself.
"""

from __future__ import annotations

from loadloom.graph.model.results import AboutKind, ChangeRow, Results

NAMED = 6
"""Changes that the banner names; the results file has all."""


def is_drawn(results: Results) -> bool:
    """Whether the results hold for the drawing as it stands."""
    return results.about.kind is AboutKind.AS_DRAWN


def mark(results: Results) -> str:
    """``WHAT IF`` or ``AS PROPOSED``; empty for the drawing as it stands."""
    return "" if is_drawn(results) else results.about.kind.upper()


def marked_verdict(results: Results) -> str:
    """The verdict in capitals, behind the mark where there is one: ``WHAT IF: PASS``."""
    verdict = results.verdict.upper()
    return verdict if is_drawn(results) else f"{mark(results)}: {verdict}"


def banner(results: Results) -> str:
    """One or two sentences for the head and the foot of a report; empty for the drawing as it stands."""
    if is_drawn(results):
        return ""
    changes = results.about.changes
    named = "; ".join(_words(change) for change in changes[:NAMED])
    more = f"; and {len(changes) - NAMED} more" if len(changes) > NAMED else ""
    what = f"{named}{more}" if changes else "nothing is changed"
    drawn = results.about.verdict_as_drawn
    stands = f" The drawing as it stands: {drawn.upper()}." if drawn is not None else ""
    return f"{mark(results)}, not the drawing as it stands: {what}.{stands}"


def _words(change: ChangeRow) -> str:
    now = f"“{change.now}”" if change.now else "left empty"
    drawn = f"instead of “{change.drawn}”" if change.drawn else "which the drawing does not state"
    return f"{change.part}.{change.field} is {now}, {drawn}"
