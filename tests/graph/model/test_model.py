"""What the model's own small functions say, by hand: factors, settings in their ranges, sections, efficiencies."""

from __future__ import annotations

import math
from dataclasses import fields

import pytest

from loadloom.graph.model.efficiency import STANDS_IN, between, input_power_w
from loadloom.graph.model.elements import (
    Conductor,
    Device,
    DeviceKind,
    Gauge,
    GaugeSystem,
    Make,
    Output,
    Solar,
    Track,
    Vias,
)
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.results import DeviceRow, FactorFormula


def test_a_temperature_factor_is_the_root_of_what_is_left() -> None:
    """√((90 - 50) / (90 - 30)) = 0.816: the form of IEC 60364-5-52 B.52.14's factors, and 0 at the limit."""
    formula = FactorFormula("temperature", limit=90.0, base=30.0)
    assert formula.at(50.0) == pytest.approx(math.sqrt(2.0 / 3.0))
    assert formula.at(20.0) == pytest.approx(math.sqrt(7.0 / 6.0))
    assert (formula.at(90.0), formula.at(95.0)) == (0.0, 0.0)
    bounded = FactorFormula("temperature", limit=90.0, base=30.0, greatest=1.0)
    assert bounded.at(20.0) == 1.0 and bounded.at(50.0) == formula.at(50.0)
    for lacks in ({"limit": 90.0}, {"base": 30.0}, {}):
        with pytest.raises(ValueError, match="no factor formula"):
            FactorFormula("temperature", **lacks).at(50.0)


def test_steps_and_lines_say_nothing_outside_their_points() -> None:
    steps = FactorFormula("steps", points=((3.0, 1.0), (6.0, 0.8), (9.0, 0.7)))
    assert [steps.at(x) for x in (1.0, 3.0, 3.1, 6.0, 9.0, 9.1)] == [1.0, 1.0, 0.8, 0.8, 0.7, None]
    line = FactorFormula("linear", points=((40.0, 1.0), (50.0, 0.7), (60.0, 0.6)))
    assert [line.at(x) for x in (39.9, 60.1)] == [None, None]
    assert [line.at(x) for x in (40.0, 45.0, 50.0, 57.0, 60.0)] == pytest.approx([1.0, 0.85, 0.7, 0.63, 0.6])


def row(**values: object) -> DeviceRow:
    """A device's row of which only what is given is looked at."""
    every = {each.name: None for each in fields(DeviceRow)} | {"setting_range_note": ""} | values
    return DeviceRow(**every)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("low", "high", "setting", "note", "stands"),
    [
        (5.0, 10.0, 7.0, "", "inside"),
        (5.0, 10.0, 5.0, "", "inside"),
        (5.0, 10.0, 10.0, "", "inside"),
        (5.0, 10.0, 4.99, "", "too low"),
        (5.0, 10.0, 10.01, "", "too high"),
        (10.0, 5.0, 7.0, "", "no range"),
        (5.0, 5.0, 5.0, "", "inside"),
        (5.0, None, 70.0, "others keep it", "inside"),
        (5.0, None, 4.0, "others keep it", "too low"),
        (5.0, None, 7.0, "", "not determined"),
        (5.0, None, 4.0, "not determined: too large", "too low"),
        (5.0, None, 7.0, "not determined: too large", "not determined"),
        (5.0, 10.0, 7.0, "not determined: too large", "inside"),
        (None, 10.0, 7.0, "", "not determined"),
        (5.0, 10.0, None, "", "not set"),
    ],
)
def test_where_a_setting_stands_in_its_range(
    low: float | None, high: float | None, setting: float | None, note: str, stands: str
) -> None:
    found = row(setting_low_a=low, setting_high_a=high, setting_a=setting, setting_range_note=note)
    assert found.setting_stands == stands


def test_the_narrowest_of_a_track_and_its_vias_is_its_section() -> None:
    """A barrel of 0.3 mm with 20 µm: π (0.3 + 0.02) 0.02 = 0.0201 mm²."""
    barrel_mm2 = math.pi * 0.32 * 0.02

    def section(track: Track | None, gauge: Gauge | None = None) -> float | None:
        subject = Subject("W1")
        return Conductor(id="W1", subject=subject, node_a="a", node_b="b", track=track, gauge=gauge).area_mm2

    assert Vias(3, 0.3e-3, 20e-6).area_mm2 == pytest.approx(3 * barrel_mm2)
    wide = (2e-3, 35e-6, True, 105.0)
    assert section(Track(*wide)) == pytest.approx(0.07)
    assert section(Track(*wide, Vias(2, 0.3e-3, 20e-6))) == pytest.approx(2 * barrel_mm2)
    assert section(Track(*wide, Vias(9, 0.3e-3, 20e-6))) == pytest.approx(0.07)
    for unknown in (Track(None, 35e-6, True, 105.0), Track(2e-3, None, True, 105.0, Vias(2, 0.3e-3, 20e-6))):
        assert section(unknown) is None and str(unknown) == ""
    assert section(None) is None and section(None, Gauge(GaugeSystem.MM2, "1.5", 1.5)) == 1.5
    assert str(Track(*wide)) == "2 mm × 35 µm, outer"
    assert str(Track(0.25e-3, 17.5e-6, False, None)) == "0.25 mm × 17.5 µm, inner"


def test_what_a_wires_make_leaves_open_is_taken_from_another() -> None:
    assert Make(7).over(Make(19, True, 5)) == Make(7, True, 5)
    assert Make(None, False, 2).over(Make(19, True, 5)) == Make(19, False, 2)


@pytest.mark.parametrize(
    ("bundle", "lies_in"), [(None, None), ("none", None), ("None", None), ("B1", "B1"), ("nonesuch", "nonesuch")]
)
def test_a_conductor_that_lies_apart_lies_in_no_bundle(bundle: str | None, lies_in: str | None) -> None:
    assert Conductor(id="W1", subject=Subject("W1"), node_a="a", node_b="b", bundle=bundle).lies_in == lies_in


def test_the_number_on_a_device() -> None:
    def number(kind: DeviceKind, active: bool = True) -> float | None:
        subject = Subject("F1")
        return Device(
            id="F1", subject=subject, node_a="a", node_b="b", kind=kind, rating_a=5.0, hold_a=3.0, active=active
        ).setting_a

    assert (number(DeviceKind.FUSE), number(DeviceKind.BREAKER)) == (5.0, 5.0)
    assert (number(DeviceKind.RESETTABLE), number(DeviceKind.LIMITER)) == (3.0, None)
    assert number(DeviceKind.FUSE, active=False) is None


def test_remote_sense_adds_only_where_a_lead_is_drawn() -> None:
    def added(**leads: str) -> float:
        return Output(
            id="PS1", subject=Subject("PS1"), node_plus="p", node_minus="m", sense_limit_v=0.5, **leads
        ).sense_added_v

    assert (added(), added(sense_plus="s"), added(sense_minus="t")) == (0.0, 0.5, 0.5)


def test_strings_beside_each_other_drive_back_through_one() -> None:
    assert Solar(15.0, 4, 9.0).from_beside_a == 27.0
    assert Solar().from_beside_a == 0.0


def test_between_points_it_is_linear_and_beyond_them_the_end() -> None:
    points = ((0.2, 0.8), (0.5, 0.92), (1.0, 0.9))
    assert [between(points, x) for x in (0.1, 0.2, 0.35, 0.5, 0.75, 1.0, 1.3)] == pytest.approx(
        [0.8, 0.8, 0.86, 0.92, 0.91, 0.9, 0.9]
    )


def test_an_input_draws_its_outputs_power_over_the_efficiency() -> None:
    """46 W at 92 % are 50 W; 2 W more without load."""
    assert input_power_w(46.0, ((1.0, 0.92),), 100.0, 2.0) == pytest.approx(52.0)
    curve = ((0.2, 0.8), (1.0, 0.9))
    assert input_power_w(60.0, curve, 100.0, 2.0) == pytest.approx(60.0 / 0.85 + 2.0)
    assert input_power_w(60.0, curve, None, 2.0) == pytest.approx(60.0 / 0.8 + 2.0), "the least of all"
    assert input_power_w(60.0, (), 100.0, 2.0) == pytest.approx(60.0 / STANDS_IN + 2.0)
