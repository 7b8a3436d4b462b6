"""Bases after 33 CFR 183.425: small craft, and vehicles with small wire after AC 43.13-1B."""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.model.elements import GaugeSystem
from loadloom.graph.model.results import FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.aviation import table_11_9_beyond_aircraft
from loadloom.graph.ratings.chain import (
    AmpacityTable,
    Chain,
    Column,
    Question,
    Step,
    count_step,
)
from loadloom.graph.ratings.estimates import estimate, scaled, table_or_estimate

ORDINARY_C, ENGINE_SPACE_C = 30.0, 50.0
"""The two ambients of 33 CFR 183.425: outside and inside engine spaces."""

CORES_OF_A_CABLE = 3
"""Loaded cores of the cables that VDE 0298-4 has a column for."""

SMALLEST_CFR_MM2 = 0.8
"""Just below 18 AWG (0.823 mm²), the thinnest size of 33 CFR 183.425 table 5."""


def cfr_bundle(q: Question) -> Step:
    """33 CFR 183.425 note 2, applied at every voltage (the rule asks for it from 50 V up): the safe side."""
    return count_step("33cfr183_bundle", "conductors", q.loaded, "conductors in the bundle")


def _columns() -> tuple[Column, ...]:
    engine = tables.by_size("33cfr183_engine_space", "insulation")
    found = []
    for name in ("60", "75", "80", "90", "105", "125", "200"):
        limit_c = float(name)
        if name in engine:
            factor, status, computed_above_c = float(engine[name]["factor"]), engine[name]["status"], math.inf
        else:
            # Not read in a copy: the equation of NEC 310.15(B), which gives 0.856 where the rule prints 0.85.
            factor = math.sqrt((limit_c - ENGINE_SPACE_C) / (limit_c - ORDINARY_C))
            status, computed_above_c = "COMPUTED √((limit − 50)/(limit − 30))", ORDINARY_C
        formula = FactorFormula("steps", points=((ORDINARY_C, 1.0), (ENGINE_SPACE_C, factor)))
        where = "outside (30 °C) or inside (50 °C) engine spaces"
        found.append(Column(limit_c, name, formula, where, "S14", status, computed_above_c))
    return tuple(found)


CFR_183 = AmpacityTable(
    "33 CFR 183.425 table 5", "33cfr183_table_5", GaugeSystem.AWG, _columns(), cfr_bundle, alone=True
)


def marine(q: Question) -> Chain:
    """33 CFR 183.425 table 5 with engine-space and bundle factors."""
    chain = CFR_183.rate(q)
    if chain.missing is None and q.loaded >= 3:
        note = "33 CFR 183.435(b) asks for the bundle factor from 50 V up; applied at every voltage"
        chain = replace(chain, assumptions=(*chain.assumptions, note))
    return chain


EVEN_FROM_C = 80.0
"""From this class up the columns of table 5 go by the wire's heat alone; those of 60 and 75 °C are 10 A alike for
18 AWG, where VDE 0298-4 has 15 A for 0.75 mm² and NEC 310.17 has 18 A for 18 AWG at 90 °C."""


def vehicle(q: Question) -> Chain:
    """33 CFR 183.425 from 18 AWG up, AC 43.13-1B table 11-9 for thinner wire; else an estimate.

    A size in mm² is estimated by the heat balance, with two or three loaded conductors at the published ratio of a
    cable's core and more by 33 CFR 183.425. From the class of 80 °C up the row of the next thicker AWG size is
    asked too, and the lesser counts; below it VDE 0298-4 has rows of the very size and class.
    """
    if q.gauge.system is GaugeSystem.AWG and q.gauge.area_mm2 < SMALLEST_CFR_MM2:
        return table_or_estimate(table_11_9_beyond_aircraft(), q, cfr_bundle)
    if q.gauge.system is GaugeSystem.AWG:
        return table_or_estimate(CFR_183, q, cfr_bundle)
    why = f"{q.gauge} is not in {CFR_183.title}"
    free = estimate(q, cfr_bundle(q) if q.loaded > CORES_OF_A_CABLE else None, why)
    if q.limit_c < EVEN_FROM_C:
        return free
    thicker = next((g for g in CFR_183.gauges() if g.area_mm2 >= q.gauge.area_mm2), None)
    by_row = scaled(CFR_183, q, why, thicker) if thicker is not None else None
    if by_row is None or by_row.allowed_a is None or free.allowed_a is None or free.allowed_a <= by_row.allowed_a:
        return free
    return by_row
