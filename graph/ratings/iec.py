"""IEC 60204-1 (machines) and IEC 60364-5-52 (buildings): mm² sizes, PVC, three loaded conductors."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from loadloom.graph.model.elements import GaugeSystem
from loadloom.graph.model.results import FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Column, Question, Step, count_step, unrated

LAYOUT_WORDS = {
    "wall": "single layer on a wall or floor",
    "tray": "single layer on a perforated tray",
    "ladder": "single layer on a ladder",
}


def circuits_of(loaded: int) -> int:
    """Circuits that a number of loaded conductors make.

    The tables are for three loaded conductors, so up to three are one circuit; beyond, every two are one (a feed
    and its return), which gives the most circuits.
    """
    return 1 if loaded <= 3 else math.ceil(loaded / 2)


def grouping(q: Question, layouts: tuple[str, ...]) -> Step:
    """IEC 60364-5-52 table B.52.17 by number of circuits; bunched, unless one of ``layouts`` is stated.

    ``layouts`` are those that the basis' method of installation has factors for.
    """
    circuits = circuits_of(q.loaded)
    layout = q.layout if q.layout in layouts else "bunched"
    words = _loaded_words(q.loaded, circuits) + ("" if layout == "bunched" else f", {LAYOUT_WORDS[layout]}")
    return count_step("iec60364_grouping", "circuits", circuits, words, layout)


def grouping_for(layouts: tuple[str, ...]) -> Callable[[Question], Step]:
    """The grouping step of a method of installation that has factors for these layouts."""
    return lambda q: grouping(q, layouts)


iec_grouping = grouping_for(())
"""In conduit or trunking (method B2) cables are always bunched."""


def _loaded_words(loaded: int, circuits: int) -> str:
    return f"circuit{'s' if circuits != 1 else ''} ({loaded} loaded conductor{'s' if loaded != 1 else ''})"


def _iec_60204(method: str, layouts: tuple[str, ...]) -> AmpacityTable:
    points = tuple((float(r["upto_c"]), float(r["70"])) for r in tables.rows("iec60204_ambient"))
    formula = FactorFormula("steps", points=points)
    column = Column(70.0, method, formula, "IEC 60204-1, 40 °C base, next step up", "S15", "FROM_MEMORY")
    return AmpacityTable(
        f"IEC 60204-1 table 6 ({method})", "iec60204_table_6", GaugeSystem.MM2, (column,), grouping_for(layouts)
    )


IEC_60204_B2 = _iec_60204("B2", ())
IEC_60204_E = _iec_60204("E", BASES["general-equipment-open"].layouts)


def iec_60364(q: Question) -> Chain:
    """IEC 60364-5-52 method B2 (cables in conduit), PVC, three loaded conductors; under 1.5 mm² IEC 60204-1 B2.

    IEC 60204-1 gives the same method at 40 °C.
    """
    chain = _by_ambient("iec60364_b2", "B2", (), q)
    small = q.gauge.system is GaugeSystem.MM2 and IEC_60204_B2.row(q.gauge) is not None
    if chain.missing is None or not small or _row("iec60364_b2", q) is not None:
        return chain
    chain = IEC_60204_B2.rate(q)
    if chain.missing is not None:
        return chain
    note = f"{q.gauge} by IEC 60204-1 (B2), the same method at 40 °C"
    return replace(chain, assumptions=(*chain.assumptions, note))


def iec_60364_c(q: Question) -> Chain:
    """IEC 60364-5-52 method C (cables clipped to a wall), PVC, three loaded conductors, 1.5 to 35 mm²."""
    return _by_ambient("iec60364_c", "C", BASES["building-iec-c"].layouts, q)


def _row(file: str, q: Question) -> tables.Row | None:
    return next(
        (r for r in tables.rows(file) if math.isclose(float(r["size"]), q.gauge.area_mm2, rel_tol=1e-9)), None
    )


def _by_ambient(file: str, method: str, layouts: tuple[str, ...], q: Question) -> Chain:
    """A table that prints the current at every ambient."""
    if q.gauge.system is not GaugeSystem.MM2:
        return unrated(f"{q.gauge} is not in IEC 60364-5-52, which is in mm²")
    row = _row(file, q)
    if row is None:
        return unrated(f"{q.gauge} is not in IEC 60364-5-52 ({method})")
    base_a = float(row["30"])
    points = tuple((float(t), float(row[t]) / base_a) for t in ("30", "40", "45", "50", "55"))
    formula = FactorFormula("steps", points=points)
    column = Column(
        70.0, "30", formula, "IEC 60364-5-52, column of the next ambient up", row["source_id"], row["status"]
    )
    title = f"IEC 60364-5-52 ({method})"
    return AmpacityTable(title, file, GaugeSystem.MM2, (column,), grouping_for(layouts)).rate(q)
