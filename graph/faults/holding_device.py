"""What is known of a part by the device that holds its sustained fault current: its rating, what it can hold, its
time."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import NamedTuple

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.cases import ThresholdsByCase
from loadloom.graph.faults.hit_state import state_at
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.faults.worst_faults import FoundHit
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case


class Held(NamedTuple):
    """What is known of a part by the device that holds its sustained fault current; see ``PartFault``."""

    at_rating_a: float | None = None
    held_a: float | None = None
    held_to_protect_a: float | None = None
    tripping_within_s: float | None = None


def with_rating(
    harness: Harness, thresholds: ThresholdsByCase, answer: PartFault, found: FoundHit
) -> tuple[PartFault, float]:
    """Add what would flow if the holding device passed its printed rating, and how long it may take to act.

    Second: the holding device's current per ampere in the part; 0 where there is none.
    """
    if answer.held_by is None or answer.sustained_fault_a is None or found.hit.place is None:
        return answer, 0.0
    state = state_at(found.search, found.hit.place, found.hit.fault_a, found.hit.loads_a)
    through = abs(float(state.per_fault[found.search.variant.piece.branch_index[answer.held_by]]))
    ratio = through / found.hit.per_fault_a if found.hit.per_fault_a > TINY else math.inf
    held = known_by_holder(
        harness, thresholds, answer.held_by, answer.sustained_fault_a, answer.allowed_a, found.case, ratio
    )
    return replace(answer, **held._asdict()), ratio


def known_by_holder(
    harness: Harness,
    thresholds: ThresholdsByCase,
    held_by: str,
    value: float,
    allowed: float | None,
    case: Case,
    ratio: float,
) -> Held:
    """What the device ``held_by`` says. ``ratio``: its current per ampere in the part, of the fault."""
    element = harness.by_id[held_by].under(case.arrangement)
    held = thresholds[case.id][held_by]
    rating = element.setting_a if isinstance(element, Device) else None
    if isinstance(element, Output):
        rating = element.limit_a
    at_rating = None
    if rating is not None and ratio > TINY:
        at_rating = value - max(held.held_a - rating, 0.0) / ratio
    enough = None
    if allowed is not None and math.isfinite(ratio):
        enough = held.held_a - max(value - allowed, 0.0) * ratio
    return Held(
        at_rating, held.held_a, enough if enough is not None and enough > 0.0 else None, held.tripping_within_s
    )
