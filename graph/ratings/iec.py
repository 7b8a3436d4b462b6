"""IEC 60204-1 (machines) and IEC 60364-5-52 (buildings): mm² sizes, PVC, three loaded conductors."""

from __future__ import annotations

import math
from dataclasses import replace

from loadloom.graph.elements import GaugeSystem
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Column, Question, Step, count_step, unrated
from loadloom.graph.results import FactorFormula


def iec_grouping(q: Question) -> Step:
    """IEC 60364-5-52 table B.52.17 by number of circuits.

    The tables are for three loaded conductors, so up to three are one circuit; beyond, every two are one (a way
    out and its return), which gives the most circuits.
    """
    circuits = 1 if q.loaded <= 3 else math.ceil(q.loaded / 2)
    return count_step("iec60364_grouping", "circuits", circuits, _loaded_words(q.loaded, circuits))


def _loaded_words(loaded: int, circuits: int) -> str:
    return f"circuit{'s' if circuits != 1 else ''} ({loaded} loaded conductor{'s' if loaded != 1 else ''})"


def _iec_60204(method: str) -> AmpacityTable:
    points = tuple((float(r["upto_c"]), float(r["70"])) for r in tables.rows("iec60204_ambient"))
    formula = FactorFormula("steps", points=points)
    column = Column(70.0, method, formula, "IEC 60204-1, 40 °C base, next step up", "S15", "FROM_MEMORY")
    return AmpacityTable(
        f"IEC 60204-1 table 6 ({method})", "iec60204_table_6", GaugeSystem.MM2, (column,), iec_grouping
    )


IEC_60204_B2 = _iec_60204("B2")
IEC_60204_E = _iec_60204("E")


def iec_60364(q: Question) -> Chain:
    """IEC 60364-5-52 method B2, PVC, three loaded conductors, from 4 mm² up; smaller: IEC 60204-1 B2 at 40 °C.

    The small sizes of method B2 are taken from IEC 60204-1, which gives the same method at 40 °C.
    """
    row = next(
        (r for r in tables.rows("iec60364_b2") if math.isclose(float(r["size"]), q.gauge.area_mm2, rel_tol=1e-9)),
        None,
    )
    if q.gauge.system is not GaugeSystem.MM2:
        return unrated(f"{q.gauge} is not in IEC 60364-5-52, which is in mm²")
    if row is None:
        chain = IEC_60204_B2.rate(q)
        if chain.missing is not None:
            return chain
        note = f"{q.gauge} by IEC 60204-1 (B2), the same method at 40 °C"
        return replace(chain, assumptions=(*chain.assumptions, note))
    base_a = float(row["30"])
    points = tuple((float(t), float(row[t]) / base_a) for t in ("30", "40", "45", "50", "55"))
    formula = FactorFormula("steps", points=points)
    column = Column(70.0, "30", formula, "IEC 60364-5-52, column of the next ambient up", "S16", row["status"])
    table = AmpacityTable("IEC 60364-5-52 (B2)", "iec60364_b2", GaugeSystem.MM2, (column,), iec_grouping)
    return table.rate(q)
