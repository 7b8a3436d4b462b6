"""Short circuits: against Ohm's law by hand, IEC 60949, and the full solve."""

import math

import pytest
from harnesses import random_harness
from wired import AT_20_C, analysed, contact, facts, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.circuit.solve import solve
from loadloom.graph.faults.power import power_row
from loadloom.graph.model.elements import Band, Behaviour, Tolerance
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, ContactType
from loadloom.graph.ratings.insulation import adiabatic_k_as05_per_mm2
from loadloom.graph.short_circuits.shorted_copper import SHORT, shorted

COPPER_OHM_MM2_PER_M = 0.017241
"""IEC 60028, resistivity of annealed copper at 20 °C."""


def loop(length_m: float, *, trip_a: float = 10.0, **values: object):
    return harness(
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
        limiter("CH1", "p", "a", trip_a, delay_s=1e-3, **values),
        wire("W1", "a", "lp", awg=22, length_m=length_m, rated=5.0),
        wire("W2", "lm", "m", awg=22, length_m=length_m, rated=5.0),
        load("L1", "lp", "lm", 1.0),
    )


def test_long_thin_loop_holds_its_short() -> None:
    """15 m of 22 AWG behind 10 A on 12 V: 1.59 Ω, 7.5 A (Ohm's law; 0.3255 mm² by ASTM B258)."""
    (got,) = found("fault-never-cleared", loop(15.0))
    ohm = 2 * 15.0 * COPPER_OHM_MM2_PER_M / 0.3255
    assert got.severity is Severity.ERROR
    assert got.subject.id == "W1"
    assert got.value == pytest.approx(12.0 / ohm, rel=1e-3)
    assert got.value == pytest.approx(7.53, rel=5e-3)
    row = facts(loop(15.0)).protection.short_circuits.conductors[0].row
    assert row.loop_heat_w == pytest.approx(144.0 / ohm, rel=1e-3)
    assert "1.59 Ω" in got.message and "90.6 W" in got.message and "CH1" in got.message


def test_short_loop_is_cleared() -> None:
    assert found("fault-never-cleared", loop(1.5)) == []
    row = facts(loop(1.5)).protection.short_circuits.conductors[0].row
    assert (row.cleared_by, row.slowest_s) == ("CH1", 1e-3)
    assert row.i2t_a2s == pytest.approx((12.0 / (3 * COPPER_OHM_MM2_PER_M / 0.3255)) ** 2 * 1e-3, rel=1e-3)


def test_hot_and_aged_is_the_least_and_cold_and_new_the_greatest() -> None:
    settings = AnalysisSettings(
        resistance_table="copper",
    )
    drawn = harness(
        output("PS1", "p", "m", tolerance=Tolerance.even(0.05), limit_a=30.0, trip_a=50.0, resistance_ohm=0.1),
        contact("P1.1", "p", "a", resistance_ohm=Band(5e-3, 2e-3, 10e-3)),
        wire("W1", "a", "lp", mm2=1.0, length_m=10.0, insulation="PVC 70 °C"),
        wire("W2", "lm", "m", mm2=1.0, length_m=10.0, insulation="PVC 70 °C"),
        load("L1", "lp", "lm", 1.0),
    )
    row = facts(drawn, settings).protection.short_circuits.conductors[0].row
    r20 = 20.0 * COPPER_OHM_MM2_PER_M
    # Copper: 0.00393 per K from 20 °C (NBS Handbook 100); cold = 20 °C, hot = the insulation's 70 °C.
    assert row.greatest_a == pytest.approx(12.6 / (r20 + 0.1 + 2e-3), rel=1e-3)
    assert row.least_a == pytest.approx(11.4 / (r20 * (1 + 0.00393 * 50.0) + 0.1 + 10e-3), rel=1e-3)


def test_adiabatic_constants() -> None:
    """IEC 60949: k = 226 √ln((234.5 + T2)/(234.5 + T1)); 115 for PVC 70 → 160 °C, 143.1 for XLPE 90 → 250 °C."""
    assert adiabatic_k_as05_per_mm2(70.0, 160.0) == pytest.approx(115.0, abs=0.1)
    assert adiabatic_k_as05_per_mm2(90.0, 250.0) == pytest.approx(143.1, abs=0.1)


@pytest.mark.parametrize(("delay_s", "damaged"), [(0.33, False), (0.332, True)])
def test_time_limit_of_the_handbook_example(delay_s: float, damaged: bool) -> None:
    """Worked example: 1.5 mm² in PVC (k = 115) at 300 A stands for (115 × 1.5 / 300)² = 0.3306 s (IEC 60949)."""
    drawn = harness(
        output("PS1", "p", "m", 30.0, never_trips=True, resistance_ohm=0.1),
        limiter("CH1", "p", "a", 10.0, delay_s=delay_s),
        wire("W1", "a", "lp", mm2=1.5, ohm=0.0, insulation="PVC 70 °C", rated=15.0),
        wire("W2", "lm", "m", mm2=25.0, ohm=0.0, insulation="PVC 70 °C", rated=90.0),
        load("L1", "lp", "lm", 1.0),
    )
    row = facts(drawn).protection.short_circuits.conductors[0].row
    assert row.withstand_a2s == pytest.approx((115.0 * 1.5) ** 2)
    assert row.greatest_a == pytest.approx(300.0)
    assert [f.subject.id for f in found("damage-before-clearing", drawn)] == (["W1"] if damaged else [])


def test_preece_and_onderdonk_stand_beyond_the_insulation_limit() -> None:
    """Onderdonk (Stauffacher 1928), 16 AWG, 5 s, 25 °C: the copper melts at 168.9 A. The limit k S / √t of the
    insulation lies below, so what is judged damaged here is judged before the copper goes.
    """
    cmil, melting_c, ambient_c, seconds = 2581.0, 1083.0, 25.0, 5.0
    melt_a = cmil * math.sqrt(math.log10((melting_c - ambient_c) / (234.0 + ambient_c) + 1.0) / (33.0 * seconds))
    assert melt_a == pytest.approx(168.9, abs=0.2)
    area_mm2 = cmil * 5.067e-4
    assert 115.0 * area_mm2 / math.sqrt(seconds) < 0.5 * melt_a


def behind_a_fuse_of_gates(resistance_ohm: float) -> Harness:
    """12 V over a 10 A fuse that only UL 248-14 tells of, and 2 m of 1.5 mm²."""
    return harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=resistance_ohm),
        fuse("F1", "p", "a", 10.0, "UL 248-14"),
        wire("W1", "a", "lp", mm2=1.5, length_m=1.0, insulation="PVC 70 °C"),
        wire("W2", "lm", "m", mm2=1.5, length_m=1.0, insulation="PVC 70 °C"),
        load("L1", "lp", "lm", 1.0),
    )


def test_beyond_five_seconds_the_adiabatic_test_is_out_of_range() -> None:
    """A UL 248-14 fuse has opened after 120 s at 200 %, and 21 A flow (12 V / 0.57 Ω): marked, not determined."""
    drawn = behind_a_fuse_of_gates(0.55)
    row = facts(drawn).protection.short_circuits.conductors[0].row
    assert row.slowest_s is not None and 100.0 < row.slowest_s <= 120.0 and row.adiabatic_in_range is False
    assert found("damage-before-clearing", drawn) == []


def test_beyond_its_last_gate_a_fuse_lets_through_no_more_heat_than_at_it() -> None:
    """200 % of 10 A for 120 s are 48 kA²s; at 164 A (12 V / 73 mΩ) that is 1.8 s (common practice, no published
    source: what a fuse lets through falls with the current).
    """
    drawn = behind_a_fuse_of_gates(0.05)
    row = facts(drawn).protection.short_circuits.conductors[0].row
    assert row.i2t_a2s == pytest.approx(20.0**2 * 120.0) and row.adiabatic_in_range
    assert row.slowest_s == pytest.approx(20.0**2 * 120.0 / (row.least_a or 0.0) ** 2, rel=1e-3)


def test_unstated_delay_is_no_clearing_time() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
        wire("W1", "p", "lp", mm2=1.5, length_m=1.0),
        wire("W2", "lm", "m", mm2=1.5, length_m=1.0),
        load("L1", "lp", "lm", 1.0),
    )
    row = facts(drawn).protection.short_circuits.conductors[0].row
    assert row.cleared_by == "PS1"
    assert (row.slowest_s, row.i2t_a2s, row.adiabatic_in_range) == (None, None, None)
    (got,) = found("device-not-determined", drawn)
    assert "how fast" in got.message and "Delay" in got.remedy


def test_contact_with_its_own_i2t() -> None:
    settings = AnalysisSettings(
        conductor_temperature_c=20.0,
        resistance_table="copper",
        contact_types={"small": ContactType("small", i2t_a2s=100.0)},
    )
    drawn = harness(
        output("PS1", "p", "m", never_trips=True, resistance_ohm=0.1),
        limiter("CH1", "p", "a", 10.0, delay_s=0.01),
        contact("P1.1", "a", "b", 0.0, contact_type="small"),
        wire("W1", "b", "lp", ohm=0.0, rated=20.0),
        wire("W2", "lm", "m", ohm=0.0, rated=20.0),
        load("L1", "lp", "lm", 1.0),
    )
    # 120 A for 10 ms: 144 A²·s.
    (got,) = found("damage-before-clearing", drawn, settings)
    assert (got.subject.id, got.value, got.limit) == ("P1.1", pytest.approx(144.0), 100.0)


def test_battery_behind_a_device_of_one_kiloampere() -> None:
    """24 V behind 5 mΩ: 4.8 kA."""
    drawn = harness(
        output("BT1", "p", "m", 24.0, never_trips=True, resistance_ohm=5e-3),
        fuse("F1", "p", "a", 30.0, "UL 248-14", breaking_capacity_a=1000.0, voltage_rating_v=58.0),
        wire("W1", "a", "lp", mm2=10.0, length_m=1.0, rated=60.0),
        wire("W2", "lm", "m", mm2=10.0, length_m=1.0, rated=60.0),
        load("L1", "lp", "lm", 10.0),
    )
    (got,) = found("breaking-capacity", drawn)
    assert (got.subject.id, got.value, got.limit) == ("F1", pytest.approx(4800.0), 1000.0)
    assert found("voltage-rating", drawn) == []


def test_fuse_of_32_v_on_48_v() -> None:
    drawn = harness(
        output("PS1", "p", "m", 48.0, limit_a=10.0, trip_a=15.0),
        fuse("F1", "p", "a", 5.0, "UL 248-14", voltage_rating_v=32.0),
        wire("W1", "a", "lp", mm2=1.0, length_m=1.0, rated=10.0, voltage_rating_v=300.0),
        wire("W2", "lm", "m", mm2=1.0, length_m=1.0, rated=10.0, voltage_rating_v=30.0),
        load("L1", "lp", "lm", 1.0),
    )
    assert {(f.subject.id, f.value, f.limit) for f in found("voltage-rating", drawn)} == {
        ("F1", 48.0, 32.0),
        ("W2", 48.0, 30.0),
    }
    assert found("touch-voltage", drawn) == []


def test_outputs_in_series_add_up() -> None:
    drawn = harness(
        output("PS1", "a", "m", 36.0, limit_a=5.0, trip_a=6.0),
        output("PS2", "b", "n", 36.0, limit_a=5.0, trip_a=6.0),
        wire("W1", "b", "lp", mm2=1.0, length_m=1.0, rated=10.0, voltage_rating_v=60.0),
        wire("W2", "lm", "m", mm2=1.0, length_m=1.0, rated=10.0),
        wire("W3", "a", "n", mm2=1.0, length_m=1.0, rated=10.0),
        load("L1", "lp", "lm", 1.0),
    )
    assert [(f.subject.id, f.value) for f in found("voltage-rating", drawn)] == [("W1", 72.0)]
    assert {f.subject.id for f in found("touch-voltage", drawn)} == {"PS1", "PS2"}


def test_constant_current_limits_the_short() -> None:
    """5 A continuously: harmless to a wire of 6 A, a finding with one of 4 A."""

    def drawn(rated_a: float):
        return harness(
            output("PS1", "p", "m", limit_a=5.0, behaviour=Behaviour.CONSTANT_CURRENT),
            wire("W1", "p", "lp", mm2=1.0, length_m=1.0, rated=rated_a),
            wire("W2", "lm", "m", mm2=1.0, length_m=1.0, rated=9.0),
            load("L1", "lp", "lm", 1.0),
        )

    row = facts(drawn(6.0)).protection.short_circuits.conductors[0].row
    assert (row.greatest_a, row.least_a, row.cleared_by) == (5.0, 5.0, None)
    assert found("fault-never-cleared", drawn(6.0)) == []
    (got,) = found("fault-never-cleared", drawn(4.0))
    assert "PS1 limits the current to this" in got.message


def test_retries_heat_with_their_effective_value() -> None:
    """Bursts of 75 A for 10 ms every second: 7.5 A effective, more than the 5 A allowed."""
    hiccup = {"behaviour": Behaviour.HICCUP, "retry_on_s": 0.01, "retry_off_s": 0.99}
    got = found("fault-never-cleared", loop(1.5, **hiccup))
    assert {f.subject.id for f in got} == {"W1", "W2"}
    assert got[0].value == pytest.approx(0.1 * 12.0 / (3 * COPPER_OHM_MM2_PER_M / 0.3255), rel=1e-3)


def test_retries_heat_contacts_as_well() -> None:
    """Bursts of 10 V / 0.25 Ω = 40 A for 0.1 s every second: 12.65 A effective on a contact of 5 A."""

    def drawn(rated: float):
        return harness(
            output("PS1", "p", "m", 10.0, trip_a=100.0, resistance_ohm=0.2),
            limiter("CH1", "p", "q", 4.0, behaviour=Behaviour.HICCUP, retry_on_s=0.1, retry_off_s=0.9),
            wire("W1", "q", "a", ohm=0.02, rated=20.0),
            contact("X1.1", "a", "lp", ohm=0.01, rated=rated),
            wire("W2", "lm", "m", ohm=0.02, rated=20.0),
            load("L1", "lp", "lm", 1.0),
        )

    (got,) = found("fault-never-cleared", drawn(5.0))
    assert got.subject.id == "X1.1"
    assert got.value == pytest.approx(40.0 * 0.1**0.5)
    assert found("fault-never-cleared", drawn(13.0)) == []


def test_a_unit_that_retries_limits_its_own_bursts() -> None:
    """6 A for 20 ms, 1 s off: 6 × sqrt(0.02 / 1.02) = 0.84 A effective; for 1 s, 20 ms off: 5.94 A."""

    def retries(on_s: float, off_s: float) -> dict[str, object]:
        return {"behaviour": Behaviour.HICCUP, "retry_on_s": on_s, "retry_off_s": off_s}

    def drawn(on_s: float, off_s: float):
        return harness(
            output("PS1", "p", "m", limit_a=5.0, trip_a=6.0, **retries(on_s, off_s)),
            wire("W1", "p", "lp", mm2=1.0, length_m=1.0, rated=5.5),
            wire("W2", "lm", "m", mm2=1.0, length_m=1.0, rated=5.5),
            load("L1", "lp", "lm", 1.0),
        )

    assert found("fault-never-cleared", drawn(0.02, 1.0)) == []
    got = found("fault-never-cleared", drawn(1.0, 0.02))
    assert got[0].value == pytest.approx(6.0 * (1.0 / 1.02) ** 0.5)


def test_no_device_at_all() -> None:
    drawn = harness(
        output("BT1", "p", "m", never_trips=True, resistance_ohm=0.1),
        wire("W1", "p", "lp", mm2=1.0, length_m=1.0),
        wire("W2", "lm", "m", mm2=1.0, length_m=1.0),
        load("L1", "lp", "lm", 1.0),
    )
    (got,) = found("fault-never-cleared", drawn)
    assert "there is no device on the path" in got.message


def test_fused_parallel_ways_are_solved_as_a_network() -> None:
    """A short at the far end of a wire between two fuses in parallel paths: each fuse sees its own share of 160 A.
    Just behind the source end of W1 it is 12 V / 50 mΩ, all of it by F1.
    """
    drawn = harness(
        output("BT1", "p", "m", never_trips=True, resistance_ohm=0.05),
        fuse("F1", "p", "a", 5.0, "IEC 60127-2 F"),
        wire("W1", "a", "lp", ohm=0.05, rated=20.0),
        fuse("F2", "p", "b", 5.0, "IEC 60127-2 F"),
        wire("W2", "b", "lp", ohm=0.05, rated=20.0),
        wire("W3", "lm", "m", ohm=0.0, rated=20.0),
        load("L1", "lp", "lm", 1.0),
    )
    short_circuits = {s.part: s for s in facts(drawn).protection.short_circuits.conductors}
    assert short_circuits["W1"].row.greatest_a == pytest.approx(12.0 / 0.075)
    assert short_circuits["W1"].own_least_a == pytest.approx(80.0)
    assert short_circuits["W1"].row.at_source_end_a == short_circuits["W1"].own_greatest_a == pytest.approx(240.0)


@pytest.mark.parametrize("seed", range(8))
def test_shorts_agree_with_a_solve_of_each(seed: int) -> None:
    """Several outputs, some joined: every row's greatest current is that of the shorted network."""
    drawn = random_harness(seed)
    got = facts(drawn, AT_20_C).protection
    network = got.copper[0].network
    checked = 0
    for short in got.short_circuits.conductors[::7]:
        ends = [network.node_index[n] for n in (short.row.at, short.row.to)]
        if short.row.greatest_a is None:
            continue
        solution = solve(shorted(network, *ends))
        assert short.row.greatest_a == pytest.approx(abs(solution.current_a(SHORT)), rel=1e-5)
        checked += 1
    assert checked > 0


def joined(first_a: float, second_a: float):
    """Two batteries, each behind its own fuse, on one bus."""
    return harness(
        output("BT1", "p", "m", never_trips=True, resistance_ohm=0.05),
        fuse("F1", "p", "a", first_a, "IEC 60127-2 F"),
        output("BT2", "q", "m", never_trips=True, resistance_ohm=0.05),
        fuse("F2", "q", "a", second_a, "IEC 60127-2 F"),
        wire("W1", "a", "lp", mm2=1.5, ohm=0.05, rated=20.0, insulation="PVC 70 °C"),
        wire("W2", "lm", "m", mm2=1.5, ohm=0.05, rated=20.0, insulation="PVC 70 °C"),
        load("L1", "lp", "lm", 1.0),
    )


def test_joined_outputs_clear_one_after_the_other() -> None:
    """96 A at first (12 V / 125 mΩ), 48 A through each fuse: 5 A fuses at 9.6 times open within 0.3 s (IEC 60127-2,
    400 %); then 80 A (12 V / 150 mΩ) through the other, 16 times: with no more heat than at the last gate, 50 A for
    0.02 s, so within 7.8 ms. Just behind the source end of W1 480 A (12 V / 25 mΩ) flow, 240 A through each fuse,
    then 240 A through the other: 50 A²s each, of which W1 carries four times in the first.
    """
    row = facts(joined(5.0, 5.0)).protection.short_circuits.conductors[0].row
    assert row.greatest_a == pytest.approx(96.0)
    assert row.cleared_by in ("F1", "F2")
    gate_a2s = 50.0**2 * 0.02
    assert row.slowest_s == pytest.approx(0.3 + gate_a2s / 80.0**2)
    assert row.i2t_a2s == pytest.approx(max(96.0**2 * 0.3 + gate_a2s, 4.0 * gate_a2s + gate_a2s))


def test_joined_outputs_of_which_one_holds() -> None:
    """After the 5 A fuse is gone the other battery feeds 80 A through a fuse of 60 A: 1.33 times, it may hold."""
    settings = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")
    drawn = joined(5.0, 60.0)
    drawn = harness(
        *drawn.outputs, drawn.devices[0], fuse("F2", "q", "a", 60.0, "UL 248-14"), *drawn.conductors, *drawn.loads
    )
    (got,) = found("fault-never-cleared", drawn, settings)
    assert got.value == pytest.approx(80.0)
    assert "F2 is certain to open only above 81 A" in got.message
    row = facts(drawn).protection.short_circuits.conductors[0].row
    # Heat outside the battery: 80 A through 0.1 Ω.
    assert row.loop_heat_w == pytest.approx(640.0)


def test_limited_power_at_24_v() -> None:
    """Worked example: 20 V < Uoc ≤ 30 V DC: 8.0 A and 100 VA (IEC 60950-1 table 2B, carried to IEC 62368-1 annex
    Q). A fault of 100 W is within the class, one of 8.0 A × 24 V is not.
    """
    assert "100 W" in power_row("W1", "nominal", 100.0, None).within
    assert "100 W" in power_row("W1", "nominal", 8.0 * 24.0, None).exceeds


@pytest.mark.parametrize(
    ("bundle", "f1_a"),
    [
        # Straight to its own other terminal: 12 V / 20 mΩ.
        (None, 12.0 / 0.020),
        # Onto the wire beside it, at 48 V: 36 V through both batteries, backwards through F1.
        ("B", (48.0 - 12.0) / (0.020 + 0.010)),
    ],
)
def test_a_device_breaks_what_the_rail_beside_it_sends_through_it(bundle: str | None, f1_a: float) -> None:
    """IEC 60364-4-43 434.5.1, the breaking capacity is not less than the prospective current (from memory)."""
    drawn = harness(
        output("BT1", "p", "m", 12.0, never_trips=True, limit_a=600.0, resistance_ohm=0.020),
        output("BT2", "q", "m", 48.0, never_trips=True, limit_a=2000.0, resistance_ohm=0.010),
        fuse("F1", "p", "a", 10.0, "UL 248-14", breaking_capacity_a=700.0),
        fuse("F2", "q", "c", 10.0, "UL 248-14", breaking_capacity_a=9000.0),
        wire("W1", "a", "b", ohm=0.002, length_m=0.1, rated=30.0, bundle=bundle),
        wire("W2", "c", "d", ohm=0.002, length_m=0.1, rated=30.0, bundle=bundle),
        wire("W3", "e", "m", ohm=0.002, length_m=0.1, rated=60.0),
        load("L1", "b", "e", 2.0),
        load("L2", "d", "e", 2.0),
    )
    results = analysed(drawn)
    assert {row.id: row.prospective_a for row in results.devices} == pytest.approx({"F1": f1_a, "F2": 4800.0})
    told = [f.subject.id for f in results.findings if f.rule == "breaking-capacity"]
    assert told == (["F1"] if bundle else [])
