"""Converters from their symbols: an output, the load that its input is, and what ties the two together."""

from __future__ import annotations

from dataclasses import dataclass

from loadloom.graph.circuit.network import rated_power_w
from loadloom.graph.model.elements import Converter, Load, LoadKind, Output, Supply
from loadloom.graph.rules import efficiency_missing, output_shorted, rating_missing
from loadloom.plugin import values
from loadloom.plugin.building.context import Context, Part, listed
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.pins import ends_of
from loadloom.plugin.building.sources import output_values
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role


@dataclass(frozen=True)
class Built:
    """All that the converters of a drawing are made of, in natural order of their references."""

    converters: tuple[Converter, ...] = ()
    outputs: tuple[Output, ...] = ()
    loads: tuple[Load, ...] = ()
    supplies: tuple[Supply, ...] = ()


def converters(context: Context, joints: Joints) -> Built:
    """Every converter whose pins can be told; what it leaves open is a finding or an assumption."""
    found = [one for part in context.in_role(Role.CONVERTER) if (one := _converter(part, context, joints))]
    apart = [c.id for c, output, load, _ in found if output.node_minus != load.node_minus and output.fitted]
    if apart:
        context.notes.assume(
            f"{listed(apart)}: IN- and OUT- are on two nets, so no current flows between input and output inside."
        )
    return Built(*(tuple(column) for column in zip(*found, strict=True))) if found else Built()


def _converter(part: Part, context: Context, joints: Joints) -> tuple[Converter, Output, Load, Supply] | None:
    ends = ends_of(part, context, joints)
    if ends is None:
        return None
    in_plus, in_minus, out_plus, out_minus = ends
    id = part.reference
    shorted = [what for what, a, b in (("IN", in_plus, in_minus), ("OUT", out_plus, out_minus)) if a == b]
    for what in shorted:
        context.notes.find(
            output_shorted.RULE.finding(
                part.subject(),
                f"Both terminals {what}+ and {what}- of {id} are on one net; it is left out of the solve.",
                "Put the terminals on two nets.",
            )
        )
    fitted = not part.symbol.dnp and not shorted
    output = Output(
        id=id,
        subject=part.subject(),
        node_plus=out_plus,
        node_minus=out_minus,
        fitted=fitted,
        supply=id,
        **attributes(part.fields, None, output_values),
    )
    view = part.fields.view()
    minimum_v = _input_voltage(view, "input_minimum_v", "Input minimum", "below which it stops")
    maximum_v = _input_voltage(view, "input_maximum_v", "Input maximum", "above which it is damaged")
    load = Load(
        id=input_id(id),
        subject=part.subject(id=input_id(id)),
        node_plus=in_plus,
        node_minus=in_minus,
        fitted=fitted,
        function=f"input of {id}",
        demand_kind=LoadKind.POWER,
        demand=0.0,
        minimum_v=minimum_v,
        maximum_v=maximum_v,
        hold_up_s=view.get("hold_up_s", "Hold-up time", values.delay_s),
        heat_share=0.0,
    )
    efficiency = _efficiency(view)
    no_load_w = view.get("no_load_w", "No-load power", values.idle_power_w)
    if no_load_w is None and "no_load_w" not in view.placeholders:
        view.notes.assume(f"The no-load power of {id} is not stated: 0 W is assumed.")
    converter = Converter(
        id=id,
        subject=part.subject(),
        output_id=id,
        load_id=load.id,
        efficiency=efficiency,
        no_load_w=no_load_w or 0.0,
        input_minimum_v=minimum_v,
        input_maximum_v=maximum_v,
        input_limit_a=view.get("input_limit_a", "Input limit", values.current_a),
        bridged=in_minus == out_minus,
        zone=output.zone,
        placeholders=frozenset(view.placeholders),
    )
    supply = Supply(
        name=id,
        output_ids=(id,),
        efficiency=efficiency,
        no_load_w=converter.no_load_w,
        rated_w=rated_power_w(output),
        zone=output.zone,
        placeholders=frozenset(view.placeholders & {"efficiency"}),
    )
    return converter, output, load, supply


def input_id(converter: str) -> str:
    """The id of the load that a converter's input is."""
    return f"{converter}.IN"


def _efficiency(view: View) -> tuple[tuple[float, float], ...]:
    efficiency = view.get("efficiency", "Efficiency", values.efficiency)
    id = view.fields.symbol.reference
    if efficiency is None and "efficiency" not in view.placeholders:
        view.notes.find(
            efficiency_missing.RULE.finding(
                view.subject(id),
                f"{id} (converter) states no efficiency, so its input power is not determined; 50 % stands in.",
                "State the field Efficiency, the least that its data sheet allows, such as 90 %, or by load as "
                "10 %: 80 %; 50 %: 94 %.",
            )
        )
    return tuple(sorted(efficiency)) if efficiency else ()


def _input_voltage(view: View, attribute: str, name: str, what: str) -> float | None:
    volts: float | None = view.get(attribute, name, values.voltage_v)
    id = view.fields.symbol.reference
    if volts is None and attribute not in view.placeholders:
        view.notes.find(
            rating_missing.RULE.finding(
                view.subject(id),
                f"{id} (converter) states no input voltage {what}, so its input voltage can't be judged.",
                f"State the field {name}, such as 18 V.",
            )
        )
    return volts
