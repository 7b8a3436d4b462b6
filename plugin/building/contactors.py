"""Contactors, relays and transistor switches from their symbols: poles, body diodes, and the coil as a load."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from loadloom.graph.model.elements import Diode, Load, LoadKind, Switch
from loadloom.graph.rules import rating_missing
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.pins import coil_ends, poles
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role


@dataclass(frozen=True)
class Switched:
    """What the contactors of a drawing are made of."""

    switches: tuple[Switch, ...] = ()
    diodes: tuple[Diode, ...] = ()
    loads: tuple[Load, ...] = ()


def contactors(context: Context, joints: Joints) -> Switched:
    """Every contactor whose pins can be told; a pole of several is named ``K1.2``, a coil ``K1.COIL``."""
    switches: list[Switch] = []
    diodes: list[Diode] = []
    loads: list[Load] = []
    for part in context.in_role(Role.CONTACTOR):
        view = part.fields.view()
        paths = view.get("paths", "Path", values.pin_paths)
        if "paths" in view.placeholders:
            continue
        drop_v = view.get("forward_drop_v", "Body diode", values.voltage_drop_v)
        found = poles(part, paths, context, joints)
        for k, pole in enumerate(found, start=1):
            id = part.reference if len(found) == 1 else f"{part.reference}.{k}"
            made = attributes(part.fields, None, _values)
            made["placeholders"] |= view.placeholders
            switch = Switch(
                id=id,
                subject=part.subject(id=id),
                node_a=pole.node_a,
                node_b=pole.node_b,
                welds=not part.symbol.dnp,
                part=part.reference,
                **made,
            )
            switches.append(switch)
            if drop_v is not None:
                diodes.append(_body_diode(switch, drop_v))
        loads += _coil(part, view, context, joints)
    return Switched(tuple(switches), tuple(diodes), tuple(loads))


def _values(view: View) -> dict[str, Any]:
    closed = view.get("fitted", "State", values.closed)
    made = {
        "fitted": not view.fields.symbol.dnp and closed is not False,
        "rating_a": view.get("rating_a", "Rating", values.current_a),
        "breaking_a": view.get("breaking_a", "Breaking capacity", values.current_a),
        "voltage_rating_v": view.get("voltage_rating_v", "Voltage rating", values.voltage_v),
        "resistance_ohm": view.get("resistance_ohm", "Resistance", values.resistance_band_ohm),
        "zone": view.text("zone", "Zone"),
    }
    id = view.fields.symbol.reference
    for attribute, name, what in (
        ("rating_a", "Rating", "rating, the current that it carries"),
        ("breaking_a", "Breaking capacity", "breaking capacity, the current that it interrupts"),
    ):
        if made[attribute] is None and attribute not in view.placeholders and view.word is None:
            view.notes.find(
                rating_missing.RULE.finding(
                    view.subject(id),
                    f"{id} (contactor) states no {what}, so it can't be judged.",
                    f"State the field {name}, such as 40 A.",
                )
            )
    return made


def _body_diode(switch: Switch, drop_v: float) -> Diode:
    """What conducts backwards through a transistor that is off; while it is on, the channel carries the current."""
    by_word: Mapping[str, Mapping[str, Any]] = {
        word: {"fitted": not changes["fitted"]} for word, changes in switch.by_word.items() if "fitted" in changes
    }
    return Diode(
        id=f"{switch.id}.BD",
        subject=switch.subject,
        node_a=switch.node_b,
        node_b=switch.node_a,
        fitted=not switch.fitted,
        forward_drop_v=drop_v,
        rating_a=switch.rating_a,
        zone=switch.zone,
        by_word=by_word,
    )


def _coil(part: Part, view: View, context: Context, joints: Joints) -> list[Load]:
    """The coil as a load that draws in every case: the state of the poles is not held against its voltage."""
    id = part.reference
    demand: tuple[LoadKind, float] | None = view.get("demand", "Coil", values.demand)
    minimum_v = view.get("minimum_v", "Coil minimum", values.voltage_v)
    ends = coil_ends(part, context, joints)
    if ends is None or demand is None:
        if "demand" not in view.placeholders and (ends is not None or demand is not None):
            missing = (
                "does not state what its coil takes"
                if ends is not None
                else "has no pins A1 and A2 that are joined to anything"
            )
            view.notes.find(
                rating_missing.RULE.finding(
                    view.subject(id),
                    f"{id} (contactor) {missing}, so its coil can't be judged.",
                    "State the field Coil, such as 5 W, and join the pins A1 and A2.",
                )
            )
        elif demand is None:
            view.notes.assume(f"No coil of {id} is drawn: the current that drives it is not counted.")
        return []
    return [
        Load(
            id=f"{id}.COIL",
            subject=part.subject(id=f"{id}.COIL"),
            node_plus=ends[0],
            node_minus=ends[1],
            fitted=not part.symbol.dnp,
            function=f"coil of {id}",
            demand_kind=demand[0],
            demand=demand[1],
            minimum_v=minimum_v,
            hold_up_s=view.get("hold_up_s", "Hold-up time", values.delay_s),
            zone=view.text("zone", "Zone"),
            placeholders=frozenset(view.placeholders),
        )
    ]
