"""Numbers as engineers write them."""

import math

import pytest

from loadloom.reports.numbers import (
    aligned,
    column_scale,
    decimals,
    figures,
    quantity,
    share,
    sheet_format,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (8.3333, "8.33"),
        (66.666, "66.7"),
        (125.0, "125"),
        (1250.4, "1250"),
        (0.0012345, "0.00123"),
        (9.996, "10.0"),
        (0.0, "0"),
        (5.5e-15, "0"),
        (-1.5, "−1.50"),
        (3.2e-7, "3.20e-07"),
        (None, "–"),
        (math.nan, "–"),
        (math.inf, "–"),
    ],
)
def test_three_significant_figures(value: float | None, text: str) -> None:
    assert figures(value) == text


def test_decimal_sign_is_a_setting() -> None:
    assert figures(8.3333, ",") == "8,33"
    assert share(0.90625, ",") == "90,6 %"


def test_one_prefix_for_a_column() -> None:
    scale = column_scale([0.0079, 0.0015, 0.12, None], "Ω")
    assert scale.unit == "mΩ"
    assert [scale.of(v) for v in (0.0079, None)] == [pytest.approx(7.9), None]
    assert column_scale([12.0, 24.0], "V").unit == "V"
    assert column_scale([0.8], "°C").unit == "°C"
    assert column_scale([], "A").unit == "A"
    assert quantity(0.0079, "Ω") == "7.90 mΩ"


def test_decimal_signs_stand_under_each_other() -> None:
    column = aligned([8.333, 66.67, 125.0, None])
    assert len({len(text) for text in column}) == 1
    assert [text.find(".") for text in column[:2]] == [3, 3]


def test_sheet_formats_show_three_figures_and_align() -> None:
    assert sheet_format(8.333, 2) == "0.00"
    assert sheet_format(66.67, 2) == "0.0_0"
    assert sheet_format(125.0, 2) == "0_._0_0"
    assert sheet_format(125.0, 0) == "0"
    assert decimals(0.0123) == 4
