"""What the answer of a part says beside its current, for circuits that anybody can solve in the head."""

from __future__ import annotations

from dataclasses import replace

import pytest
from fault_bench import faults_of
from wired import analysed, contact, harness, limiter, load, output, splice, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.model.elements import Band, Behaviour, Diode, Element
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0)


def parts(*drawn: Element) -> dict[str, PartFault]:
    supply = output("PS1", "p", "m", 24.0, limit_a=90.0, trip_a=100.0, resistance_ohm=0.01)
    facts, _ = explore(harness(supply, *drawn), AT_20_C, lambda _: None)
    return dict(facts.faults.parts)


def tree(rated: float, trip: float | Band = 16.0) -> PartFault:
    """A limiter, a wire of a rating, 2 A of load, and the way back."""
    return parts(
        limiter("CH1", "p", "a", trip),
        wire("W1", "a", "b", ohm=0.02, rated=rated, length_m=2.0),
        wire("W2", "r", "m", ohm=0.02, rated=90.0, length_m=2.0),
        load("L1", "b", "r", 2.0),
    )["W1"]


def test_a_wire_that_its_limiter_does_not_protect() -> None:
    """16 A hold; 16² A² · 10 mΩ/m are 2.56 W/m. Limiter and output carry it; at 10 A it would be protected."""
    found = tree(10.0)
    assert (found.sustained_fault_a, found.held_by, found.held_a) == (
        pytest.approx(16.0),
        "CH1",
        pytest.approx(16.0),
    )
    assert (found.protected, found.whole, found.exact) == (False, True, True)
    assert found.carries == {"CH1", "PS1"}
    assert (found.at_rating_a, found.held_to_protect_a) == (pytest.approx(16.0), pytest.approx(10.0))
    assert found.heat_w_per_m == pytest.approx(2.56)
    assert (found.case, found.allowed_a, found.protected_by, found.in_band) == ("nominal", 10.0, (), False)
    assert found.combined_overload_a == pytest.approx(16.0)


def test_a_wire_that_its_limiter_protects() -> None:
    found = tree(16.0)
    assert (found.protected, found.protected_by, found.carries) == (True, ("CH1",), None)
    assert tree(15.99).protected is False and tree(15.99).carries is not None


@pytest.mark.parametrize(("rated", "protected"), [(17.6, True), (17.0, True), (16.0, True), (15.9, False)])
def test_a_band_counts_with_its_upper_end_and_the_printed_number_is_told(rated: float, protected: bool) -> None:
    """16 A ± 10 % holds 17.6 A. IEC 60364-4-43 433.1 (from memory): a wire is protected where the printed number is
    no more than it is allowed, and what is certain to open no more than 1.45 times that.
    """
    found = tree(rated, Band(16.0, 14.4, 17.6))
    assert (found.sustained_fault_a, found.held_a) == (pytest.approx(17.6), pytest.approx(17.6))
    assert (found.protected, found.in_band) == (protected, protected and rated < 17.6)
    assert found.at_rating_a == pytest.approx(16.0) and found.held_to_protect_a == pytest.approx(rated)


def test_a_fault_beside_the_end_of_one_of_two_ways_loads_a_piece_of_it() -> None:
    """Pinched at its very beginning one way carries all of it, on no length to speak of; the trunk all along."""
    found = parts(
        limiter("CH1", "p", "a", 16.0),
        wire("W0", "a", "b", ohm=0.02, rated=30.0, length_m=2.0),
        contact("X1.1", "b", "n1", ohm=1e-3, rated=9.0),
        wire("W1", "n1", "c", ohm=0.03, rated=10.0, length_m=3.0),
        contact("X1.2", "b", "n2", ohm=1e-3, rated=9.0),
        wire("W2", "n2", "c", ohm=0.03, rated=10.0, length_m=3.0),
        wire("W9", "r", "m", ohm=0.02, rated=90.0, length_m=2.0),
        load("L1", "c", "r", 2.0),
    )
    assert found["W0"].whole and found["W0"].sustained_fault_a == pytest.approx(16.0)
    # The other way round 1 + 1 + 30 + 30 mΩ: of 16 A the near contact takes 61 of 62 parts.
    near = 16.0 * 61.0 / 62.0
    assert found["X1.1"].sustained_fault_a == pytest.approx(near)
    assert not found["W1"].whole and found["W1"].sustained_fault_a == pytest.approx(near)
    assert found["W1"].carries == {"CH1", "PS1"}


def test_copper_alone_may_hold_a_fault_down() -> None:
    """A fault at the load loads the return: 24 V over 10 mΩ + 2 Ω + 2 Ω. Close to the limiter nothing but the
    limiter holds it down, on a piece of the feed.
    """
    found = parts(
        limiter("CH1", "p", "a", 16.0),
        wire("W1", "a", "b", ohm=2.0, rated=5.0),
        wire("W2", "r", "m", ohm=2.0, rated=90.0),
        load("L1", "b", "r", 0.5),
    )
    far = found["W2"]
    assert far.held_by is None and far.held_a is None
    assert far.sustained_fault_a == pytest.approx(24.0 / 4.01)
    assert found["W1"].sustained_fault_a == pytest.approx(16.0)
    assert found["W1"].held_by == "CH1" and not found["W1"].whole


def test_nothing_to_hold_it_against_is_not_protected_and_not_unprotected() -> None:
    unrated = parts(
        limiter("CH1", "p", "a", 16.0),
        replace(wire("W1", "a", "b", ohm=0.02), own_rating_a=None),
        wire("W2", "r", "m", ohm=0.02, rated=90.0),
        load("L1", "b", "r", 2.0),
    )["W1"]
    assert (unrated.protected, unrated.allowed_a, unrated.carries) == (None, None, None)
    assert unrated.sustained_fault_a == pytest.approx(16.0)


def test_of_splices_those_with_a_rating_are_answered() -> None:
    """The 8 A of a limiter pass the splice that states a rating; of the other nothing is asked."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, trip_a=50.0),
        limiter("CH1", "p", "a", 8.0),
        wire("W1", "a", "b", ohm=0.01, rated=20.0),
        wire("W2", "b", "c", ohm=0.01, rated=20.0),
        wire("W3", "r", "m", ohm=0.01, rated=20.0),
        splice("S1", "b", 5.0),
        splice("S2", "c"),
        load("L1", "c", "r", 2.0),
    )
    parts = faults_of(drawn).parts
    assert "S2" not in parts
    assert parts["S1"].sustained_fault_a == pytest.approx(8.0)


def test_the_band_of_a_fault_ends_where_its_state_does() -> None:
    """A charger that holds 10 A leaves its current once there are more than 28 - 0.5 - 0.2 = 27.3 V at the fault:
    the battery gives 0.7 V / 19 mΩ = 36.84 A then, both 46.84 A, and the fault has 27.3 V / 46.84 A. What is told
    of the fault in this state ends there.
    """
    drawn = harness(
        output("BT", "b", "m", 28.0, trip_a=None, resistance_ohm=6e-3),
        limiter("F1", "b", "f", 40.0, resistance_ohm=Band.exact(2e-3)),
        wire("W1", "f", "j", ohm=1e-3, rated=60.0),
        wire("W2", "j", "d", ohm=10e-3, rated=25.0),
        Diode(id="D1", subject=Subject("D1"), node_a="c", node_b="d", forward_drop_v=0.5),
        output("PS", "c", "m", 28.0, limit_a=10.0, behaviour=Behaviour.CONSTANT_CURRENT, resistance_ohm=0.02),
        wire("W3", "j", "l", ohm=5e-3, rated=60.0),
        load("L1", "l", "m", 1e-6),
    )
    part = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["W2"]
    assert part.sustained_fault_a == pytest.approx(40.0)
    assert part.fault is not None and part.fault.resistance_band_ohm is not None
    assert part.fault.resistance_band_ohm == pytest.approx(
        ((28.0 - 40.0 * 0.019) / 50.0, 27.3 / (0.7 / 0.019 + 10.0))
    )


@pytest.mark.parametrize("ends", [("f1", "f0"), ("f0", "f1")])
def test_a_limiter_that_holds_does_so_whichever_way_it_is_crossed(ends: tuple[str, str]) -> None:
    """A fault at f0 draws 11.16 A through Q0 and what T holds, 5.81 A, through Q1: 16.97 A together, whichever way
    T is drawn. By hand: f0 then lies 11.16 A × 62 mΩ = 0.692 V below the supply and f1 5.81 A × 72 mΩ = 0.418 V, so
    that T has 0.274 V across it, more than the 12 mV of its own resistance: it holds. W2, allowed 12 A, is kept by
    no more than 12 - 11.16 = 0.84 A of T.
    """
    drawn = harness(
        output("U1", "p", "m", 24.0, trip_a=Band.exact(75.0), resistance_ohm=5e-3),
        limiter("Q0", "p", "q0", 11.16, resistance_ohm=Band.exact(2e-3)),
        wire("W0", "q0", "f0", ohm=60e-3, rated=12.0),
        limiter("Q1", "p", "q1", 5.9, resistance_ohm=Band.exact(2e-3)),
        wire("W1", "q1", "f1", ohm=70e-3, rated=12.0),
        limiter("T", *ends, 5.81, resistance_ohm=Band.exact(2e-3), behaviour=Behaviour.CONSTANT_CURRENT),
        wire("W2", "e", "m", ohm=10e-3, rated=12.0),
        load("L1", "f0", "e", 1.0),
    )
    results = analysed(drawn)
    (kept,) = (row for row in results.conductors if row.id == "W2")
    (tie,) = (row for row in results.devices if row.id == "T")
    assert kept.sustained_fault_a == pytest.approx(16.97)
    assert tie.setting_high_a == pytest.approx(0.84)
