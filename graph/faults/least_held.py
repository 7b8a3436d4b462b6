"""The least that a device must hold for a part to come above a limit: the fault search with goal and row exchanged.

Within one state all currents are linear in the fault current x and the load currents y. The device's current is
made the least under which some x and y still bring the part to its limit while all other rows hold. The highest
setting that protects the part is where the device holds that current. No setting has to be tried.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.sustained_fault import Queries, Search
from loadloom.graph.faults.tolerances import NOTHING_A, PAST, SAME, TINY


def least_held(
    search: Search, device: int, limit_a: Mapping[str, float], known: Mapping[str, float]
) -> dict[str, float]:
    """The least current in A that branch ``device`` holds in a fault that brings a part to its limit, by part.

    ``limit_a``: the limits of the parts that are asked for. ``known``: what other states need, in A. Only less than
    that is returned, and of parts that need more than the one that needs least only as far as it is known anyway.
    """
    queries = search.queries(search.places)
    if queries is None:
        return {}
    names = [search.name(k) for k in queries.branch.tolist()]
    limits = np.array([limit_a.get(name, math.inf) for name in names])
    need = limits * (1.0 + PAST) - queries.base
    bound = _bound(search, queries, device, need)
    above = search.bounds(queries.response, queries.place, queries.gain, queries.base, queries.helps)[1]
    bound[(above - queries.base < need) | ~np.isfinite(need)] = math.inf
    found, best = dict(known), dict[str, int]()
    order = [q for q in np.argsort(bound, kind="stable").tolist() if math.isfinite(bound[q])]
    size = 1
    while order:
        least = min((a for a in found.values() if a > NOTHING_A), default=math.inf)
        order = [q for q in order if bound[q] < min(found[names[q]], least) * (1.0 - SAME)]
        batch, order = order[:size], order[size:]
        programmes = [_programme(search, queries, device, q, float(need[q])) for q in batch]
        for q, answer in zip(batch, solve_programmes(programmes), strict=True):
            if answer is not None and float(answer[-1]) < found[names[q]]:
                found[names[q]], best[names[q]] = float(answer[-1]), q
        size *= 2
    at_limit = [_programme(search, queries, device, q, float(limits[q] - queries.base[q])) for q in best.values()]
    for name, answer in zip(best, solve_programmes(at_limit), strict=True):
        if answer is not None:
            found[name] = min(found[name], float(answer[-1]))
    return {name: found[name] for name in best}


def _bound(search: Search, queries: Queries, device: int, need: FloatArray) -> FloatArray:
    """(Q,) no more than the device's current can be, by weak duality with the price of the fault current alone."""
    flows, most = search.variant.flows, queries.response.most_a[queries.place]
    bound = np.zeros(len(need))
    for sign in (1.0, -1.0) if search.variant.piece.reverse_too[device] else (1.0,):
        per_fault = sign * queries.response.branch[device, queries.place]
        per_load = sign * search.loaded.load_branch[device]
        price = np.where((per_fault > TINY) & (need > 0.0), per_fault / queries.gain, 0.0)
        eased = np.minimum(per_load[None, :] - price[:, None] * queries.helps, 0.0)
        least = sign * flows.own_a[device] + price * np.where(price > 0.0, need, 0.0) + (eased * most).sum(axis=1)
        bound = np.maximum(bound, np.where(per_fault < -TINY, 0.0, least))
    return bound


def _programme(search: Search, queries: Queries, device: int, q: int, need_a: float) -> Programme:
    """The programme of one query. The device's own rows hold its current under one more variable, the least."""
    place, helps = int(queries.place[q]), queries.helps[q]
    full = search.loaded.programme(queries.response, place, 0.0, np.zeros(len(helps)))
    kept = np.ones(len(full.limit), dtype=np.bool_)
    kept[: len(search.variant.rows.device)] = search.variant.rows.device != device
    through = np.concatenate([[queries.response.branch[device, place]], search.loaded.load_branch[device]])
    own = float(search.variant.flows.own_a[device])
    both = bool(search.variant.piece.reverse_too[device])
    rows = np.concatenate(
        [
            np.column_stack([full.rows[kept], np.zeros(np.count_nonzero(kept))]),
            np.concatenate([[-queries.gain[q]], -helps, [0.0]])[None],
            np.concatenate([through, [-1.0]])[None],
            *([np.concatenate([-through, [-1.0]])[None]] if both else []),
        ]
    )
    limit = np.concatenate([full.limit[kept], [-need_a, -own], [own] if both else []])
    gain = np.zeros(len(full.gain) + 1)
    gain[-1] = -1.0
    return Programme(gain, rows, limit, np.concatenate([full.most, [np.inf]]))
