"""Batteries from their symbols: outputs whose voltage and resistance follow their state of charge."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loadloom.graph.model.elements import Band, Battery, Behaviour, Output, Tolerance
from loadloom.graph.rules import (
    fields_contradict,
    rating_missing,
    resistance_missing,
    tolerance_missing,
    voltage_missing,
)
from loadloom.plugin import values
from loadloom.plugin.building.context import Context
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.parts import trip_or_none
from loadloom.plugin.building.pins import source_ends
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role

CLOSE = 1.1
"""Two figures of one battery that differ by less count as one rounded."""


def batteries(context: Context, joints: Joints) -> Iterator[Output]:
    """Every battery whose pins can be told. Its figures are of one unit; ``Series`` and ``Parallel`` count them."""
    for part in context.in_role(Role.BATTERY):
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
    voltage = view.get("voltage_v", "Voltage", values.voltage_band_v)
    own_ohm = view.get("resistance_ohm", "Resistance", values.resistance_band_ohm)
    prospective_a = view.get("prospective_a", "Prospective current", values.current_a)
    limit_a = view.get("limit_a", "Limit", values.current_a)
    trip = view.get("trip_a", "Trip", trip_or_none)
    capacity_ah = view.get("capacity_ah", "Capacity", values.capacity_ah)
    usable = view.get("usable", "Usable", values.positive_share)
    charge_a = view.get("charge_limit_a", "Charge limit", values.current_a)
    ohm = _resistance(own_ohm, prospective_a, voltage)
    if own_ohm is not None and prospective_a is not None and voltage is not None:
        _report_prospective(view, own_ohm, prospective_a, voltage)
    if view.word is None:
        _report(view, voltage, ohm, limit_a, parallel)
    below, above = (voltage.nominal - voltage.lower, voltage.upper - voltage.nominal) if voltage else (0.0, 0.0)
    own_trip = trip if isinstance(trip, Band) else None
    scale = series / parallel
    return {
        "voltage_v": voltage.nominal * series if voltage else None,
        "tolerance": Tolerance(below / voltage.nominal, above / voltage.nominal) if voltage else None,
        "limit_a": limit_a * parallel if limit_a is not None else None,
        "trip_a": _times(own_trip, parallel) if own_trip else None,
        "never_trips": own_trip is None,
        "behaviour": Behaviour.LATCH_OFF,
        "delay_s": view.get("delay_s", "Delay", values.delay_s),
        "resistance_ohm": ohm.lower * scale if ohm else 0.0,
        "resistance_high_ohm": ohm.upper * scale if ohm else None,
        "zone": view.text("zone", "Zone"),
        "battery": Battery(
            capacity_ah=None
            if capacity_ah is None
            else capacity_ah * parallel * (1.0 if usable is None else usable),
            charge_limit_a=None if charge_a is None else charge_a * parallel,
        ),
    }


def _report_prospective(view: View, own_ohm: Band, prospective_a: float, voltage: Band) -> None:
    """A finding where a full battery gives less into a short circuit than its greatest resistance lets through."""
    least_a = voltage.upper / own_ohm.upper if own_ohm.upper > 0.0 else 0.0
    if prospective_a * CLOSE < least_a:
        id = view.fields.symbol.reference
        view.notes.find(
            fields_contradict.RULE.finding(
                view.subject(id),
                f"{id}: Prospective current, {prospective_a:.3g} A, is less than the {least_a:.3g} A that its "
                f"greatest Resistance, {own_ohm.upper * 1e3:.3g} mΩ, lets through at {voltage.upper:.3g} V.",
                "Correct one of the two.",
            )
        )


def _times(band: Band, factor: float) -> Band:
    return Band(band.nominal * factor, band.lower * factor, band.upper * factor)


def _resistance(own: Band | None, prospective_a: float | None, voltage: Band | None) -> Band | None:
    """From the least that either the stated resistance or the prospective current of a full battery leaves."""
    by_short = voltage.upper / prospective_a if prospective_a is not None and voltage is not None else None
    if own is None:
        return None if by_short is None else Band.exact(by_short)
    least = own.lower if by_short is None else min(own.lower, by_short)
    return Band(own.nominal, least, max(own.upper, least))


def _report(view: View, voltage: Band | None, ohm: Band | None, limit_a: float | None, parallel: int) -> None:
    id, unreadable, notes = view.fields.symbol.reference, view.placeholders, view.notes
    if voltage is None and "voltage_v" not in unreadable:
        notes.find(
            voltage_missing.RULE.finding(
                view.subject(id),
                f"{id} states no voltage and is left out of the solve.",
                "State the field Voltage from empty to full, such as 21…29.2 V.",
            )
        )
    if voltage is not None and voltage.lower >= voltage.upper:
        notes.find(
            tolerance_missing.RULE.finding(
                view.subject(id),
                f"{id} (battery) states one voltage; what it has empty and what it has full is not known.",
                "State the field Voltage from empty to full, such as 21…29.2 V.",
            )
        )
    if ohm is None and not {"resistance_ohm", "prospective_a"} & unreadable:
        notes.find(
            resistance_missing.RULE.finding(
                view.subject(id),
                f"{id} (battery) states neither resistance nor prospective current, so that its short-circuit "
                "current has no bound.",
                "State the field Resistance from the least (full, warm, new) to the greatest, such as 8…25 mΩ.",
            )
        )
    elif ohm is not None and ohm.lower <= 0.0:
        notes.find(
            resistance_missing.RULE.finding(
                view.subject(id),
                f"{id} (battery) states a resistance of 0 Ω, which no battery has: its short-circuit current has "
                "no bound.",
                "State the field Resistance from the least (full, warm, new) to the greatest, such as 8…25 mΩ.",
            )
        )
    elif ohm is not None and ohm.lower >= ohm.upper:
        notes.assume(f"{id} (battery) states one resistance: the same is assumed empty, cold and aged.")
    if parallel > 1:
        notes.assume(
            f"{id}: its {parallel} batteries side by side share evenly, and what flows between them is not judged."
        )
    if limit_a is None and "limit_a" not in unreadable:
        notes.find(
            rating_missing.RULE.finding(
                view.subject(id),
                f"{id} (battery) states no limit, so the current that it gives can't be judged.",
                "State the field Limit, the current that it gives continuously.",
            )
        )
