"""What is known of a part by the device that holds its sustained fault current: its rating, what it can hold, its
time."""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.cases import ThresholdsByCase
from loadloom.graph.faults.hit_state import state_at
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.faults.worst_faults import FoundHit
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case


def device_per_part(found: FoundHit, held_by: str | None) -> float:
    """The current of the device that holds a fault per ampere of the fault in the part; 0 where there is none."""
    hit, search = found.hit, found.search
    if held_by is None or hit.place is None:
        return 0.0
    state = state_at(search, hit.place, hit.fault_a, hit.loads_a)
    through = abs(float(state.per_fault[search.variant.piece.branch_index[held_by]]))
    return through / hit.per_fault_a if hit.per_fault_a > TINY else math.inf


def with_holder(
    harness: Harness, thresholds: ThresholdsByCase, answer: PartFault, case: Case, ratio: float
) -> PartFault:
    """Add what would flow if the holding device passed its printed rating, and how long it may take to act.

    ``ratio``: its current per ampere of the fault in the part.
    """
    held_by, value, allowed = answer.held_by, answer.sustained_fault_a, answer.allowed_a
    if held_by is None or value is None:
        return answer
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
    return replace(
        answer,
        at_rating_a=at_rating,
        held_a=held.held_a,
        held_to_protect_a=enough if enough is not None and enough > 0.0 else None,
        tripping_within_s=held.tripping_within_s,
    )
