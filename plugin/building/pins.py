"""Matches a symbol's pins to the ends that its role has."""

from __future__ import annotations

import contextlib
import itertools
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from loadloom.graph.model.naming import all_of, natural_key, with_article
from loadloom.graph.rules import output_shorted, pin_clash
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part, listed
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.drawing import PinRef, Symbol
from loadloom.plugin.fields import folded
from loadloom.plugin.notes import Notes
from loadloom.plugin.roles import Role
from loadloom.plugin.values import shown

ENDS: Mapping[Role, tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]] = {
    Role.OUTPUT: ((("+",), ("1", "+")), (("-",), ("2", "-"))),
    Role.LOAD: ((("+",), ("1", "+")), (("-",), ("2", "-"))),
    Role.BATTERY: ((("+",), ("1", "+")), (("-",), ("2", "-"))),
    Role.SOLAR: ((("+",), ("1", "+")), (("-",), ("2", "-"))),
    Role.DIODE: ((("A",), ("A",)), (("K",), ("K",))),
    Role.CONVERTER: tuple(
        ((name,), (name, number)) for name, number in (("IN+", "1"), ("IN-", "2"), ("OUT+", "3"), ("OUT-", "4"))
    ),
}
"""For the roles with named ends: (pin names, pin numbers) of each end. All others have ends 1 and 2."""

COMMON_MINUS = {"IN-", "OUT-"}
"""Ends of a converter that can be one pin: one with three terminals."""

_PLAIN = (((), ("1",)), ((), ("2",)))
SENSE = ("S+", "S-")
COIL = ("A1", "A2")
_CORE_PIN = re.compile(r"(.+)([ABab])")


def two_ends(part: Part, context: Context, joints: Joints) -> tuple[str, str] | None:
    """The joints of a part's two ends; None, and a finding, where its pins do not tell them."""
    found = ends_of(part, context, joints)
    return (found[0], found[1]) if found else None


def ends_of(part: Part, context: Context, joints: Joints) -> tuple[str, ...] | None:
    """The joints of a part's ends in the order of ``ENDS``; None, and a finding, where its pins don't tell them."""
    ends = ENDS.get(part.role, _PLAIN)
    found: list[set[PinRef]] = []
    unknown = unknown_ends(part)
    if unknown:
        _clash(part, context, unknown)
        return None
    for names, numbers in ends:
        by_settings = _stated_pins(part, (*names, *numbers))
        if by_settings is not None:
            found.append(by_settings)
            continue
        by_name = {p.number for p in part.symbol.pins if p.name in names}
        by_number = {p.number for p in part.symbol.pins if p.number in numbers and p.name not in SENSE}
        found.append({PinRef(part.reference, number) for number in by_name or by_number})
    words = [names[0] if names else numbers[0] for names, numbers in ends]
    missing = next((word for word, pins in zip(words, found, strict=True) if not pins), None)
    if missing is not None:
        _clash(part, context, f"has no pin {missing}")
        return None
    for (one, these), (other, those) in itertools.combinations(zip(words, found, strict=True), 2):
        if these & those and {one, other} != COMMON_MINUS:
            shared = listed(sorted(p.number for p in these & those))
            _clash(part, context, f"has pin {shared} as {one} by name and as {other} by number, or both")
            return None
    joints_found = []
    for word, pins in zip(words, found, strict=True):
        at = sorted({joints.of(pin) for pin in pins}, key=natural_key)
        if len(at) > 1:
            _clash(part, context, f"has several pins {word}, on {listed(at)}")
            return None
        joints_found.append(at[0])
    _report_spare(part, context, set().union(*found))
    return tuple(joints_found)


def coil_ends(part: Part, context: Context, joints: Joints) -> tuple[str, str] | None:
    """The joints of a contactor's coil, where both its pins are drawn and joined to something."""
    found = []
    for name in COIL:
        pins = _stated_pins(part, (name,)) or {
            PinRef(part.reference, p.number) for p in part.symbol.pins if name in (p.name, p.number)
        }
        at = {joints.of(pin) for pin in pins if not context.is_alone(pin)}
        if len(at) == 1:
            found.append(at.pop())
    return (found[0], found[1]) if len(found) == 2 else None


def poles(part: Part, paths: tuple[tuple[str, str], ...] | None, context: Context, joints: Joints) -> list[Pole]:
    """The poles of a contactor by the pins of its ``Path``; without one, its two ends by the settings, else its two
    pins beside the coil's. Several pins of one name are one end where they are joined.

    None, and a finding, where the pins do not tell them.
    """
    unknown = unknown_ends(part) if part.ends else None
    if unknown:
        _clash(part, context, unknown)
        return []
    coil = {PinRef(part.reference, number) for number in _coil_numbers(part)}
    ends: list[tuple[set[PinRef], set[PinRef]]] = []
    if paths is not None:
        for path in paths:
            one, two = ({PinRef(part.reference, n) for n in _numbers(part, [end])} for end in path)
            missing = next((end for end, pins in zip(path, (one, two), strict=True) if not pins), None)
            if missing is not None:
                _clash(part, context, f"has no pin {missing}, which its Path names; it has {_pin_list(part)}")
                return []
            ends.append((one, two))
    elif part.ends.get("1") and part.ends.get("2"):
        ends = [(_stated_pins(part, ("1",)) or set(), _stated_pins(part, ("2",)) or set())]
    else:
        beside = [pin for pin in part.pins if pin not in coil]
        if len(beside) != 2:
            _clash(
                part,
                context,
                f"has {len(beside)} pins beside its coil and states no Path, such as 1-2; 3-4",
                "Give the pins of its contacts in the field Path; where its coil is not A1 and A2, say so in the "
                'settings: pins = { A1 = "2", A2 = "5", 1 = "1", 2 = "3" }.',
            )
            return []
        ends = [({beside[0]}, {beside[1]})]
    found: list[Pole] = []
    for sides in ends:
        at = [sorted({joints.of(pin) for pin in side}, key=natural_key) for side in sides]
        for side, joined in zip(sides, at, strict=True):
            if len(joined) > 1:
                numbers = listed(sorted((pin.number for pin in side), key=natural_key))
                _clash(part, context, f"has the pins {numbers} as one end, but they are on {listed(joined)}")
                return []
        found.append(Pole(at[0][0], at[1][0]))
    _report_spare(part, context, coil.union(*(side for sides in ends for side in sides)))
    return found


def _coil_numbers(part: Part) -> set[str]:
    """Numbers of the pins of a contactor's coil: those that the settings name, else those called A1 and A2."""
    stated = {n for name in COIL for n in _numbers(part, part.ends.get(name, ()))}
    return stated or {pin.number for pin in part.symbol.pins if {pin.number, pin.name} & set(COIL)}


@dataclass(frozen=True, slots=True)
class Pole:
    """The joints of one pole of a contactor: the first is the source side."""

    node_a: str
    node_b: str


def source_ends(part: Part, context: Context, joints: Joints) -> tuple[str, str, bool] | None:
    """The joints of plus and minus of an output, battery or solar string, and whether it is fitted; None where its
    pins can't be told. One whose terminals are on one net is told, and counts as not fitted.
    """
    ends = two_ends(part, context, joints)
    if not ends:
        return None
    if ends[0] == ends[1]:
        context.notes.find(
            output_shorted.RULE.finding(
                part.subject(),
                f"Both terminals of {part.reference} are on {ends[0]}; it is left out of the solve.",
                "Put the terminals on two nets.",
            )
        )
    return ends[0], ends[1], not part.symbol.dnp and ends[0] != ends[1]


def sense_ends(part: Part, context: Context, joints: Joints) -> tuple[str | None, str | None]:
    """The joints of an output's sense pins, each None where it is not drawn or joined to nothing."""
    plus, minus = (
        next(
            (
                pin
                for p in part.symbol.pins
                if word in (p.name, p.number) and not context.is_alone(pin := PinRef(part.reference, p.number))
            ),
            None,
        )
        for word in SENSE
    )
    return (joints.of(plus) if plus else None, joints.of(minus) if minus else None)


def unused_pins(part: Part, notes: Notes) -> Iterable[PinRef]:
    """The pins that take no part, where the settings name those of the role's ends; told as an assumption."""
    if not part.ends or unknown_ends(part):
        return ()
    taken = set().union(*(_numbers(part, texts) for texts in part.ends.values()))
    if part.role is Role.CONTACTOR:
        taken |= _numbers(part, path_ends(part.symbol))
    if part.role is Role.OUTPUT:
        taken |= {pin.number for pin in part.symbol.pins if pin.name in SENSE or pin.number in SENSE}
    unused = [pin.number for pin in part.symbol.pins if pin.number not in taken]
    if unused:
        notes.assume(
            f"Of {part.reference} only the pins {all_of(sorted(taken, key=natural_key))} take part, as the "
            f"settings say; {all_of(unused)} are taken as joined to nothing."
        )
    return [PinRef(part.reference, number) for number in unused]


def path_ends(symbol: Symbol) -> tuple[str, ...]:
    """The pins that the field ``Path`` of a contactor names, as far as it can be read."""
    for name, text in (*symbol.fields.items(), *symbol.library_fields.items()):
        if folded(name) == "path":
            with contextlib.suppress(values.UnreadableValue):
                return tuple(end for path in values.pin_paths(text) for end in path)
    return ()


def unknown_ends(part: Part) -> str | None:
    """What is wrong with the ends that the settings name, for a sentence about the part; None if nothing."""
    if part.role in (Role.CABLE, Role.THROUGH):
        known = [end for end in part.ends if _CORE_PIN.fullmatch(end)]
    else:
        ends = ENDS.get(part.role, _PLAIN)
        words = {word for names, numbers in ends for word in (*names, *numbers)}
        beside = {Role.OUTPUT: SENSE, Role.CONTACTOR: COIL}.get(part.role, ())
        known = [end for end in part.ends if end in words or end in beside]
    odd = [end for end in part.ends if end not in known]
    if odd:
        there = [words for names, numbers in ENDS.get(part.role, _PLAIN) for words in (*names, *numbers)[:1]]
        there += {Role.OUTPUT: SENSE, Role.CONTACTOR: COIL}.get(part.role, ())
        of_role = "kA and kB of its cores" if part.role in (Role.CABLE, Role.THROUGH) else listed(there)
        return f"has no end {listed(odd)}, to which the settings give pins; the role {part.role} has {of_role}"
    absent = [text for end, texts in part.ends.items() for text in texts if not _numbers(part, [text])]
    return f"has no pin {listed(absent)}, which the settings name; it has {_pin_list(part)}" if absent else None


def _pin_list(part: Part) -> str:
    """The pins of a part with their names, ``1 (+) and 2 (-)``."""
    pins = sorted(part.symbol.pins, key=lambda pin: natural_key(pin.number))
    named = (f"{pin.number} ({pin.name})" if pin.name not in ("", pin.number) else pin.number for pin in pins)
    return listed(map(shown, named))


def _stated_pins(part: Part, words: Iterable[str]) -> set[PinRef] | None:
    """The pins that the settings give to an end that goes by any of these words; None where they give none."""
    texts = [text for word in dict.fromkeys(words) for text in part.ends.get(word, ())]
    return {PinRef(part.reference, number) for number in _numbers(part, texts)} if texts else None


def _numbers(part: Part, texts: Iterable[str]) -> set[str]:
    """Numbers of the pins that texts name, by number, else by name."""
    found: set[str] = set()
    for text in texts:
        by_number = {pin.number for pin in part.symbol.pins if pin.number == text}
        found |= by_number or {pin.number for pin in part.symbol.pins if pin.name == text}
    return found


def core_pins(part: Part, context: Context) -> dict[str, tuple[PinRef, PinRef]]:
    """Pins A and B of every core of a cable, or contact of a two-sided connector, in natural order."""
    sides: dict[str, dict[str, PinRef]] = {}
    odd: list[str] = []
    unknown = unknown_ends(part)
    if unknown:
        _clash(part, context, unknown)
        return {}
    named = {number: end for end, texts in part.ends.items() for number in _numbers(part, texts)}
    for pin in part.symbol.pins:
        if part.ends and pin.number not in named:
            continue
        by_settings = _CORE_PIN.fullmatch(named.get(pin.number, ""))
        match = by_settings or _CORE_PIN.fullmatch(pin.number) or _CORE_PIN.fullmatch(pin.name)
        if match and match[2].upper() not in sides.get(match[1], {}):
            sides.setdefault(match[1], {})[match[2].upper()] = PinRef(part.reference, pin.number)
        else:
            odd.append(pin.number)
    odd += [pins[side].number for pins in sides.values() if len(pins) == 1 for side in pins]
    if odd:
        _clash(part, context, f"has pins {listed(sorted(odd, key=natural_key))} without a partner kA, kB")
    return {k: (sides[k]["A"], sides[k]["B"]) for k in sorted(sides, key=natural_key) if len(sides[k]) == 2}


def _report_spare(part: Part, context: Context, used: Iterable[PinRef]) -> None:
    sense = {p.number for p in part.symbol.pins if p.name in SENSE or p.number in SENSE}
    spare = [
        pin.number
        for pin in part.pins
        if pin not in set(used)
        and not context.is_alone(pin)
        and not (part.role is Role.OUTPUT and pin.number in sense)
    ]
    if spare:
        context.notes.find(
            pin_clash.RULE.finding(
                part.subject(pin=spare[0]),
                f"{part.reference}: pin {listed(spare)} is joined to something, but {with_article(part.role)} has "
                "no such pin.",
                "Use the pins of the role, or another role.",
            )
        )


def _clash(
    part: Part, context: Context, what: str, remedy: str = "Name or number the pins as the role wants them."
) -> None:
    context.notes.find(pin_clash.RULE.finding(part.subject(), f"{part.reference} ({part.role}) {what}.", remedy))
