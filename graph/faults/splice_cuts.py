"""What a splice passes, as sums of currents of the branches at it, so that the fault search can answer for it.

A splice passes half the sum of the magnitudes of the currents at it, which is what flows in, which is the greatest
sum of the currents of any choice of its branches. Each choice is a *cut*: linear in the currents of the branches,
like the current of a part. A branch with nothing but loads behind it only ever takes from a feed (or gives to a
return), and needs no choice of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.budgets import MOST_CHOSEN
from loadloom.graph.faults.piece import Piece
from loadloom.graph.model.harness import Harness


@dataclass(frozen=True)
class Cuts:
    """The cuts of a piece: the splice of each, and ``weights`` (V, B) of every branch's current in it, +1 where the
    b end of a branch is at the splice. ``unknown``: splices without.
    """

    listed: tuple[str, ...]
    weights: FloatArray
    unknown: frozenset[str]


def splices_in(harness: Harness, piece: Piece) -> Iterator[tuple[str, int]]:
    """Ids and nodes of the splices with a rating in a piece."""
    for splice in harness.splices:
        node = piece.node_index.get(splice.node)
        if node is not None and splice.rating_a is not None:
            yield splice.id, node


def find_cuts(harness: Harness, piece: Piece) -> Cuts:
    """All cuts that what a fault can hold on the splices of a piece depends on."""
    found: list[str] = []
    unknown: set[str] = set()
    weights = [np.zeros((0, len(piece.branches.ids)))]
    for name, node in splices_in(harness, piece):
        choices = _choices(piece, node)
        if len(choices) > MOST_CHOSEN:
            unknown.add(name)
            continue
        every = _subsets(len(choices))
        here = np.zeros((len(every), len(piece.branches.ids)))
        here[:, choices] = every * np.where(piece.branches.b[choices] == node, 1.0, -1.0)
        weights.append(here)
        found += [name] * len(every)
    return Cuts(tuple(found), np.concatenate(weights), frozenset(unknown))


@cache
def _subsets(count: int) -> FloatArray:
    """(2^count - 1, count) every subset but the empty one as ones and zeros, the smallest first."""
    sizes = range(1, count + 1)
    some = (set(each) for size in sizes for each in combinations(range(count), size))
    return np.array([[float(k in each) for k in range(count)] for each in some]).reshape(-1, count)


def _choices(piece: Piece, node: int) -> list[int]:
    """Branches at a node whose current can turn round, or that other outputs or ways stand behind."""
    a, b = piece.branches.a, piece.branches.b
    here = (a == node) | (b == node)
    side = hang_together(len(piece.node_ids), a[~here], b[~here])
    is_source = np.arange(len(a)) >= piece.branches.edge_count
    fed = set(side[a[is_source & ~here]].tolist())
    at = np.flatnonzero(here).tolist()
    far = [int(side[b[k] if int(a[k]) == node else a[k]]) for k in at]
    if _both_ways(piece, node):
        return at
    return [k for k, behind in zip(at, far, strict=True) if is_source[k] or behind in fed or far.count(behind) > 1]


def _both_ways(piece: Piece, node: int) -> bool:
    """Whether a node is on copper that some feed and others draw from, as between outputs in series; with several
    outputs a fault from one to another may do so anywhere.
    """
    branches, loads, island = piece.branches, piece.loads, piece.island
    here = island[node]
    draws = (island[loads.plus] == here).any() or (island[branches.b[list(piece.sources)]] == here).any()
    gives = (island[loads.minus] == here).any() or (island[branches.a[list(piece.sources)]] == here).any()
    return len(piece.sources) > 1 or bool(draws and gives)
