"""The user's own table, and the lists of common practice that no standard stands behind."""

from __future__ import annotations

import math

from loadloom.graph.model.elements import GaugeSystem
from loadloom.graph.model.settings import OwnTableRow
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import Chain, Question, unrated

CIRCULAR_MIL_MM2 = math.pi / 4 * 0.0254**2
CIRCULAR_MILS_PER_AMPERE = 700.0

WHATEVER_INSULATION = frozenset({"common-practice", "common-practice-chassis"})
"""Bases that say nothing of the insulation."""


def own_row(q: Question) -> OwnTableRow | None:
    """The row of the user's table that holds for a conductor: its size, insulation no warmer, ambient no cooler.

    Among several the one whose conditions are nearest counts: the warmest insulation, then the coolest ambient,
    then the least current.
    """
    fitting = [
        row
        for row in q.own_table
        if row.system == q.gauge.system.value
        and _same_size(row, q)
        and (row.insulation_c is None or row.insulation_c <= q.limit_c)
        and row.ambient_c >= q.ambient_c
    ]
    return min(
        fitting,
        key=lambda row: (
            -(row.insulation_c if row.insulation_c is not None else -math.inf),
            row.ambient_c,
            row.allowed_a,
        ),
        default=None,
    )


def lists_size(q: Question) -> bool:
    """Whether the user's table has the conductor's size at all, under any conditions."""
    return any(row.system == q.gauge.system.value and _same_size(row, q) for row in q.own_table)


def own_table(q: Question) -> Chain:
    """The user's own table as it stands: no factor is added, since only the user knows what its values are for."""
    row = own_row(q)
    if row is None:
        return unrated(
            f"your table has no row for {q.gauge} with insulation of at most {q.limit_c:g} °C "
            f"and an ambient of at least {q.ambient_c:g} °C"
        )
    notes = []
    if q.loaded > 1:
        notes.append(f"your table's value is taken to hold for a bundle of {q.loaded} loaded conductors")
    if q.altitude_m > 0.0:
        notes.append(f"your table's value is taken to hold at {q.altitude_m:g} m above the sea")
    if row.insulation_c is None:
        notes.append("your table does not say for which insulation its value is")
    return Chain(row.allowed_a, "", "stated by the user", assumptions=tuple(notes))


def common_practice(q: Question) -> Chain:
    """Area in circular mils / 700: a list in common use with no standard behind it, and no ambient or bundle."""
    area_cmil = q.gauge.area_mm2 / CIRCULAR_MIL_MM2
    return Chain(
        area_cmil / CIRCULAR_MILS_PER_AMPERE,
        "S41",
        "VERIFIED",
        check_edition=True,
        assumptions=(
            "area / 700 circular mils has no standard behind it and says nothing of ambient, bundle or altitude",
        ),
    )


def common_practice_chassis(q: Question) -> Chain:
    """The "chassis wiring" list: single wires only, with no standard behind it."""
    row = tables.by_size("common_practice").get(q.gauge.size) if q.gauge.system is GaugeSystem.AWG else None
    if row is None:
        return unrated(f"{q.gauge} is not in the chassis wiring list")
    if not q.alone:
        which = f"a bundle of {q.loaded}" if q.loaded > 1 else "a core of a cable"
        return unrated(f"the chassis wiring list is for single wires, not for {which}")
    return Chain(
        float(row["chassis_a"]),
        "S41",
        row["status"],
        check_edition=True,
        assumptions=("the chassis wiring list has no standard behind it and says nothing of ambient or altitude",),
    )


def _same_size(row: OwnTableRow, q: Question) -> bool:
    if q.gauge.system is GaugeSystem.AWG:
        return row.size == q.gauge.size
    try:
        return math.isclose(float(row.size.replace(",", ".")), q.gauge.area_mm2, rel_tol=1e-9)
    except ValueError:
        return False
