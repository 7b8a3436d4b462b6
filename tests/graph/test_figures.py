"""Numbers in messages."""

import math

import pytest

from loadloom.graph.figures import figures


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (4800.0, "4800"),
        (4823.0, "4820"),
        (999.7, "1000"),
        (27.0, "27"),
        (27.456, "27.5"),
        (0.33056, "0.331"),
        (1e-4, "0.0001"),
        (0.0, "0"),
        (-12.345, "-12.3"),
        (math.inf, "inf"),
        (1.23e-9, "1.23e-09"),
        (2.09e-13, "0"),
        (None, "unknown"),
    ],
)
def test_three_figures_without_exponent(value: float | None, text: str) -> None:
    assert figures(value) == text
