"""A setting that ``size`` proposes lies in the range that a report of the harness as proposed gives."""

from __future__ import annotations

import pytest
from joined_harnesses import random_joined
from range_harnesses import drawn_at_random
from wired import AT_20_C, fuse, harness, load, output, wire

from loadloom.graph.model.elements import Band, Start
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.sizing.advise import Advised, advise
from loadloom.graph.sizing.device_settings import Setting


def advised(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Advised:
    return advise(drawn, settings, tool_version="test", date="2026-01-01", settings_echo={})


def outside(found: Advised) -> list[Setting]:
    """Changed settings, of the trip plan as well, outside of what the report of the proposal says."""
    rows = {row.id: row for row in found.results.devices}
    wrong = []
    for setting in (*found.advice.devices, *found.advice.trip_plan):
        row = rows.get(setting.id)
        if row is None or setting.proposed_a is None or not setting.changed:
            continue
        low_a, high_a = row.setting_low_a, row.setting_high_a
        if low_a is not None and high_a is not None and low_a > high_a:
            continue
        if not (low_a or 0.0) * (1 - 1e-9) <= setting.proposed_a <= (high_a or 1e9) * (1 + 1e-9):
            wrong.append(setting)
    return wrong


def motor(rating_a: float, stalled_a: float, stands_s: float) -> Harness:
    """A fuse before a motor of 2 A, and wires of 0.04 Ω that may carry 30 A."""
    still = Start(stalled_a=stalled_a, stalled_s=stands_s, stated_at_v=24.0)
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=100.0, trip_a=Band.exact(125.0)),
        fuse("F1", "p", "a", rating_a, "IEC 60127-2 F"),
        wire("W1", "a", "lp", ohm=0.02, rated=30.0, mm2=2.5),
        wire("W2", "lm", "m", ohm=0.02, rated=30.0, mm2=2.5),
        load("M1", "lp", "lm", 2.0, start=still),
    )


@pytest.mark.parametrize("drawn_a", [12.5, 16.0, 25.0])
def test_a_motor_that_stands_still_is_switched_off_with_the_fuse_proposed(drawn_a: float) -> None:
    """24 A at 24 V are 1 Ω at standstill; with 0.04 Ω of wires 23.08 A flow. By the gates of IEC 60127-2 F a fuse
    opens within 2 s from 2.75 times its rating on, and below that only within 1,800 s, from 2.1 times: above
    23.08 / 2.75 = 8.39 A it is not in time for a motor that stands it for 5 s. Wires of 30 A alone would allow
    30 / 2.1 = 14.3 A, where 12.5 A is the next standard rating below.
    """
    found = advised(motor(drawn_a, 24.0, 5.0))
    (setting,) = found.advice.devices
    assert setting.proposed_a == 7.5 and setting.high_a == pytest.approx(24.0 / 1.04 / 2.75, rel=2e-4)
    assert not outside(found)
    assert not [f for f in found.results.findings if f.rule == "stall-not-cleared"]
    assert "M1 at standstill" in setting.reason


@pytest.mark.parametrize("seed", range(4))
def test_joined_outputs_and_devices_side_by_side(seed: int) -> None:
    for drawn in (random_joined(seed), drawn_at_random(seed)):
        assert not outside(advised(drawn))
