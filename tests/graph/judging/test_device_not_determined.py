"""A missing number of a device on which its protection depends makes the verdict incomplete, and only then."""

import pytest
from wired import analysed, contact, device, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Behaviour, DeviceKind, Element, Output
from loadloom.graph.model.findings import Verdict

RULE = "device-not-determined"
OHM = Band.exact(5e-3)
PVC = "PVC 70 °C"


def battery(ohm: float = 20e-3) -> Output:
    return output("BT1", "p", "m", 24.0, limit_a=200.0, never_trips=True, resistance_ohm=ohm)


def behind(source: Output, acting: Element, *, rated: float = 12.0, joint: str = "p") -> object:
    values = {"mm2": 1.5, "length_m": 2.0, "insulation": PVC, "rated": rated}
    return harness(
        source,
        acting,
        wire("W1", "a", "d", **values),
        wire("R1", "e", "m", **values),
        load("L1", "d", "e", 3.0, minimum_v=18.0, maximum_v=30.0),
    )


def verdict(drawn) -> Verdict:
    return analysed(drawn).verdict


@pytest.mark.parametrize("delay_s", [None, 1e-3])
@pytest.mark.parametrize("kind", ["limiter", "resettable", "holding", "folding"])
def test_a_limit_without_delay_is_incomplete(kind: str, delay_s: float | None) -> None:
    values = {"delay_s": delay_s, "resistance_ohm": OHM, "voltage_rating_v": 60.0}
    holding = {"holding": Behaviour.CONSTANT_CURRENT, "folding": Behaviour.FOLDBACK}
    acting = (
        device(DeviceKind.RESETTABLE, "RF1", "p", "a", hold_a=5.0, trip_a=10.0, **values)
        if kind == "resettable"
        else limiter("Q1", "p", "a", 10.0, behaviour=holding.get(kind, Behaviour.LATCH_OFF), **values)
    )
    drawn = behind(battery(), acting)
    assert bool(found(RULE, drawn)) is (delay_s is None)
    assert verdict(drawn) is (Verdict.INCOMPLETE if delay_s is None else Verdict.PASS)


@pytest.mark.parametrize("delay_s", [None, 1e-3])
def test_an_output_that_shuts_down_says_how_soon(delay_s: float | None) -> None:
    source = output("U1", "p", "m", 24.0, limit_a=8.0, trip_a=10.0, resistance_ohm=20e-3, delay_s=delay_s)
    drawn = harness(
        source,
        wire("W1", "p", "d", mm2=1.5, length_m=2.0, insulation=PVC, rated=12.0),
        wire("R1", "e", "m", mm2=1.5, length_m=2.0, insulation=PVC, rated=12.0),
        load("L1", "d", "e", 3.0, minimum_v=18.0, maximum_v=30.0),
    )
    assert [f.subject.id for f in found(RULE, drawn)] == (["U1"] if delay_s is None else [])


@pytest.mark.parametrize("delay_s", [None, 1e-3])
@pytest.mark.parametrize("ohm", [0.0, 20e-3])
@pytest.mark.parametrize("behaviour", [Behaviour.CONSTANT_CURRENT, Behaviour.FOLDBACK])
@pytest.mark.parametrize("stated", [{"trip_a": 10.0}, {"limit_a": 10.0}, {"limit_a": 4.0, "trip_a": 10.0}])
def test_an_output_that_limits_says_how_soon(
    stated: dict[str, float], behaviour: Behaviour, ohm: float, delay_s: float | None
) -> None:
    source = output("U1", "p", "m", 24.0, **stated, behaviour=behaviour, delay_s=delay_s, resistance_ohm=ohm)
    drawn = harness(
        source,
        wire("W1", "p", "d", mm2=1.5, length_m=2.0, insulation=PVC, rated=17.0),
        wire("R1", "e", "m", mm2=1.5, length_m=2.0, insulation=PVC, rated=17.0),
        load("L1", "d", "e", 3.0, minimum_v=18.0, maximum_v=30.0),
    )
    assert [f.subject.id for f in found(RULE, drawn)] == (["U1"] if delay_s is None else [])
    assumed = "trip_a" not in stated and behaviour is Behaviour.FOLDBACK  # of a knee that nobody states
    assert (verdict(drawn) is Verdict.PASS) is (delay_s is not None and not assumed)


def test_an_output_that_cannot_give_what_it_limits_needs_no_delay() -> None:
    """24 V behind 3 Ω: 8 A at most into a short circuit, below the 10 A that it would hold."""
    source = output("U1", "p", "m", 24.0, trip_a=10.0, behaviour=Behaviour.CONSTANT_CURRENT, resistance_ohm=3.0)
    assert found(RULE, behind(source, limiter("Q1", "p", "a", 5.0, resistance_ohm=OHM, delay_s=1e-3))) == []


def test_no_delay_is_needed_where_a_short_circuit_heats_nothing() -> None:
    """24 V behind 3 Ω: 8 A at most, and the wire is allowed 12 A."""
    assert found(RULE, behind(battery(3.0), limiter("Q1", "p", "a", 5.0, resistance_ohm=OHM))) == []


def test_a_limit_that_tries_again_says_for_how_long() -> None:
    values = {"behaviour": Behaviour.HICCUP, "delay_s": 1e-3, "resistance_ohm": OHM}
    assert found(RULE, behind(battery(), limiter("Q1", "p", "a", 10.0, **values)))
    stated = {"retry_on_s": 0.01, "retry_off_s": 1.0}
    assert found(RULE, behind(battery(), limiter("Q1", "p", "a", 10.0, **values, **stated))) == []


@pytest.mark.parametrize(("ohm", "matters"), [(0.1, True), (1.0, False)])
def test_a_breaking_capacity_is_needed_above_what_any_fuse_breaks(ohm: float, matters: bool) -> None:
    """24 V behind 0.1 Ω draw over 200 A through a fuse of 10 A; behind 1 Ω less than 24 A, under 35 A."""
    drawn = behind(battery(ohm), fuse("F1", "p", "a", 10.0, "UL 248-14", voltage_rating_v=60.0))
    assert any("breaking capacity" in f.message for f in found(RULE, drawn)) is matters


def test_a_curve_that_nobody_knows_is_incomplete() -> None:
    values = {"voltage_rating_v": 60.0, "breaking_capacity_a": 10e3, "resistance_ohm": OHM}
    assert verdict(behind(battery(), fuse("F1", "p", "a", 5.0, "UL 248-14", **values))) is Verdict.PASS
    assert verdict(behind(battery(), fuse("F1", "p", "a", 5.0, "slow as tar", **values))) is Verdict.INCOMPLETE


def test_contacts_count_as_well() -> None:
    drawn = harness(
        battery(),
        limiter("Q1", "p", "a", 10.0, resistance_ohm=OHM),
        contact("P1.1", "a", "b", 1e-3, rated=12.0),
        wire("W1", "b", "d", ohm=10e-3, rated=12.0),
        wire("R1", "e", "m", ohm=10e-3, rated=12.0),
        load("L1", "d", "e", 3.0, minimum_v=18.0, maximum_v=30.0),
    )
    assert [f.subject.id for f in found(RULE, drawn)] == ["Q1"]
