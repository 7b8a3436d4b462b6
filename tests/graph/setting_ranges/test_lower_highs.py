"""Setting ranges that hold in two states: the lower high end counts, and what is not determined passes nowhere."""

from __future__ import annotations

import pytest

from loadloom.graph.setting_ranges.highest_settings import UNKNOWN, lower_highs
from loadloom.graph.setting_ranges.setting_ranges import Bound, SettingRange

NONE_FITS, OPEN = "nothing rated", f"{UNKNOWN}: too many states"


def of(high_a: float | None, cause: str = "", *protects: str) -> dict[str, SettingRange]:
    high = None if high_a is None else Bound(high_a, "W1", high_a)
    return {"Q1": SettingRange("Q1", 5.0, Bound(1.0, "nominal", 1.0), high, (), (), protects, cause=cause)}


@pytest.mark.parametrize(
    ("first", "second", "high_a", "cause", "protects"),
    [
        (of(8.0, "", "W1"), of(6.0, "", "W2", "W1"), 6.0, "", ("W1", "W2")),
        (of(6.0, "", "W1"), of(8.0, "", "W2"), 6.0, "", ("W1",)),
        # Nothing to protect in one of the states: the other's end counts.
        (of(8.0, "", "W1"), of(None, NONE_FITS), 8.0, "", ("W1",)),
        (of(None, NONE_FITS), of(6.0, "", "W2"), 6.0, "", ("W2",)),
        # Not determined in either: there is no high end.
        (of(8.0, "", "W1"), of(None, OPEN), None, OPEN, ("W1",)),
        (of(None, OPEN), of(6.0, "", "W2"), None, OPEN, ()),
    ],
)
def test_the_lower_high_end_counts(
    first: dict[str, SettingRange],
    second: dict[str, SettingRange],
    high_a: float | None,
    cause: str,
    protects: tuple[str, ...],
) -> None:
    found = lower_highs(first, second)["Q1"]
    assert (found.high.setting_a if found.high else None, found.cause, found.protects) == (high_a, cause, protects)


def test_a_device_of_one_state_alone_keeps_its_range() -> None:
    assert lower_highs(of(8.0), {}) == of(8.0)
