"""Loads that draw beside the fault of a part, and by how much they lower the voltage at it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from typing import overload

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.radial.lands_on_return import Landing
from loadloom.graph.faults.radial.loads import drawn_at_nodes
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.tree import along_path
from loadloom.graph.faults.tolerances import MET


class LoadsBeside:
    """Which loads draw beside the fault of each part, as ``PartAnswers.beside`` and ``spared`` say."""

    def __init__(self, answer: PartAnswers, landing: Landing | None) -> None:
        self.answer, self.landing = answer, landing

    @cached_property
    def _by_class(self) -> tuple[IntArray, IntArray]:
        """The drawing loads in order of their class, and those classes."""
        landing = self.landing
        assert landing is not None
        cls = landing.returns.cls[len(self.answer.piece.ties.high) :]
        order = np.argsort(cls, kind="stable")
        return landing.drawing[order], cls[order]

    def _landing_in(self, part: int) -> tuple[IntArray, BoolArray]:
        """Loads that land behind a part, and which of them draw beside its fault."""
        cls, spared = int(self.answer.beside[part]), int(self.answer.spared[part])
        landing, piece = self.landing, self.answer.piece
        if cls < 0 or landing is None:
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.bool_)
        loads, classes = self._by_class
        first, last = np.searchsorted(classes, [cls, int(landing.classes.leave[cls])]).tolist()
        inside = loads[first:last]
        draws = np.ones(len(inside), dtype=np.bool_)
        if spared >= 0:
            top = int(piece.top[spared])
            at = self._load_entry[inside]
            draws = (at < piece.forest.entry[top]) | (at >= piece.forest.leave[top])
        return inside, draws

    @cached_property
    def _load_entry(self) -> IntArray:
        """(L,) where each load hangs in the order of the ways out."""
        return self.answer.piece.forest.entry[self.answer.piece.piece.loads.plus]

    def of(self, part: int) -> IntArray:
        """The piece's loads that draw beside the fault of a part, by position."""
        inside, draws = self._landing_in(part)
        return inside[draws]

    @cached_property
    def _fall_on_return(self) -> tuple[FloatArray, FloatArray]:
        """(forest nodes,) fall of every load together along the return, and resistance to the terminal."""
        piece, tree = self.answer.piece, self.answer.piece.tree
        n = tree.node_count
        through = piece.forest.below(drawn_at_nodes(piece, piece.load_most_a, low=True))[:n]
        fall = along_path(tree.parent, np.where(piece.is_feed, 0.0, piece.ohm_in * through))
        return np.concatenate([fall, fall[tree.entry]]), np.concatenate([piece.ohm, piece.ohm[tree.entry]])

    def fall_v(self, part: int, high: int, low: int) -> float:
        """By how much the loads beside a part's fault lower the voltage between the fault's two nodes, in V."""
        piece, forest, landing = self.answer.piece, self.answer.piece.forest, self.landing
        inside, draws = self._landing_in(part)
        if landing is None or not draws.any():
            return 0.0
        most = piece.load_most_a
        # On the return: all that lands there, less what stays off.
        fall, ohm = self._fall_on_return
        node = int(landing.classes.node[int(self.answer.beside[part])])
        off = inside[~draws]
        if not forest.entry[node] <= forest.entry[low] < forest.leave[node]:
            # The fault lands nearer to the terminal than all of them, or on one of several ways beside them.
            total = self._mutual_ohm(low, node) * float(most[inside[draws]].sum())
            off = off[:0]
        else:
            total = float(fall[low] - fall[node] + ohm[node] * most[inside].sum())
        if len(off):
            cls = landing.classes.of[piece.piece.loads.minus[off]]
            meet = landing.classes.meet(np.full(len(off), int(landing.classes.of[low])), cls)
            total -= float(ohm[landing.classes.node[meet]] @ most[off])
        # On the way out: up from the fault until everything that draws is behind.
        loads = inside[draws]
        at, drawn = self._load_entry[loads], most[loads]
        every = float(drawn.sum())
        tree, chain = piece.tree, int(piece.tree.node_chain[high])
        if chain >= 0:
            # On one of several ways: what is drawn behind the joint where they meet shares a part of it.
            meet_at = int(tree.exit[tree.above[high]])
            behind_it = drawn[(at >= forest.entry[meet_at]) & (at < forest.leave[meet_at])].sum()
            shared = tree.node_t[high] * tree.others[chain] / (tree.rho[chain] + tree.others[chain])
            total += float(shared * behind_it)
        while True:
            behind = float(drawn[(at >= forest.entry[high]) & (at < forest.leave[high])].sum())
            if behind >= every * (1.0 - MET):
                return total + float(piece.ohm[high]) * every
            total += float(piece.ohm_in[high]) * behind
            if piece.tree.parent[high] == high:
                return total
            high = int(piece.tree.parent[high])

    def _mutual_ohm(self, low: int, node: int) -> float:
        """Resistance that a fault at a node of the return shares with what lands at or behind another."""
        tree, piece, forest = self.answer.piece.tree, self.answer.piece, self.answer.piece.forest
        if forest.entry[low] <= forest.entry[node] < forest.leave[low]:
            return float(piece.ohm[low])
        chain, above = int(tree.node_chain[low]), int(tree.parent[low])
        shared = 0.0
        if chain >= 0:
            shared = float(tree.node_t[low] * tree.others[chain] / (tree.rho[chain] + tree.others[chain]))
        return float(piece.ohm[above]) + shared


class Beside(Sequence[tuple[str, float]]):
    """Loads that draw beside a fault, with their currents in A; made when asked for, since a trunk has many."""

    def __init__(self, loads: LoadsBeside, part: int) -> None:
        self._loads, self._part = loads, part

    @cached_property
    def _all(self) -> tuple[tuple[str, float], ...]:
        piece = self._loads.answer.piece
        names = piece.piece.loads.ids
        loads = self._loads.of(self._part).tolist()
        return tuple((names[n], float(piece.load_most_a[n])) for n in loads)

    def __len__(self) -> int:
        return len(self._all)

    @overload
    def __getitem__(self, index: int) -> tuple[str, float]: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[tuple[str, float], ...]: ...
    def __getitem__(self, index: int | slice) -> tuple[str, float] | tuple[tuple[str, float], ...]:
        return self._all[index]

    def __iter__(self) -> Iterator[tuple[str, float]]:
        return iter(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all)
