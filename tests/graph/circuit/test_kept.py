"""What is kept from one solve to the next never changes an answer, and never grows beyond its limit."""

from __future__ import annotations

import numpy as np
import pytest

from loadloom.graph.circuit import kept
from loadloom.graph.circuit.kept import keep
from loadloom.graph.circuit.linear_circuit import Circuit


def test_a_thing_is_made_once_and_what_was_used_longest_ago_goes_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept, "MOST_BYTES", 80 * 30)
    monkeypatch.setattr(kept, "_KEPT", kept._Kept())
    made: list[int] = []

    def made_of(number: int) -> np.ndarray:
        return keep(number, lambda: made.append(number) or np.zeros(10))

    for number in (*range(30), 0, 30, 0, 1):
        made_of(number)
    assert made == [*range(30), 30, 1]  # 0 was used again before 30 came, so 1 had to go
    keep("large", lambda: np.zeros(100))
    assert made_of(0) is made_of(0)
    assert kept._KEPT.total <= kept.MOST_BYTES


@pytest.mark.parametrize("seed", range(20))
def test_circuits_of_the_same_branches_are_told_apart(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Voltages, resistances and open branches at random on one set of branches, with what is kept and without."""
    rng = np.random.default_rng(seed)
    nodes, branches = 7, 14
    end_a, end_b = rng.integers(nodes, size=branches), rng.integers(nodes, size=branches)
    circuits = []
    for _ in range(6):
        ohm = rng.choice([0.0, 0.5, 1.0, 2.0, np.inf], size=branches)
        emf = np.where((ohm > 0.0) & np.isfinite(ohm), rng.choice([0.0, 5.0, 12.0], size=branches), 0.0)
        driven = rng.integers(branches)
        emf[driven] = 3.0
        circuits.append((ohm, emf))

    def solved(ohm: np.ndarray, emf: np.ndarray) -> list[np.ndarray]:
        circuit = Circuit(nodes, end_a, end_b, ohm, emf, np.array([0], dtype=np.int64))
        node_v, branch_a = circuit.solve(np.zeros(nodes))
        return [node_v, branch_a, circuit.piece, circuit.reference, circuit.conflict, circuit.rigid.shared]

    again = [solved(*each) for each in circuits]
    for each, found in zip(circuits, again, strict=True):
        monkeypatch.setattr(kept, "_KEPT", kept._Kept())
        for one, other in zip(solved(*each), found, strict=True):
            np.testing.assert_array_equal(one, other)
