"""Sustained fault current, where the numbers can be recomputed by hand.

Wire resistance is copper at 20 °C, 0.017241 Ω·mm²/m (IEC 60028), area of AWG sizes by ASTM B258; the rest is Ohm's
and Kirchhoff's laws, worked out beside each number.
"""

import dataclasses
import math

import pytest
from fault_bench import AT_20_C, faults_of, networks_of, ratings_of, thresholds_of
from given_fault import fault_at
from wired import awg_area_mm2, contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.facts.protection import Protection, find_protection
from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.model.elements import Band, Behaviour, Chassis, Connector, Diode, LoadKind
from loadloom.graph.model.findings import Finding, Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.structure.output_sides import OutputSides
from loadloom.graph.structure.topology import Topology, topology
from loadloom.graph.verdict.registry import all_rules

RHO = 0.017241
POOLED = {"limit_a": 83.3, "trip_a": 125.0}
CONSTANT = {"limit_a": 10.0, "behaviour": Behaviour.CONSTANT_CURRENT}


def findings(rule: str, drawn: Harness, settings: AnalysisSettings = AT_20_C) -> list[Finding]:
    """What a rule says; only the parts of the facts that the rules on faults look at."""

    @dataclasses.dataclass(frozen=True)
    class OnlyFaults:
        harness: Harness
        settings: AnalysisSettings
        ratings: dict
        faults: FaultAnswer
        cases: tuple[Case, ...]
        protection: Protection
        topology: Topology
        currents: dict  # none: what is said of the fault alone
        output_sides: OutputSides
        may_open: tuple[()] = ()  # no output is taken off

    check = all_rules()[rule].check
    assert check is not None
    ratings, cases = ratings_of(drawn), drawn.cases(settings)
    protection = find_protection(drawn, settings, cases, ratings)
    faults = faults_of(drawn, settings)
    sides = OutputSides(drawn)
    known = OnlyFaults(drawn, settings, ratings, faults, cases, protection, topology(drawn), {}, sides)
    return list(check(known))  # type: ignore[arg-type]


def sensor_lead(**device: float) -> Harness:
    """18 AWG pair of 1.5 m to a 3 A load, beside another load at the terminals."""
    start = "s" if device else "+"
    parts = [limiter("Q1", "+", "s", device["trip_a"])] if device else []
    return harness(
        output("U1", "+", "-", **POOLED),
        *parts,
        wire("W1", start, "a", awg=18, length_m=1.5, rated=10.0),
        wire("W2", "b", "-", awg=18, length_m=1.5, rated=10.0),
        load("L1", "a", "b", 3.0),
        load("L2", "+", "-", 60.0),
    )


def test_thin_pair_on_a_pooled_output_carries_its_whole_trip():
    drawn = sensor_lead()
    answer = faults_of(drawn)
    loop_ohm = 2 * 1.5 * RHO / awg_area_mm2(18)
    for name in ("W1", "W2"):
        part = answer.parts[name]
        assert part.sustained_fault_a == pytest.approx(125.0)
        assert part.protected is False
        assert part.held_by == "U1"
        assert (part.fault.at, part.fault.kind) == ("L1", "load")
        # 12 V over 125 A less the pair: 0.033 Ω.
        assert part.fault.fault_resistance_ohm == pytest.approx(12.0 / 125.0 - loop_ohm)
        assert part.fault.fault_power_w == pytest.approx(125.0 * (12.0 - 125.0 * loop_ohm))
        # Above 10 A in the pair: from there up to 12 V / 10 A less the pair.
        assert part.fault.resistance_band_ohm == pytest.approx((12 / 125 - loop_ohm, 12 / 10 - loop_ohm))
        assert part.loads_a == ()


def test_one_given_fault_in_place_of_the_load():
    drawn = sensor_lead()
    state = fault_at(
        drawn,
        networks_of(drawn, AT_20_C, Case("nominal"))[0],
        thresholds_of(drawn, AT_20_C, Case("nominal")),
        "L1",
        "b",
        0.12,
    )
    per_metre = RHO / awg_area_mm2(18)
    # 12 V / (0.12 Ω + 3 m of wire) = 65.6 A, 90 W in every metre, and nothing opens.
    assert state.fault_a == pytest.approx(12.0 / (0.12 + 3.0 * per_metre), rel=1e-6)
    assert state.fault_a == pytest.approx(65.6, abs=0.05)
    assert state.heat_w_per_m("W1", per_metre) == pytest.approx(90.0, abs=0.5)
    assert state.opens == ()


def test_rules_say_what_burns_where_and_what_would_stop_it():
    found = findings("path-unprotected", sensor_lead())
    assert [f.subject.id for f in found] == ["W1", "W2"]
    text = found[0].message + found[0].remedy
    for words in ("125 A", "10 A", "in place of load L1", "U1 can pass 125 A", "327 W of heat in every metre"):
        assert words in text
    assert findings("contact-unprotected", sensor_lead()) == []


def test_a_limiter_on_the_way_bounds_it():
    answer = faults_of(sensor_lead(trip_a=20.0))
    assert answer.parts["W1"].sustained_fault_a == pytest.approx(20.0)
    assert answer.parts["W1"].protected is False
    fitting = sensor_lead(trip_a=20.0)
    fitting = dataclasses.replace(
        fitting, conductors=tuple(dataclasses.replace(c, own_rating_a=20.0) for c in fitting.conductors)
    )
    answer = faults_of(fitting)
    assert answer.parts["W1"].protected is True
    assert answer.parts["W1"].protected_by == ("Q1",)
    assert findings("path-unprotected", fitting) == []


def splice_tap() -> Harness:
    return harness(
        output("U1", "+", "-", limit_a=100.0, trip_a=150.0),
        fuse("F1", "+", "f", 20.0, "UL 248-14"),
        wire("W1", "f", "s", awg=14, length_m=1.0, rated=30.0),
        wire("W2", "s", "t", awg=22, length_m=0.12, rated=5.0),
        wire("W3", "b", "-", awg=14, length_m=1.0, rated=30.0),
        load("L1", "t", "b", 0.2),
    )


def test_thin_tap_behind_a_thick_trunks_fuse():
    """UL 248-14 gates: 135 % within an hour, so 27 A may stand continuously on a fuse of 20 A."""
    answer = faults_of(splice_tap())
    assert answer.parts["W1"].protected is True
    assert answer.parts["W2"].sustained_fault_a == pytest.approx(27.0)
    assert [f.subject.id for f in findings("path-unprotected", splice_tap())] == ["W2"]


@pytest.mark.parametrize(("rated", "rule"), [(6.0, "overload-band"), (5.1, "path-unprotected")])
def test_a_supply_that_limits_below_the_fuse(rated: float, rule: str):
    """7.5 A held, limit 5 A: within 1.45 × 6 A = 8.7 A it is a band, above 1.45 × 5.1 A = 7.4 A it is not."""
    drawn = harness(
        output("U1", "+", "-", limit_a=5.0, trip_a=7.5),
        fuse("F1", "+", "f", 10.0, "UL 248-14"),
        wire("W1", "f", "a", awg=20, length_m=1.0, rated=rated),
        wire("W2", "b", "-", awg=20, length_m=1.0, rated=20.0),
        load("L1", "a", "b", 3.0),
    )
    part = faults_of(drawn).parts["W1"]
    assert part.sustained_fault_a == pytest.approx(7.5)
    assert part.held_by == "U1"
    for name in ("overload-band", "path-unprotected"):
        assert [f.subject.id for f in findings(name, drawn)] == (["W1"] if name == rule else [])


def test_band_of_a_gated_fuse():
    """UL 248-14: 135 % within an hour; 27 A on a wire of 20 A is within 1.45 × 20 A = 29 A."""
    drawn = harness(
        output("U1", "+", "-", limit_a=100.0, trip_a=150.0),
        fuse("F1", "+", "f", 20.0, "UL 248-14"),
        wire("W1", "f", "a", awg=12, length_m=1.0, rated=20.0),
        wire("W2", "b", "-", awg=12, length_m=1.0, rated=40.0),
        load("L1", "a", "b", 10.0),
    )
    (found,) = findings("overload-band", drawn)
    assert (found.subject.id, found.value) == ("W1", pytest.approx(27.0))
    assert "up to 1 h" in found.message
    assert findings("path-unprotected", drawn) == []


def test_the_band_is_told_of_the_arrangement_that_has_it():
    """The fuse's 27 A are within 1.45 × 20 A; pooled, the next size of fuse lets 40.5 A through, which is not."""
    drawn = harness(
        output("U1", "+", "-", limit_a=100.0, trip_a=150.0),
        fuse("F1", "+", "f", 20.0, "UL 248-14", by_word={"pooled": {"rating_a": 30.0}}),
        wire("W1", "f", "a", awg=12, length_m=1.0, rated=20.0),
        wire("W2", "b", "-", awg=12, length_m=1.0, rated=60.0),
        load("L1", "a", "b", 10.0),
    )
    (banded,), (open_one,) = findings("overload-band", drawn), findings("path-unprotected", drawn)
    assert (banded.value, open_one.value) == (pytest.approx(27.0), pytest.approx(40.5))
    assert "1.35 times" in banded.message and "pooled" not in (banded.case or "")


def test_loop_that_holds_the_short_below_the_limiter():
    """15 m of 22 AWG both ways hold a short circuit at the far end to 12 V / 1.59 Ω; a pinch nearer reaches 10
    A."""
    drawn = harness(
        output("U1", "+", "-", **POOLED),
        limiter("Q1", "+", "s", 10.0),
        wire("W1", "s", "a", awg=22, length_m=15.0, rated=6.0),
        wire("W2", "b", "-", awg=22, length_m=15.0, rated=6.0),
        load("L1", "a", "b", 1.0),
    )
    answer = faults_of(drawn)
    loop = 2 * 15.0 * RHO / awg_area_mm2(22)
    assert answer.parts["W2"].sustained_fault_a == pytest.approx(12.0 / loop)
    assert answer.parts["W2"].sustained_fault_a == pytest.approx(7.53, abs=0.03)
    assert answer.parts["W2"].held_by is None
    assert answer.parts["W1"].sustained_fault_a == pytest.approx(10.0)


def test_far_pinch_is_named_where_the_most_of_the_conductor_carries_it():
    """1.2 Ω of wire behind a device that holds 20 A: 12 V reach 20 A only up to half way."""
    drawn = harness(
        output("U1", "+", "-", **POOLED),
        limiter("Q1", "+", "s", 20.0),
        wire("W1", "s", "a", ohm=1.2, length_m=10.0, rated=6.0),
        wire("W2", "b", "-", ohm=1.2, length_m=10.0, rated=6.0),
        load("L1", "a", "b", 1.0),
    )
    part = faults_of(drawn).parts["W1"]
    assert part.sustained_fault_a == pytest.approx(20.0)
    assert part.fault.at == "W1:0.50"
    assert part.fault.fault_resistance_ohm == pytest.approx(0.0, abs=1e-9)


def six_paths() -> Harness:
    parts = []
    for k in range(1, 7):
        parts += [
            contact(f"P1.{k}", "+", f"s{k}", 1.5e-3, rated=9.2),
            wire(f"W{k}", f"s{k}", f"e{k}", ohm=7.9e-3, length_m=0.5, rated=15.0),
            contact(f"P2.{k}", f"e{k}", "a", 1.5e-3, rated=9.2),
        ]
    return harness(
        output("U1", "+", "-", **POOLED),
        *parts,
        wire("R1", "b", "-", mm2=16, length_m=0.5, rated=150.0),
        load("L1", "a", "b", 0.0),
    )


def test_pinch_close_behind_one_of_six_contacts():
    """1.5 mΩ against 7.9 + 1.5 + 10.9/5 mΩ: 88.5 % of 125 A on that path's source-end contact."""
    part = faults_of(six_paths()).parts["P1.1"]
    around = 7.9 + 1.5 + 10.9 / 5
    assert part.sustained_fault_a == pytest.approx(125.0 * around / (around + 1.5))
    assert part.sustained_fault_a / 125.0 == pytest.approx(0.885, abs=5e-4)
    assert part.sustained_fault_a == pytest.approx(110.7, abs=0.05)
    assert part.fault.at == "W1:0.00"
    assert len(findings("contact-unprotected", six_paths())) == 12


def test_return_in_a_bundle_with_a_feed_gets_the_feeds_sustained_fault():
    drawn = harness(
        output("U1", "+", "-", limit_a=40.0, trip_a=50.0),
        wire("W1", "+", "a", mm2=10, length_m=1.0, rated=60.0, bundle="B"),
        wire("W2", "b", "-", mm2=10, length_m=1.0, rated=60.0),
        load("L1", "a", "b", 30.0),
        fuse("F1", "+", "f", 1.0),
        wire("W3", "f", "s", awg=22, length_m=1.0, rated=3.0),
        wire("W4", "t", "-", awg=22, length_m=1.0, rated=3.0, bundle="B"),
        load("L2", "s", "t", 0.1),
    )
    answer = faults_of(drawn)
    assert (
        answer.parts["W4"].sustained_fault_a
        == pytest.approx(answer.parts["W1"].sustained_fault_a)
        == pytest.approx(50.0)
    )
    assert answer.parts["W4"].fault.kind == "wires"
    apart = dataclasses.replace(
        drawn, conductors=tuple(dataclasses.replace(c, bundle=None) for c in drawn.conductors)
    )
    # UL 248-14 holds the least certain of the shipped bands at 2.1 × 1 A (IEC 60127-2: 210 %).
    assert faults_of(apart).parts["W4"].sustained_fault_a == pytest.approx(2.1)


def test_neighbouring_contacts_and_rows():
    """A sensor's return contact beside a feed contact; with a row between them they are no neighbours, but the
    wires still share the connector.
    """
    parts = (
        output("U1", "+", "-", limit_a=20.0, trip_a=30.0),
        contact("X1.1", "+", "p1", 2e-3, rated=5.0),
        contact("X1.2", "r1", "-", 2e-3, rated=5.0),
        wire("W1", "p1", "a", mm2=1.5, length_m=1.0, rated=15.0),
        wire("W2", "b", "r1", mm2=0.25, length_m=1.0, rated=3.0),
        limiter("Q1", "a", "a2", 2.0),
        load("L1", "a2", "b", 1.0),
    )
    drawn = harness(*parts, connectors=(Connector("X1", ("X1.1", "X1.2")),))
    part = faults_of(drawn).parts["X1.2"]
    assert part.sustained_fault_a == pytest.approx(30.0)
    assert (part.fault.kind, part.fault.at) == ("contacts", "X1.1|X1.2")


def test_other_loads_draw_on_the_return_but_never_help():
    """Six ways of 3 A with 14.5 A each on one return: one fault holds 14.5 + 5 × 3 A on it."""
    answer = faults_of(shared_return(rated=20.0))
    part = answer.parts["WR"]
    assert part.sustained_fault_a == pytest.approx(14.5 + 5 * 3.0)
    assert part.protected is False
    assert part.combined_overload_a == pytest.approx(6 * 14.5)
    assert "87 A" in findings("path-unprotected", shared_return(rated=20.0))[0].message
    assert answer.parts["W1"].protected is True


def test_exposure_of_a_return_that_one_fault_does_not_overload():
    (found,) = findings("combined-overload", shared_return(rated=40.0))
    assert (found.subject.id, found.value, found.limit) == ("WR", pytest.approx(87.0), 40.0)
    assert findings("combined-overload", shared_return(rated=90.0)) == []


def test_an_exposure_that_nothing_bounds_is_said_to_have_no_bound(monkeypatch):
    drawn = shared_return(rated=40.0)
    answer = faults_of(drawn)
    unbounded = dataclasses.replace(answer.parts["WR"], combined_overload_a=math.inf)
    boundless = dataclasses.replace(answer, parts={**answer.parts, "WR": unbounded})
    monkeypatch.setitem(globals(), "faults_of", lambda *_: boundless)
    (found,) = findings("combined-overload", drawn)
    assert found.value is None and "inf" not in found.message + found.remedy
    assert "a current that nothing stated limits; it is allowed 40 A" in found.message


def shared_return(rated: float) -> Harness:
    parts = []
    for k in range(1, 7):
        parts += [
            limiter(f"Q{k}", "+", f"s{k}", Band(10.0, 5.5, 14.5)),
            wire(f"W{k}", f"s{k}", f"a{k}", mm2=1.0, length_m=1.0, rated=15.0),
            load(f"L{k}", f"a{k}", "m", 3.0),
        ]
    return harness(
        output("U1", "+", "-", **POOLED), *parts, wire("WR", "m", "-", awg=14, length_m=0.5, rated=rated)
    )


def joined(**changes: object) -> Harness:
    """Two constant-current outputs of 10 A on one load."""
    return harness(
        output("U1", "p1", "m1", 30.0, **(CONSTANT | changes)),
        output("U2", "p2", "m2", 30.1, **(CONSTANT | changes)),
        wire("W1", "p1", "j", ohm=8e-3, length_m=1.0, rated=12.0),
        wire("W2", "p2", "j", ohm=8e-3, length_m=1.0, rated=12.0),
        wire("W3", "k", "m1", ohm=4e-3, length_m=1.0, rated=12.0),
        wire("W4", "k", "m2", ohm=4e-3, length_m=1.0, rated=12.0),
        wire("W5", "j", "a", ohm=4e-3, length_m=1.0, rated=15.0),
        load("L1", "a", "k", 15.0),
    )


def test_joined_constant_current_outputs_add_up_on_the_common_way():
    """Each holds its 10 A into any fault: 20 A where both flow, 10 A in each lead."""
    answer = faults_of(joined())
    assert answer.parts["W5"].sustained_fault_a == pytest.approx(20.0)
    for name in ("W1", "W2", "W3", "W4"):
        assert answer.parts[name].sustained_fault_a == pytest.approx(10.0)
    assert answer.joined == (("nominal", ("U1", "U2")),)
    assert len(findings("outputs-joined", joined())) == 1


def test_a_shorted_output_is_fed_backwards_by_the_other():
    found = findings("back-feed", joined())
    assert [f.subject.id for f in found] == ["U1", "U2"]
    assert [f.value for f in found] == pytest.approx([10.0, 10.0])


def test_diodes_block_the_way_back():
    drawn = harness(
        output("U1", "p1", "m", 24.0, trip_a=20.0),
        output("U2", "p2", "m", 24.0, trip_a=20.0),
        wire("W1", "d1", "j", ohm=8e-3, length_m=1.0, rated=25.0),
        wire("W2", "d2", "j", ohm=8e-3, length_m=1.0, rated=25.0),
        wire("W3", "k", "m", ohm=4e-3, length_m=1.0, rated=50.0),
        load("L1", "j", "k", 5.0),
    )
    barred = dataclasses.replace(
        drawn,
        diodes=tuple(
            Diode(
                id=f"D{k}",
                subject=Subject(f"D{k}"),
                node_a=f"p{k}",
                node_b=f"d{k}",
                forward_drop_v=0.5,
                resistance_ohm=Band.exact(5e-3),
            )
            for k in (1, 2)
        ),
    )
    answer = faults_of(barred)
    # Both conduct into a fault behind them: 20 + 20 A on the common return, 20 A in each lead.
    assert answer.parts["W3"].sustained_fault_a == pytest.approx(40.0)
    assert answer.parts["W1"].sustained_fault_a == pytest.approx(20.0)
    assert findings("back-feed", barred) == []


def test_output_without_limit_gives_the_short_circuit():
    """24 V, 5 mΩ inside and 2 × 10 mΩ: 960 A at the far end of both, more the nearer the pinch."""
    drawn = harness(
        output("U1", "+", "-", 24.0, never_trips=True, resistance_ohm=5e-3),
        wire("W1", "+", "a", ohm=0.01, length_m=1.0, rated=20.0),
        wire("W2", "b", "-", ohm=0.01, length_m=1.0, rated=20.0),
        load("L1", "a", "b", 1.0),
    )
    answer = faults_of(drawn)
    assert answer.parts["W2"].sustained_fault_a == pytest.approx(24.0 / 0.025)
    assert answer.parts["W1"].sustained_fault_a == pytest.approx(24.0 / 0.005)
    assert (answer.parts["W1"].fault.at, answer.parts["W1"].whole) == ("W1:0.00", False)


def test_only_an_assumed_trip_is_not_called_protection():
    """150 % of the limit is a convention of this tool: what only it keeps within bounds is not determined."""
    drawn = harness(
        output("U1", "+", "-", limit_a=10.0),
        wire("W1", "+", "a", mm2=1.5, length_m=1.0, rated=20.0),
        wire("W2", "b", "-", mm2=1.5, length_m=1.0, rated=20.0),
        load("L1", "a", "b", 5.0),
    )
    part = faults_of(drawn).parts["W1"]
    assert part.sustained_fault_a == pytest.approx(15.0)
    assert part.protected is None
    assert "assumed" in part.note


def test_unknown_rating_is_not_judged():
    drawn = harness(
        output("U1", "+", "-", trip_a=10.0),
        wire("W1", "+", "a", ohm=0.01),
        wire("W2", "b", "-", ohm=0.01),
        load("L1", "a", "b", 5.0),
    )
    assert faults_of(drawn).parts["W1"].protected is None


def test_fault_to_chassis_uses_the_bond():
    """The return's thin bond wire to the chassis carries a feed's fault to it."""
    drawn = harness(
        output("U1", "+", "-", trip_a=40.0),
        wire("W1", "+", "a", mm2=4, length_m=1.0, rated=45.0),
        wire("W2", "b", "-", mm2=4, length_m=1.0, rated=45.0),
        wire("W3", "-", "c", mm2=0.5, length_m=0.3, rated=6.0),
        load("L1", "a", "b", 5.0),
        chassis=(Chassis(id="G1", subject=Subject("G1"), node="c"),),
    )
    part = faults_of(drawn).parts["W3"]
    assert part.sustained_fault_a == pytest.approx(40.0)
    assert part.fault.kind == "chassis"
    assert part.protected is False


def test_arrangements_are_searched_apart():
    """The same way pooled (limiter not active) and split."""
    drawn = sensor_lead(trip_a=20.0)
    device = dataclasses.replace(drawn.devices[0], by_word={"pooled": {"active": False}})
    answer = faults_of(dataclasses.replace(drawn, devices=(device,)))
    assert answer.by_arrangement[None]["W1"].sustained_fault_a == pytest.approx(20.0)
    assert answer.by_arrangement["pooled"]["W1"].sustained_fault_a == pytest.approx(125.0)
    assert answer.parts["W1"].sustained_fault_a == pytest.approx(125.0)


def test_constant_power_load_beside_a_fault_on_the_same_way():
    """Its current rises as the fault pulls its voltage down; never above power over minimum voltage."""
    drawn = harness(
        output("U1", "+", "-", 12.0, trip_a=100.0),
        limiter("Q1", "+", "s", 20.0),
        wire("W1", "s", "a", ohm=0.05, length_m=1.0, rated=30.0),
        wire("W2", "+", "c", ohm=0.05, length_m=1.0, rated=30.0),
        wire("W3", "k", "-", ohm=0.02, length_m=1.0, rated=30.0),
        load("L1", "a", "k", 60.0, demand_kind=LoadKind.POWER, minimum_v=9.0),
        load("L2", "c", "k", 24.0, demand_kind=LoadKind.POWER, minimum_v=9.0),
    )
    part = faults_of(drawn).parts["W3"]
    assert part.sustained_fault_a <= 100.0 + 1e-6
    assert part.sustained_fault_a >= 100.0 * (1 - 1e-6)


def test_a_resistance_draws_by_its_own_output_beside_a_fault_of_another():
    heater = dataclasses.replace(load("L1", "b", "r", 1.5), demand_kind=LoadKind.RESISTANCE)
    drawn = harness(
        output("PS0", "p0", "n", 24.0, trip_a=40.0, resistance_ohm=1e-3),
        output("PS1", "p1", "n", 12.0, trip_a=20.0, resistance_ohm=1e-3),
        wire("W0", "p0", "a", ohm=0.01, rated=50.0),
        wire("W1", "p1", "b", ohm=0.01, rated=50.0),
        wire("RN", "r", "n", ohm=5e-3, rated=50.0),
        load("L0", "a", "r", 10.0),
        heater,
    )
    # A fault of PS0 puts 40 A on RN. PS1 still has its own 12 V only, whatever PS0 has:
    # 12 V - 5 mΩ · (40 A + I) = (1.5 Ω + 11 mΩ) · I, so I = 11.8 V / 1.516 Ω on top of them.
    assert faults_of(drawn).parts["RN"].sustained_fault_a == pytest.approx(40.0 + 11.8 / 1.516)


def test_power_that_a_fault_could_draw():
    """12 V behind 0.1 Ω in all: matched 60 A would draw 360 W; a 20 A limiter leaves 20 × (12 − 2) = 200 W."""

    def row(trip_a: float):
        drawn = harness(
            output("U1", "+", "-", 12.0, trip_a=trip_a),
            wire("W1", "+", "a", ohm=0.05, length_m=1.0),
            wire("W2", "b", "-", ohm=0.05, length_m=1.0),
            load("L1", "a", "b", 1.0),
        )
        return next(r for r in faults_of(drawn).powers if r.at == "L1")

    assert row(100.0).power_w == pytest.approx(360.0)
    assert (row(100.0).held_by, row(100.0).exceeds) == (None, ("15 W", "100 W", "240 VA", "limited power source"))
    assert row(20.0).power_w == pytest.approx(200.0)
    assert (row(20.0).held_by, row(20.0).within) == ("U1", ("240 VA",))


def test_a_piece_beyond_the_searchs_size_is_said_to_be_unknown(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("loadloom.graph.faults.search.LARGEST_PIECE", 3)
    answer = faults_of(joined())
    assert answer.parts["W1"].sustained_fault_a is None
    assert answer.parts["W1"].protected is None
    assert "not searched" in answer.parts["W1"].note
    assert len(answer.assumptions) == 1
