"""Nets that are wires: which they are, and the conductors that they become.

A net is a wire if it has exactly two pins, none of them of a wire or cable, and both are connector pins or one
of its classes is a wire class of the settings. With more pins a net of a wire class is a star or a chain, as the
settings say. Every other net is a joint.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from loadloom.graph.model.elements import Conductor, ConductorKind, Make
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Subject
from loadloom.graph.rules import (
    length_assumed,
    length_missing,
    net_ambiguous,
    net_class_clash,
    role_rule_unused,
    settings_unused,
)
from loadloom.plugin.building.connectors import MatedPairs
from loadloom.plugin.building.context import Context, listed, nearest, pin_text
from loadloom.plugin.building.joints import Joints, joint_name
from loadloom.plugin.building.missing import conductor_resistance, report_missing_gauge
from loadloom.plugin.drawing import WIRE_LIST, Net, PinRef
from loadloom.plugin.drawing_settings import BUILT_IN_LENGTH_M, NetValues, WireValues
from loadloom.plugin.roles import Role, matches

DEFAULT_CLASS = "Default"
"""The class of a net without another one: KiCad's own name for it."""

CONDUCTOR_ROLES = (Role.WIRE, Role.CABLE, Role.TRACK)
CONNECTOR_ROLES = (Role.CONNECTOR, Role.THROUGH)

_CLASH_WORDS = {
    "length_m": "length",
    "own_rating_a": "rating",
    "voltage_rating_v": "voltage rating",
    "iec_class": "class",
    "resistance_ohm": "resistance",
    "terminal_c": "terminal temperature",
}


@dataclass(frozen=True, slots=True)
class Segment:
    """A piece of a net that is a wire, between two pins."""

    id: str
    net: Net
    pin_a: PinRef
    pin_b: PinRef
    values: NetValues


def find_segments(context: Context, pairs: MatedPairs, joints: Joints) -> tuple[Segment, ...]:
    """The segments of all nets that are wires; their pins are set apart from their net in ``joints``."""
    used: set[str] = set()
    segments: list[Segment] = []
    for net in context.nets:
        pins = context.pins_of[net.name]
        values = net_values(net, context, used)
        if _is_between_mates(net, pins, context, pairs):
            _set_apart(pins, joints)
            continue
        found = tuple(_segments(net, pins, values, context))
        if found:
            _set_apart(pins, joints)
            segments += found
    _report_unused_nets(context, used)
    return tuple(segments)


def _report_unused_nets(context: Context, used: set[str]) -> None:
    """Nets that the settings describe and the drawing does not have.

    In a wire list a wire may have been such a net; its values then stand in its row. There it is a note alone.
    """
    known = [net.name for net in context.nets if net.named_by_user]
    is_list = context.drawing.route == WIRE_LIST
    if is_list:
        known += [part.reference for part in context.in_role(*CONDUCTOR_ROLES)]
    for name in context.drawing_settings.nets:
        if name in used or (is_list and any(name in (text, f"/{text}") or matches(name, text) for text in known)):
            continue
        what = f'The settings describe a net "{name}", and the drawing has no net of that name'
        remedy = "Write the net's name as the drawing has it, with its sheet path."
        rule = role_rule_unused.RULE if is_list else settings_unused.RULE
        context.notes.find(rule.finding(Subject(id=name), what + nearest(name, known), remedy))


def net_conductors(segments: tuple[Segment, ...], context: Context, joints: Joints) -> Iterator[Conductor]:
    """The conductors that the segments are."""
    for segment in segments:
        yield _conductor(segment, context, joints)


def wire_classes(net: Net, context: Context) -> list[str]:
    """Those of a net's classes that are wire classes of the settings."""
    return [name for name in net.classes or (DEFAULT_CLASS,) if name in context.drawing_settings.wire_classes]


def net_subject(net: Net, context: Context, id: str | None = None) -> Subject:
    """What a finding about a net points at: its first pin's symbol, so that it can be found."""
    pins = context.pins_of[net.name]
    name = id or joint_name(net, pins)
    part = context.parts.get(pins[0].reference) if pins else None
    return part.subject(id=name, pin=pins[0].number) if part else Subject(id=name)


def _set_apart(pins: tuple[PinRef, ...], joints: Joints) -> None:
    for pin in pins:
        joints.set_apart(pin, pin_text(pin))


def net_values(net: Net, context: Context, used: set[str] | None = None) -> NetValues:
    """The settings of one net, by its name with or without the leading slash, or by its id; else by a pattern.

    ``used`` gathers the names in the settings that fit a net.
    """
    pins = context.pins_of[net.name]
    names = [net.name, net.name.removeprefix("/")] if net.named_by_user else []
    if pins:
        names.append(joint_name(net, pins))
    if len(pins) == 2:
        names.append("-".join(map(pin_text, pins)))
    patterns = context.drawing_settings.nets
    fitting = [name for name in names if name in patterns]
    fitting += sorted((p for p in patterns if any(matches(p, name) for name in names)), key=len, reverse=True)
    if used is not None:
        used.update(fitting)
    found = patterns[fitting[0]] if fitting else NetValues()
    return NetValues(joint=True) if net.joint and found == NetValues() else found


def _is_between_mates(net: Net, pins: tuple[PinRef, ...], context: Context, pairs: MatedPairs) -> bool:
    """Whether a net is nothing but a line from a contact to its own other half."""
    if len(pins) != 2 or pairs.mate_of.get(pins[0]) != pins[1]:
        return False
    context.notes.find(
        net_ambiguous.RULE.finding(
            net_subject(net, context),
            f"The line between {pin_text(pins[0])} and {pin_text(pins[1])} joins two pins that are already mated "
            "with each other; it is read as no conductor.",
            "Remove the line: the field Mates joins the halves.",
        )
    )
    return True


def _segments(net: Net, pins: tuple[PinRef, ...], values: NetValues, context: Context) -> Iterator[Segment]:
    roles = [context.role(pin) for pin in pins]
    classes = wire_classes(net, context)
    drawn = any(role in CONDUCTOR_ROLES for role in roles)
    if values.joint and len(pins) > 1:
        context.notes.assume(f"Net {joint_name(net, pins)} is one joint, as is stated.")
    if len(pins) < 2 or values.joint:
        return
    if len(pins) == 2:
        if not drawn and (classes or all(role in CONNECTOR_ROLES for role in roles)):
            ends = f"{pin_text(pins[0])}-{pin_text(pins[1])}"
            name = net.name if net.named_by_user else ends
            if name in context.parts:  # a net called like a symbol
                name = f"{name}#{ends}"
            yield Segment(name, net, pins[0], pins[1], values)
        return
    if classes or values.star is not None:
        if not drawn:
            yield from _star_or_chain(net, pins, values, context)
        elif sum(role not in CONDUCTOR_ROLES for role in roles) > 1:
            _ambiguous(
                net,
                pins,
                context,
                f"is of the wire class {classes[0]} and holds drawn wires as well"
                if classes
                else "is described as a wire in the settings and holds drawn wires as well",
                "one joint",
            )
        return
    counted = [pin for pin, role in zip(pins, roles, strict=True) if role is not Role.CHASSIS]
    if (
        len(counted) > 2
        and all(context.role(pin) in CONNECTOR_ROLES for pin in counted)
        and len({pin.reference for pin in counted}) > 1
    ):
        _ambiguous(net, pins, context, "joins connectors with no wire drawn and no wire class", "one joint")


def _star_or_chain(net: Net, pins: tuple[PinRef, ...], values: NetValues, context: Context) -> Iterator[Segment]:
    star = values.star if values.star is not None else context.drawing_settings.star
    order = _ordered(net, pins, values, context)
    shape = f"a star around {pin_text(order[0])}" if star else f"a chain {' - '.join(map(pin_text, order))}"
    if values.star is None:
        _ambiguous(net, pins, context, "is of a wire class", shape)
    else:
        context.notes.assume(f"Net {joint_name(net, pins)} is {shape}, as the settings say.")
    ends = [(order[0], pin) for pin in order[1:]] if star else list(pairwise(order))
    for a, b in ends:
        yield Segment(f"{joint_name(net, pins)}#{pin_text(a)}-{pin_text(b)}", net, a, b, values)


def _ordered(net: Net, pins: tuple[PinRef, ...], values: NetValues, context: Context) -> tuple[PinRef, ...]:
    """The pins in the order of the settings; those that they do not name follow in natural order."""
    by_text = {pin_text(pin): pin for pin in pins}
    unknown = [text for text in values.pins if text not in by_text]
    if unknown:
        context.notes.find(
            settings_unused.RULE.finding(
                net_subject(net, context),
                f"The settings of net {joint_name(net, pins)} name {listed(unknown)}, which it does not join.",
                "Name the net's own pins.",
            )
        )
    first = [by_text[text] for text in dict.fromkeys(values.pins) if text in by_text]
    return (*first, *(pin for pin in pins if pin not in first))


def _ambiguous(net: Net, pins: tuple[PinRef, ...], context: Context, why: str, shape: str) -> None:
    context.notes.find(
        net_ambiguous.RULE.finding(
            net_subject(net, context),
            f"Net {joint_name(net, pins)} with {len(pins)} pins ({listed(map(pin_text, pins))}) {why}, so how its "
            f"conductors run is not known; it is read as {shape}.",
            "Draw the wires, draw a splice, or state the net's shape in the settings.",
        )
    )


def _conductor(segment: Segment, context: Context, joints: Joints) -> Conductor:
    net = segment.net
    classes = [context.drawing_settings.wire_classes[name] for name in wire_classes(net, context)]
    subject = net_subject(net, context, segment.id)
    placeholders: set[str] = set()

    merged = _merged(segment, classes, placeholders, context)
    gauge = merged.gauge
    length_m, assumed = _length(segment, merged, placeholders, context)
    if gauge is None and "gauge" not in placeholders:
        placeholders.add("gauge")
        report_missing_gauge(subject, segment.id, merged.own_rating_a, merged.resistance_ohm, context.notes)
    resistance, is_placeholder = conductor_resistance(
        segment.id, gauge, length_m, merged.resistance_ohm, context.notes
    )
    if is_placeholder:
        placeholders.add("resistance_ohm")
    return Conductor(
        id=segment.id,
        subject=subject,
        placeholders=frozenset(placeholders),
        node_a=joints.of(segment.pin_a),
        node_b=joints.of(segment.pin_b),
        resistance_ohm=resistance,
        zone=merged.zone,
        kind=ConductorKind.NET,
        gauge=gauge,
        make=Make(merged.strands, merged.tinned, merged.iec_class),
        length_m=length_m,
        length_assumed=assumed,
        insulation=merged.insulation,
        bundle=merged.bundle,
        own_rating_a=merged.own_rating_a,
        voltage_rating_v=merged.voltage_rating_v,
        terminal_c=merged.terminal_c,
        material=merged.material,
        layout=merged.layout,
    )


def _merged(segment: Segment, classes: list[WireValues], placeholders: set[str], context: Context) -> WireValues:
    """What the net's own settings say, else its wire classes; what these contradict counts as unknown."""
    merged: dict[str, Any] = {}
    if segment.values.wire.gauge is not None:
        classes = [each.beside(segment.values.wire.gauge) for each in classes]
    for name in WireValues.__slots__:
        own = getattr(segment.values.wire, name)
        stated = list(dict.fromkeys(v for c in classes if (v := getattr(c, name)) is not None))
        if own is not None or len(stated) < 2:
            merged[name] = own if own is not None else next(iter(stated), None)
            continue
        merged[name] = None
        placeholders.add(name)
        what = _CLASH_WORDS.get(name, name)
        context.notes.find(
            net_class_clash.RULE.finding(
                net_subject(segment.net, context, segment.id),
                f"{segment.id} is of the classes {listed(wire_classes(segment.net, context))}, which contradict "
                f"each other about its {what} ({listed(map(_shown, stated))}); it counts as unknown.",
                f"Leave one wire class on the net, or state its {what} in the settings.",
            )
        )
    return WireValues(**merged)


def _shown(value: object) -> str:
    return f"{value:.3g}" if isinstance(value, float) else str(value)


def _length(
    segment: Segment, merged: WireValues, placeholders: set[str], context: Context
) -> tuple[float | None, bool]:
    """Length in m, and whether it is assumed."""
    a, b = pin_text(segment.pin_a), pin_text(segment.pin_b)
    lengths = segment.values.lengths_m
    stated = lengths.get(f"{a}-{b}", lengths.get(f"{b}-{a}", merged.length_m))
    if stated is not None or "length_m" in placeholders:
        return stated, False
    subject = net_subject(segment.net, context, segment.id)
    default = context.drawing_settings.default_length_m
    length_m = default if default is not None else BUILT_IN_LENGTH_M
    whose = "the settings' default" if default is not None else "the built-in default"
    mend = "State the net's length in the settings."
    context.notes.find(
        length_assumed.RULE.finding(
            subject,
            f"{segment.id} states no length; {whose} of {figures(length_m)} m is assumed.",
            mend,
            value=length_m,
            unit="m",
        )
    )
    if default is None and merged.resistance_ohm is None:
        placeholders.add("length_m")
        context.notes.find(
            length_missing.RULE.finding(
                subject,
                f"Nothing says how long {segment.id} is, so its resistance and drop rest on {whose} of "
                f"{figures(length_m)} m.",
                mend,
            )
        )
    return length_m, True
