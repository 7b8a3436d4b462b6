"""Two currents against time, added."""

import numpy as np
import pytest

from loadloom.graph.load_cases.charging_through import sum_of


@pytest.mark.parametrize("other_s", [(0.0, 1.0, 3.0), (0.0, 0.5, 2.0, 3.0), (1.0, 2.0)])
def test_two_currents_are_added_at_the_times_of_both(other_s: tuple[float, ...]) -> None:
    """Straight lines between the times, the end values beyond them: as numpy's interpolation on all the times."""
    one = (np.array([0.0, 1.0, 3.0]), np.array([4.0, 2.0, 0.0]))
    other = (np.array(other_s), np.arange(len(other_s)) * 1.5)
    times, total = sum_of(one, other)
    assert times.tolist() == sorted({*one[0].tolist(), *other_s})
    assert total == pytest.approx(np.interp(times, *one) + np.interp(times, *other))
