"""Connectors: which halves mate, and the contacts between them.

A pair is two connector symbols, one naming the other in ``Mates``; a two-sided symbol is a pair of its own; a
connector without a mate is a lone terminal on every net that holds its pin, one wire end and one device pin.

``Rows`` says which contacts stand beside which: a number of rows, over which the pins are spread evenly in
natural order row by row (``2``: pins 1 2 3 above 4 5 6), or the rows written out with a slash between them
(``1 3 5 / 2 4 6``), naming every pin once.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from loadloom.graph.model.elements import Connector, Contact
from loadloom.graph.model.naming import natural_key
from loadloom.graph.rules import contact_clash, contact_not_placed
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part, listed, pin_text
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.pins import core_pins
from loadloom.plugin.drawing import PinRef
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role
from loadloom.plugin.values import UnreadableValue, shown

_DEVICE_ROLES = frozenset(Role) - {
    Role.WIRE,
    Role.CABLE,
    Role.TRACK,
    Role.CONNECTOR,
    Role.THROUGH,
    Role.SPLICE,
    Role.CHASSIS,
    Role.IGNORE,
}


@dataclass(frozen=True, slots=True)
class Pair:
    """Two connector symbols that mate; ``naming`` gives the contacts their ids."""

    naming: Part
    mate: Part


@dataclass(frozen=True)
class MatedPairs:
    """All mated pairs of a drawing; ``mate_of`` is the mated pin of a pin, both ways.

    ``lone`` are the connectors that neither name a mate nor are named as one.
    """

    pairs: tuple[Pair, ...]
    mate_of: Mapping[PinRef, PinRef] = field(default_factory=dict)
    lone: frozenset[str] = frozenset()


def pins_of_pairs(pairs: Iterable[Pair]) -> dict[PinRef, PinRef]:
    """The mated pin of every pin that has one, both ways."""
    found: dict[PinRef, PinRef] = {}
    for pair in pairs:
        there = {pin.number: pin for pin in pair.mate.pins}
        for pin in pair.naming.pins:
            if pin.number in there:
                found[pin] = there[pin.number]
                found[there[pin.number]] = pin
    return found


def paired_contacts(
    mated: MatedPairs, context: Context, joints: Joints
) -> Iterator[tuple[Connector, tuple[Contact, ...]]]:
    """The contacts of every mated pair, in natural pin order."""
    for pair in mated.pairs:
        numbers = sorted((pin.number for pin in pair.naming.pins if pin in mated.mate_of), key=natural_key)
        ends = {
            number: (PinRef(pair.naming.reference, number), PinRef(pair.mate.reference, number))
            for number in numbers
        }
        fitted = not (pair.naming.symbol.dnp or pair.mate.symbol.dnp)
        yield _body(pair.naming, pair.mate, ends, fitted, context, joints)


def two_sided_contacts(context: Context, joints: Joints) -> Iterator[tuple[Connector, tuple[Contact, ...]]]:
    """The contacts of every two-sided symbol, in natural order."""
    for part in context.in_role(Role.THROUGH):
        yield _body(part, None, core_pins(part, context), not part.symbol.dnp, context, joints)


def lone_contacts(
    mated: MatedPairs, context: Context, joints: Joints
) -> Iterator[tuple[Connector, tuple[Contact, ...]]]:
    """Terminals of connectors without a mate, in series with their wire (``set_lone_apart`` came before)."""
    for part in _lone_parts(mated, context):
        ends = {pin.number: found for pin in part.pins if (found := _in_series(pin, context))}
        ends = {number: ends[number] for number in sorted(ends, key=natural_key)}
        lost = [pin.number for pin in part.pins if pin.number not in ends and not context.is_alone(pin)]
        if lost:
            context.notes.find(
                contact_not_placed.RULE.finding(
                    part.subject(pin=lost[0]),
                    f"{part.reference} has no mate, so which current passes its contact at "
                    f"pin{'s' if len(lost) > 1 else ''} {listed(lost)} is not determined.",
                    "Name the mate in the field Mates, or draw one wire end and one device pin on the net.",
                )
            )
        if ends:
            yield _body(part, None, ends, not part.symbol.dnp, context, joints)


def set_lone_apart(mated: MatedPairs, context: Context, joints: Joints) -> None:
    """Give the wire at every lone terminal a joint of its own, so that the terminal stands in series."""
    for part in _lone_parts(mated, context):
        for pin in part.pins:
            found = _in_series(pin, context)
            if found:
                joints.set_apart(found[0], pin_text(pin))


def _lone_parts(mated: MatedPairs, context: Context) -> Iterator[Part]:
    return (part for part in context.in_role(Role.CONNECTOR) if part.reference in mated.lone)


def _in_series(pin: PinRef, context: Context) -> tuple[PinRef, PinRef] | None:
    """(wire's pin, device's pin) where a connector pin's net holds nothing but these."""
    net = context.net_of.get(pin)
    others = [other for other in context.pins_of[net.name] if other != pin] if net else []
    if len(others) != 2:
        return None
    wires = [other for other in others if context.role(other) in (Role.WIRE, Role.CABLE)]
    devices = [other for other in others if context.role(other) in _DEVICE_ROLES]
    return (wires[0], devices[0]) if wires and devices else None


def _body(
    part: Part,
    mate: Part | None,
    ends: Mapping[str, tuple[PinRef, PinRef]],
    fitted: bool,
    context: Context,
    joints: Joints,
) -> tuple[Connector, tuple[Contact, ...]]:
    contacts = tuple(
        Contact(
            id=f"{part.reference}.{number}",
            subject=part.subject(id=f"{part.reference}.{number}", pin=number),
            node_a=joints.of(a),
            node_b=joints.of(b),
            fitted=fitted,
            connector=part.reference,
            pin=number,
            **_contact_attributes(part, mate, number),
        )
        for number, (a, b) in ends.items()
    )
    zone = _either(part.fields.view(), mate.fields.view() if mate else None, "zone", "Zone", str.strip)
    connector = Connector(
        id=part.reference,
        contact_ids=tuple(contact.id for contact in contacts),
        rows=_rows(part, mate, tuple(ends)),
        zone=zone,
    )
    return connector, contacts


def _contact_attributes(part: Part, mate: Part | None, number: str) -> dict[str, Any]:
    """Attributes of a contact; of two halves that both state a rating the lower counts."""

    def make(view: View) -> dict[str, Any]:
        other = mate.fields.view(number, view.word) if mate else None
        made = {
            "contact_type": _either(view, other, "contact_type", "Contact", str.strip),
            "own_rating_a": _either(view, other, "own_rating_a", "Contact rating", values.current_a),
            "resistance_ohm": _either(
                view, other, "resistance_ohm", "Contact resistance", values.resistance_band_ohm
            ),
            "voltage_rating_v": _either(view, other, "voltage_rating_v", "Voltage rating", values.voltage_v),
            "zone": _either(view, other, "zone", "Zone", str.strip),
        }
        if other:
            view.placeholders |= other.placeholders
        return made

    found = attributes(part.fields, number, make)
    for word in mate.fields.words(number) if mate else ():
        if word not in found["by_word"]:
            there = part.fields.view(number, word)
            made = make(there)
            found["by_word"][word] = {name: value for name, value in made.items() if value != found[name]}
    return found


def _either(view: View, other: View | None, attribute: str, name: str, parse: Any) -> Any:
    """A value that either half may state; the lower rating where both do, else the naming half's."""
    here = view.get(attribute, name, parse)
    there = other.get(attribute, name, parse) if other else None
    if here is None or there is None or here == there:
        return there if here is None else here
    lower = isinstance(here, float)
    assert other is not None
    context_subject = view.fields.symbol.reference, other.fields.symbol.reference
    pin = f" for pin {view.part}" if view.part is not None else ""
    view.notes.find(
        contact_clash.RULE.finding(
            view.subject(context_subject[0], name),
            f"{context_subject[0]} and {context_subject[1]} are mated and state different values of {name}{pin}: "
            f"{_drawn(view, name)} and {_drawn(other, name)}; "
            f"{_drawn(other if lower and there < here else view, name)} counts.",
            "State the same on both halves, or on one only.",
        )
    )
    return min(here, there) if lower else here


def _drawn(view: View, name: str) -> str:
    """A field's text as it stands in the drawing, with its unit."""
    field = view.fields.written(name, view.part, view.word)
    return shown(field.text.strip()) if field is not None else "nothing"


def _rows(part: Part, mate: Part | None, numbers: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    def parse(text: str) -> tuple[tuple[str, ...], ...]:
        return read_rows(text, numbers)

    rows = _either(part.fields.view(), mate.fields.view() if mate else None, "rows", "Rows", parse) or ()
    return tuple(tuple(f"{part.reference}.{number}" for number in row) for row in rows)


def read_rows(text: str, numbers: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """The rows of a connector with these pins (natural order), from the text of its field ``Rows``."""
    text = text.strip()
    if text.isascii() and text.isdigit() and "/" not in text:
        count = int(text[:6])
        if not 0 < count <= len(numbers) or len(numbers) % count:
            raise UnreadableValue(f"{len(numbers)} pins can't be spread evenly over {count} rows")
        wide = len(numbers) // count
        return tuple(numbers[k : k + wide] for k in range(0, len(numbers), wide))
    rows = tuple(tuple(row.replace(",", " ").split()) for row in text.split("/"))
    named = [number for row in rows for number in row]
    unknown = [number for number in named if number not in numbers]
    absent = [number for number in numbers if number not in named]
    if unknown:
        raise UnreadableValue(f"it names pin {listed(unknown)}, which is not there")
    if absent:
        raise UnreadableValue(f"it leaves out pin {listed(absent)}")
    if len(named) != len(set(named)):
        raise UnreadableValue("it names a pin twice")
    return tuple(row for row in rows if row)
