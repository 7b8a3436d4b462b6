"""Bases for equipment: IEC 60204-1 for mm² sizes; NEC 310.16 and AC 43.13-1B table 11-9 for AWG sizes."""

from __future__ import annotations

from loadloom.graph.model.elements import GaugeSystem
from loadloom.graph.ratings.aviation import table_11_9_beyond_aircraft
from loadloom.graph.ratings.chain import AmpacityTable, Chain, Question
from loadloom.graph.ratings.estimates import table_or_estimate
from loadloom.graph.ratings.iec import IEC_60204_B2, IEC_60204_E, iec_grouping
from loadloom.graph.ratings.nec import NEC_310_16, nec_adjustment, with_terminal

SMALLEST_NEC_AWG = 14
"""From this size up NEC 310.16 counts for equipment; smaller wire goes by AC 43.13-1B table 11-9."""


def general_equipment(q: Question) -> Chain:
    """IEC 60204-1 method B2 (cables in conduit or trunking) for mm²; NEC 310.16 or AC 43.13-1B for AWG.

    What these do not cover is scaled from their nearest row by the heat balance, and says so.
    """
    return _equipment(q, IEC_60204_B2)


def general_equipment_open(q: Question) -> Chain:
    """As ``general_equipment``, with IEC 60204-1 method E (cables on open trays) for mm²."""
    return _equipment(q, IEC_60204_E)


def _equipment(q: Question, metric: AmpacityTable) -> Chain:
    if q.gauge.system is GaugeSystem.MM2:
        return table_or_estimate(metric, q, iec_grouping)
    if _awg_number(q.gauge.size) <= SMALLEST_NEC_AWG:
        return with_terminal(table_or_estimate(NEC_310_16, q, nec_adjustment), NEC_310_16, q)
    return table_or_estimate(table_11_9_beyond_aircraft(), q, nec_adjustment)


def _awg_number(size: str) -> int:
    """18 for ``18``, 0 for ``1/0``, −3 for ``4/0``."""
    return 1 - int(size.split("/")[0]) if "/" in size else int(size)
