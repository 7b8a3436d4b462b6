"""Words for what the fault search found: the sentences that the rules on faults share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from loadloom.graph.circuit.network import CHASSIS_NODE
from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Conductor, Contact, Device, DeviceKind
from loadloom.graph.model.figures import figures, floored, quantity, raised
from loadloom.graph.model.findings import Finding, Rule
from loadloom.graph.model.naming import place_said
from loadloom.graph.model.results import FaultRow
from loadloom.graph.structure.guards import Guard

WHERE = {
    "load": "in place of load {at}",
    "contacts": "between contacts {at}",
    "chassis": "where {at} touches the chassis",
    "pinch": "where {at} is pinched against {to}",
    "wires": "where {at} is pinched onto {to}",
    "source": "inside output {at}",
}

HALF = 0.5


def place_words(fault: FaultRow) -> str:
    """Where a fault is, in words."""
    at, to = (fault.to, fault.at) if fault.at == CHASSIS_NODE else (fault.at, fault.to)
    return WHERE[fault.kind].format(at=place_said(at), to=place_said(to))


def fault_words(fault: FaultRow) -> str:
    """The fault itself: resistance, current and power."""
    ohm = fault.fault_resistance_ohm or 0.0
    what = (
        "a short circuit"
        if ohm < 1e-6
        else f"a fault of {figures(ohm)} Ω ({quantity(fault.fault_power_w, 'W')} in it)"
    )
    after = (
        f", once {' and '.join(fault.opened)} {'has' if len(fault.opened) == 1 else 'have'} opened,"
        if fault.opened
        else ""
    )
    return f"{what} {place_words(fault)}{after}"


def holder_words(answer: PartFault) -> str:
    """What holds the current, and that it does not open."""
    if answer.fed_by_loads:
        return "the loads that it joins feed it, and nothing opens"
    if answer.held_by is None:
        return "only the resistance of the copper limits it, and nothing opens"
    return f"{answer.held_by} can pass {figures(answer.held_a)} A without opening"


def unprotected(facts: Facts, rule: Rule, parts: Iterable[Conductor | Contact], noun: str) -> Iterator[Finding]:
    """Findings for parts whose sustained fault current is above their allowed current."""
    idle = IdleDevices(facts)
    for part in parts:
        answer = facts.faults.parts.get(part.id)
        if answer is None or answer.protected is not False or answer.sustained_fault_a is None:
            continue
        if answer.allowed_a is None:
            continue
        yield rule.finding(
            part.subject,
            _unprotected_message(noun, answer, idle),
            _remedy(facts, answer, idle),
            case=answer.case,
            value=answer.sustained_fault_a,
            limit=answer.allowed_a,
            unit="A",
            source=facts.ratings[part.id].source if part.id in facts.ratings else None,
        )


def _unprotected_message(noun: str, answer: PartFault, idle: IdleDevices) -> str:
    assert answer.sustained_fault_a is not None
    assert answer.allowed_a is not None
    carries = (
        f"{noun} {answer.id} can be made to carry {figures(answer.sustained_fault_a)} A continuously, "
        f"{figures(answer.sustained_fault_a / answer.allowed_a)} times its allowed {figures(answer.allowed_a)} A"
    )
    heat = f" ({figures(answer.heat_w_per_m)} W of heat in every metre)" if answer.heat_w_per_m is not None else ""
    if answer.fault is None and not answer.exact:
        return f"{carries.replace('can be made to', 'may', 1)}{heat}: {answer.note}."
    if answer.fault is None:
        return f"{carries}{heat}: the loads alone draw it, and nothing opens."
    once = f"once {answer.failed}, " if answer.failed else ""
    takes = f"{fault_words(answer.fault)} takes {quantity(answer.fault.fault_current_a, 'A')}"
    sentences = [f"{carries}{heat}: {once}{takes}, and {holder_words(answer)}"]
    if answer.loads_a and not answer.fed_by_loads:
        sentences[0] += (
            f", while {len(answer.loads_a)} load{'s draw' if len(answer.loads_a) > 1 else ' draws'} beside it"
        )
    for name in idle.of_fault(answer.case, answer.fault)[:1]:
        sentences.append(f"This comes through {name}, which is not active{_in_case(idle, name, answer)}")
    band = answer.fault.resistance_band_ohm
    if band is not None and answer.fault.worst == answer.id:
        sentences.append(f"Anything from {figures(band[0])} to {figures(band[1])} Ω there overloads it")
    if answer.combined_overload_a is not None and answer.combined_overload_a > answer.sustained_fault_a * 1.001:
        most = (
            f"{figures(answer.combined_overload_a)} A"
            if math.isfinite(answer.combined_overload_a)
            else "a current that nothing stated limits"
        )
        sentences.append(f"Several overloads at once could bring it to {most}")
    return "".join(f"{sentence}. " for sentence in sentences).rstrip()


def _in_case(idle: IdleDevices, name: str, answer: PartFault) -> str:
    """The load case in which a device is not active; nothing where it is active in none."""
    return "" if idle.always(name) or answer.case is None else f" in {answer.case}"


def made_up_words(parts: Sequence[tuple[str, float]]) -> str:
    """How a combined overload current is made up, as ``CH1 18 A + CH4 16 A``; empty where it is not told."""
    if len(parts) == 1 and parts[0][0]:
        return f"all of it behind {parts[0][0]}"
    return " + ".join(
        f"{device} {figures(a)} A" if device else f"{figures(a)} A that only the copper limits"
        for device, a in parts
    )


def also_too_much(facts: Facts, answer: PartFault) -> list[Guard]:
    """The other devices that feed a part and hold too much for it by themselves, with their shares of it."""
    case = next((case for case in facts.cases if case.id == answer.case), None)
    there = facts.protection.under(case) if case is not None else None
    if there is None or answer.held_to_protect_a is None:
        return []
    return [
        guard
        for guard in there.guards.get(answer.id, ())
        if answer.held_by not in there.always_before.get(guard.device, ())
        and guard.device != answer.held_by
        and guard.device in there.thresholds
        and there.thresholds[guard.device].held_a * guard.factor > answer.held_to_protect_a
    ]


def _lower_setting(facts: Facts, answer: PartFault) -> tuple[str, float, float] | None:
    """The device whose setting range ends where the part is protected, with its highest setting and the one that is
    drawn, in A; of several the one that has to come down least. None where no setting that also rides through does.
    """
    found: tuple[str, float, float] | None = None
    for name, setting_range in facts.protection.setting_ranges.items():
        high, nominal_a = setting_range.high, setting_range.nominal_a
        if (
            answer.id not in setting_range.protects
            or high is None
            or not nominal_a
            or setting_range.is_open is False
        ):
            continue
        if high.setting_a >= nominal_a:
            continue
        most_a = floored(high.setting_a)
        if most_a > 0.0 and (found is None or most_a / nominal_a > found[1] / found[2]):
            found = (name, most_a, nominal_a)
    return found


def _remedy(facts: Facts, answer: PartFault, idle: IdleDevices) -> str:
    assert answer.sustained_fault_a is not None
    thicker = f"use one that is allowed {figures(raised(answer.sustained_fault_a))} A"
    currents = facts.currents.get(answer.id)
    load_a = currents.worst_continuous[1] if currents is not None else 0.0
    if exceeds(load_a, answer.allowed_a):
        # A device that protects the part as it is would open with the load alone.
        return (
            f"{answer.id} carries {figures(load_a)} A of load alone, more than it is allowed, so that no device "
            f"can protect it as it is: {thicker}, or one that is allowed its load, with a device at its source end "
            "that is certain to open above what this one is allowed."
        )
    own = (
        f"put a device that is certain to open above {figures(floored(answer.allowed_a or 0.0))} A at the source "
        f"end of {answer.id}"
    )
    if answer.held_by is None:
        return f"{own[0].upper()}{own[1:]}, or {thicker}."
    off = next(iter(idle.in_feed(answer.case, [answer.id])), None)
    if off is not None:
        where, most = _in_case(idle, off, answer), figures(floored(answer.allowed_a or 0.0))
        active = f"Make {off} active{where} and set it so that it is certain to open above {most} A"
        return f"{active}, or {own}, or {thicker}."
    through = next(iter(idle.of_fault(answer.case, answer.fault)), None)
    if through is not None:
        where = _in_case(idle, through, answer)
        return (
            f"{own[0].upper()}{own[1:]}, or {thicker}. If {through} were active{where}, it could stop this fault; "
            f"{answer.id} lies behind no single feed, so a fault of another one may still reach it, and that alone "
            "need not be enough."
        )
    lower = _lower_setting(facts, answer)
    if lower is None:
        alone = any(answer.id in each.never for each in facts.protection.setting_ranges.values())
        none = " No setting of one active device alone is enough." if alone else ""
        return f"{own[0].upper()}{own[1:]}, or {thicker}.{none}"
    name, most_a, drawn_a = lower
    device = facts.harness.by_id[name]
    chosen = isinstance(device, Device) and device.kind is not DeviceKind.LIMITER
    setting = (
        f"{f'use {name} of' if chosen else f'set {name} to'} at most {figures(most_a)} A instead of "
        f"{figures(drawn_a)} A"
    )
    # A device that would have to be halved feeds more than this part: a device of its own is named first.
    first, second = (own, setting) if most_a < HALF * drawn_a else (setting, own)
    return f"{first[0].upper()}{first[1:]}, or {second}, or {thicker}."
