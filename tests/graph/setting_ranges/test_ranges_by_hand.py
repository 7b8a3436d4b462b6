"""The highest setting that protects, of small harnesses whose currents are told by hand (``hand_ranges``)."""

from __future__ import annotations

import pytest
from hand_ranges import CASES
from wired import AT_20_C

from loadloom.graph.analysis import explore


@pytest.mark.parametrize("name", CASES)
def test_the_highest_setting_is_the_one_by_hand(name: str) -> None:
    case = CASES[name]
    ranges = explore(case.drawn, AT_20_C, lambda _: None)[0].protection.setting_ranges
    for device, (setting_a, by) in case.high_a.items():
        high = ranges[device].high
        assert high is not None, (device, case.because)
        assert (high.setting_a, high.by) == (pytest.approx(setting_a, rel=1e-5), by), case.because
