"""At the highest setting that is told, a fault holds just what the part behind it is allowed; a little above, more.

The setting comes from what a device holds at least while the part is at its limit, the currents from the search of
faults with that setting: two ways to one number. The harnesses are those of ``hand_ranges``.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from fault_bench import faults_of
from hand_ranges import CASES
from wired import AT_20_C

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Device
from loadloom.graph.model.harness import Harness


def with_setting(drawn: Harness, name: str, setting_a: float) -> Harness:
    def changed(device: Device) -> Device:
        if device.id != name:
            return device
        if device.trip_a is None:
            return replace(device, rating_a=setting_a)
        share = setting_a / device.trip_a.nominal
        return replace(
            device,
            trip_a=Band(*(share * a for a in (device.trip_a.nominal, device.trip_a.lower, device.trip_a.upper))),
        )

    return replace(drawn, devices=tuple(changed(device) for device in drawn.devices))


@pytest.mark.parametrize("name", CASES)
def test_at_the_highest_setting_it_protects_and_just_above_it_does_not(name: str) -> None:
    case = CASES[name]
    ranges = explore(case.drawn, AT_20_C, lambda _: None)[0].protection.setting_ranges
    for device in case.high_a:
        high = ranges[device].high
        assert high is not None and high.by is not None, case.because
        here, above = (
            faults_of(with_setting(case.drawn, device, high.setting_a * share)).parts[high.by]
            for share in (1.0, 1.002)
        )
        assert here.allowed_a is not None and here.sustained_fault_a is not None
        assert here.sustained_fault_a == pytest.approx(here.allowed_a, rel=1e-5), case.because
        assert here.protected and not above.protected
        assert above.sustained_fault_a is not None
        assert here.allowed_a < above.sustained_fault_a < here.allowed_a * 1.0021
