"""Whether a clearing time beyond the adiabatic range is only what a gate of a standard leaves open."""

from __future__ import annotations

from loadloom.graph.devices import band_choice
from loadloom.graph.elements import Device, DeviceKind
from loadloom.graph.facts import Facts
from loadloom.graph.results import ShortCircuitRow


def cleared_late_by_gate(facts: Facts, row: ShortCircuitRow) -> bool:
    """A short that a fuse or breaker clears by its gate table only, later than the adiabatic test reaches."""
    device = facts.harness.by_id.get(row.cleared_by or "")
    if row.adiabatic_in_range is not False or not isinstance(device, Device):
        return False
    if device.kind not in (DeviceKind.FUSE, DeviceKind.BREAKER):
        return False
    return not (curves := band_choice(device, facts.settings).curves) or any(curve.gates for curve in curves)
