"""Which devices and outputs protect a conductor or contact wherever a fault may be, each of them alone."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import SAME, TINY
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import Rating


def note_cover(search: Search, ratings: Mapping[str, Rating], worst: WorstFaults) -> None:
    """Devices and outputs each of which alone keeps a part within its allowed current, nearest first."""
    piece = search.variant.piece
    acting = np.flatnonzero(np.isfinite(piece.held_a))
    if not len(acting) or not search.places.listed:
        return
    response = search.loaded.response_at(search.places)
    gain = np.abs(response.branch[search.parts])
    row_of = {k: n for n, k in enumerate(search.parts.tolist())}
    for end in search.places.own:
        row = row_of.get(end.branch)
        if row is None:
            continue  # not asked for
        near, far = response.on_end(end)
        gain[row, end.place] = max(gain[row, end.place], abs(near), abs(far))
    a, b = piece.branches.a, piece.branches.b
    count = len(piece.node_ids)
    links = coo_array((np.ones(len(a)), (a, b)), shape=(count, count)).tocsr()
    hops = dijkstra(links, directed=False, unweighted=True, indices=b[acting])
    most = response.most_a.min(axis=0, initial=np.inf) if len(search.loaded.plus) else np.zeros(0)
    base = np.maximum(*(np.abs(end[search.parts]) for end in search.own_ends_a))
    bound = np.full((len(acting), len(search.parts)), np.inf)
    momentary = np.full(len(search.parts), np.inf)
    at_once = most * np.where(search.loaded.share < 1.0, search.loaded.peak, 1.0)
    shortest_s = float(piece.loads.on_s.min(initial=np.inf))
    for n, d in enumerate(acting.tolist()):
        through = np.abs(response.branch[d])
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(gain > TINY, gain / np.where(through > TINY, through, 0.0)[None, :], 0.0).max(axis=1)
        share = np.where(np.isfinite(share), share, np.inf)
        left = np.abs(search.loaded.load_branch[search.parts]) - np.minimum(share, 1e12)[:, None] * np.abs(
            search.loaded.load_branch[d]
        )
        bound[n] = base + share * piece.held_a[d] + np.maximum(left, 0.0) @ most
        if piece.rides_s[d] < shortest_s:
            momentary = np.fmin(momentary, base + share * piece.held_a[d] + np.maximum(left, 0.0) @ at_once)
    for n, k in enumerate(search.parts.tolist()):
        name = piece.branches.ids[k]
        worst.at_once[name] = max(worst.at_once.get(name, 0.0), float(momentary[n]))
        rating = ratings.get(name)
        if rating is None or rating.allowed_a is None:
            continue
        good = np.flatnonzero(bound[:, n] <= rating.allowed_a * (1.0 + SAME)).tolist()
        distance = np.minimum(hops[:, a[k]], hops[:, b[k]])
        good.sort(key=lambda i: (distance[i], natural_key(piece.branches.ids[int(acting[i])])))
        ids = tuple(piece.branches.ids[int(acting[i])] for i in good)
        known = worst.cover.get(name)
        worst.cover[name] = ids if known is None else tuple(x for x in known if x in ids)
