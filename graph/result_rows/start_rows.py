"""Rows of what loads draw when they are switched on or stand still."""

from __future__ import annotations

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import StartRow


def start_rows(facts: Facts) -> tuple[StartRow, ...]:
    """One row for each load and way to start, its greatest over the cases; stalls in every arrangement."""
    worst: dict[tuple[str, str], StartRow] = {}
    for row in (*_events(facts), *_charges(facts)):
        known = worst.get((row.id, row.kind))
        if known is None or (row.current_a or 0.0) > (known.current_a or 0.0):
            worst[row.id, row.kind] = row
    return tuple(sorted((*worst.values(), *_stalls(facts)), key=lambda row: (natural_key(row.id), row.kind)))


def _events(facts: Facts) -> Iterator[StartRow]:
    for case in facts.cases:
        for load in facts.harness.loads if case.for_a_time else ():
            there = load.under(case.state)
            if there.calm is None or there.demand is None:
                continue
            time_s = there.duration_s
            i2t = there.demand**2 * time_s if time_s is not None else None
            kind = "inrush" if (case.state or "").startswith("inrush") else "start"
            yield StartRow(
                id=load.id, kind=kind, case=case.id, current_a=there.demand, duration_s=time_s, i2t_a2s=i2t
            )


def _charges(facts: Facts) -> Iterator[StartRow]:
    for charge in facts.protection.charges:
        for name, pulse in charge.own.items():
            limited = name not in charge.unlimited
            yield StartRow(
                id=name,
                kind="capacitance",
                case=charge.case,
                current_a=pulse.peak_a if limited else None,
                duration_s=pulse.block_s if limited else None,
                i2t_a2s=pulse.i2t_a2s if limited else None,
            )


def _stalls(facts: Facts) -> Iterator[StartRow]:
    for stall in facts.protection.stalls:
        slowest_s = stall.slowest_s
        yield StartRow(
            id=stall.load,
            kind="stall",
            case=stall.case,
            current_a=stall.greatest_a,
            duration_s=stall.stands_s,
            i2t_a2s=stall.greatest_a**2 * stall.stands_s if stall.stands_s is not None else None,
            least_a=stall.least_a,
            cleared_by=stall.cleared_by,
            opens_fastest_s=stall.fastest_s,
            opens_slowest_s=slowest_s if slowest_s is not None and math.isfinite(slowest_s) else None,
        )
