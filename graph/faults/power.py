"""Power that a fault could draw at each place continuously, against the classes of published safety standards."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.faults import limited_power
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.model.results import FaultPowerRow


@dataclass(frozen=True, slots=True)
class PowerClass:
    """A class of available power: its name, its bound in W (VA) and where it is published."""

    name: str
    most_w: float
    source: str


POWER_CLASSES = (
    PowerClass("15 W", 15.0, "IEC 62368-1:2014, 6.2.2.4, power source class 1; value from memory"),
    PowerClass(
        "100 W",
        100.0,
        "IEC 60950-1 tables 2B and 2C, carried to IEC 62368-1 annex Q, limited power source (second-hand copy); "
        "IEC 62368-1:2014, 6.2.2.5, power source class 2, value from memory",
    ),
    PowerClass(
        "240 VA",
        240.0,
        "hazardous energy level of IEC 60950-1, 1.2.8.10, value from memory; the same limit per output in "
        "published supply design guides",
    ),
)

KINDS_NAMED = ("load", "pinch", "chassis")


def fault_powers(search: Search, case: str) -> dict[str, FaultPowerRow]:
    """The most power of one fault at each place of a searched variant, by place; all loads off.

    A fault of current x at a place of open voltage V and loop resistance R takes x·(V - R·x) in W: the most is
    at x = V / 2R, or at the greatest x that nothing opens on, where that is less. The limited power source is held
    against the greatest current as well.
    """
    limit = search.variant.rows.limit
    places = search.places.listed
    if (limit < -TINY).any() or not places:
        return {}
    response = search.loaded.response(places)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(response.rows > TINY, limit[:, None] / response.rows, np.inf)
        matched = np.where(response.loop_ohm > TINY, response.open_v / (2.0 * response.loop_ohm), np.inf)
    holding = ratio.min(axis=0, initial=np.inf)
    current = np.minimum(holding, matched)
    names = search.variant.piece.branches.ids
    found: dict[str, FaultPowerRow] = {}
    for n, place in enumerate(places):
        if place.kind not in KINDS_NAMED or not np.isfinite(current[n]):
            continue
        power = float(current[n] * (response.open_v[n] - response.loop_ohm[n] * current[n]))
        held_by = None
        if holding[n] <= matched[n]:
            device = int(search.variant.rows.device[int(ratio[:, n].argmin())])
            held_by = names[device] if device >= 0 else None
        known = found.get(place.at)
        if known is None or power > known.power_w:
            row = power_row(place.at, case, power, held_by)
            open_v, loop_ohm = float(response.open_v[n]), float(response.loop_ohm[n])
            short_a = open_v / loop_ohm if loop_ohm > TINY else np.inf
            limited = limited_power.is_within(open_v, min(float(holding[n]), short_a), power)
            found[place.at] = replace(
                row,
                within=(*row.within, *([limited_power.NAME] if limited else [])),
                exceeds=(*row.exceeds, *([] if limited else [limited_power.NAME])),
            )
    return found


def power_row(at: str, case: str, power_w: float, held_by: str | None) -> FaultPowerRow:
    """A row with the classes that a power in W is within and those that it exceeds."""
    within = tuple(c.name for c in POWER_CLASSES if power_w <= c.most_w * (1.0 + TINY))
    exceeds = tuple(c.name for c in POWER_CLASSES if power_w > c.most_w * (1.0 + TINY))
    return FaultPowerRow(at=at, case=case, power_w=power_w, held_by=held_by, within=within, exceeds=exceeds)
