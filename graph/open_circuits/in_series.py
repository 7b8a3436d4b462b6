"""Loads that one open conductor or contact leaves in series between two voltages.

Where loads of 12 V and of 5 V, or of a plus and a minus rail, share a return and it opens, nothing holds their
joint any more: it may come to any voltage between those at the loads' other ends, as their resistances say (the
lost neutral of any textbook on installations). The load of 5 V then gets up to 7 V the wrong way round, and
each of two loads on ±12 V up to 24 V. How much it is hangs on what the loads draw at voltages that nobody
states.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import BoolArray
from loadloom.graph.circuit.solution import Solution
from loadloom.graph.model.elements import Load

LEAST_V = 1.0
"""Less than this beside its own voltage, or the wrong way round, is not told (common practice, no published
source)."""


@dataclass(frozen=True, slots=True)
class InSeries:
    """``opened``: ids of the parts of which any one leaves the ``loads`` (ids) in series. By load id in V: the most
    that it may get the wrong way round, and the most the right way where that is more than it is fed with.
    """

    opened: tuple[str, ...]
    loads: tuple[str, ...]
    reversed_v: tuple[tuple[str, float], ...]
    raised_v: tuple[tuple[str, float], ...]


def left_in_series(solution: Solution, loads: Iterable[Load], parts: Iterable[str]) -> Iterator[InSeries]:
    """What any one of the ``parts`` (ids) leaves in series when it opens. ``solution``: voltages with no load."""
    n = solution.network
    known = n.node_index  # without loads, so that a load that no part leads to is in none of it
    fed = [x for x in loads if x.fitted and x.demand and x.node_plus in known and x.node_minus in known]
    closed = np.flatnonzero(np.isfinite(n.edge_resistance_ohm))
    a = np.concatenate([n.edge_a[closed], n.source_minus])
    b = np.concatenate([n.edge_b[closed], n.source_plus])
    every = np.ones(len(n.node_ids), dtype=np.bool_)
    blocks = find_blocks(len(every), a, b, np.ones(len(a), dtype=np.bool_), every)
    plus = np.array([known[load.node_plus] for load in fed], dtype=np.int64)
    minus = np.array([known[load.node_minus] for load in fed], dtype=np.int64)
    asked = set(parts)
    found: dict[tuple[object, ...], tuple[InSeries, list[str]]] = {}
    for k in np.flatnonzero(blocks.bridge[: len(closed)]).tolist() if len(fed) > 1 else ():
        name = n.edge_ids[closed[k]]
        if name not in asked:
            continue
        piece, below = blocks.piece == blocks.piece[a[k]], blocks.below[k]
        side = piece & (blocks.entry >= blocks.entry[below]) & (blocks.entry < blocks.leave[below])
        if side[n.source_plus].any():
            side = piece & ~side
            if side[n.source_plus].any():
                continue
        other = np.where(side[plus], minus, plus)
        between = (side[plus] != side[minus]) & piece[other]
        if int(between.sum()) < 2:
            continue
        here = _between(solution, [load for load, yes in zip(fed, between.tolist(), strict=True) if yes], side)
        if here is not None:
            key = (here.loads, here.reversed_v, here.raised_v)
            found.setdefault(key, (here, []))[1].append(name)
    for here, names in found.values():
        yield InSeries(tuple(names), here.loads, here.reversed_v, here.raised_v)


def _between(solution: Solution, loads: list[Load], side: BoolArray) -> InSeries | None:
    """What loads get that have one end each at a joint on this ``side`` (N,) that nothing else holds."""
    place, volts = solution.network.node_index, solution.node_v
    ends = [(place[load.node_plus], place[load.node_minus]) for load in loads]
    held_v = [float(volts[m if side[p] else p]) for p, m in ends]
    low, high = min(held_v), max(held_v)
    if high - low < LEAST_V:
        return None
    turned, raised = [], []
    for load, (p, m), at_v in zip(loads, ends, held_v, strict=True):
        least, most = (low - at_v, high - at_v) if side[p] else (at_v - high, at_v - low)
        usual_v = float(volts[p] - volts[m])
        if least <= -LEAST_V:
            turned.append((load.id, round(-least, 6)))
        if most >= usual_v + LEAST_V and (load.maximum_v is None or most > load.maximum_v):
            raised.append((load.id, round(most, 6)))
    if not turned and not raised:
        return None
    return InSeries((), tuple(load.id for load in loads), tuple(turned), tuple(raised))
