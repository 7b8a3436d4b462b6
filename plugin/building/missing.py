"""What stands in for values that a conductor does not state, and the findings that say so."""

from __future__ import annotations

from loadloom.graph.model.elements import Band, Gauge
from loadloom.graph.model.findings import Subject
from loadloom.graph.rules import gauge_missing
from loadloom.plugin.notes import Notes

PLACEHOLDER_OHM = Band.exact(10e-3)
"""Resistance of a conductor whose own can't be known, so that the rest of the harness can be solved."""


STANDS_IN = f"a placeholder resistance of {PLACEHOLDER_OHM.nominal * 1e3:.3g} mΩ stands in"


def conductor_resistance(
    id: str, gauge: Gauge | None, length_m: float | None, stated: Band | None, notes: Notes
) -> tuple[Band | None, bool]:
    """The resistance to store, and whether it is the placeholder; None = follows from gauge and length."""
    if stated is not None:
        return stated, False
    if gauge is not None and length_m is not None:
        return None, False
    notes.assume(f"The resistance of {id} is not known: {STANDS_IN}.")
    return PLACEHOLDER_OHM, True


def report_missing_gauge(
    subject: Subject, id: str, own_rating_a: float | None, resistance_ohm: Band | None, notes: Notes
) -> None:
    """The finding for a conductor without a gauge, unless it states all that a gauge would give."""
    lacking = [
        what for what, value in (("allowed current", own_rating_a), ("resistance", resistance_ohm)) if value is None
    ]
    if lacking:
        notes.find(
            gauge_missing.RULE.finding(
                subject,
                f"{id} has no gauge, so its {' and '.join(lacking)} {'is' if len(lacking) == 1 else 'are'} not "
                "determined" + (f"; {STANDS_IN}." if resistance_ohm is None else "."),
                "State a gauge with its system, such as 18 AWG or 0.75 mm².",
            )
        )
