"""NEC (NFPA 70) 310.16 and 310.17 with ambient, adjustment and 240.4(D)."""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.elements import GaugeSystem
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Column, Question, Step, count_step
from loadloom.graph.results import Cap, FactorFormula


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


def nec(q: Question) -> Chain:
    """NEC 310.16 (raceway, cable or earth), capped by the greatest device of 240.4(D)."""
    return _with_240_4_d(NEC_310_16.rate(q), q)


def nec_free_air(q: Question) -> Chain:
    """NEC 310.17 (single conductors in free air), capped by the greatest device of 240.4(D)."""
    return _with_240_4_d(NEC_310_17.rate(q), q)


def _with_240_4_d(chain: Chain, q: Question) -> Chain:
    row = tables.by_size("nec_240_4_d").get(q.gauge.size)
    if chain.missing is not None or row is None:
        return chain
    cap = Cap("greatest over-current device, 240.4(D)", float(row["device_a"]), tables.citation(row["source_id"]))
    return replace(chain, caps=(*chain.caps, cap))
