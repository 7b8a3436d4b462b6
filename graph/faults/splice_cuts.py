"""What a splice passes, as sums of currents of the branches at it, so that the fault search can answer for it.

A splice passes half the sum of the magnitudes of the currents at it, which is what flows in, which is the greatest
sum of the currents of any choice of its branches. Each choice is a *cut*: linear in the currents of the branches,
like the current of a part. A branch with nothing but loads behind it only ever takes from a feed (or gives to a
return), and needs no choice of its own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.faults.budgets import MOST_CHOSEN
from loadloom.graph.faults.piece import Piece, hang_together
from loadloom.graph.model.harness import Harness


@dataclass(frozen=True, slots=True)
class Cut:
    """The current into a splice through some of its branches; ``signs`` +1 where a branch's b end is there."""

    splice: str
    branches: tuple[int, ...]
    signs: tuple[float, ...]


@dataclass(frozen=True)
class Cuts:
    """The cuts of a piece. ``weights`` (V, B): of every branch's current in each. ``unknown``: splices without."""

    listed: tuple[Cut, ...]
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
    found: list[Cut] = []
    unknown: set[str] = set()
    a, b = piece.branches.a, piece.branches.b
    for name, node in splices_in(harness, piece):
        choices = _choices(piece, node)
        if len(choices) > MOST_CHOSEN:
            unknown.add(name)
            continue
        for size in range(1, len(choices) + 1):
            for some in combinations(choices, size):
                found.append(Cut(name, some, tuple(1.0 if int(b[k]) == node else -1.0 for k in some)))
    weights = np.zeros((len(found), len(a)))
    for v, cut in enumerate(found):
        weights[v, list(cut.branches)] = cut.signs
    return Cuts(tuple(found), weights, frozenset(unknown))


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
