"""Many linear programmes at once against ``scipy.optimize.linprog`` on each of them alone.

A programme may have no state that satisfies its rows, or nothing that bounds its gain; it may not spoil the others.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import linprog

from loadloom.graph.circuit.programmes import Programme, solve_programmes


def drawn(rng: np.random.Generator) -> Programme:
    """A few variables and rows; some without an upper end, some rows that ask for a least."""
    variables, rows = int(rng.integers(1, 6)), int(rng.integers(0, 6))
    matrix = rng.uniform(-1.0, 1.0, (rows, variables)) * (rng.random((rows, variables)) < 0.7)
    limit = rng.uniform(-0.6, 2.0, rows)
    most = np.where(rng.random(variables) < 0.3, np.inf, rng.uniform(0.0, 3.0, variables))
    most[rng.random(variables) < 0.1] = 0.0
    gain = rng.uniform(-1.0, 1.0, variables) * (rng.random(variables) < 0.8)
    return Programme(gain, matrix, limit, most)


def alone(programme: Programme) -> tuple[int, float]:
    """``linprog``'s status (0 solved, 2 infeasible, 3 unbounded, 4 one of the two) and the best gain."""
    bounds = [(0.0, None if np.isinf(most) else most) for most in programme.most]
    rows = {"A_ub": programme.rows, "b_ub": programme.limit} if len(programme.limit) else {}
    answer = linprog(-programme.gain, bounds=bounds, method="highs", **rows)
    return answer.status, -answer.fun if answer.status == 0 else float("nan")


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("together", [1, 7, 40])
def test_each_is_solved_as_if_it_were_alone(seed: int, together: int) -> None:
    rng = np.random.default_rng([seed, together])
    programmes = [drawn(rng) for _ in range(together)]
    kinds = set()
    for programme, found in zip(programmes, solve_programmes(programmes), strict=True):
        status, best = alone(programme)
        kinds.add(status)
        if status != 0:
            assert found is None
            continue
        assert found is not None
        assert (found >= -1e-9).all() and (found <= programme.most + 1e-9).all()
        assert (programme.rows @ found <= programme.limit + 1e-6).all()
        assert float(programme.gain @ found) == pytest.approx(best, abs=1e-6)
    assert together < 40 or len(kinds) > 1, "some have no answer"


def test_a_row_that_nothing_can_ease_is_impossible() -> None:
    """-v ≤ -2 with v ≤ 1 cannot be; with v ≤ 3 it can."""
    gain, rows, limit = np.array([1.0]), np.array([[-1.0]]), np.array([-2.0])
    (none, some) = solve_programmes([Programme(gain, rows, limit, np.array([most])) for most in (1.0, 3.0)])
    assert none is None
    assert some is not None and some[0] == pytest.approx(3.0)


def test_a_row_that_needs_more_than_another_one_lets_is_impossible() -> None:
    """v ≤ 1 and v ≥ 2: no state. v ≤ 2 and v ≥ 2: one, and with half of a second variable v ≥ 1 as well."""
    gain, one = np.array([1.0]), np.array([[1.0], [-1.0]])
    assert Programme(gain, one, np.array([1.0, -2.0]), np.array([9.0])).impossible
    assert not Programme(gain, one, np.array([2.0, -2.0]), np.array([9.0])).impossible
    two = np.array([[1.0, 0.0], [-1.0, -0.5]])
    eased = Programme(np.array([1.0, 0.0]), two, np.array([1.0, -2.0]), np.array([9.0, 2.0]))
    assert not eased.impossible and solve_programmes([eased])[0] == pytest.approx([1.0, 2.0])
    assert Programme(np.array([1.0, 0.0]), two, np.array([1.0, -2.1]), np.array([9.0, 2.0])).impossible


def test_two_rows_that_contradict_each_other_are_found_among_others() -> None:
    """v + w ≤ 1 and v + w ≥ 2: either row can hold with both at their most. Beside it stands one that has an
    answer."""
    gain, most, rows = np.array([1.0, 0.5]), np.array([9.0, 9.0]), np.array([[1.0, 1.0], [-1.0, -1.0]])
    against = Programme(gain, rows, np.array([1.0, -2.0]), most)
    sound = Programme(gain, rows, np.array([4.0, -2.0]), most)
    assert not against.impossible and against.doubtful and sound.doubtful
    assert not Programme(gain, rows[:1], np.array([4.0]), most).doubtful
    for order in ([against, sound], [sound, against], [against], [against, against]):
        found = solve_programmes(order)
        for programme, answer in zip(order, found, strict=True):
            if programme is against:
                assert answer is None
            else:
                assert answer is not None and answer[0] == pytest.approx(4.0)
