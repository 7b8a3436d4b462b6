"""A linear circuit of branches, each a resistance with a voltage in series, fed by given node currents.

Every part of a harness is such a branch: a conductor (voltage 0), an output (its voltage behind its internal
resistance), a conducting diode (minus its forward drop), a load of constant resistance. Branch law:
``v_a - v_b + emf = resistance · current``, current positive from a to b.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.kept import keep
from loadloom.graph.circuit.matrices import Factor, Matrix, factor_of, incidence
from loadloom.graph.circuit.zero_ohm import MOST_KEPT, Groups, groups_of

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

REFINEMENTS = 4


def sum_at(where: IntArray, values: FloatArray, size: int) -> FloatArray:
    """(size,) sum of the values that share a place."""
    return np.bincount(where, weights=values, minlength=size).astype(np.float64)


@dataclass(frozen=True)
class Circuit:
    """N nodes and B branches. ``resistance_ohm`` (B,) is 0 (rigid) to inf (open); ``emf_v`` (B,).

    ``preferred`` are nodes to take as the reference of their piece, first come first served.
    """

    nodes: int
    end_a: IntArray
    end_b: IntArray
    resistance_ohm: FloatArray
    emf_v: FloatArray
    preferred: IntArray

    @cached_property
    def rigid(self) -> Groups:
        """The groups of nodes joined without resistance."""
        return groups_of(self.nodes, self.end_a, self.end_b, self.resistance_ohm == 0)

    @cached_property
    def offset_v(self) -> FloatArray:
        """(N,) potential of every node above its group's first."""
        return self.rigid.offsets_v(self.emf_v)

    @cached_property
    def conflict(self) -> BoolArray:
        """(B,) rigid branches whose voltages do not agree."""
        return self.rigid.conflict(self.offset_v, self.emf_v)

    @property
    def piece(self) -> IntArray:
        """(N,) electrically connected piece of every node."""
        return self._hanging_together[0]

    @property
    def reference(self) -> IntArray:
        """(pieces,) reference node of every piece."""
        return self._hanging_together[1]

    @cached_property
    def _hanging_together(self) -> tuple[IntArray, IntArray]:
        closed = np.isfinite(self.resistance_ohm)

        def found() -> tuple[IntArray, IntArray]:
            piece = hang_together(self.nodes, self.end_a[closed], self.end_b[closed])
            order = np.concatenate([self.preferred, np.arange(self.nodes)])
            return piece, order[np.unique(piece[order], return_index=True)[1]]

        if self.nodes > MOST_KEPT:
            return found()
        ends = (self.end_a.tobytes(), self.end_b.tobytes(), self.preferred.tobytes())
        return keep(("pieces", self.nodes, *ends, closed.tobytes()), found)

    @cached_property
    def _finite(self) -> _Finite:
        if self.nodes > MOST_KEPT:
            return self._factored()
        # The same copper is solved at many voltages.
        ends = (self.end_a.tobytes(), self.end_b.tobytes(), self.preferred.tobytes())
        return keep(("finite", self.nodes, *ends, self.resistance_ohm.tobytes()), self._factored)

    def _factored(self) -> _Finite:
        rigid = self.rigid
        which = np.flatnonzero(np.isfinite(self.resistance_ohm) & (self.resistance_ohm != 0))
        grounded = np.zeros(rigid.count, dtype=np.bool_)
        grounded[rigid.group[self.reference]] = True
        free = np.flatnonzero(~grounded)
        a, b = rigid.group[self.end_a[which]], rigid.group[self.end_b[which]]
        rows = incidence(a, b, rigid.count)
        conductance = 1.0 / self.resistance_ohm[which]
        factor = factor_of(a, b, rigid.count, free, conductance)
        turned = rows.T.tocsr() if isinstance(rows, sp.csr_array) else rows.T
        return _Finite(which, rows, turned, conductance, free, factor)

    @cached_property
    def _incidence(self) -> Matrix:
        """(N, B): 1 where a branch leaves a node, -1 where it enters it."""
        return incidence(self.end_a, self.end_b, self.nodes)

    def solve(self, injected_a: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Node potentials (N,) in V against their piece's reference, and branch currents (B,) in A.

        ``injected_a`` (N,) is the current brought into each node from outside; it must sum to zero over every
        piece. With (N, K) there are K answers, (N, K) and (B, K). Currents are refined on the current law
        itself, so that it holds to rounding at any size of current.
        """
        finite, rigid = self._finite, self.rigid
        lift = self.offset_v[self.end_a[finite.which]] - self.offset_v[self.end_b[finite.which]]
        lift += self.emf_v[finite.which]
        columns = injected_a if injected_a.ndim == 2 else injected_a[:, None]
        count = columns.shape[1]
        into_group = rigid.sums(columns)
        potential = np.zeros((rigid.count, count))
        current = np.repeat((finite.conductance * lift)[:, None], count, axis=1)
        for _ in range(REFINEMENTS):
            if finite.factor is None:
                break
            missing = into_group - finite.incidence @ current
            step = np.zeros((rigid.count, count))
            step[finite.free] = finite.factor.solve(missing[finite.free])
            potential += step
            current += finite.conductance[:, None] * (finite.incidence_t @ step)
        branch_a = np.zeros((len(self.end_a), count))
        branch_a[finite.which] = current
        branch_a[rigid.branches] = rigid.currents_a(columns - self._incidence @ branch_a)
        node_v = potential[rigid.group] + self.offset_v[:, None]
        node_v -= node_v[self.reference][self.piece]
        if injected_a.ndim == 1:
            return node_v[:, 0], branch_a[:, 0]
        return node_v, branch_a

    def outflow_a(self, branch_a: FloatArray) -> FloatArray:
        """(N,) sum of the branch currents leaving each node."""
        return np.asarray(self._incidence @ branch_a)


@dataclass(frozen=True)
class _Finite:
    """The branches with resistance, on groups: their numbers, incidence, conductance, and factor."""

    which: IntArray
    incidence: Matrix
    incidence_t: Matrix
    conductance: FloatArray
    free: IntArray
    factor: Factor | None

    @property
    def bytes_later(self) -> int:
        """About how many bytes factor and sparse matrices take."""
        return 8 * len(self.free) ** 2 if isinstance(self.incidence, np.ndarray) else 200 * len(self.which)
