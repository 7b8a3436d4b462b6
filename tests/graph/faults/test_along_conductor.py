"""Where along a conductor a fault is worst, against a fine walk along it.

Along a conductor every row, the open voltage and the share of the fault's current that the conductor carries are
linear in the share s, the loop resistance is quadratic (a point on a loop of copper: superposition). The fault's
current is the least of what each row lets through and what the copper drives. No law of the tool is used: the walk
takes 4001 points.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from loadloom.graph.faults.along_conductor import _shares, shares_in_loop, shares_on_bridges
from loadloom.graph.faults.stretches import Stretch

STEPS = np.linspace(0.0, 1.0, 4001)


def currents(
    s: np.ndarray,
    rows: np.ndarray,
    limit: np.ndarray,
    loop: tuple[float, ...],
    volts: np.ndarray,
    through: np.ndarray,
) -> tuple[np.ndarray, ...]:
    """Magnitudes in A at shares s: in the part before the fault, and in the part behind it."""
    r0, r1, bow = loop

    def linear(ends: np.ndarray) -> np.ndarray:
        return (1.0 - s) * ends[0] + s * ends[1]

    fault = linear(volts) / ((1.0 - s) * r0 + s * r1 + s * (1.0 - s) * bow)
    for per_ampere, most in zip(rows.T, limit, strict=True):
        row = linear(per_ampere)
        with np.errstate(divide="ignore", invalid="ignore"):
            fault = np.minimum(fault, np.where(row > 1e-9, most / row, np.inf))
    return np.abs((linear(through) + 1.0 - s) * fault), np.abs((linear(through) - s) * fault)


@pytest.mark.parametrize("count", [0, 1, 2, 4])
def test_no_point_between_is_worse_than_those_found(count: int) -> None:
    """300 conductors with random rows: what is found, with the ends, reaches the most of the walk; and in many the
    ends alone do not.
    """
    rng = np.random.default_rng(count)
    missed_by_ends = 0
    for _ in range(300):
        rows = rng.uniform(-0.3, 1.0, (2, count))
        limit = rng.uniform(5.0, 60.0, count)
        loop = (*rng.uniform(0.01, 0.5, 2), rng.uniform(0.0, 0.6))
        volts = rng.uniform(3.0, 24.0, 2)
        through = np.array([rng.uniform(-1.0, 0.0), rng.uniform(0.0, 1.0)])
        given = rows, limit, loop, volts, through
        found = _shares(rows, limit, np.array(loop[:2]), loop[2], volts, through)
        assert all(0.0 < s < 1.0 for s in found)
        ends = np.array([0.0, 1.0])
        for walked, at_found, at_ends in zip(
            currents(STEPS, *given),
            currents(np.array([*ends, *found]), *given),
            currents(ends, *given),
            strict=True,
        ):
            assert walked.max() <= at_found.max() * (1.0 + 1e-6)
            missed_by_ends += walked.max() > at_ends.max() * (1.0 + 1e-6)
    assert missed_by_ends > 10


@pytest.mark.parametrize("bow_ohm", [0.0, 0.3])
def test_the_top_of_the_short_alone(bow_ohm: float) -> None:
    """By hand: 12·(1-s) V on 0.1·(1+s) Ω, and the part behind carries s of it. s(1-s)/(1+s) is stationary where
    1 - 2s - s² = 0, at √2 - 1; s(1-s) more Ω in the loop adds a constant to its inverse, and moves nothing.
    """
    none = np.zeros((2, 0)), np.zeros(0)
    found = _shares(*none, np.array([0.1, 0.2]), bow_ohm, np.array([12.0, 0.0]), np.zeros(2))
    assert any(s == pytest.approx(2.0**0.5 - 1.0) for s in found)


def test_up_to_where_a_bridge_still_takes_the_whole() -> None:
    """12 V behind 0.1 Ω and a wire of 0.5 Ω: 40 A are driven up to 0.3 Ω, 2/5 of the wire. 200 A nowhere, 10 A all
    along; a row that lets nothing through by itself counts for nothing.
    """
    rows = np.ones((2, 3, 2))
    rows[1] = 0.0
    limit = np.array([40.0, 0.0])
    found = shares_on_bridges(rows, limit, np.array([[0.1, 0.6]] * 3), np.array([[12.0, 12.0]] * 3))
    assert found == pytest.approx([0.4] * 3)
    for most_a in (200.0, 10.0):
        assert np.isnan(
            shares_on_bridges(rows, np.array([most_a, 0.0]), np.array([[0.1, 0.6]] * 3), np.full((3, 2), 12.0))
        ).all()


def test_a_point_on_a_ring_has_both_ways_round() -> None:
    """By hand: W1 of 1 Ω beside 3 Ω; a point at s of it is s·1 Ω beside (1-s)·1 + 3 Ω, s(4-s)/4 Ω, behind 0.1 Ω.

    With 12 - 6s V, what copper drives has come down to the output's 20 A where 5s² - 26s + 10 = 0.
    """
    beside = 0.75  # 1 Ω and 3 Ω side by side: what an ampere into the far joint raises it by
    at = SimpleNamespace(
        variant=SimpleNamespace(
            flows=SimpleNamespace(fall_ohm=np.array([[0.0, 0.0], [0.0, beside]])),
            piece=SimpleNamespace(
                branches=SimpleNamespace(a=np.array([0]), b=np.array([1]), resistance_ohm=np.array([1.0]))
            ),
            rows=SimpleNamespace(limit=np.array([20.0])),
        ),
        load_rows=np.zeros((1, 0)),
    )
    response = SimpleNamespace(
        rows=np.array([[1.0, 1.0]]),
        loop_ohm=np.array([0.1, 0.1 + beside]),
        open_v=np.array([12.0, 6.0]),
        fall=np.zeros((2, 0)),
        branch=np.array([[0.0, 0.75]]),
    )
    stretch = Stretch((0, 1), ((False, False), (True, False)), 0, -1, True, False)
    found = shares_in_loop(at, stretch, response, np.zeros(0))  # type: ignore[arg-type]
    assert any(s == pytest.approx((26.0 - (676.0 - 200.0) ** 0.5) / 10.0) for s in found)
