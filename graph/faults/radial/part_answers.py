"""The answer of the closed form by part: let-through, exposure, and the fault that gives it, to be filled in."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import IntArray
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.splice_cuts import splices_in


class PartAnswers:
    """The answer for the P parts of a radial piece: its conductors and contacts, by position in ``geometry.parts``,
    and behind them its splices, each as the branch that leads to it would be answered for as a contact: what flows
    into a splice, or out of it, all flows through that one. ``splices`` are their ids.

    ``let_a`` (P,) let-through; ``exact`` (P,) whether it is reached; ``combined_overload_a`` (P,); ``gain`` (P,)
    the part's current per ampere of the fault; ``fault_a`` (P,) the fault's current; ``extent`` (P,) how much of
    the part carries it. ``tie`` (P,): the place among the piece's ties, -1: a pinch against the return terminal at
    ``share`` (P,) of the part's way from its near end. ``cross`` marks places among the ties between ways out.
    ``held_by`` (P,): branch of the device that just holds, -1 where copper does. ``beside`` (P,): class of the
    return whose loads draw beside the fault, -1 none; ``spared`` (P,): region whose loads stay off.
    """

    def __init__(self, geometry: PieceGeometry) -> None:
        self.piece = RadialPiece(geometry)
        tree = self.piece.tree
        led_to = dict(zip(tree.far[tree.bridge].tolist(), np.flatnonzero(tree.bridge).tolist(), strict=True))
        here = [] if len(self.piece.cross_ties.high) else list(splices_in(geometry.harness, geometry.piece))
        at = {name: led_to[node] for name, node in here if node in led_to and geometry.asks_for(name)}
        self.splices: tuple[str, ...] = tuple(at)
        self.parts: IntArray = np.array([*geometry.parts, *at.values()], dtype=np.int64)
        count = len(self.parts)
        self.let_a, self.combined_overload_a = np.zeros(count), np.zeros(count)
        self.exact = np.ones(count, dtype=np.bool_)
        self.gain, self.fault_a = np.ones(count), np.zeros(count)
        self.greatest_share = np.ones(count)
        self.extent, self.share = np.ones(count), np.ones(count)
        self.tie, self.held_by, self.beside, self.spared = (np.full(count, -1, dtype=np.int64) for _ in range(4))
        self.cross = np.zeros(count, dtype=np.bool_)
        self.is_conductor = np.isin(self.parts, np.array(geometry.conductors, dtype=np.int64))
        self.is_conductor[count - len(at) :] = False
        self.near, self.far = tree.near[self.parts], tree.far[self.parts]
        self.feed = self.piece.is_feed[self.near]

    @cached_property
    def ids(self) -> list[str]:
        """The parts' ids."""
        ids = self.piece.piece.branches.ids
        return [*(ids[k] for k in self.parts[: len(self.parts) - len(self.splices)].tolist()), *self.splices]

    @cached_property
    def row_of(self) -> Mapping[str, int]:
        """Position of every part by id."""
        return {name: n for n, name in enumerate(self.ids)}

    def ohm(self, part: int) -> float:
        """A part's resistance."""
        return float(self.piece.piece.branches.resistance_ohm[self.parts[part]])
