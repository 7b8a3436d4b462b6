"""Rigid branches, those of 0 Ω: contracted exactly, their currents found afterwards.

Nodes joined by rigid branches (contacts without a stated resistance, bonds, devices, ideal outputs) form one
*group*: within it potentials differ by the outputs' voltages only. The currents of a group's branches follow
from Kirchhoff's current law where they form no cycle. Where they do there is a choice; the least-squares
currents are taken, which is the limit of equal resistances that go to zero together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp
from scipy.sparse.csgraph import breadth_first_order

from loadloom.graph.circuit.blocks import Blocks, find_blocks
from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.kept import keep
from loadloom.graph.circuit.matrices import Factor, Matrix, factor_of, incidence

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

REFINEMENTS = 3
"""Each pass lowers the error of the current law by the accuracy of the factor, some ten digits."""


@dataclass(frozen=True)
class Groups:
    """The groups of N nodes under B branches of which ``rigid`` (B,) have no resistance, whatever the voltages.

    ``group`` (N,): group of every node, 0 … ``count`` - 1.
    """

    end_a: IntArray
    end_b: IntArray
    rigid: BoolArray
    group: IntArray
    count: int

    @cached_property
    def branches(self) -> IntArray:
        """Positions of the rigid branches."""
        return np.flatnonzero(self.rigid)

    @property
    def bytes_later(self) -> int:
        """About how many bytes its factor takes once it is asked for."""
        free = len(self.group) - self.count
        return 8 * free * free + 16 * len(self.group) * len(self.branches)

    @cached_property
    def shared(self) -> BoolArray:
        """(B,) rigid branches on a cycle of rigid branches: their share is a choice."""
        nodes = len(self.group)
        chosen = self.branches
        if len(chosen) <= nodes - self.count:  # a forest
            return np.zeros(len(self.rigid), dtype=np.bool_)
        shared: BoolArray = self.rigid & ~self._blocks.bridge & (self.end_a != self.end_b)
        return shared

    def on_cycles_with(self, branches: IntArray) -> IntArray:
        """Rigid branches in a block of rigid branches in which one of these lies on a cycle."""
        with_one = branches[self.shared[branches]]
        return (
            np.flatnonzero(np.isin(self._blocks.label, self._blocks.label[with_one])) if len(with_one) else with_one
        )

    @cached_property
    def _blocks(self) -> Blocks:
        return find_blocks(len(self.group), self.end_a, self.end_b, self.rigid)

    @cached_property
    def _factor(self) -> tuple[Matrix, Factor | None, IntArray]:
        nodes = len(self.group)
        chosen = self.branches
        a, b = self.end_a[chosen], self.end_b[chosen]
        first = np.zeros(nodes, dtype=np.bool_)
        first[np.unique(self.group, return_index=True)[1]] = True
        free = np.flatnonzero(~first)
        return incidence(a, b, nodes), factor_of(a, b, nodes, free), free

    @cached_property
    def _membership(self) -> sp.csr_array:
        """(groups, N): 1 where a node belongs to a group."""
        nodes = len(self.group)
        return sp.csr_array((np.ones(nodes), (self.group, np.arange(nodes))), shape=(self.count, nodes))

    def sums(self, at_nodes: FloatArray) -> FloatArray:
        """(groups, K) sums over the nodes of each group of (N, K) values."""
        if at_nodes.shape[1] == 1:
            summed = np.bincount(self.group, weights=at_nodes[:, 0], minlength=self.count)
            return summed.astype(np.float64)[:, None]
        return np.asarray(self._membership @ at_nodes)

    def currents_a(self, surplus_a: FloatArray) -> FloatArray:
        """Currents of the rigid branches (in the order of ``branches``), positive from a to b, in A.

        ``surplus_a`` (N, K) is the current that all else brings into each node, in K cases; its sum over a
        group is zero.
        """
        count = surplus_a.shape[1]
        current = np.zeros((len(self.branches), count))
        if not len(current):
            return current
        rows, factor, free = self._factor
        if factor is None:
            return current
        for _ in range(REFINEMENTS):
            potential = np.zeros((len(self.group), count))
            potential[free] = factor.solve((surplus_a - rows @ current)[free])
            current += rows.T @ potential
        return current

    def conflict(self, offset_v: FloatArray, emf_v: FloatArray) -> BoolArray:
        """(B,) rigid branches with a voltage in a cycle whose voltages do not add up to zero: no finite current
        satisfies them. ``offset_v`` as from ``offsets_v``.
        """
        every = self.branches
        gap = offset_v[self.end_a[every]] + emf_v[every] - offset_v[self.end_b[every]]
        wrong = every[np.abs(gap) > 1e-9 * max(1.0, float(np.abs(emf_v[every]).max(initial=0.0)))]
        if not len(wrong):
            return np.zeros(len(self.rigid), dtype=np.bool_)
        label = self._blocks.label
        found: BoolArray = self.rigid & (emf_v != 0) & np.isin(label, np.unique(label[wrong]))
        return found

    def offsets_v(self, emf_v: FloatArray) -> FloatArray:
        """(N,) potential of every node above its group's first, along a spanning tree. ``emf_v`` (B,) drives
        current from a to b: v_b = v_a + emf.
        """
        offset = np.zeros(len(self.group))
        driven = self.rigid & (emf_v != 0)
        if driven.any():
            key = driven.tobytes()
            if key not in self._paths:
                self._paths[key] = self._tree(np.unique(self.group[self.end_a[driven]]))
            for node, parent, branch, sign in self._paths[key]:
                offset[node] = offset[parent] + sign * emf_v[branch]
        return offset

    @cached_property
    def _paths(self) -> dict[bytes, list[tuple[int, int, int, float]]]:
        """What ``_tree`` found, by the branches with a voltage."""
        return {}

    def _tree(self, groups: IntArray) -> list[tuple[int, int, int, float]]:
        """Of the nodes of some groups: each with the one before it, the branch between them and its direction."""
        chosen = self.branches[np.isin(self.group[self.end_a[self.branches]], groups)]
        chosen = chosen[self.end_a[chosen] != self.end_b[chosen]]
        between: dict[tuple[int, int], tuple[int, float]] = {}
        ends = (self.end_a[chosen].tolist(), self.end_b[chosen].tolist(), chosen.tolist())
        for tail, head, branch in zip(*ends, strict=True):
            between.setdefault((tail, head), (branch, 1.0))
            between.setdefault((head, tail), (branch, -1.0))
        member = np.isin(self.group, groups)
        local = np.cumsum(member) - 1
        back = np.flatnonzero(member)
        pairs = (local[self.end_a[chosen]], local[self.end_b[chosen]])
        small = sp.coo_array((np.ones(len(chosen)), pairs), shape=(len(back), len(back))).tocsr()
        first = np.unique(self.group, return_index=True)[1]
        found = []
        for start in local[first[groups]].tolist():
            order, above = breadth_first_order(small, start, directed=False)
            for k in order[1:].tolist():
                node, parent = int(back[k]), int(back[above[k]])
                found.append((node, parent, *between[parent, node]))
        return found


MOST_KEPT = 2000
"""Nodes up to which the groups of a circuit are kept for the next one of the same branches."""


def groups_of(nodes: int, end_a: IntArray, end_b: IntArray, rigid: BoolArray) -> Groups:
    """Join the nodes of rigid branches (B,)."""

    def joined() -> Groups:
        chosen = np.flatnonzero(rigid & (end_a != end_b))
        pieces = hang_together(nodes, end_a[chosen], end_b[chosen])
        return Groups(end_a, end_b, rigid, pieces, int(pieces.max(initial=-1)) + 1)

    if nodes > MOST_KEPT:
        return joined()
    return keep(("groups", nodes, end_a.tobytes(), end_b.tobytes(), rigid.tobytes()), joined)
