"""Whether a conductor or contact is protected against the worst fault on it."""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.tolerances import SAME

COPPER = "no device: the resistance of the copper holds a fault's current down"
NO_FAULT = "no fault adds to what the loads draw in it"


def judged(answer: PartFault, firm_a: float | None) -> PartFault:
    """Say whether the part is protected, its current being within what is allowed or in its band, which is known.

    ``firm_a``: its sustained fault current without assumed trips.
    """
    value, allowed = answer.sustained_fault_a, answer.allowed_a
    if allowed is None or value is None:
        return replace(answer, protected=None, in_band=False, note="allowed current unknown")
    banded = value > allowed * (1.0 + SAME)
    if banded and not answer.in_band:
        return replace(answer, protected=False)
    answer = replace(answer, in_band=banded)
    if firm_a is not None and firm_a > value * (1.0 + SAME) and firm_a > allowed * (1.0 + SAME):
        return replace(answer, protected=None, note="only an assumed trip keeps it within its allowed current")
    cover, note = answer.protected_by, answer.note
    if not cover:
        # Nothing alone keeps it there at every place: what limits its sustained fault current is named.
        cover = (answer.held_by,) if answer.held_by is not None else ()
        note = note if cover else (note or (COPPER if answer.fault is not None else NO_FAULT))
    return replace(answer, protected=True, protected_by=cover, note=note)
