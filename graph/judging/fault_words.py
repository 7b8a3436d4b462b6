"""Words for what the fault search found: the sentences that the rules on faults share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from loadloom.graph.circuit.network import CHASSIS_NODE
from loadloom.graph.devices.device_bands import held_multiple
from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.judging.fed_end import in_line, where_to_guard
from loadloom.graph.judging.idle_devices import IdleDevices
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Conductor, Contact, Device, DeviceKind, TwoEnded
from loadloom.graph.model.figures import figures, floored, quantity, raised
from loadloom.graph.model.findings import End, Finding, Inactive, Quantity, Rule, Target
from loadloom.graph.model.naming import all_of, natural_key, place_said
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
NO_RESISTANCE_OHM = 1e-6
BOTH = 2


def place_words(fault: FaultRow) -> str:
    """Where a fault is, in words."""
    at, to = (fault.to, fault.at) if fault.at == CHASSIS_NODE else (fault.at, fault.to)
    return WHERE[fault.kind].format(at=place_said(at), to=place_said(to))


def fault_words(fault: FaultRow) -> str:
    """The fault itself: resistance, current and power."""
    ohm = fault.fault_resistance_ohm or 0.0
    what = (
        "a short circuit"
        if ohm < NO_RESISTANCE_OHM
        else f"a fault of {figures(ohm)} Ω ({quantity(fault.fault_power_w, 'W')} in it)"
    )
    after = (
        f", once {' and '.join(fault.opened)} {'has' if len(fault.opened) == 1 else 'have'} opened,"
        if fault.opened
        else ""
    )
    return f"{what} {place_words(fault)}{after}"


def holder_words(answer: PartFault) -> str:
    """What holds the current, and that it does not open: the end of a sentence on a fault, with its comma."""
    if answer.fed_by_loads:
        return ", and the loads that it joins feed it, and nothing opens"
    if answer.held_by is None:
        return ", and only the resistance of the copper limits it, and nothing opens"
    if answer.comes_through:
        return f", {fed_words(answer)}"
    return f", and {answer.held_by} can pass {figures(answer.held_a)} A without opening"


def fed_words(answer: PartFault) -> str:
    """What each of several sources feeds to a part; empty where one does, or that is not told."""
    said = [f"{figures(a)} A through {name}" for name, a in answer.comes_through]
    of_which = "neither of which opens" if len(said) == BOTH else "none of which opens"
    return f"fed with {' + '.join(said)}, {of_which}" if said else ""


def unprotected(facts: Facts, rule: Rule, parts: Iterable[Conductor | Contact], noun: str) -> Iterator[Finding]:
    """Findings for parts whose sustained fault current is above their allowed current."""
    idle = IdleDevices(facts)
    for part in parts:
        answer = facts.faults.parts.get(part.id)
        if answer is None or answer.protected is not False or answer.sustained_fault_a is None:
            continue
        if answer.allowed_a is None:
            continue
        remedy = _remedy(facts, answer, idle)
        through = next(iter(idle.of_fault(answer.case, answer.fault)), None)
        yield rule.finding(
            part.subject,
            _unprotected_message(noun, answer, idle),
            remedy.text,
            target=remedy.target,
            why=why_in_short(facts, answer, idle, remedy.target),
            change=remedy.change,
            inactive=_inactive(idle, through, answer) if through is not None else None,
            case=answer.case,
            value=answer.sustained_fault_a,
            limit=answer.allowed_a,
            unit="A",
            source=facts.ratings[part.id].source if part.id in facts.ratings else None,
        )


def can_words(answer: PartFault) -> str:
    """What a part does by its sustained fault current: a bound on the safe side need not be reached."""
    return "can be made to carry" if answer.exact else "may carry up to"


def _unprotected_message(noun: str, answer: PartFault, idle: IdleDevices) -> str:
    assert answer.sustained_fault_a is not None
    assert answer.allowed_a is not None
    carries = (
        f"{noun} {answer.id} {can_words(answer)} {figures(answer.sustained_fault_a)} A continuously, "
        f"{figures(answer.sustained_fault_a / answer.allowed_a)} times its allowed {figures(answer.allowed_a)} A"
    )
    heat = ""
    if answer.heat_w_per_m is not None:
        heat = f" ({figures(answer.heat_w_per_m)} W of heat in every metre while it is still cold)"
    if answer.fault is None and not answer.exact:
        return f"{carries}{heat}: {answer.note}."
    if answer.fault is None:
        return f"{carries}{heat}: the loads alone draw it, and nothing opens."
    once = f"once {answer.failed}, " if answer.failed else ""
    takes = f"{fault_words(answer.fault)} takes {quantity(answer.fault.fault_current_a, 'A')}"
    sentences = [f"{carries}{heat}: {once}{takes}{holder_words(answer)}"]
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
            f"at most {figures(answer.combined_overload_a)} A"
            if math.isfinite(answer.combined_overload_a)
            else "a current that nothing stated limits"
        )
        sentences.append(f"Several overloads at once could bring it to {most}")
    if not answer.exact and answer.note:
        sentences.append(f"The {figures(answer.sustained_fault_a)} A are {answer.note}")
    return "".join(f"{sentence}. " for sentence in sentences).rstrip()


def why_in_short(facts: Facts, answer: PartFault, idle: IdleDevices, target: Target | None = None) -> str:
    """The same for a first page: where the fault is, what it holds against what is allowed, and why nothing opens.

    Empty where a message of its own says what it is.
    """
    fault = answer.fault
    if fault is None or answer.failed or not answer.exact:
        return ""
    what = "A short circuit" if (fault.fault_resistance_ohm or 0.0) < NO_RESISTANCE_OHM else "A fault"
    where = place_words(fault).replace("in place of load", "at load", 1)
    held, allowed = figures(answer.sustained_fault_a), figures(answer.allowed_a)
    sentences = [f"{what} {where} can hold {held} A on {answer.id}, which is allowed {allowed} A"]
    sentences += [
        f"{name} before it is not active{_in_case(idle, name, answer)}"
        for name in idle.of_fault(answer.case, fault)[:1]
    ]
    if fed := fed_words(answer):
        sentences.append(f"It is {fed}")
    elif answer.fed_by_loads or answer.held_by is None:
        sentences.append("Nothing opens at that current")
    else:
        name, held_a = answer.held_by, answer.held_a
        case = next((case for case in facts.cases if case.id == answer.case), None)
        there = facts.protection.under(case) if case is not None else None
        if (
            target is not None
            and target.quantity is Quantity.SETTING
            and there is not None
            and target.id in there.thresholds
        ):
            # What is to be changed stands in the same line: it is named, and not the other one.
            name, held_a = target.id, there.thresholds[target.id].held_a
        sentences.append(f"{name} is certain to open only above {figures(held_a)} A")
    return "".join(f"{sentence}. " for sentence in sentences).rstrip()


def _inactive(idle: IdleDevices, name: str, answer: PartFault) -> Inactive:
    """A device that is not active, with the load case of it where it is active in others."""
    return Inactive(name, None if idle.always(name) else answer.case)


def _in_case(idle: IdleDevices, name: str, answer: PartFault) -> str:
    """The load case in which a device is not active; nothing where it is active in none."""
    case = _inactive(idle, name, answer).case
    return f" in {case}" if case is not None else ""


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


@dataclass(frozen=True, slots=True)
class _Remedy:
    """Ways to mend one thing, the one to take first in front; ``more`` are sentences behind them."""

    ways: tuple[str, ...]
    target: Target
    more: str = ""

    @property
    def text(self) -> str:
        """All of them."""
        return f"{self._first}{''.join(f', or {way}' for way in self.ways[1:])}.{self.more}"

    @property
    def change(self) -> str:
        """The first alone."""
        return f"{self._first}."

    @property
    def _first(self) -> str:
        return f"{self.ways[0][0].upper()}{self.ways[0][1:]}"


def _remedy(facts: Facts, answer: PartFault, idle: IdleDevices) -> _Remedy:
    """What to change, and the figure of what is named first."""
    assert answer.sustained_fault_a is not None
    part = facts.harness.by_id[answer.id]
    assert isinstance(part, TwoEnded)
    most_a = floored(answer.allowed_a or 0.0)
    enough = Target(answer.id, Quantity.ALLOWED_CURRENT, End.AT_LEAST, raised(answer.sustained_fault_a))
    opens = Target(answer.id, Quantity.TRIPPING_CURRENT, End.AT_MOST, most_a)
    larger = f"use one that is allowed {figures(raised(answer.sustained_fault_a))} A"
    where = where_to_guard(facts, part, answer.fault)
    currents = facts.currents.get(answer.id)
    load_a = currents.worst_continuous[1] if currents is not None else 0.0
    if exceeds(load_a, answer.allowed_a):
        # A device that protects the part as it is would open with the load alone.
        why = f"{answer.id} carries {figures(load_a)} A of load alone, more than it is allowed, so that no device"
        own = f"use one that is allowed its load, with a device {where}, that opens above what that allows"
        return _Remedy((f"{why} can protect it as it is: {own}", larger), enough)
    own = f"put a device that is certain to open above {figures(most_a)} A {where}"
    if answer.held_by is None:
        return _Remedy((own, larger), opens)
    off = next(iter(idle.in_feed(answer.case, [answer.id])), None)
    if off is not None:
        return _Remedy((_activate(idle, off, answer, most_a), own, larger), replace(opens, id=off))
    through = next(iter(idle.of_fault(answer.case, answer.fault)), None)
    if through is not None:
        more = (
            f" {through} would stop this fault; {answer.id} lies behind no single feed, so that a fault of another "
            "one may still reach it: a new report tells."
        )
        active = _activate(idle, through, answer, most_a)
        return _Remedy((active, own, larger), replace(opens, id=through), more)
    lower = _lower_setting(facts, answer) or _lower_in_line(facts, answer, part)
    if lower is None:
        open_ends = _open_ends(facts, answer)
        more = ""
        if open_ends:
            noun = "a lower setting" if len(open_ends) == 1 else "lower settings"
            more = (
                f" {all_of(open_ends)} may hold too much for it; whether {noun} would be enough is not determined, "
                "and a report with another one tells."
            )
        elif any(answer.id in each.never for each in facts.protection.setting_ranges.values()):
            more = " No setting of one active device alone is enough."
        return _Remedy((own, larger), opens, more)
    name, setting_a, drawn_a = lower
    device = facts.harness.by_id[name]
    chosen = isinstance(device, Device) and device.kind is not DeviceKind.LIMITER
    most = f"at most {figures(setting_a)} A"
    setting = f"choose a rating of {most} for {name}" if chosen else f"set {name} to {most}"
    setting += f" instead of {figures(drawn_a)} A"
    # A device that would have to be halved feeds more than this part: a device of its own is named first.
    if setting_a < HALF * drawn_a:
        return _Remedy((own, setting, larger), opens)
    return _Remedy((setting, larger), Target(name, Quantity.SETTING, End.AT_MOST, setting_a))


def _activate(idle: IdleDevices, name: str, answer: PartFault, most_a: float) -> str:
    where = _in_case(idle, name, answer)
    above = f"certain to open above {figures(most_a)} A"
    return f"make {name} active{where}, set so that it is {above}, tolerance included"


def _lower_in_line(facts: Facts, answer: PartFault, part: TwoEnded) -> tuple[str, float, float] | None:
    """The device in line with a part that has to come down: its highest setting and the drawn one, in A.

    What comes in at an end of a part, anywhere along it, is at most what the devices let through that sit in one
    line with that end, no branch between. None where both ends let too much through, or nothing sits there.
    """
    most_a = answer.held_to_protect_a or answer.allowed_a
    case = next((case for case in facts.cases if case.id == answer.case), None)
    there = facts.protection.under(case) if case is not None else None
    if most_a is None or case is None or there is None:
        return None
    too_much: list[tuple[str, ...]] = []
    for joint in (part.node_a, part.node_b):
        line = in_line(facts, part, joint)
        held = [there.thresholds[name].held_a for name in line if name in there.thresholds]
        if min(held, default=math.inf) > most_a:
            too_much.append(line)
    if len(too_much) != 1:
        return None
    for name in too_much[0]:
        device = facts.harness.by_id[name]
        if not isinstance(device, Device) or name not in there.thresholds:
            continue
        acting = device.under(case.arrangement)
        rated_a, drawn_a = _most_rating_a(facts, acting, part), acting.setting_a
        low = facts.protection.setting_ranges[name].low if name in facts.protection.setting_ranges else None
        if rated_a and drawn_a and rated_a < drawn_a and (low is None or low.setting_a <= rated_a):
            return name, floored(rated_a), drawn_a
    return None


def _most_rating_a(facts: Facts, device: Device, part: TwoEnded) -> float | None:
    """The highest setting with which a device in line with a part protects it; of a fuse before a conductor to the
    end of the overload band, as a setting range has it.
    """
    allowed_a = facts.ratings[part.id].allowed_a if part.id in facts.ratings else None
    multiple = held_multiple(device, facts.settings)
    if not multiple or not allowed_a:
        return None
    if device.kind is DeviceKind.LIMITER or not isinstance(part, Conductor):
        return allowed_a / multiple
    return allowed_a / multiple * max(1.0, min(multiple, facts.settings.overload_band))


def _open_ends(facts: Facts, answer: PartFault) -> list[str]:
    """The devices that hold too much for a part and of which no highest setting was found, which need not mean that
    there is none.
    """
    holding = {answer.held_by, *(guard.device for guard in also_too_much(facts, answer))}
    ranges = facts.protection.setting_ranges
    named = [name for name in sorted(filter(None, holding), key=natural_key) if name in ranges]
    return [name for name in named if ranges[name].high is None and answer.id not in ranges[name].never]
