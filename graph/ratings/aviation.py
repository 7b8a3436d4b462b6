"""Bases for aircraft and space: AC 43.13-1B, AS50881 bundle curves, MIL-STD-975M, EEE-INST-002."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from loadloom.graph.model.elements import Gauge, GaugeSystem
from loadloom.graph.model.results import Factor, FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import (
    AmpacityTable,
    Chain,
    Column,
    Question,
    Step,
    altitude_steps,
    unrated,
)
from loadloom.graph.ratings.estimates import estimate
from loadloom.graph.ratings.heat_balance import copper_body, free_air_current_a
from loadloom.graph.ratings.nec import nec_adjustment
from loadloom.graph.ratings.own import lists_size, own_row

VACUUM_C = 70.0
TABLE_11_9_C, TABLE_11_9_ALTITUDE_M = 70.0, 18288.0
"""70 °C and 60 000 ft, for which table 11-9 of AC 43.13-1B is printed."""

SHARES = ("20", "40", "60", "80", "100")


def as50881_factor(wires: int, share: float | None) -> float | None:
    """Bundle factor of the digitised AS50881 curves; the next greater share that has a curve; None beyond 19 wires.

    No share stated counts as 100 %.
    """
    row = tables.by_size("as50881_bundle", "wires_in_bundle").get(str(max(wires, 1)))
    percent = 100.0 if share is None else 100.0 * share
    column = next((name for name in SHARES if percent <= float(name) + 1e-9), "100")
    return None if row is None else float(row[column])


def as50881_bundle(q: Question) -> Step:
    """The bundle step of the AS50881 curves."""
    factor = as50881_factor(q.loaded, q.share)
    if factor is None:
        return f"the AS50881 curves as shipped go to 19 wires, not to {q.loaded}"
    loading = "all of the capacity in use" if q.share is None else f"{q.share:.0%} of the capacity in use"
    return Factor(
        "bundle",
        factor,
        f"{q.loaded} wires, {loading}",
        tables.citation("S11"),
        "VERIFIED against one digitisation",
        q.loaded,
        "1",
    )


def _table_11_9_bundle(q: Question) -> Step | None:
    """Table 11-9 holds for 33 wires and more (from 8 AWG: 9) at not more than 20 % of the capacity in use.

    A bundle that its curves put below that is reduced in proportion; 19 wires, the last of the shipped curves,
    stand in for 33, which is the safe side.
    """
    wires = 9 if q.gauge.area_mm2 > 6.0 else 19
    if q.share is not None and q.share <= 0.2 and (wires == 19 or q.loaded <= 9):
        return None
    here, there = as50881_factor(q.loaded, q.share), as50881_factor(wires, 0.2)
    if here is None or there is None:
        return (
            f"table 11-9 of AC 43.13-1B is for 20 % of the bundle's capacity in use, "
            f"and the curves as shipped go to 19 wires, not to {q.loaded}"
        )
    if here >= there:
        return None
    loading = "all" if q.share is None else f"{q.share:.0%}"
    return Factor(
        "bundle",
        here / there,
        f"{q.loaded} wires with {loading} of the capacity in use, against the 20 % of table 11-9",
        tables.citation("S11"),
        "VERIFIED against one digitisation",
        q.loaded,
        "1",
    )


def _columns() -> tuple[Column, ...]:
    return tuple(
        Column(
            limit_c,
            f"{limit_c:g}",
            FactorFormula("steps", points=_hotter_than_70(limit_c)),
            "no credit below 70 °C; above it the heat balance",
            "S03",
            estimate_above_c=TABLE_11_9_C,
        )
        for limit_c in (105.0, 150.0, 200.0)
    )


def _hotter_than_70(limit_c: float) -> tuple[tuple[float, float], ...]:
    """Ambient factors above the table's 70 °C, from the heat balance of 16 AWG in steps of 5 K.

    The ratio hardly depends on the size (under 0.01 from 24 to 4/0 AWG).
    """
    ambients = [70.0 + 5.0 * k for k in range(int((limit_c - 70.0 - 1e-9) // 5.0) + 1)]
    currents = free_air_current_a(copper_body(1.31), limit_c, np.array(ambients))
    return tuple((t, float(i / currents[0])) for t, i in zip(ambients, currents, strict=True))


@cache
def table_11_9() -> AmpacityTable:
    """AC 43.13-1B table 11-9; its altitude is built in, and above its 70 °C it is an estimate."""
    return AmpacityTable(
        "AC 43.13-1B table 11-9",
        "ac43_13_table_11_9",
        GaugeSystem.AWG,
        _columns(),
        _table_11_9_bundle,
        highest_m=TABLE_11_9_ALTITUDE_M,
    )


@cache
def table_11_9_beyond_aircraft() -> AmpacityTable:
    """Table 11-9 for small wire of equipment and vehicles, whose bundles may be larger than its curves go.

    From 19 fully loaded wires on its factor falls on as NEC 310.15(C)(1) does; such a rating is an estimate.
    """
    return replace(table_11_9(), bundle=_bundle_beyond_19)


def _bundle_beyond_19(q: Question) -> Step | None:
    step = _table_11_9_bundle(q)
    if not isinstance(step, str):
        return step
    at_19 = _table_11_9_bundle(replace(q, loaded=19))
    there, here = nec_adjustment(replace(q, loaded=19)), nec_adjustment(q)
    if not (isinstance(at_19, Factor) and isinstance(there, Factor) and isinstance(here, Factor)):
        return step
    return Factor(
        "bundle",
        at_19.factor * here.factor / there.factor,
        f"{q.loaded} wires: as for 19, × {here.factor / there.factor:.3g} for the rest",
        f"{at_19.source}; {here.source}",
        "COMPUTED",
        q.loaded,
        "1",
    )


def ac43_13(q: Question) -> Chain:
    """AC 43.13-1B table 11-9, reduced where the bundle is worse than the one it is for."""
    return table_11_9().rate(q)


def free_air(q: Question) -> Chain:
    """Own free-air current (own table) or the heat balance × 0.85, × AS50881 bundle curve × altitude."""
    bundle = as50881_bundle(q)
    row = own_row(q)
    if row is None and lists_size(q):
        return unrated(f"your table has {q.gauge}, but not for {q.limit_c:g} °C insulation at {q.ambient_c:g} °C")
    if row is None:
        return estimate(q, bundle, f"no free-air current of your own for {q.gauge}")
    if isinstance(bundle, str):
        return unrated(bundle)
    return Chain(
        row.allowed_a,
        "",
        "stated by the user",
        (bundle, *altitude_steps(q)),
        check_edition=True,
        assumptions=(f"free-air current of your own table ({row.note or 'no note'})",),
    )


def mil_std_975m(q: Question) -> Chain:
    """MIL-STD-975M: single wire × bundle formula × insulation factor, at 70 °C in vacuum."""
    row = _space_row(q.gauge)
    if row is None:
        return unrated(f"{q.gauge} is not in MIL-STD-975M")
    if q.ambient_c > VACUUM_C:
        return unrated(f"MIL-STD-975M gives no rating above 70 °C, and the ambient is {q.ambient_c:g} °C")
    insulation = [(t, f) for t, f in ((105.0, 0.5), (135.0, 0.7), (150.0, 0.8), (200.0, 1.0)) if t <= q.limit_c]
    if not insulation:
        return unrated(f"MIL-STD-975M has no factor for insulation of {q.limit_c:g} °C")
    source = tables.citation("S08")
    class_c, insulation_factor = insulation[-1]
    bundle = 1.0 if q.loaded <= 1 else (29 - q.loaded) / 28 if q.loaded <= 15 else 0.5
    return Chain(
        float(row["single_a"]),
        "S08",
        row["status_single"],
        (
            Factor(
                "insulation", insulation_factor, f"{class_c:g} °C insulation", source, "VERIFIED", class_c, "°C"
            ),
            Factor("bundle", bundle, f"{q.loaded} wires, (29 − N)/28", source, "VERIFIED", q.loaded, "1"),
        ),
        assumptions=_vacuum_note("MIL-STD-975M", q),
    )


def eee_inst_002(q: Question) -> Chain:
    """EEE-INST-002: the single column for one wire, the bundle column for any bundle, 200 °C, 70 °C in vacuum.

    The column is for 15 wires and more; for 2 to 14 it is the safe side, since the formula between is found in
    MIL-STD-975M only and the two are never mixed.
    """
    row = _space_row(q.gauge)
    if row is None:
        return unrated(f"{q.gauge} is not in EEE-INST-002")
    if q.ambient_c > VACUUM_C:
        return unrated(f"EEE-INST-002 gives no rating above 70 °C, and the ambient is {q.ambient_c:g} °C")
    if q.limit_c < 200.0:
        return unrated(f"the shipped columns of EEE-INST-002 are for 200 °C insulation, not {q.limit_c:g} °C")
    single = q.loaded <= 1
    status = row["status_single" if single else "status_bundle"]
    notes = list(_vacuum_note("EEE-INST-002", q))
    if 1 < q.loaded < 15:
        notes.append(f"the bundle column is for 15 wires and more, used for {q.loaded} on the safe side")
    return Chain(
        float(row["single_a" if single else "bundle_a"]),
        "S09",
        status,
        check_edition=tables.needs_edition_check("S09", status),
        assumptions=tuple(notes),
    )


@cache
def _space_rows() -> dict[str, tables.Row]:
    return dict(tables.by_size("mil_std_975m_wire"))


def _space_row(gauge: Gauge) -> tables.Row | None:
    return _space_rows().get(gauge.size) if gauge.system is GaugeSystem.AWG else None


def _vacuum_note(title: str, q: Question) -> tuple[str, ...]:
    if q.ambient_c == VACUUM_C:
        return (f"{title} is for 70 °C in vacuum",)
    return (
        f"outside what {title} is for (70 °C in vacuum): the ambient is {q.ambient_c:g} °C; no credit is taken",
    )
