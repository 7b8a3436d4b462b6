"""Copper tracks of boards, from their symbols."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from loadloom.graph.model.elements import Band, Conductor, ConductorKind, Track, Vias
from loadloom.graph.ratings.resistance import COPPER_RESISTIVITY_OHM_MM2_PER_M
from loadloom.graph.rules import rating_missing
from loadloom.plugin import values
from loadloom.plugin.building.context import Context
from loadloom.plugin.building.joints import Joints
from loadloom.plugin.building.missing import PLACEHOLDER_OHM
from loadloom.plugin.building.pins import two_ends
from loadloom.plugin.fields import View, attributes
from loadloom.plugin.roles import Role

MOST_COPPER = 1.5
"""Times the stated least thickness that the copper is taken to have where fault currents are greatest: what plating
may leave beyond its least. Common practice, no published source."""

THICKEST_BOARD_M = 3.2e-3
"""Length of a via where voltage drop counts: the thickest common board. Common practice, no published source."""

ALPHA_PER_K = 0.00393
"""Of copper at 20 °C (IEC 60028)."""

HOTTEST_C = 130.0
"""Temperature for voltage drop where the board's limit is not stated."""


def tracks(context: Context, joints: Joints) -> Iterator[Conductor]:
    """Tracks, each with the vias in series with it."""
    for part in context.in_role(Role.TRACK):
        ends = two_ends(part, context, joints)
        if ends:
            made = attributes(part.fields, None, lambda view: _values(view, context))
            yield Conductor(
                id=part.reference,
                subject=part.subject(),
                node_a=ends[0],
                node_b=ends[1],
                fitted=not part.symbol.dnp,
                kind=ConductorKind.TRACK,
                **made,
            )


def _values(view: View, context: Context) -> dict[str, Any]:
    width_m = view.get("track", "Width", values.track_width_m)
    copper_m = view.get("track", "Copper", values.copper_m)
    length_m = view.get("length_m", "Length", values.length_m)
    outer = view.get("track", "Layer", values.outer_layer)
    limit_c = view.get("track", "Board limit", values.temperature_c)
    holes = view.get("track", "Vias", values.vias)
    plating_m = view.get("track", "Via plating", values.copper_m)
    zone = view.text("zone", "Zone")
    stated: dict[str, object] = {
        "Width": width_m,
        "Copper": copper_m,
        "Length": length_m,
        "Layer": outer,
        "Board limit": limit_c,
    }
    if holes is not None or plating_m is not None:
        stated |= {"Vias": holes, "Via plating": plating_m}
    missing = [name for name, value in stated.items() if value is None]
    if missing and not view.placeholders:
        _report_missing(view, missing)
    vias = Vias(holes[0], holes[1], plating_m) if holes is not None and plating_m is not None else None
    if missing:
        view.placeholders.add("track")
    track = Track(width_m, copper_m, bool(outer), limit_c, vias)
    resistance_ohm = PLACEHOLDER_OHM
    if track.area_mm2 is None or length_m is None:
        view.placeholders.add("resistance_ohm")
    else:
        resistance_ohm = _resistance_ohm(track, length_m, context.settings.ambient(zone).min_c)
    return {
        "track": track,
        "length_m": length_m,
        "resistance_ohm": resistance_ohm,
        "bundle": view.text("bundle", "Bundle"),
        "zone": zone,
        "voltage_rating_v": view.get("voltage_rating_v", "Voltage rating", values.voltage_v),
    }


def _resistance_ohm(track: Track, length_m: float, coldest_c: float) -> Band:
    """From the thickest and coldest copper without vias to the thinnest at the board's limit with them."""
    area_mm2 = track.area_mm2 or 1.0

    def ohm(mm2: float, metres: float, celsius: float) -> float:
        return COPPER_RESISTIVITY_OHM_MM2_PER_M * (1.0 + ALPHA_PER_K * (celsius - 20.0)) * metres / mm2

    hot_c = track.limit_c if track.limit_c is not None else HOTTEST_C
    most = ohm(area_mm2, length_m, hot_c)
    if track.vias is not None:
        most += ohm(track.vias.area_mm2, THICKEST_BOARD_M, hot_c)
    return Band(most, ohm(MOST_COPPER * area_mm2, length_m, coldest_c), most)


def _report_missing(view: View, missing: list[str]) -> None:
    id = view.fields.symbol.reference
    names = " and ".join(missing)
    view.notes.find(
        rating_missing.RULE.finding(
            view.subject(id),
            f"{id} (track) states no {names}, so what it carries can't be judged.",
            f"State {names}: Width and Copper as finished at least, Layer as outer or inner.",
        )
    )
