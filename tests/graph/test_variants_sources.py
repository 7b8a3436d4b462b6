"""Outputs in series, outputs behind diodes and a setting range that only the overload band opens, recomputed by
hand."""

from __future__ import annotations

import pytest
from wired import analysed, contact, fuse, harness, load, output, wire

from loadloom.graph.model.elements import Behaviour, DeviceKind, Diode, LoadKind, Tolerance
from loadloom.graph.model.findings import Severity, Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def results(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Results:
    return analysed(drawn, settings)


def rules(found: Results) -> set[str]:
    return {finding.rule for finding in found.findings}


def bipolar(*, return_drawn: bool = True) -> Harness:
    """+12 V and -12 V about a common, and a load of 5 A across both: 2 × 0.1 Ω between."""
    return harness(
        output("PS1", "p", "z", 12.0, limit_a=10.0, trip_a=10.0, tolerance=Tolerance.even(0.05)),
        output("PS2", "z", "n", 12.0, limit_a=10.0, trip_a=10.0, tolerance=Tolerance.even(0.05)),
        wire("W1", "p", "a", ohm=0.1, rated=20.0),
        wire("W2", "b", "n" if return_drawn else "nowhere", ohm=0.1, rated=20.0),
        load("L1", "a", "b", 5.0, maximum_v=25.0),
    )


def test_a_load_across_two_outputs_in_series_is_fed_by_both() -> None:
    found = results(bipolar())
    (row,) = found.loads
    assert row.fed_by == ("PS1", "PS2")
    assert row.voltage_v == pytest.approx(2 * 12.0 * 0.95 - 5.0 * 0.2)
    assert row.voltage_high_v == pytest.approx(2 * 12.0 * 1.05)
    assert row.drop_v == pytest.approx(5.0 * 0.2)
    assert "return-missing" not in rules(found)
    assert "voltage-high" in rules(found)  # 25.2 V on 25 V


def test_a_series_without_its_last_return_has_no_way_back() -> None:
    assert "return-missing" in rules(results(bipolar(return_drawn=False)))


def test_a_load_between_two_plus_terminals_is_no_series() -> None:
    drawn = harness(
        output("PS1", "p", "z", 12.0, limit_a=10.0, trip_a=10.0),
        output("PS2", "q", "z", 5.0, limit_a=10.0, trip_a=10.0),
        load("L1", "p", "q", 1.0),
    )
    assert "return-missing" in rules(results(drawn))


def diode(name: str, a: str, b: str) -> Diode:
    return Diode(id=name, subject=Subject(name), node_a=a, node_b=b, forward_drop_v=0.4, rating_a=20.0)


@pytest.mark.parametrize("diodes", [True, False])
def test_battery_and_supply_on_one_load(diodes: bool) -> None:
    """13.8 V less 0.4 V feeds the load; the battery of 12 V stands by, and no drop is counted from its voltage."""
    parts = (
        output("BT1", "bp", "m", 12.0, limit_a=20.0, trip_a=25.0, resistance_ohm=0.01),
        output("PS1", "sp", "m", 13.8, limit_a=20.0, trip_a=25.0),
        wire("W1", "bp", "x" if diodes else "n", ohm=0.05, rated=30.0),
        wire("W2", "sp", "y" if diodes else "n", ohm=0.05, rated=30.0),
        wire("W3", "n", "b", ohm=0.05, rated=60.0),
        load("L1", "b", "m", 8.0),
    )
    drawn = harness(*parts, diodes=(diode("D1", "x", "n"), diode("D2", "y", "n")) if diodes else ())
    found = results(drawn)
    (joined,) = [f for f in found.findings if f.rule == "outputs-joined"]
    assert ("None can be fed backwards" in joined.message) is diodes
    assert ("back-feed" in rules(found)) is not diodes
    if diodes:
        assert found.loads[0].drop_v == pytest.approx(0.4 + 8.0 * 0.1)


@pytest.mark.parametrize(
    ("rated_a", "amperes", "error"),
    [(10.0, 8.0, False), (10.0, 10.0, False), (9.4, 8.0, False), (9.9, 10.0, True), (7.9, 8.0, True)],
)
def test_a_window_that_the_overload_band_opens(rated_a: float, amperes: float, error: bool) -> None:
    """IEC 60364-4-43 433.1 (value from memory): Ib ≤ In ≤ Iz, and 1.35 In ≤ 1.45 Iz by the UL 248-14 gate.

    There is such an In while Ib ≤ min(1, 1.45 / 1.35) · Iz = Iz.
    """
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=60.0, trip_a=80.0, resistance_ohm=0.001),
        fuse("F1", "p", "a", 10.0, "UL 248-14", voltage_rating_v=32.0, breaking_capacity_a=50e3),
        wire("W1", "a", "b", mm2=1.5, length_m=2.0, rated=rated_a),
        wire("W2", "c", "m", mm2=1.5, length_m=2.0, rated=40.0),
        load("L1", "b", "c", amperes),
    )
    found = results(drawn)
    assert ("no-setting-range" in rules(found)) is error
    (row,) = found.devices
    assert row.kind == DeviceKind.FUSE
    # By the band the printed rating may be what the wire is allowed: 1.35 is below 1.45.
    assert row.setting_high_a == pytest.approx(rated_a)


def two_batteries() -> Harness:
    """24 V behind 10 mΩ each, a fuse of 20 A in each lead: 1.35 × 20 A = 27 A may flow backwards continuously."""
    return harness(
        output("BT1", "p1", "m", 24.0, limit_a=30.0, never_trips=True, resistance_ohm=0.01),
        output("BT2", "p2", "m", 24.0, limit_a=30.0, never_trips=True, resistance_ohm=0.01),
        fuse("F1", "p1", "q1", 20.0, "UL 248-14", voltage_rating_v=32.0, breaking_capacity_a=10e3),
        fuse("F2", "p2", "q2", 20.0, "UL 248-14", voltage_rating_v=32.0, breaking_capacity_a=10e3),
        wire("W1", "q1", "n", ohm=0.004, rated=30.0),
        wire("W2", "q2", "n", ohm=0.004, rated=30.0),
        load("L1", "n", "m", 16.0),
    )


def test_the_lead_that_is_fed_backwards_is_the_outputs_own() -> None:
    found = {f.subject.id: f for f in results(two_batteries()).findings if f.rule == "back-feed"}
    assert found["BT1"].value == found["BT2"].value == pytest.approx(27.0)
    assert "its lead W1" in found["BT1"].message
    assert "its lead W2" in found["BT2"].message


def test_a_load_beyond_a_holding_output_names_it() -> None:
    """A constant-current output of 5 A and a load of 8 A: more copper would not help."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=5.0, behaviour=Behaviour.CONSTANT_CURRENT),
        wire("W1", "p", "b", ohm=0.02, rated=20.0),
        load("L1", "b", "m", 8.0),
    )
    (got,) = [f for f in results(drawn).findings if f.rule == "load-unfed"]
    assert "8 A" in got.message and "PS1 gives no more than 5 A" in got.message
    assert "higher limit" in got.remedy


def test_a_load_with_both_terminals_on_one_net_is_one_error() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=10.0, trip_a=12.0),
        wire("W1", "p", "lp", ohm=0.02, rated=20.0),
        wire("W2", "lm", "m", ohm=0.02, rated=20.0),
        load("L1", "lp", "lp", 1.0),
        load("L2", "lp", "lm", 1.0),
    )
    (got,) = [f for f in results(drawn).findings if f.subject.id == "L1"]
    assert (got.rule, got.severity) == ("load-unfed", Severity.ERROR)
    assert "both its terminals are on lp" in got.message


def test_a_load_that_the_copper_can_not_feed() -> None:
    """12 V through 0.2 Ω passes 12² / (4 × 0.2) = 180 W at most: 179 W are fed, 181 W are not."""
    for watts, unfed in ((179.0, False), (181.0, True)):
        drawn = harness(
            output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=80.0),
            wire("W1", "p", "b", ohm=0.1, rated=50.0),
            wire("W2", "c", "m", ohm=0.1, rated=50.0),
            load("L1", "b", "c", watts, demand_kind=LoadKind.POWER),
        )
        got = [f for f in results(drawn).findings if f.rule == "load-unfed"]
        assert bool(got) is unfed
        assert all(f"{watts:.0f} W" in f.message for f in got)


def test_what_nothing_states_is_told_with_the_parts_that_it_holds_for() -> None:
    """A material that comes in several classes, no bundle, no voltage rating; of what is stated nothing is said."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=25.0),
        wire("W1", "p", "a", mm2=1.5, length_m=1.0, insulation="PVC"),
        wire("W2", "a", "b", mm2=1.5, length_m=1.0, insulation="PVC", voltage_rating_v=300.0),
        wire("W3", "c", "d", mm2=1.5, length_m=1.0, insulation="PVC 70 °C", bundle="B"),
        wire("W4", "d", "e", mm2=1.5, length_m=1.0, insulation="PVC 70 °C", bundle="B", voltage_rating_v=300.0),
        contact("P1.1", "e", "m", rated=9.0, contact_type="superpin", voltage_rating_v=60.0),
        load("L1", "b", "c", 1.0, maximum_v=14.0),
    )
    told = results(drawn).assumptions
    assert "PS1: no tolerance is stated with Trip: it is taken as exact." in told
    assert "L1: no Minimum voltage is stated: not checked." in told
    assert not any("Maximum voltage" in line for line in told)
    assert sum(line.startswith("W1 and W2: no temperature is stated for PVC") for line in told) == 1
    assert "P1.1: the settings describe no contact type “superpin”: what the drawing itself states counts." in told
    assert "W1 and W2: no Bundle is stated: each is rated with no other beside it." in told
    assert "W1 and W3: no Voltage rating is stated: whether the highest voltage is too much is not checked." in told


def test_what_remote_sense_adds_is_not_counted_and_said() -> None:
    """15 A through 2 × 0.01 Ω: 11.7 V at the load, where the output might hold 12 V."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=25.0, sense_plus="s1", sense_minus="s2"),
        wire("W1", "p", "b", ohm=0.01, rated=30.0),
        wire("W2", "c", "m", ohm=0.01, rated=30.0),
        wire("W3", "s1", "b", ohm=0.2, rated=2.0),
        wire("W4", "s2", "c", ohm=0.2, rated=2.0),
        load("L1", "b", "c", 15.0, minimum_v=11.9),
    )
    found = results(drawn)
    (got,) = [f for f in found.findings if f.rule == "voltage-low"]
    assert got.value == pytest.approx(11.7) and "remote sense" in got.message
    assert [f.subject.id for f in found.findings if f.rule == "sense-not-determined"] == ["PS1"]


def test_a_load_the_wrong_way_round_is_not_told_to_shorten_its_way() -> None:
    """3 A through 2 × 0.01 Ω the other way: −11.94 V, which no copper mends."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=25.0),
        wire("W1", "p", "b", ohm=0.01, rated=30.0),
        wire("W2", "c", "m", ohm=0.01, rated=30.0),
        load("L1", "c", "b", 3.0, minimum_v=11.0),
    )
    (got,) = [f for f in results(drawn).findings if f.rule == "voltage-low"]
    assert got.value == pytest.approx(-11.94) and "Swap" in got.remedy and "Shorten" not in got.remedy


def test_exposure_that_nothing_bounds_is_no_number() -> None:
    """An output that never shuts down, without internal resistance: a pinch at its terminals has no bound."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=10.0, never_trips=True),
        wire("W1", "p", "b", ohm=0.02, rated=20.0),
        wire("W2", "c", "m", ohm=0.02, rated=20.0),
        load("L1", "b", "c", 5.0),
    )
    messages = [f.message for f in results(drawn).findings]
    assert any("a current that nothing stated limits" in m for m in messages)
    assert not any("inf A" in m for m in messages)
