"""Whether a conductor or contact is protected against the worst fault on it."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.tolerances import SAME

COPPER = "no device: the resistance of the copper holds a fault's current down"
NO_FAULT = "no fault adds to what the loads draw in it"


class Verdict(NamedTuple):
    """Whether a part is protected; see ``PartFault``."""

    protected: bool | None
    in_band: bool
    protected_by: tuple[str, ...]
    note: str


def judged(answer: PartFault, firm_a: float | None) -> PartFault:
    """Say whether the part is protected; whether it is ``in_band`` is known.

    ``firm_a``: its sustained fault current without assumed trips.
    """
    verdict = verdict_on(
        answer.sustained_fault_a,
        answer.allowed_a,
        answer.in_band,
        answer.held_by,
        answer.protected_by,
        answer.note,
        answer.fault is not None,
        firm_a,
    )
    return replace(answer, **verdict._asdict())


def verdict_on(
    value: float | None,
    allowed: float | None,
    in_band: bool,
    held_by: str | None,
    cover: tuple[str, ...],
    note: str,
    has_fault: bool,
    firm_a: float | None,
) -> Verdict:
    """Whether a sustained fault current ``value`` in A is within what is allowed, or in its band; see
    ``PartFault``."""
    if allowed is None or value is None:
        return Verdict(None, False, cover, "allowed current unknown")
    within = value <= allowed * (1.0 + SAME)
    banded = not within and in_band
    if not within and not banded:
        return Verdict(False, False, cover, note)
    if firm_a is not None and firm_a > value * (1.0 + SAME) and firm_a > allowed * (1.0 + SAME):
        return Verdict(None, banded, cover, "only an assumed trip keeps it within its allowed current")
    if not cover:
        # Nothing alone keeps it there at every place: what limits its sustained fault current is named.
        cover = (held_by,) if held_by is not None else ()
        note = note if cover else (note or (COPPER if has_fault else NO_FAULT))
    return Verdict(True, banded, cover, note)
