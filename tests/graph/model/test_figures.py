"""Numbers in messages."""

import math

import pytest

from loadloom.graph.model.figures import duration, figures, floored, quantity, raised


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


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (2.18e-4, "0.218 ms"),
        (0.0416, "41.6 ms"),
        (0.1, "0.1 s"),
        (9.34, "9.34 s"),
        (120.0, "120 s"),
        (600.0, "10 min"),
        (3600.0, "1 h"),
        (7200.0, "2 h"),
        (2e-6, "2 µs"),
        (0.0, "0 s"),
        (math.inf, "inf s"),
        (None, "unknown s"),
    ],
)
def test_a_time_has_the_unit_that_fits(seconds: float | None, text: str) -> None:
    assert duration(seconds) == text


@pytest.mark.parametrize(
    ("value", "text"), [(4823.0, "4.82 kA"), (999.6, "1 kA"), (999.4, "999 A"), (0.5, "0.5 A"), (None, "unknown A")]
)
def test_from_1000_on_a_value_has_a_prefix(value: float | None, text: str) -> None:
    assert quantity(value, "A") == text


@pytest.mark.parametrize("value", [9.149, 104.0, 104.0 * (1 + 1e-12), 104.0 * (1 - 1e-12), 12.3456, 1834.0, 0.0312])
def test_numbers_of_remedies_are_on_the_safe_side(value: float) -> None:
    """A greatest value is rounded down and a least one up, each by less than the third digit."""
    down, up = floored(value), raised(value)
    assert down <= value * (1 + 1e-9) and up >= value * (1 - 1e-9)
    assert up - down <= 0.0101 * value
    assert figures(down) == figures(float(figures(down))) and figures(up) == figures(float(figures(up)))


def test_what_has_three_digits_is_not_rounded() -> None:
    assert (floored(104.0 * (1 - 1e-12)), raised(104.0 * (1 + 1e-12))) == pytest.approx((104.0, 104.0))
    assert (floored(0.0), floored(math.inf), raised(math.inf)) == (0.0, 0.0, math.inf)
