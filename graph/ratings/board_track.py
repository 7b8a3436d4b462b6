"""Copper tracks of a board by IPC-2221: I = k · ΔT^0.44 · A^0.725, inside the range of the chart it was fitted to.

A is the cross-section in square mil, ΔT the rise in K, k 0.048 on an outer and 0.024 on an inner layer. The rise is
what the board's limit leaves above the ambient. Tracks of one bundle are heated together: they count as one track
of their whole section, of which each carries its share, with the inner layer's k where any of them is inside. Vias
carry what an inner track of their barrels' section does.

Chart (IPC-2221 figure 6-4; its axes from memory): up to 35 A, 700 square mil and 400 mil of width, rises from 10 to
100 K. What lies above counts with the chart's end; a rise below 10 K has no rating.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from loadloom.graph.model.elements import Track
from loadloom.graph.model.figures import figures
from loadloom.graph.model.results import Cap
from loadloom.graph.ratings.chain import Chain, unrated

SQUARE_MIL_MM2 = 0.0254**2
K_OUTER, K_INNER = 0.048, 0.024
RISE_POWER, AREA_POWER = 0.44, 0.725
LEAST_RISE_K, MOST_RISE_K = 10.0, 100.0
MOST_AREA_SQUARE_MIL = 700.0
MOST_WIDTH_M = 0.01016
MOST_A = 35.0
BASIS = "IPC-2221 track"


def track_current_a(area_mm2: float, rise_k: float, *, outer: bool) -> float:
    """The current in A that heats a track of a section by a rise; see the module's text for its range."""
    k = K_OUTER if outer else K_INNER
    return k * math.pow(rise_k, RISE_POWER) * math.pow(area_mm2 / SQUARE_MIL_MM2, AREA_POWER)


def rate_track(track: Track, beside: Sequence[Track], ambient_c: float) -> Chain:
    """The allowed current of a track; ``beside`` are the others that are heated together with it."""
    if track.limit_c is None:
        return unrated("the limit of its board is not stated")
    area_mm2 = _counted_mm2(track)
    if area_mm2 is None:
        return unrated("its width or the thickness of its copper is not stated")
    areas = [_counted_mm2(other) for other in beside]
    known = [area for area in areas if area is not None]
    if len(known) < len(areas):
        return unrated("the section of a track that is heated together with it is not stated")
    limits = [track.limit_c, *(other.limit_c for other in beside if other.limit_c is not None)]
    rise_k = min(limits) - ambient_c
    if rise_k < LEAST_RISE_K:
        return unrated(
            f"the board's limit leaves {figures(rise_k)} K above the ambient of {figures(ambient_c)} °C, and "
            "the chart "
            f"of IPC-2221 begins at {figures(LEAST_RISE_K)} K"
        )
    rise_k = min(rise_k, MOST_RISE_K)
    outer = all(each.outer for each in (track, *beside))
    whole_mm2 = area_mm2 + math.fsum(known)
    counted_mm2 = min(whole_mm2, MOST_AREA_SQUARE_MIL * SQUARE_MIL_MM2)
    together_a = min(track_current_a(counted_mm2, rise_k, outer=outer), MOST_A)
    base_a = together_a * area_mm2 / whole_mm2
    caps = []
    if track.vias is not None:
        vias_mm2 = track.vias.area_mm2
        caps.append(
            Cap("vias", track_current_a(vias_mm2, rise_k, outer=False), "common practice: as an inner track")
        )
    notes = [
        f"IPC-2221 with a rise of {figures(rise_k)} K, {'outer' if outer else 'inner'} layer, the ends of its "
        "chart "
        "from memory"
    ]
    if beside:
        notes.append(f"{len(beside) + 1} tracks heated together count as one of {figures(whole_mm2)} mm²")
    return Chain(base_a, "S57", "REPRODUCED", caps=tuple(caps), check_edition=True, assumptions=tuple(notes))


def _counted_mm2(track: Track) -> float | None:
    """The section of a track no wider than the chart."""
    if track.width_m is None or track.copper_m is None:
        return None
    return min(track.width_m, MOST_WIDTH_M) * track.copper_m * 1e6
