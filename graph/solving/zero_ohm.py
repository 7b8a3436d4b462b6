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
from scipy.sparse.csgraph import breadth_first_order, connected_components

from loadloom.graph.solving.blocks import find_blocks
from loadloom.graph.solving.matrices import Factor, Matrix, factor_of, incidence

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

REFINEMENTS = 3
"""Each pass lowers the error of the current law by the accuracy of the factor, some ten digits."""


@dataclass(frozen=True)
class Rigid:
    """The groups of N nodes under B branches of which ``rigid`` (B,) have no resistance.

    ``group`` (N,): group of every node, 0 … ``count`` - 1. ``offset_v`` (N,): potential above the group's
    first node. ``conflict`` (B,): rigid branches with a voltage in a cycle whose voltages do not add up
    to zero; no finite current satisfies them.
    """

    end_a: IntArray
    end_b: IntArray
    rigid: BoolArray
    group: IntArray
    count: int
    offset_v: FloatArray
    conflict: BoolArray

    @cached_property
    def branches(self) -> IntArray:
        """Positions of the rigid branches."""
        return np.flatnonzero(self.rigid)

    @cached_property
    def shared(self) -> BoolArray:
        """(B,) rigid branches on a cycle of rigid branches: their share is a choice."""
        nodes = len(self.group)
        chosen = self.branches
        if len(chosen) <= nodes - self.count:  # a forest
            return np.zeros(len(self.rigid), dtype=np.bool_)
        blocks = find_blocks(nodes, self.end_a, self.end_b, self.rigid)
        shared: BoolArray = self.rigid & ~blocks.bridge & (self.end_a != self.end_b)
        return shared

    @cached_property
    def _factor(self) -> tuple[Matrix, Factor | None, IntArray]:
        nodes = len(self.group)
        chosen = self.branches
        a, b = self.end_a[chosen], self.end_b[chosen]
        first = np.zeros(nodes, dtype=np.bool_)
        first[np.unique(self.group, return_index=True)[1]] = True
        free = np.flatnonzero(~first)
        rows = incidence(a, b, nodes)
        return rows, factor_of(rows[free]), free

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


def contract(nodes: int, end_a: IntArray, end_b: IntArray, rigid: BoolArray, emf_v: FloatArray) -> Rigid:
    """Join the nodes of rigid branches; ``emf_v`` (B,) drives current from a to b: v_b = v_a + emf."""
    chosen = np.flatnonzero(rigid & (end_a != end_b))
    a, b = end_a[chosen], end_b[chosen]
    graph = sp.coo_array((np.ones(len(chosen)), (a, b)), shape=(nodes, nodes)).tocsr()
    count, labels = connected_components(graph, directed=False)
    group = labels.astype(np.int64)
    offset = _offsets(nodes, a, b, emf_v[chosen], group, int(count), graph)
    gap = np.zeros(len(end_a))
    every = np.flatnonzero(rigid)
    gap[every] = offset[end_a[every]] + emf_v[every] - offset[end_b[every]]
    wrong = np.abs(gap) > 1e-9 * max(1.0, float(np.abs(emf_v[every]).max(initial=0.0)))
    conflict = np.zeros(len(end_a), dtype=np.bool_)
    if wrong.any():
        blocks = find_blocks(nodes, end_a, end_b, rigid)
        conflict = rigid & (emf_v != 0) & np.isin(blocks.label, np.unique(blocks.label[wrong]))
    return Rigid(end_a, end_b, rigid, group, int(count), offset, conflict)


def _offsets(
    nodes: int, a: IntArray, b: IntArray, emf: FloatArray, group: IntArray, count: int, graph: sp.csr_array
) -> FloatArray:
    """Potential of every node above its group's first, along a spanning tree."""
    offset = np.zeros(nodes)
    driven = np.unique(group[a[emf != 0]])
    if not len(driven):
        return offset
    lift: dict[tuple[int, int], float] = {}
    inside = np.isin(group[a], driven)
    for tail, head, volts in zip(a[inside].tolist(), b[inside].tolist(), emf[inside].tolist(), strict=True):
        lift.setdefault((tail, head), volts)
        lift.setdefault((head, tail), -volts)
    first = np.unique(group, return_index=True)[1]
    member = np.isin(group, driven)
    local = np.full(nodes, -1, dtype=np.int64)
    local[member] = np.arange(int(member.sum()))
    back = np.flatnonzero(member)
    small = graph[back][:, back]
    for start in local[first[driven]].tolist():
        order, above = breadth_first_order(small, start, directed=False)
        for k in order[1:].tolist():
            node, parent = int(back[k]), int(back[above[k]])
            offset[node] = offset[parent] + lift[(parent, node)]
    return offset
