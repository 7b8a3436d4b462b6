"""Choices inside the fault search, each against the plainest way to make it."""

from __future__ import annotations

import numpy as np
import pytest

from loadloom.graph.faults.cases import _covers
from loadloom.graph.faults.piece import POWER, RESISTANCE, PieceLoads
from loadloom.graph.faults.sustained_fault import _best_of_each

CURRENT = 0


def test_of_each_branch_the_greatest_and_of_equal_ones_the_preferred() -> None:
    """500 random lists against a loop over all: within a billionth two values are equal, and the keys decide."""
    rng = np.random.default_rng(18)
    for _ in range(500):
        count = int(rng.integers(1, 12))
        branch, value = rng.integers(0, 4, count), rng.integers(1, 4, count) * 7.5
        value = np.where(rng.random(count) < 0.2, -np.inf, value * (1.0 + 3e-10 * rng.random(count)))
        last, first = rng.integers(0, 3, count), rng.integers(0, 3, count)
        expected = {}
        for k in sorted(set(branch.tolist())):
            mine = [n for n in range(count) if branch[n] == k and np.isfinite(value[n])]
            top = max((value[n] for n in mine), default=0.0)
            equal = [n for n in mine if value[n] >= top * (1.0 - 1e-9)]
            if equal:
                expected[k] = min((first[n], last[n]) for n in equal)
        chosen = _best_of_each(branch, value, (last, first)).tolist()
        assert sorted(branch[n] for n in chosen) == sorted(expected)
        assert {int(branch[n]): (first[n], last[n]) for n in chosen} == expected


def drawing(
    *loads: tuple[str, int, float], minimum_v: float = 0.0, case_a: float = 0.0, peak: float = 1.0
) -> PieceLoads:
    """Loads by name, kind and demand (A, W or Ω)."""
    count = len(loads)
    return PieceLoads(
        ids=tuple(name for name, _, _ in loads),
        plus=np.arange(count),
        minus=np.arange(count) + count,
        kind=np.array([kind for _, kind, _ in loads]),
        demand=np.array([demand for _, _, demand in loads]),
        minimum_v=np.full(count, minimum_v),
        case_a=np.full(count, case_a),
        peak=np.full(count, peak),
        rest=np.ones(count),
        share=np.ones(count),
        on_s=np.full(count, np.inf),
    )


AMPERES, WATTS, OHMS = (("L1", kind, 2.0) for kind in (CURRENT, POWER, RESISTANCE))
NOTHING = drawing()


@pytest.mark.parametrize(
    ("small", "great", "covered"),
    [
        (drawing(AMPERES), drawing(AMPERES), True),
        (drawing(AMPERES), drawing(("L1", CURRENT, 3.0)), True),
        (drawing(AMPERES), drawing(("L1", CURRENT, 1.0)), False),
        # A load of less resistance draws more.
        (drawing(OHMS), drawing(("L1", RESISTANCE, 1.0)), True),
        (drawing(OHMS), drawing(("L1", RESISTANCE, 3.0)), False),
        # Another kind of load follows another law.
        (drawing(AMPERES), drawing(OHMS), False),
        # Where a load is not there, only one that draws nothing is no more. 0 Ω would draw all there is.
        (drawing(AMPERES), NOTHING, False),
        (drawing(("L1", CURRENT, 0.0)), NOTHING, True),
        (drawing(("L1", POWER, 0.0)), NOTHING, True),
        (drawing(OHMS), NOTHING, False),
        (drawing(("L1", RESISTANCE, 0.0)), NOTHING, False),
        (NOTHING, drawing(AMPERES, OHMS), True),
        # Constant power draws the more the lower the voltage that it goes on at, and what it draws in its case.
        (drawing(WATTS, minimum_v=9.0), drawing(WATTS, minimum_v=8.0), True),
        (drawing(WATTS, minimum_v=9.0), drawing(WATTS, minimum_v=10.0), False),
        (drawing(WATTS, case_a=1.0), drawing(WATTS, case_a=2.0), True),
        (drawing(WATTS, case_a=1.0), drawing(WATTS, case_a=0.5), False),
        (drawing(AMPERES), drawing(AMPERES, peak=2.0), False),
    ],
)
def test_a_case_stands_for_another_only_where_no_load_of_it_draws_less(
    small: PieceLoads, great: PieceLoads, covered: bool
) -> None:
    assert _covers(great, small) is covered
