"""What findings say of a short circuit in the same words."""

from __future__ import annotations

from loadloom.graph.model.results import ShortCircuitRow


def with_off(row: ShortCircuitRow) -> str:
    """`` while BT2 is off``, for a short whose gravest course is without some of the joined outputs; else empty."""
    if not row.outputs_off:
        return ""
    return f" while {' and '.join(row.outputs_off)} {'is' if len(row.outputs_off) == 1 else 'are'} off"
