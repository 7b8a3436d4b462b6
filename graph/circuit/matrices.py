"""Incidence matrices and factors: dense for small circuits, sparse for large ones.

A drawn harness has some hundred nodes, and there the bookkeeping of a sparse matrix costs ten times its
arithmetic; a generated one has a hundred thousand, and there nothing but a sparse matrix will do.
"""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt
import scipy.sparse as sp
from scipy.linalg.lapack import dgetrf, dgetrs
from scipy.sparse.linalg import splu

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

DENSE_ELEMENTS = 60_000
"""Elements of an incidence matrix up to which it is kept dense; both ways give the same currents."""


class Factor(Protocol):
    """A factored square matrix."""

    def solve(self, rhs: FloatArray) -> FloatArray:
        """(N, K) answers to (N, K) right sides."""
        ...


Matrix = FloatArray | sp.csr_array


def incidence(tail: IntArray, head: IntArray, nodes: int) -> Matrix:
    """(nodes, B): 1 where a branch leaves a node, -1 where it enters it; a branch onto itself is 0."""
    column = np.arange(len(tail))
    if nodes * len(tail) <= DENSE_ELEMENTS:
        dense = np.zeros((nodes, len(tail)))
        dense[tail, column] = 1.0
        dense[head, column] -= 1.0
        return dense
    return sp.coo_array(
        (np.repeat([1.0, -1.0], len(column)), (np.concatenate([tail, head]), np.concatenate([column, column]))),
        shape=(nodes, len(column)),
    ).tocsr()


def factor_of(
    tail: IntArray, head: IntArray, nodes: int, free: IntArray, conductance: FloatArray | None = None
) -> Factor | None:
    """Factor of the nodal conductances of the ``free`` nodes, all others held; a conductance of 1 S if not given.

    None where no node is free. Raises RuntimeError where the matrix is singular.
    """
    count = len(free)
    if not count:
        return None
    place = np.full(nodes, -1)
    place[free] = np.arange(count)
    # A branch onto itself changes nothing; left in, it would round away what is beside it.
    used = tail != head
    a, b = place[tail[used]], place[head[used]]
    siemens = np.ones(len(a)) if conductance is None else conductance[used]
    row, column = np.concatenate([a, b, a, b]), np.concatenate([a, b, b, a])
    value = np.concatenate([siemens, siemens, -siemens, -siemens])
    inside = (row >= 0) & (column >= 0)
    row, column, value = row[inside], column[inside], value[inside]
    if nodes * len(tail) <= DENSE_ELEMENTS:
        flat = np.bincount(row * count + column, weights=value, minlength=count * count)
        return _Dense(flat.astype(np.float64).reshape(count, count).T)  # symmetric, and in the order of LAPACK
    return _sparse(sp.coo_array((value, (row, column)), shape=(count, count)).tocsc())


class _Dense:
    def __init__(self, matrix: FloatArray) -> None:
        self._lu, self._pivot, info = dgetrf(matrix, overwrite_a=1)
        if info:
            raise RuntimeError("singular")

    def solve(self, rhs: FloatArray) -> FloatArray:
        answer, _ = dgetrs(self._lu, self._pivot, rhs)
        return np.asarray(answer, dtype=np.float64)


def _sparse(matrix: sp.csc_array) -> Factor:
    """Sparse factor of a symmetric matrix, ordered for little fill."""
    factor: Factor = splu(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    return factor
