"""Wires, cables, protective devices, switches, diodes, splices and chassis bonds, from their symbols."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeVar

from loadloom.graph.model.elements import (
    Band,
    Behaviour,
    Chassis,
    Conductor,
    ConductorKind,
    Device,
    DeviceKind,
    Diode,
    Make,
    Splice,
    Switch,
)
from loadloom.graph.model.figures import figures
from loadloom.graph.ratings.insulation import WARMEST_CLASS_C
from loadloom.graph.rules import length_assumed, length_missing, rating_missing
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.missing import STANDS_IN, conductor_resistance, report_missing_gauge
from loadloom.plugin.building.pins import core_pins, two_ends
from loadloom.plugin.building.wire_class import class_of, values_of
from loadloom.plugin.drawing import PinRef
from loadloom.plugin.drawing_settings import WireValues
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role

T = TypeVar("T")

_TERMINAL = values.within(values.temperature_c, 40.0, WARMEST_CLASS_C, "°C")
"""A terminal's highest temperature: none stands more than the warmest class of wire."""

DEVICE_ROLES = (Role.LIMITER, Role.FUSE, Role.BREAKER, Role.RESETTABLE)


def conductors(context: Context, joints: Joints) -> Iterator[Conductor]:
    """Wires and the cores of cables."""
    for part in context.in_role(Role.WIRE):
        ends = two_ends(part, context, joints)
        if ends:
            yield _conductor(part, None, ends, part.pins, context)
    for part in context.in_role(Role.CABLE):
        for k, (a, b) in core_pins(part, context).items():
            yield _conductor(part, k, (joints.of(a), joints.of(b)), (a, b), context)


def devices(context: Context, joints: Joints) -> Iterator[Device]:
    """Limiters, fuses, breakers and resettable fuses."""
    for part in context.in_role(*DEVICE_ROLES):
        ends = two_ends(part, context, joints)
        if ends:
            yield Device(
                id=part.reference,
                subject=part.subject(),
                node_a=ends[0],
                node_b=ends[1],
                fitted=not part.symbol.dnp,
                kind=DeviceKind(part.role.value),
                **attributes(part.fields, None, _device_values),
            )


def switches(context: Context, joints: Joints) -> Iterator[Switch]:
    """Switches and relay contacts."""
    for part in context.in_role(Role.SWITCH):
        ends = two_ends(part, context, joints)
        if ends:
            made = attributes(part.fields, None, _switch_values)
            yield Switch(
                id=part.reference,
                subject=part.subject(),
                node_a=ends[0],
                node_b=ends[1],
                welds=not part.symbol.dnp,
                part=part.reference,
                **made,
            )


def diodes(context: Context, joints: Joints) -> Iterator[Diode]:
    """Blocking parts, from anode to cathode."""
    for part in context.in_role(Role.DIODE):
        ends = two_ends(part, context, joints)
        if ends:
            yield Diode(
                id=part.reference,
                subject=part.subject(),
                node_a=ends[0],
                node_b=ends[1],
                fitted=not part.symbol.dnp,
                **attributes(part.fields, None, _diode_values),
            )


def splices(context: Context, joints: Joints) -> Iterator[Splice]:
    """Splices that are fitted; their pins were made one joint before."""
    for part in context.in_role(Role.SPLICE):
        if part.pins and not part.symbol.dnp:
            yield Splice(
                id=part.reference,
                subject=part.subject(),
                node=joints.of(part.pins[0]),
                **attributes(part.fields, None, _splice_values),
            )


def chassis_bonds(context: Context, joints: Joints) -> Iterator[Chassis]:
    """Bonds to the chassis that are fitted."""
    for part in context.in_role(Role.CHASSIS):
        if part.pins and not part.symbol.dnp:
            yield Chassis(id=part.reference, subject=part.subject(), node=joints.of(part.pins[0]))


def join_splices(context: Context, joints: Joints) -> None:
    """Make the pins of every fitted splice, and those of a chassis symbol, one joint."""
    for part in context.in_role(Role.SPLICE, Role.CHASSIS):
        if part.pins and not part.symbol.dnp:
            joints.make_one(*part.pins)


def _conductor(
    part: Part, core: str | None, ends: tuple[str, str], pins: tuple[PinRef, ...], context: Context
) -> Conductor:
    id = part.reference if core is None else f"{part.reference}.{core}"
    made = attributes(part.fields, core, lambda view: _conductor_values(view, id, pins, context))
    return Conductor(
        id=id,
        subject=part.subject(id=id, pin=core),
        node_a=ends[0],
        node_b=ends[1],
        fitted=not part.symbol.dnp,
        kind=ConductorKind.WIRE if core is None else ConductorKind.CORE,
        cable=None if core is None else part.reference,
        **made,
    )


def _conductor_values(view: View, id: str, pins: tuple[PinRef, ...], context: Context) -> dict[str, Any]:
    of_class = values_of(class_of(view, pins, context), context)
    own_rating_a = view.get("own_rating_a", "Rating", values.current_a)
    stated_ohm = view.get("resistance_ohm", "Resistance", values.resistance_band_ohm)
    needs_no_gauge = own_rating_a is not None and stated_ohm is not None
    instead = "" if stated_ohm is not None else f"; {STANDS_IN}"
    gauge = view.get("gauge", "Gauge", values.gauge, optional_value=needs_no_gauge, instead=instead)
    if "gauge" not in view.placeholders:
        gauge = gauge if gauge is not None else of_class.gauge
    of_class = of_class.beside(gauge)

    def or_class(attribute: str, own: T | None) -> T | None:
        """The symbol's own value, else that of its wire class; none where its own can't be read."""
        unreadable = attribute in view.placeholders
        return own if own is not None or unreadable else getattr(of_class, attribute)

    own_rating_a = or_class("own_rating_a", own_rating_a)
    stated_ohm = or_class("resistance_ohm", stated_ohm)
    needs_no_gauge = own_rating_a is not None and stated_ohm is not None
    if gauge is None and "gauge" not in view.placeholders:
        report_missing_gauge(view.subject(id), id, own_rating_a, stated_ohm, view.notes)
        if not needs_no_gauge:
            view.placeholders.add("gauge")
    length_m = or_class("length_m", view.get("length_m", "Length", values.length_m, instead=instead))
    assumed = False
    if length_m is None and "length_m" not in view.placeholders:
        length_m = context.drawing_settings.default_length_m
        assumed = length_m is not None
        if length_m is not None:
            _report_assumed_length(view, id, length_m)
        elif stated_ohm is None:
            view.placeholders.add("length_m")
            _report_missing_length(view, id)
    resistance_ohm, is_placeholder = conductor_resistance(id, gauge, length_m, stated_ohm, view.notes)
    if is_placeholder:
        view.placeholders.add("resistance_ohm")
    return {
        "own_rating_a": own_rating_a,
        "resistance_ohm": resistance_ohm,
        "gauge": gauge,
        "make": _make(view, of_class),
        "length_m": length_m,
        "length_assumed": assumed,
        "insulation": or_class("insulation", view.text("insulation", "Insulation")),
        "bundle": or_class("bundle", view.text("bundle", "Bundle")),
        "zone": or_class("zone", view.text("zone", "Zone")),
        "voltage_rating_v": or_class(
            "voltage_rating_v", view.get("voltage_rating_v", "Voltage rating", values.voltage_v)
        ),
        "terminal_c": or_class("terminal_c", view.get("terminal_c", "Terminal", _TERMINAL)),
        "material": or_class("material", view.text("material", "Material")),
        "layout": or_class("layout", view.get("layout", "Layout", values.layout)),
    }


def _make(view: View, of_class: WireValues) -> Make:
    """How the conductor is made: its own fields, each else that of its wire class."""
    strands = view.get("make", "Strands", values.strands)
    tinned = view.get("make", "Tinned", values.tinned)
    iec_class = view.get("make", "Class", values.iec_class)
    if "make" in view.placeholders:
        return Make(strands, tinned, iec_class)
    return Make(
        strands if strands is not None else of_class.strands,
        tinned if tinned is not None else of_class.tinned,
        iec_class if iec_class is not None else of_class.iec_class,
    )


def _report_assumed_length(view: View, id: str, length_m: float) -> None:
    view.notes.find(
        length_assumed.RULE.finding(
            view.subject(id),
            f"{id} states no length; the settings' default of {figures(length_m)} m is assumed.",
            "State the length, one way as routed.",
            value=length_m,
            unit="m",
        )
    )


def _report_missing_length(view: View, id: str) -> None:
    view.notes.find(
        length_missing.RULE.finding(
            view.subject(id),
            f"{id} states no length, so its resistance and drop are not determined; {STANDS_IN}.",
            "State the length, one way as routed, or a default length in the settings.",
        )
    )


def _device_values(view: View) -> dict[str, Any]:
    role = view.fields.role
    made: dict[str, Any] = {
        "resistance_ohm": view.get("resistance_ohm", "Resistance", values.resistance_band_ohm),
        "voltage_rating_v": view.get("voltage_rating_v", "Voltage rating", values.voltage_v),
        "zone": view.text("zone", "Zone"),
    }
    if role is Role.LIMITER:
        trip = view.get("trip_a", "Trip", trip_or_none)
        never = trip == NEVER
        made |= {
            "trip_a": None if never else trip,
            "active": not never,
            "delay_s": view.get("delay_s", "Delay", values.delay_s),
            "behaviour": view.get("behaviour", "Behaviour", values.behaviour) or Behaviour.LATCH_OFF,
            "retry_on_s": view.get("retry_on_s", "Retry on", values.duration_s),
            "retry_off_s": view.get("retry_off_s", "Retry off", values.duration_s),
            **fast_step(view),
            "fuse_rating_a": view.get("fuse_rating_a", "Fuse", values.current_a),
            "fuse_curve": view.text("fuse_curve", "Fuse curve"),
        }
        if made["fuse_curve"] is not None and made["fuse_rating_a"] is None:
            _report_missing(view, "fuse_rating_a", "Fuse", "rating of its fuse")
        if trip is None:
            _report_missing(view, "trip_a", "Trip", "trip current")
        return made
    made["curve"] = view.text("curve", "Curve")
    made["breaking_capacity_a"] = view.get("breaking_capacity_a", "Breaking capacity", values.current_a)
    if role is Role.RESETTABLE:
        made["hold_a"] = view.get("hold_a", "Hold", values.current_a)
        made["trip_a"] = view.get("trip_a", "Trip", values.current_band_a)
        made["delay_s"] = view.get("delay_s", "Delay", values.delay_s)
        for attribute, name, what in (("hold_a", "Hold", "hold current"), ("trip_a", "Trip", "trip current")):
            if made[attribute] is None:
                _report_missing(view, attribute, name, what)
        return made
    made["rating_a"] = view.get("rating_a", "Rating", values.current_a)
    if made["rating_a"] is None:
        _report_missing(view, "rating_a", "Rating", "rating")
    if role is Role.FUSE:
        made["melting_a2s"] = view.get("melting_a2s", "Melting I2t", values.joule_integral_a2s)
    else:
        made |= _magnetic(view, made["rating_a"])
    return made


def fast_step(view: View) -> dict[str, Any]:
    """The faster step of an electronic limit; a delay without its current is a finding."""
    made = {
        "fast_trip_a": view.get("fast_trip_a", "Fast trip", values.current_band_a),
        "fast_delay_s": view.get("fast_delay_s", "Fast delay", values.delay_s),
    }
    if made["fast_delay_s"] is not None and made["fast_trip_a"] is None:
        _report_missing(view, "fast_trip_a", "Fast trip", "fast trip current")
    return made


def _magnetic(view: View, rating_a: float | None) -> dict[str, Any]:
    """The magnetic part of a breaker, as multiples of its rating."""
    stated = view.get("magnetic", "Magnetic trip", values.multiple_or_current)
    late_s = view.get("magnetic_s", "Magnetic delay", values.delay_s)
    if late_s is not None and stated is None:
        _report_missing(view, "magnetic", "Magnetic trip", "magnetic trip current")
    if stated is None:
        return {"magnetic": None, "magnetic_s": late_s}
    band, is_current = stated
    if not is_current:
        return {"magnetic": band, "magnetic_s": late_s}
    ends = (band.nominal, band.lower, band.upper)
    return {"magnetic": Band(*(end / rating_a for end in ends)) if rating_a else None, "magnetic_s": late_s}


NEVER = "none"


def trip_or_none(text: str) -> Any:
    """A trip band, or ``NEVER`` for the text ``none``."""
    return NEVER if values.is_none(text) else values.current_band_a(text)


def _switch_values(view: View) -> dict[str, Any]:
    closed = view.get("fitted", "State", values.closed)
    made = {
        "fitted": not view.fields.symbol.dnp and closed is not False,
        "rating_a": view.get("rating_a", "Rating", values.current_a),
        "voltage_rating_v": view.get("voltage_rating_v", "Voltage rating", values.voltage_v),
        "resistance_ohm": view.get("resistance_ohm", "Resistance", values.resistance_band_ohm),
        "zone": view.text("zone", "Zone"),
    }
    if made["rating_a"] is None:
        _report_missing(view, "rating_a", "Rating", "rating")
    return made


def _diode_values(view: View) -> dict[str, Any]:
    drop_v = view.get("forward_drop_v", "Forward drop", values.voltage_drop_v)
    made = {
        "forward_drop_v": drop_v if drop_v is not None else 0.0,
        "rating_a": view.get("rating_a", "Rating", values.current_a),
        "resistance_ohm": view.get("resistance_ohm", "Resistance", values.resistance_band_ohm),
        "zone": view.text("zone", "Zone"),
    }
    if drop_v is None and "forward_drop_v" not in view.placeholders:
        view.notes.assume(f"The forward drop of {view.fields.symbol.reference} is not stated: 0 V is assumed.")
    if made["rating_a"] is None:
        _report_missing(view, "rating_a", "Rating", "rating")
    return made


def _splice_values(view: View) -> dict[str, Any]:
    rating_a = view.get("rating_a", "Rating", values.current_a)
    if rating_a is None:
        _report_missing(view, "rating_a", "Rating", "rating")
    return {"rating_a": rating_a}


def _report_missing(view: View, attribute: str, name: str, what: str) -> None:
    if attribute in view.placeholders:
        return  # unreadable, which was said
    reference = view.fields.symbol.reference
    view.notes.find(
        rating_missing.RULE.finding(
            view.subject(reference),
            f"{reference} ({view.fields.role}) states no {what}, so the current in it can't be judged.",
            f"State the field {name}, such as 10 A.",
        )
    )
