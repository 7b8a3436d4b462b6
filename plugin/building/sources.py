"""Outputs, the units that they belong to, and loads, from their symbols."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.model.elements import Band, Behaviour, Load, LoadKind, Output, Start, Supply, Tolerance
from loadloom.graph.model.figures import figures
from loadloom.graph.model.naming import natural_key
from loadloom.graph.rules import (
    fields_contradict,
    load_missing,
    rating_missing,
    resistance_missing,
    start_not_determined,
    supply_clash,
    trip_assumed,
    voltage_missing,
)
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.parts import NEVER, fast_step, trip_or_none
from loadloom.plugin.building.pins import sense_ends, source_ends, two_ends
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role


@dataclass(frozen=True, slots=True)
class _Stated:
    """What one output says of its unit."""

    value: Any
    by: str


ASSUMED_TRIP = 1.5
"""Times ``Limit``, where an output states no ``Trip``."""

_UNIT_FIELDS = {
    "power_w": ("Supply power", values.power_w),
    "power_derating": ("Power derating", values.power_derating),
    "mounting": ("Mounting derating", values.mounting_derating),
    "efficiency": ("Efficiency", values.efficiency),
    "fanless_below": ("Fanless below", values.share),
}

UNIT_FIELD_NAMES = tuple(name for name, _ in _UNIT_FIELDS.values())
"""Fields of an output that say something of its unit."""

_SAFE_SIDE: dict[str, Callable[[_Stated], float]] = {
    "power_w": lambda stated: float(stated.value),
    "mounting": lambda stated: math.prod(share for _, share in stated.value),
}
"""Where outputs of a unit contradict each other, the least of this counts; of anything else the first."""


def outputs(context: Context, joints: Joints) -> Iterator[Output]:
    """Every output whose pins can be told."""
    for part in context.in_role(Role.OUTPUT):
        ends = source_ends(part, context, joints)
        if ends is None:
            continue
        plus, minus, fitted = ends
        sense_plus, sense_minus = sense_ends(part, context, joints)
        yield Output(
            id=part.reference,
            subject=part.subject(),
            node_plus=plus,
            node_minus=minus,
            fitted=fitted,
            sense_plus=sense_plus,
            sense_minus=sense_minus,
            supply=_unit_name(part),
            **attributes(part.fields, None, output_values),
        )


def supplies(context: Context) -> Iterator[Supply]:
    """The units that share outputs; an output that states unit fields without a name is a unit of its own."""
    units: dict[str, list[Part]] = {}
    for part in context.in_role(Role.OUTPUT):
        name = _unit_name(part)
        if name is not None:
            units.setdefault(name, []).append(part)
    for name in sorted(units, key=natural_key):
        yield _supply(name, units[name], context)


def loads(context: Context, joints: Joints) -> Iterator[Load]:
    """Every load whose pins can be told."""
    for part in context.in_role(Role.LOAD):
        ends = two_ends(part, context, joints)
        if ends:
            yield Load(
                id=part.reference,
                subject=part.subject(),
                node_plus=ends[0],
                node_minus=ends[1],
                fitted=not part.symbol.dnp,
                function=part.fields.label("Load"),
                **attributes(part.fields, None, _load_values),
            )


def _unit_name(part: Part) -> str | None:
    view = part.fields.view()
    named = view.text("supply", "Supply")
    if named is not None:
        return named
    return part.reference if any(view.states(name) for name, _ in _UNIT_FIELDS.values()) else None


def output_values(view: View) -> dict[str, Any]:
    """What an output's own fields say, of an output or a converter."""
    voltage = view.get("voltage_v", "Voltage", values.voltage_band_v)
    tolerance = _wider(view, voltage, view.get("tolerance", "Tolerance", values.tolerance_each_way))
    limit_a = view.get("limit_a", "Limit", values.current_a)
    trip = view.get("trip_a", "Trip", trip_or_none)
    behaviour = view.get("behaviour", "Behaviour", values.behaviour) or Behaviour.LATCH_OFF
    resistance_ohm = view.get("resistance_ohm", "Resistance", values.resistance_ohm)
    _report_output(view, voltage is not None, limit_a, trip, behaviour, resistance_ohm)
    return {
        "voltage_v": voltage.nominal if voltage else None,
        "tolerance": tolerance,
        "limit_a": limit_a,
        "trip_a": None if trip == NEVER else trip,
        "never_trips": trip == NEVER,
        "behaviour": behaviour,
        "delay_s": view.get("delay_s", "Delay", values.delay_s),
        "retry_on_s": view.get("retry_on_s", "Retry on", values.duration_s),
        "retry_off_s": view.get("retry_off_s", "Retry off", values.duration_s),
        **fast_step(view),
        "resistance_ohm": resistance_ohm if resistance_ohm is not None else 0.0,
        "sense_limit_v": view.get("sense_limit_v", "Sense limit", values.voltage_drop_v),
        "zone": view.text("zone", "Zone"),
    }


def _wider(view: View, voltage: Band | None, stated: Tolerance | None) -> Tolerance | None:
    """The tolerance that counts: that of ``Tolerance`` or of ``Voltage`` as written, on each side the wider."""
    if voltage is None or voltage.lower >= voltage.upper:
        return stated
    written = Tolerance(
        (voltage.nominal - voltage.lower) / voltage.nominal, (voltage.upper - voltage.nominal) / voltage.nominal
    )
    if stated is None:
        return written
    wider = Tolerance(max(stated.below, written.below), max(stated.above, written.above))
    if not (math.isclose(stated.below, written.below) and math.isclose(stated.above, written.above)):
        id = view.fields.symbol.reference
        view.notes.find(
            fields_contradict.RULE.finding(
                view.subject(id, "Tolerance"),
                f"{id} states its tolerance twice: Voltage is {voltage.lower:.4g} to {voltage.upper:.4g} V, "
                f"Tolerance is -{100.0 * stated.below:.3g} % and +{100.0 * stated.above:.3g} %; "
                "on each side the wider counts.",
                "State the tolerance once.",
            )
        )
    return wider


def _report_output(
    view: View,
    has_voltage: bool,
    limit_a: float | None,
    trip: Any,
    behaviour: Behaviour,
    resistance_ohm: float | None,
) -> None:
    id = view.fields.symbol.reference
    unreadable = view.placeholders
    if not has_voltage and "voltage_v" not in unreadable:
        view.notes.find(
            voltage_missing.RULE.finding(
                view.subject(id),
                f"{id} states no voltage and is left out of the solve.",
                "State the field Voltage, such as 12 V.",
            )
        )
    if limit_a is None and "limit_a" not in unreadable:
        view.notes.find(
            rating_missing.RULE.finding(
                view.subject(id),
                f"{id} (output) states no limit, so the current that it gives can't be judged.",
                "State the field Limit, the current that it gives continuously.",
            )
        )
    if trip == NEVER and resistance_ohm is None and "resistance_ohm" not in unreadable:
        view.notes.find(
            resistance_missing.RULE.finding(
                view.subject(id),
                f"{id} never shuts down and states no internal resistance, so its short-circuit current has no "
                "bound.",
                "State the field Resistance, such as 5 mΩ.",
            )
        )
    if trip is None and limit_a is not None and behaviour is not Behaviour.CONSTANT_CURRENT:
        view.notes.find(
            trip_assumed.RULE.finding(
                view.subject(id),
                f"{id} states no {'readable ' if 'trip_a' in unreadable else ''}trip current; "
                f"{100.0 * ASSUMED_TRIP:g} % of its limit of {figures(limit_a)} A, "
                f"{figures(ASSUMED_TRIP * limit_a)} A, is assumed.",
                "State the field Trip, the current at which the unit itself shuts down, or none.",
                value=ASSUMED_TRIP * limit_a,
                unit="A",
            )
        )


def _supply(name: str, parts: list[Part], context: Context) -> Supply:
    placeholders: set[str] = set()
    found: dict[str, Any] = {}
    for attribute, (field_name, parse) in _UNIT_FIELDS.items():
        stated: list[_Stated] = []
        for part in parts:
            view = part.fields.view()
            value = view.get(attribute, field_name, parse)
            placeholders |= view.placeholders
            if value is not None:
                stated.append(_Stated(value, part.reference))
        if stated:
            found[attribute] = _agreed(name, attribute, field_name, stated, parts[0], context)
    zone = next((zone for part in parts if (zone := part.fields.view().text("zone", "Zone"))), None)
    return Supply(
        name=name,
        output_ids=tuple(part.reference for part in parts),
        zone=zone,
        placeholders=frozenset(placeholders),
        **found,
    )


def _agreed(name: str, attribute: str, field_name: str, stated: list[_Stated], part: Part, context: Context) -> Any:
    counted = min(stated, key=_SAFE_SIDE[attribute]) if attribute in _SAFE_SIDE else stated[0]
    rival = next((s for s in stated if s.value != counted.value), None)
    if rival is not None:
        context.notes.find(
            supply_clash.RULE.finding(
                part.subject(id=name, field=field_name),
                f"The outputs {counted.by} and {rival.by} of {name} state different values of {field_name}; "
                f"that of {counted.by} counts.",
                "State it once, or alike.",
            )
        )
    return counted.value


def _load_values(view: View) -> dict[str, Any]:
    id = view.fields.symbol.reference
    demand: tuple[LoadKind, float] | None = view.get("demand", "Load", values.demand)
    if demand is None and "demand" not in view.placeholders:
        view.notes.find(
            load_missing.RULE.finding(
                view.subject(id),
                f"{id} does not say what it takes and is left out of the solve.",
                "State the field Load, such as 5 A, 60 W or 2.4 Ω.",
            )
        )
    return {
        "demand_kind": demand[0] if demand else LoadKind.CURRENT,
        "demand": demand[1] if demand else None,
        "minimum_v": view.get("minimum_v", "Minimum voltage", values.voltage_v),
        "maximum_v": view.get("maximum_v", "Maximum voltage", values.voltage_v),
        "hold_up_s": view.get("hold_up_s", "Hold-up time", values.delay_s),
        "duration_s": view.get("duration_s", "Duration", values.duration_s),
        "duty": view.get("duty", "Duty", values.positive_share),
        "period_s": view.get("period_s", "Period", values.duration_s),
        "zone": view.text("zone", "Zone"),
        "heat_share": _share_or_all(view.get("heat_share", "Heat share", values.share)),
        "start": _start(view),
    }


_START_FIELDS: Mapping[str, tuple[str, Callable[[str], Any]]] = {
    "starting_a": ("Starting current", values.current_a),
    "starting_s": ("Starting time", values.duration_s),
    "every_s": ("Start every", values.duration_s),
    "stalled_a": ("Stalled current", values.current_a),
    "stalled_s": ("Stalled time", values.duration_s),
    "inrush_a": ("Inrush", values.current_a),
    "inrush_s": ("Inrush time", values.duration_s),
    "stated_at_v": ("Stated at", values.voltage_v),
    "capacitance_f": ("Capacitance", values.capacitance_f),
    "series_ohm": ("Series resistance", values.resistance_or_zero_ohm),
    "precharge_ohm": ("Pre-charge", values.resistance_ohm),
    "precharge_s": ("Pre-charge time", values.duration_s),
    "together": ("Start together", str.strip),
    "feeds_back_a": ("Feed-back current", values.current_a),
    "feeds_back_s": ("Feed-back time", values.duration_s),
}

_START_NEEDS = {
    "starting_a": ("starting_s",),
    "starting_s": ("starting_a",),
    "every_s": ("starting_a", "inrush_a", "capacitance_f"),
    "stalled_s": ("stalled_a",),
    "inrush_a": ("inrush_s",),
    "inrush_s": ("inrush_a",),
    "stated_at_v": ("starting_a", "stalled_a", "inrush_a"),
    "series_ohm": ("capacitance_f",),
    "precharge_ohm": ("precharge_s",),
    "precharge_s": ("precharge_ohm",),
    "together": ("starting_a", "inrush_a", "capacitance_f"),
    "feeds_back_a": ("feeds_back_s",),
    "feeds_back_s": ("feeds_back_a",),
}
"""What says nothing without one of the others."""


def _start(view: View) -> Start:
    """What a load draws when it is switched on; a field that says nothing without another is a finding."""
    made = {name: view.get("start", field, parse) for name, (field, parse) in _START_FIELDS.items()}
    if "start" not in view.placeholders:
        for name, others in _START_NEEDS.items():
            if made[name] is not None and all(made[other] is None for other in others):
                _report_half_start(view, _START_FIELDS[name][0], [_START_FIELDS[other][0] for other in others])
        if made["precharge_ohm"] is not None and made["capacitance_f"] is None:
            _report_half_start(view, "Pre-charge", ["Capacitance"])
    return Start(**made)


def _report_half_start(view: View, stated: str, missing: list[str]) -> None:
    id = view.fields.symbol.reference
    words = " or ".join(missing)
    view.notes.find(
        start_not_determined.RULE.finding(
            view.subject(id),
            f"{id} states {stated} and no {words}, so how it starts is not determined.",
            f"State {words}, or remove {stated}.",
        )
    )


def _share_or_all(share: float | None) -> float:
    """All of a load's power becomes heat where nothing readable says otherwise: the safe side."""
    return 1.0 if share is None else share


def nodes_of_loads(found: tuple[Load, ...]) -> Mapping[str, list[str]]:
    """Ids of the fitted loads at every joint."""
    at: dict[str, list[str]] = {}
    for load in found:
        if load.fitted:
            for node in dict.fromkeys((load.node_plus, load.node_minus)):
                at.setdefault(node, []).append(load.id)
    return at
