"""Solar strings from their symbols: outputs that hold a current a little above the one that they work at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loadloom.graph.model.elements import Band, Behaviour, Output, Solar
from loadloom.graph.model.figures import figures
from loadloom.graph.rules import fields_contradict, rating_missing, voltage_missing
from loadloom.plugin import values
from loadloom.plugin.building.context import Context
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.pins import source_ends
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role

BRIGHTEST = 1.25
"""Times its short-circuit current that a solar module gives under the brightest sky (NEC 690.8(A)(1), the figure
from memory): that current is stated at 1000 W/m², and edges of clouds and snow give more."""


def solar(context: Context, joints: Joints) -> Iterator[Output]:
    """Every solar string whose pins can be told. Figures are of one module; ``Series``, ``Parallel`` count."""
    for part in context.in_role(Role.SOLAR):
        ends = source_ends(part, context, joints)
        if ends is None:
            continue
        plus, minus, fitted = ends
        yield Output(
            id=part.reference,
            subject=part.subject(),
            node_plus=plus,
            node_minus=minus,
            fitted=fitted,
            **attributes(part.fields, None, _values),
        )


def _values(view: View) -> dict[str, Any]:
    series = view.get("series", "Series", values.count) or 1
    parallel = view.get("parallel", "Parallel", values.count) or 1
    open_v = view.get("voltage_v", "Open-circuit voltage", values.voltage_v, optional_value=True)
    short_a = view.get("short_a", "Short-circuit current", values.current_a)
    working_v = view.get("working_v", "Working voltage", values.voltage_v)
    working_a = view.get("limit_a", "Working current", values.current_a)
    reverse_a = view.get("reverse_a", "Reverse current", values.current_a)
    if view.word is None:
        _report(view, open_v, short_a, working_v, working_a)
    ohm = 0.0
    if open_v is not None and working_v is not None and working_a is not None:
        # Straight from no load to the working point, and the current held beyond.
        ohm = max(0.0, open_v - working_v) / working_a
    held_a = None if short_a is None else BRIGHTEST * short_a * parallel
    least_a = (working_a if working_a is not None else short_a or 0.0) * parallel
    return {
        "voltage_v": None if open_v is None else open_v * series,
        "limit_a": None if working_a is None else working_a * parallel,
        "trip_a": None if held_a is None else Band((short_a or 0.0) * parallel, min(least_a, held_a), held_a),
        "behaviour": Behaviour.CONSTANT_CURRENT,
        "delay_s": 0.0,
        "resistance_ohm": ohm * series / parallel,
        "zone": view.text("zone", "Zone"),
        "solar": Solar(reverse_a, parallel, BRIGHTEST * (short_a or 0.0)),
    }


def _report(
    view: View, open_v: float | None, short_a: float | None, working_v: float | None, working_a: float | None
) -> None:
    id, unreadable, notes = view.fields.symbol.reference, view.placeholders, view.notes
    if open_v is None and "voltage_v" not in unreadable:
        notes.find(
            voltage_missing.RULE.finding(
                view.subject(id),
                f"{id} states no open-circuit voltage and is left out of the solve.",
                "State the field Open-circuit voltage, that of the coldest day, such as 45 V.",
            )
        )
    for low, low_name, high, high_name, unit in (
        (working_v, "Working voltage", open_v, "Open-circuit voltage", "V"),
        (working_a, "Working current", short_a, "Short-circuit current", "A"),
    ):
        if low is not None and high is not None and low > high:
            notes.find(
                fields_contradict.RULE.finding(
                    view.subject(id),
                    f"{id}: {low_name}, {figures(low, 4)} {unit}, is more than {high_name}, {figures(high, 4)} "
                    f"{unit}.",
                    "Correct one of the two.",
                )
            )
    for value, attribute, name, what in (
        (short_a, "short_a", "Short-circuit current", "short-circuit current"),
        (working_v, "working_v", "Working voltage", "voltage of its working point"),
        (working_a, "limit_a", "Working current", "current of its working point"),
    ):
        if value is None and attribute not in unreadable:
            notes.find(
                rating_missing.RULE.finding(
                    view.subject(id),
                    f"{id} (solar) states no {what}, so what it gives can't be judged.",
                    f"State the field {name}.",
                )
            )
