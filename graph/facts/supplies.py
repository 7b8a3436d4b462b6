"""Supplies: the share of their power in use, what derating leaves of it, and the heat they make."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from loadloom.graph.model.efficiency import between
from loadloom.graph.model.elements import Supply
from loadloom.graph.model.results import Factor, FactorFormula, SupplyRow
from loadloom.graph.model.settings import AnalysisSettings

Points = Sequence[tuple[float, float]]

STATED = "the drawing"
"""Source of a supply's deratings: the unit's own data, as drawn."""


@dataclass(frozen=True, slots=True)
class PowerShare:
    """Share 0…1 of the nameplate power that a supply may give, the product of ``factors``; else why not."""

    share: float | None
    missing: str | None = None
    factors: tuple[Factor, ...] = ()


def power_share(supply: Supply, inside_c: float) -> PowerShare:
    """What derating leaves of a supply's power at a temperature inside its enclosure in °C.

    Linear between the points of ``power_derating``; below the first point the first share holds. Beyond the last
    point nothing is stated, and nothing is extrapolated. What its mounting leaves multiplies: several deratings
    hold at once, each on what the others left (common practice, no published source; the safe side where a maker
    means the least of them).
    """
    if "power_derating" in supply.placeholders:
        return PowerShare(None, "its power derating can't be read")
    if "mounting" in supply.placeholders:
        return PowerShare(None, "its mounting derating can't be read")
    factors = []
    if supply.power_derating:
        points = sorted(supply.power_derating)
        if inside_c > points[-1][0]:
            return PowerShare(
                None, f"its power derating ends at {points[-1][0]:g} °C, and it is {inside_c:g} °C inside"
            )
        # The formula says nothing below its first point, where the first share holds.
        reach = points if inside_c >= points[0][0] else [(inside_c, points[0][1]), *points]
        factors.append(
            Factor(
                "inside",
                between(points, inside_c),
                f"{inside_c:.3g} °C inside",
                STATED,
                input_value=inside_c,
                input_unit="°C",
                formula=FactorFormula("linear", points=tuple(reach)),
            )
        )
    factors += [Factor("mounting", share, reason, STATED) for reason, share in supply.mounting]
    return PowerShare(math.prod(factor.factor for factor in factors), factors=tuple(factors))


def efficiency_at(supply: Supply, load_share: float) -> float | None:
    """Efficiency 0…1 at a share of the nameplate power; None where none is stated or it can't be read.

    Linear between points. Outside of them the end value holds: a single stated value is one for all loads.
    """
    if not supply.efficiency or "efficiency" in supply.placeholders:
        return None
    return between(sorted(supply.efficiency), load_share)


def supply_row(
    supply: Supply,
    output_powers_w: Mapping[str, float | None],
    case: str | None,
    inside_c: float,
) -> SupplyRow:
    """The row of one supply in one case.

    ``output_powers_w`` is the power out of each output's terminals in W by output id; power flowing backwards into
    an output relieves no other. Utilisation is power over nameplate × derating; ``load_share`` and the fanless
    threshold are of the nameplate. Heat is input less output. Common practice, no published source. Where derating
    leaves nothing ``allowed_w`` is 0 and there is no utilisation: compare the powers.
    """
    powers_w = [output_powers_w.get(name) for name in supply.output_ids]
    known_w = [max(power_w, 0.0) for power_w in powers_w if power_w is not None]
    power_w = sum(known_w) if known_w and len(known_w) == len(powers_w) else None
    nameplate_w = None if "power_w" in supply.placeholders else supply.power_w
    derating = power_share(supply, inside_c)
    missing = derating.missing
    if nameplate_w is None:
        missing = "its power can't be read" if "power_w" in supply.placeholders else None
    allowed_w = None if nameplate_w is None or derating.share is None else nameplate_w * derating.share
    load_share = None if power_w is None or not nameplate_w else power_w / nameplate_w
    at_share = load_share
    if nameplate_w is None and power_w is not None:
        # With no rated power at all a single stated efficiency is still good for the heat.
        at_share = power_w / supply.rated_w if supply.rated_w else 1.0 if len(supply.efficiency) == 1 else None
    efficiency = None if at_share is None else efficiency_at(supply, at_share)
    input_w = None if power_w is None or not efficiency else power_w / efficiency + supply.no_load_w
    fanless = None if "fanless_below" in supply.placeholders else supply.fanless_below
    return SupplyRow(
        id=supply.name,
        case=case,
        power_w=power_w,
        allowed_w=allowed_w,
        nameplate_w=nameplate_w,
        load_share=load_share,
        utilisation=None if power_w is None or not allowed_w else power_w / allowed_w,
        efficiency=efficiency,
        input_w=input_w,
        heat_w=None if input_w is None or power_w is None else input_w - power_w,
        fan_off=None if fanless is None or load_share is None else load_share < fanless,
        inside_c=inside_c,
        factors=derating.factors,
        missing=missing,
    )


def supply_rows(
    supplies: Sequence[Supply],
    powers_w: Mapping[str, Mapping[str, float | None]],
    settings: AnalysisSettings,
    inside_c: Mapping[str, float] | None = None,
) -> tuple[SupplyRow, ...]:
    """The row of every supply in its worst case: the one with the most power, unknown power before all.

    ``powers_w[case][output]`` in W. ``inside_c`` by supply name where an enclosure is warmer than its zone's
    greatest ambient, which counts otherwise.
    """
    rows = []
    for supply in supplies:
        warm_c = (inside_c or {}).get(supply.name, settings.ambient(supply.zone).max_c)
        of_case = [supply_row(supply, powers, case, warm_c) for case, powers in powers_w.items()]
        if not of_case:
            of_case = [supply_row(supply, {}, None, warm_c)]
        worst = max(of_case, key=lambda row: math.inf if row.power_w is None else row.power_w)
        # The fan is always off only if no case turns it on.
        fans = [row.fan_off for row in of_case]
        fan_off = None if None in fans else all(bool(off) for off in fans)
        rows.append(replace(worst, fan_off=fan_off))
    return tuple(rows)
