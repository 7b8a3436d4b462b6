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


def factor_of(rows: Matrix, conductance: FloatArray | None = None) -> Factor | None:
    """Factor of ``rows · diag(conductance) · rowsᵀ``, conductance 1 if not given; None of no rows.

    Raises RuntimeError where the matrix is singular.
    """
    if not rows.shape[0]:
        return None
    if isinstance(rows, np.ndarray):
        return _Dense((rows if conductance is None else rows * conductance) @ rows.T)
    weighted = rows if conductance is None else rows @ sp.diags_array(conductance)
    return _sparse((weighted @ rows.T).tocsc())


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
