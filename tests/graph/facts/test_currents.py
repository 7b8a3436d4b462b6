"""The case of a part's greatest current: of cases that are equal but for rounding the first one."""

from __future__ import annotations

import math

import pytest

from loadloom.graph.facts.facts import Currents

A_BIT_MORE = math.nextafter(8.7, 9.0)
"""What another version of a library may make of 8.7."""


@pytest.mark.parametrize(
    ("by_case", "worst"),
    [
        ({"observing": 8.7, "slew": A_BIT_MORE}, ("observing", A_BIT_MORE)),
        ({"observing": A_BIT_MORE, "slew": 8.7}, ("observing", A_BIT_MORE)),
        ({"observing": 8.7, "slew": 8.8, "park": 8.8}, ("slew", 8.8)),
        ({"observing": 0.0, "slew": 0.0}, ("observing", 0.0)),
        ({"observing": 8.7, "slew": math.inf}, ("slew", math.inf)),
    ],
)
def test_rounding_makes_no_case_the_worst(by_case: dict[str, float], worst: tuple[str, float]) -> None:
    currents = Currents(by_case, dict(reversed(by_case.items())))
    assert currents.worst_peak == worst
    last = next(case for case, a in reversed(by_case.items()) if math.isclose(a, worst[1], rel_tol=1e-12))
    assert currents.worst_continuous == (last, worst[1])
