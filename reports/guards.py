"""Why a part that lies behind a device is protected by it, by another one, or not at all: in words.

A device guards a part where its setting bounds the current that can come to it. That is not yet protection: another
feed may reach the part as well, the device may be off in an arrangement, or its setting may be too high.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import (
    ConductorRow,
    ContactRow,
    DeviceRow,
    FaultRow,
    Results,
    SpliceRow,
    SwitchRow,
)
from loadloom.reports.numbers import quantity

PROTECTED = "protected"
"""Said of a part that a device protects all by itself."""
_SAME = 1e-6
"""Relative; within this two currents are the same."""

Part = ConductorRow | ContactRow | SpliceRow | SwitchRow


@dataclass(frozen=True, slots=True)
class Guarded:
    """A part that a device guards. ``protected``: whether the part is protected, as its own row says.

    ``by_it``: whether the device is one of those that protect it. ``words``: the reason.
    """

    part: str
    protected: bool | None
    by_it: bool
    words: str


def guarded(results: Results) -> Mapping[str, tuple[Guarded, ...]]:
    """What every device guards, by its id, in the order of the device's row."""
    parts = _parts(results)
    faults = {fault.id: fault for fault in results.faults}
    return {
        device.id: tuple(
            _guarded(device, parts[name], faults.get(parts[name].sustained_fault or ""))
            for name in device.protects
            if name in parts
        )
        for device in results.devices
    }


def protects(results: Results) -> Mapping[str, tuple[str, ...]]:
    """The parts that every device protects by itself or together with others, by its id."""
    return {name: tuple(g.part for g in found if g.by_it) for name, found in guarded(results).items()}


def otherwise(results: Results) -> Mapping[str, str]:
    """What lies behind every device and is protected otherwise or not at all, with the reasons, by its id."""
    said: dict[str, str] = {}
    for name, found in guarded(results).items():
        groups: dict[str, list[str]] = defaultdict(list)
        for each in found:
            if not each.by_it:
                groups[each.words].append(each.part)
        order = sorted(groups.items(), key=lambda item: not item[0].startswith("NOT"))
        said[name] = "; ".join(f"{_named(names)}: {words}" for words, names in order)
    return said


def why_unprotected(results: Results) -> Mapping[str, str]:
    """Of every part that is not protected: what lets the current flow, and which device before it is off then."""
    faults = {fault.id: fault for fault in results.faults}
    before: dict[str, list[DeviceRow]] = defaultdict(list)
    for device in results.devices:
        for name in device.protects:
            before[name].append(device)
    said: dict[str, str] = {}
    for name, row in _parts(results).items():
        if row.protected is not False or row.sustained_fault_a is None:
            continue
        off = [device.id for device in before[name] if _is_off(device, row.sustained_fault_case)]
        said[name] = _stays(row, faults.get(row.sustained_fault or ""), off)
    return said


def left_unprotected_by(results: Results) -> Mapping[str, tuple[str, ...]]:
    """The parts that nothing protects, by the device or output that stays just below tripping then."""
    faults = {fault.id: fault for fault in results.faults}
    said: dict[str, list[str]] = defaultdict(list)
    for name, row in _parts(results).items():
        fault = faults.get(row.sustained_fault or "")
        if row.protected is False and fault is not None and fault.held_by is not None:
            said[fault.held_by].append(name)
    return {holder: tuple(sorted(names, key=natural_key)) for holder, names in said.items()}


def found_elsewhere(results: Results) -> Mapping[str, str]:
    """Of every device that is set too high and has no finding of its own: the parts whose findings say so."""
    said, behind = {}, guarded(results)
    for device in results.devices:
        if device.setting_stands != "too high" or device.findings:
            continue
        parts = [found.part for found in behind[device.id] if found.protected is False]
        if parts:
            said[device.id] = f"no finding of its own; those on {_named(parts)} are about what it lets flow"
    return said


def _parts(results: Results) -> dict[str, Part]:
    rows: tuple[Part, ...] = (*results.conductors, *results.contacts, *results.splices, *results.switches)
    return {row.id: row for row in rows}


def _guarded(device: DeviceRow, row: Part, fault: FaultRow | None) -> Guarded:
    by = row.protected_by if isinstance(row, ConductorRow | ContactRow) else ()
    if row.protected is False:
        return Guarded(row.id, False, False, f"NOT protected: {_why_not(device, row, fault)}")
    if row.protected is None:
        return Guarded(row.id, None, False, "whether it is protected is not determined")
    most = quantity(row.sustained_fault_a, "A")
    if device.id not in by and by:
        return Guarded(row.id, True, False, f"protected by {_named(by)}; a fault holds at most {most} on it")
    if not by:
        # A splice or switch names no device; one that opens below what it is allowed protects it.
        opens_a = device.tripping_a
        alone = opens_a is not None and bool(row.allowed_a) and opens_a <= (row.allowed_a or 0.0) * (1.0 + _SAME)
        return Guarded(row.id, True, alone, f"protected: a fault holds at most {most} on it")
    others = [name for name in by if name != device.id]
    allowed = row.allowed_a
    beside = ""
    if others:
        beside = f", by {_named(others)} as well" if _alone(device, row) else f" together with {_named(others)}"
    if allowed and row.sustained_fault_a is not None and row.sustained_fault_a > allowed * (1.0 + _SAME):
        times = row.sustained_fault_a / allowed
        words = f"protected{beside} within the overload band: {times:.3g} times its allowed current may stay"
        return Guarded(row.id, True, True, words)
    if allowed and device.tripping_a is not None and device.tripping_a > allowed * (1.0 + _SAME):
        return Guarded(
            row.id, True, True, f"protected{beside}: of what the device lets flow it gets at most {most}"
        )
    return Guarded(row.id, True, True, f"{PROTECTED}{beside}")


def _alone(device: DeviceRow, row: Part) -> bool:
    """Whether a device protects a part without the help of others that protect it: it opens within what the part is
    allowed, and no more can come to the part than passes the device.
    """
    opens_a, most_a, allowed_a = device.tripping_a, row.sustained_fault_a, row.allowed_a
    if opens_a is None or most_a is None or not allowed_a:
        return False
    return max(opens_a / allowed_a, most_a / opens_a if opens_a > 0.0 else math.inf) <= 1.0 + _SAME


def _why_not(device: DeviceRow, row: Part, fault: FaultRow | None) -> str:
    """Why a part is not protected although the device stands before it; ``fault``: the worst one on the part."""
    flow = _stays(row, fault)
    if device.setting_a is None and not any(device.settings_a.values()):
        return f"{flow}, and {device.id} is not active"
    if _is_off(device, row.sustained_fault_case):
        return _stays(row, fault, (device.id,))
    current_a, opens_a = row.sustained_fault_a, device.tripping_a
    if current_a is None or opens_a is None or (fault is not None and fault.held_by == device.id):
        return flow
    if opens_a < current_a * (1.0 - _SAME):
        return f"{flow}; not all of it flows through {device.id}{_as_return(row)}"
    return f"{flow}; {device.id} opens for certain only above {quantity(opens_a, 'A')}"


def _stays(row: Part, fault: FaultRow | None, off: Sequence[str] = ()) -> str:
    """What a fault holds on a part, and what does not open then. ``off``: devices before it that are off then."""
    said = f"{quantity(row.sustained_fault_a, 'A')} can stay on it"
    if off:
        said += f" in {row.sustained_fault_case}, where {_named(off)} {'is' if len(off) == 1 else 'are'} off"
    if fault is None:
        return said
    holder = (
        "no device stands in the way" if fault.held_by is None else f"{fault.held_by} stays just below tripping"
    )
    return f"{said}{' and' if off else ','} {holder}"


def _as_return(row: Part) -> str:
    is_return = isinstance(row, ConductorRow | ContactRow) and row.role == "return"
    return ", since a return serves other circuits too" if is_return else ""


def _is_off(device: DeviceRow, case: str | None) -> bool:
    return case is not None and case in device.settings_a and device.settings_a[case] is None


def _named(names: Sequence[str]) -> str:
    ordered = sorted(names, key=natural_key)
    return " and ".join(filter(None, (", ".join(ordered[:-1]), *ordered[-1:])))
