"""Arrangements of the protection side by side: what trips, what stays unprotected, and the worst fault in each."""

from __future__ import annotations

from collections.abc import Sequence

from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.trips import Outcome, find_trips
from loadloom.graph.model.figures import figures
from loadloom.graph.model.naming import natural_key, place_said, some_of
from loadloom.graph.model.results import ArrangementRow
from loadloom.graph.model.settings import Case

AS_DRAWN = "as drawn"
NAMED = 5
"""Parts that a sentence names."""


def arrangement_rows(facts: Facts) -> tuple[ArrangementRow, ...]:
    """One row for each arrangement of the cases, as drawn first."""
    words = dict.fromkeys(case.arrangement for case in facts.cases)
    return tuple(_row(facts, word) for word in words)


def _row(facts: Facts, word: str | None) -> ArrangementRow:
    parts = facts.faults.by_arrangement.get(word, {})
    trips = _trips(facts, [case for case in facts.cases if case.arrangement == word])
    open_parts = sorted((p.id for p in parts.values() if p.protected is False and not p.in_band), key=natural_key)
    not_determined = sorted((p.id for p in parts.values() if p.protected is None), key=natural_key)
    powered = [p.fault for p in parts.values() if p.fault is not None and p.fault.fault_power_w is not None]
    hottest = max(powered, key=lambda f: (f.fault_power_w or 0.0, f.at), default=None)
    judged = any(p.protected is not None for p in parts.values())
    worst = max(parts.values(), key=_ratio, default=None) if judged else None
    return ArrangementRow(
        arrangement=word or AS_DRAWN,
        trips=tuple(sorted(trips, key=natural_key)),
        unprotected=tuple(open_parts),
        not_determined=tuple(not_determined),
        worst_fault=f"{place_said(hottest.at)} to {place_said(hottest.to)}" if hottest else None,
        worst_fault_power_w=hottest.fault_power_w if hottest else None,
        worst_sustained_fault=worst.id if worst else None,
        worst_ratio=_ratio(worst) or None if worst else None,
        narrative=_narrative(trips, open_parts, worst),
    )


def _trips(facts: Facts, cases: Sequence[Case]) -> set[str]:
    """Devices and outputs that open, or may, or are asked for too much, under their loads in these cases."""
    found = {trip.part.id for trip in find_trips(facts, cases) if trip.outcome is not Outcome.NOT_STATED}
    for output in facts.harness.outputs:
        for case in cases if output.id in facts.currents else ():
            limit_a = output.under(case.arrangement).limit_a
            if limit_a is not None and exceeds(facts.currents[output.id].continuous_a[case.id], limit_a):
                found.add(output.id)
    return found


def _ratio(part: PartFault) -> float:
    """Sustained fault current over allowed current; 0 where either is not known."""
    return part.sustained_fault_a / part.allowed_a if part.sustained_fault_a is not None and part.allowed_a else 0.0


def _narrative(trips: set[str], unprotected: list[str], worst: PartFault | None) -> str:
    openers = some_of(sorted(trips, key=natural_key), NAMED)
    first = f"{openers} would open under load." if trips else "Nothing opens under load."
    if worst is None:
        return f"{first} No conductor and no contact could be judged."
    if not unprotected or worst.sustained_fault_a is None:
        return f"{first} Every conductor and contact that could be judged is protected."
    return (
        f"{first} {len(unprotected)} {'part is' if len(unprotected) == 1 else 'parts are'} not protected "
        f"({some_of(unprotected, NAMED)}); the worst is {worst.id}, on which a fault can hold "
        f"{figures(worst.sustained_fault_a)} A, "
        f"{figures(_ratio(worst))} times its allowed current."
    )
