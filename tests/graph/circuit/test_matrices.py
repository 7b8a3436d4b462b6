"""Dense and sparse matrices give the same answers; the reference is numpy's solver on the written-out matrix."""

import numpy as np
import pytest

from loadloom.graph.circuit import matrices
from loadloom.graph.circuit.matrices import factor_of, incidence


def drawn(nodes: int, branches: int, seed: int):
    """A connected graph with its branches' conductances."""
    rng = np.random.default_rng(seed)
    tree = np.arange(1, nodes)
    tail = np.concatenate([rng.integers(0, tree), rng.integers(0, nodes, branches)])
    head = np.concatenate([tree, rng.integers(0, nodes, branches)])
    return tail, head, 10.0 ** rng.uniform(0.0, 4.0, len(tail))


@pytest.mark.parametrize("most_dense", [0, 10**9], ids=["sparse", "dense"])
@pytest.mark.parametrize("seed", range(10))
def test_a_factor_solves_the_nodal_equations(monkeypatch, seed: int, most_dense: int):
    monkeypatch.setattr(matrices, "DENSE_ELEMENTS", most_dense)
    tail, head, conductance = drawn(40, 30, seed)
    assert isinstance(incidence(tail, head, 40), np.ndarray) == (most_dense > 0)
    right = np.random.default_rng(seed).normal(size=(39, 3))
    factor = factor_of(tail, head, 40, np.arange(1, 40), conductance)
    assert factor is not None

    laplacian = np.zeros((40, 40))
    for a, b, g in zip(tail, head, conductance, strict=True):
        if a != b:
            laplacian[[a, b], [a, b]] += g
            laplacian[[a, b], [b, a]] -= g
    expected = np.linalg.solve(laplacian[1:, 1:], right)
    assert factor.solve(right) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("most_dense", [0, 10**9], ids=["sparse", "dense"])
def test_a_branch_onto_its_own_node_is_nothing(monkeypatch, most_dense: int):
    monkeypatch.setattr(matrices, "DENSE_ELEMENTS", most_dense)
    rows = incidence(np.array([0, 1]), np.array([1, 1]), 2)
    assert (rows @ np.array([2.0, 5.0])).tolist() == [2.0, -2.0]


@pytest.mark.parametrize("most_dense", [0, 10**9], ids=["sparse", "dense"])
def test_a_singular_matrix_is_said_to_be_one(monkeypatch, most_dense: int):
    monkeypatch.setattr(matrices, "DENSE_ELEMENTS", most_dense)
    with pytest.raises(RuntimeError):
        factor_of(np.array([0, 0]), np.array([1, 1]), 2, np.array([1]), np.array([1.0, -1.0]))


@pytest.mark.parametrize("most_dense", [0, 10**9], ids=["sparse", "dense"])
def test_a_branch_onto_its_own_node_rounds_nothing_away(monkeypatch, most_dense: int):
    """1 V over 1 GΩ beside a contact of 1 nΩ with both ends on one node: 1 nA, to rounding."""
    monkeypatch.setattr(matrices, "DENSE_ELEMENTS", most_dense)
    factor = factor_of(np.array([1, 0]), np.array([1, 1]), 2, np.array([1]), np.array([1e9, 1e-9]))
    assert factor is not None
    assert factor.solve(np.array([1e-9])) == pytest.approx([1.0], rel=1e-12)


def test_no_free_node_needs_no_factor():
    assert factor_of(np.array([0]), np.array([0]), 1, np.array([], dtype=np.int64)) is None
