"""A fault that one device leaves and another goes on feeding: what is held then, recomputed by hand.

Source of the numbers: Kirchhoff's current law and the devices' own upper limits; that devices in parallel open
one after the other is common practice, no published source.
"""

from __future__ import annotations

import pytest
from fault_bench import networks_of, thresholds_of
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.faults.opened import opened_networks, opened_sets
from loadloom.graph.faults.piece import piece_loads, pieces_of
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import ConductorRow, Results
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def row(found: Results, name: str) -> ConductorRow:
    return next(r for r in found.conductors if r.id == name)


def two_limiters() -> Harness:
    """5 A and 20 A side by side onto a wire of 15 A; equal leads, so that both carry half while both are whole."""
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0),
        limiter("CH1", "p", "a", 5.0),
        limiter("CH2", "p", "b", 20.0),
        wire("W1", "a", "c", ohm=0.01, rated=30.0),
        wire("W2", "b", "c", ohm=0.01, rated=30.0),
        wire("W3", "c", "d", ohm=0.01, rated=15.0),
        wire("W4", "n", "e", ohm=0.01, rated=30.0),
        load("L1", "d", "e", 2.0),
    )


def test_after_the_weak_limiter_the_strong_one_holds_alone() -> None:
    found = analysed(two_limiters())
    # Both closed: 2 × 5 A = 10 A; CH1 open: 20 A through CH2, which is over the 15 A of W3.
    assert row(found, "W3").sustained_fault_a == pytest.approx(20.0)
    assert row(found, "W3").protected is False
    assert "path-unprotected" in {f.rule for f in found.findings if f.subject.id == "W3"}
    fault = next(f for f in found.faults if f.id == row(found, "W3").sustained_fault)
    assert "CH1" in fault.description


def test_joined_outputs_shut_down_one_after_the_other() -> None:
    found = analysed(
        harness(
            output("PS1", "p", "n", 12.0, limit_a=10.0, trip_a=10.0),
            output("PS2", "q", "n", 12.0, limit_a=30.0, trip_a=30.0),
            wire("W1", "p", "c", ohm=0.01, rated=40.0),
            wire("W2", "q", "c", ohm=0.01, rated=40.0),
            wire("W3", "c", "d", ohm=0.01, rated=25.0),
            wire("W4", "n", "e", ohm=0.01, rated=25.0),
            load("L1", "d", "e", 2.0),
        )
    )
    # Both on: 2 × 10 A = 20 A; PS1 off: 30 A from PS2.
    assert row(found, "W3").sustained_fault_a == pytest.approx(30.0)
    assert row(found, "W4").sustained_fault_a == pytest.approx(30.0)
    assert row(found, "W3").protected is False


def test_one_way_alone_has_nothing_to_open_in_turn() -> None:
    found = analysed(
        harness(
            output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0),
            limiter("CH1", "p", "a", 5.0),
            wire("W1", "a", "d", ohm=0.01, rated=15.0),
            wire("W2", "n", "e", ohm=0.01, rated=15.0),
            load("L1", "d", "e", 2.0),
        )
    )
    assert row(found, "W1").sustained_fault_a == pytest.approx(5.0)
    assert row(found, "W1").protected is True


def tried_open(drawn: Harness) -> set[tuple[str, ...]]:
    (case,) = drawn.cases(AT_20_C)
    (network,) = networks_of(drawn, AT_20_C, case)
    loads = piece_loads(network, drawn)
    (piece,) = pieces_of(network, thresholds_of(drawn, AT_20_C, case), loads)
    every = ((chosen, None) for chosen in opened_sets(piece).sets)
    return {rest.opened for _, rest, _ in opened_networks(network, piece, every, loads)}


def two_pairs(bus: str, load_a: float) -> Harness:
    """Two pairs of limiters of 5 and 20 A: the second behind the first where ``bus`` is its end, else beside it."""
    parts = [output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0)]
    for start, end in (("p", "c"), (bus, "d")):
        for k, trip in enumerate((5.0, 20.0)):
            name = f"{end}{k}"
            parts += [limiter(f"Q{name}", start, name, trip), wire(f"W{name}", name, end, ohm=0.01, rated=30.0)]
        parts.append(load(f"L{end}", end, "n", load_a))
    return harness(*parts)


def test_loops_that_a_fault_has_on_its_way_open_together() -> None:
    """2⁴ - 1 sets of two pairs in series."""
    assert len(tried_open(two_pairs("c", 2.0))) == 15


def test_loops_side_by_side_open_apart_unless_loads_alone_open_them() -> None:
    """3 + 3 sets of two pairs side by side; loads of 6 A could open a device of 5 A: 2⁴ - 1 sets."""
    assert len(tried_open(two_pairs("p", 2.0))) == 6
    assert len(tried_open(two_pairs("p", 6.0))) == 15


def test_many_pairs_side_by_side_are_each_tried_in_full() -> None:
    """40 pairs of limiters, each with its own load of 1 A: 40 · 3 sets, none left out."""
    parts = [output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0)]
    for pair in range(40):
        for k in range(2):
            parts.append(limiter(f"Q{pair}.{k}", "p", f"a{pair}.{k}", 5.0 + k))
            parts.append(wire(f"W{pair}.{k}", f"a{pair}.{k}", f"c{pair}", ohm=0.01))
        parts.append(load(f"L{pair}", f"c{pair}", "n", 1.0))
    drawn = harness(*parts)
    (case,) = drawn.cases(AT_20_C)
    (network,) = networks_of(drawn, AT_20_C, case)
    thresholds = thresholds_of(drawn, AT_20_C, case)
    (piece,) = pieces_of(network, thresholds, piece_loads(network, drawn))
    found = opened_sets(piece)
    assert len(found.sets) == 120
    assert found.complete


def side_by_side(count: int) -> Harness:
    """Limiters of 5, 6, 7 ... A side by side onto one load."""
    parts = [output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0), load("L1", "d", "n", 1.0)]
    for k in range(count):
        parts += [limiter(f"CH{k}", "p", f"a{k}", 5.0 + k), wire(f"W{k}", f"a{k}", "d", ohm=0.01, rated=30.0)]
    return harness(*parts)


@pytest.mark.parametrize(("count", "sets"), [(2, 3), (3, 7), (4, 15)])
def test_every_set_of_up_to_four_devices_is_tried_open(count: int, sets: int) -> None:
    """2ⁿ - 1 sets of up to four."""
    tried = tried_open(side_by_side(count))
    assert len(tried) == sets
    assert {names for names in tried if len(names) == 1} == {(f"CH{k}",) for k in range(count)}


def test_of_more_side_by_side_the_weakest_open_first_and_each_may_be_left_alone() -> None:
    """Equal leads: 5 A opens before 6 A; a fault on one path is fed by the others past its open device."""
    tried = tried_open(side_by_side(6))
    names = [f"CH{k}" for k in range(6)]
    assert {tuple(names[:k]) for k in range(1, 6)} <= tried
    assert {tuple(n for n in names if n != one) for one in names} <= tried
    assert {(one,) for one in names} <= tried
    assert len(tried) < 2**6 - 1
