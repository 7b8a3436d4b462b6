"""NEC (NFPA 70) 310.16 and 310.17 with ambient and adjustment factors, and the terminals of 110.14(C)."""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.model.elements import Gauge, GaugeSystem
from loadloom.graph.model.results import Cap, FactorFormula
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Column, Question, Step, count_step, unrated


def nec_adjustment(q: Question) -> Step:
    """NEC 310.15(C)(1): adjustment by number of current-carrying conductors."""
    return count_step("nec_adjustment", "conductors", q.loaded, "current-carrying conductors")


def _nec_columns() -> tuple[Column, ...]:
    found = []
    for name in ("60", "75", "90"):
        points = tuple(
            (float(row["upto_c"]), factor)
            for row in tables.rows("nec_ambient")
            if (factor := tables.number(row, name)) is not None
        )
        formula = FactorFormula("steps", points=points)
        found.append(Column(float(name), name, formula, "NEC 310.15(B), 30 °C base, band", "S13b", "REPRODUCED"))
    return tuple(found)


NEC_310_16 = AmpacityTable("NEC 310.16", "nec_310_16", GaugeSystem.AWG, _nec_columns(), nec_adjustment)
NEC_310_17 = AmpacityTable("NEC 310.17", "nec_310_17", GaugeSystem.AWG, _nec_columns(), nec_adjustment)


SIXTY_OF_NINETY = 0.6
"""The least ratio of the 60 °C column to the 90 °C column of 310.16 (14 AWG: 15 of 25 A): what 18 and 16 AWG, which
have the 90 °C column alone, are taken to carry at cooler terminals."""


def nec(q: Question) -> Chain:
    """NEC 310.16 (raceway, cable or earth), capped by what the terminals stand (110.14(C))."""
    return with_terminal(NEC_310_16.rate(q), NEC_310_16, q)


def nec_free_air(q: Question) -> Chain:
    """NEC 310.17 (single conductors in free air), capped by what the terminals stand (110.14(C)).

    The terminals' cap is that of 310.16, which 110.14(C)(1) names for every conductor. A core of a cable is no
    single conductor: 310.16 counts for it.
    """
    if not q.in_cable:
        return with_terminal(NEC_310_17.rate(q), NEC_310_16, q)
    chain = NEC_310_16.rate(q)
    note = "a core of a cable is no single conductor in free air: NEC 310.16 counts"
    return with_terminal(replace(chain, assumptions=(*chain.assumptions, note)), NEC_310_16, q)


def with_terminal(chain: Chain, table: AmpacityTable, q: Question) -> Chain:
    """The chain with the cap of NEC 110.14(C): the column of the terminals' temperature, with no factor applied.

    Ambient and adjustment factors hold for the conductor's own column; the terminal's is left as printed. Terminals
    that are stated to stand what the insulation stands do not cap. An ambient that is not below what the terminals
    stand leaves no current at all.
    """
    limit_c = q.terminal.limit_c
    if chain.missing is not None or (q.terminal.stated and limit_c >= q.limit_c):
        return replace(chain, with_terminal=True)
    words = f"terminals of {limit_c:g} °C" if q.terminal.stated else f"terminals of {limit_c:g} °C (not stated)"
    if q.ambient_c >= limit_c:
        return unrated(f"the ambient of {q.ambient_c:g} °C is not below its {words}")
    row = table.row(_size_at_most(table, q.gauge))
    cells = [
        (column.limit_c, cell)
        for column in table.columns
        if row is not None and (cell := tables.number(row, column.name)) is not None
    ]
    cap_a = next((cell for at_c, cell in reversed(cells) if at_c <= limit_c), None)
    estimate = chain.estimate
    if cap_a is None and cells and limit_c >= 60.0:
        cap_a, estimate = cells[0][1] * SIXTY_OF_NINETY, True
    if cap_a is None:
        return unrated(f"{table.title} has no column for {q.gauge} at its {words}")
    notes = chain.assumptions
    if not q.terminal.stated:
        notes = (*notes, f"terminals are not stated: {limit_c:g} °C, the default of NEC 110.14(C)(1)")
    cap = Cap(f"{words}, {table.title}, no factor applied", cap_a, tables.citation("S13c"))
    return replace(chain, caps=(*chain.caps, cap), estimate=estimate, assumptions=notes, with_terminal=True)


def _size_at_most(table: AmpacityTable, gauge: Gauge) -> Gauge:
    """The size itself, or the next thinner one of the table: as a cap that is the safe side."""
    if table.row(gauge) is not None:
        return gauge
    return next((g for g in reversed(table.gauges()) if g.area_mm2 <= gauge.area_mm2), gauge)


def greatest_device_a(gauge: Gauge) -> tuple[float, str] | None:
    """The greatest over-current device for a small copper conductor in A, and the citation: NEC 240.4(D)."""
    row = tables.by_size("nec_240_4_d").get(gauge.size) if gauge.system is GaugeSystem.AWG else None
    return (float(row["device_a"]), tables.citation(row["source_id"])) if row is not None else None
