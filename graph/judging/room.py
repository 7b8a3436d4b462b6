"""What parts behind a device have to be allowed before any setting of it both protects them and carries its load.

Who raises the one part that the highest setting comes from finds the next one over. So all of them are told.
"""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.devices.device_bands import held_multiple
from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Device

SAME = 1e-6
"""Share within which a fault draws no more than the device that holds it lets through."""


def room_needed(facts: Facts, device: Device, idle: IdleDevices) -> Mapping[str, float]:
    """By part, the least in A that it has to be allowed, where that is more than it is; at the lowest setting.

    The part's share of what flows into the worst fault found on it is the same whatever lets the current through,
    since copper is linear. So it is a share of what the device holds at its lowest setting. Another fault may ask
    more: these are least values.
    """
    setting_range = facts.protection.setting_ranges.get(device.id)
    if setting_range is None or setting_range.low is None or setting_range.is_open is not False:
        return {}
    multiples = [m for each in device.variants() if (m := held_multiple(each, facts.settings)) is not None]
    held_a = setting_range.low.setting_a * max(multiples, default=1.0)
    found: dict[str, float] = {}
    if setting_range.high is not None and setting_range.high.setting_a > 0.0:
        found[setting_range.high.by] = setting_range.high.current_a * setting_range.low.setting_a
        found[setting_range.high.by] /= setting_range.high.setting_a
    for name, answer in facts.faults.parts.items():
        share = _share(answer)
        if share is not None and _comes_through(facts, answer, device.id, idle):
            found[name] = max(found.get(name, 0.0), share * held_a)
    return {
        name: need_a
        for name, need_a in found.items()
        if name in facts.ratings and exceeds(need_a, facts.ratings[name].allowed_a)
    }


def _share(answer: PartFault) -> float | None:
    """The part's share of what one device lets into its worst fault; None where several feed it, or loads do."""
    fault = answer.fault
    if fault is None or answer.sustained_fault_a is None or answer.protected is not False or not answer.exact:
        return None
    if not answer.held_a or answer.comes_through or answer.fed_by_loads or answer.failed:
        return None
    if fault.fault_current_a is None or abs(fault.fault_current_a / answer.held_a - 1.0) > SAME:
        return None
    return answer.sustained_fault_a / answer.held_a


def _comes_through(facts: Facts, answer: PartFault, device: str, idle: IdleDevices) -> bool:
    return answer.held_by == device or device in idle.of_fault(answer.case, answer.fault)
