"""Splices, switches and diodes: what a fault can hold on them, recomputed by hand (in a tree the least limit)."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from wired import analysed, harness, limiter, load, output, splice, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Diode, Switch
from loadloom.graph.model.findings import Finding, Subject, Verdict
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def found(rule: str, drawn: Harness) -> list[Finding]:
    return [f for f in analysed(drawn).findings if f.rule == rule]


def verdict(drawn: Harness) -> Verdict:
    return analysed(drawn).verdict


def searched(drawn: Harness) -> dict[str, float | None]:
    """Sustained fault current by part id, in A."""
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    return {name: answer.sustained_fault_a for name, answer in facts.faults.parts.items()}


def branching(rated_a: float) -> Harness:
    """A splice behind a limiter of 16 A, with loads of 5 A and 4 A on two branches."""
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", 16.0),
        wire("W1", "a", "s", ohm=0.02, rated=17.0),
        splice("S1", "s", rated_a),
        wire("W2", "s", "b", ohm=0.02, rated=17.0),
        wire("W3", "s", "c", ohm=0.02, rated=17.0),
        wire("W4", "r", "m", ohm=0.02, rated=17.0),
        load("L1", "b", "r", 5.0),
        load("L2", "c", "r", 4.0),
    )


@pytest.mark.parametrize(("rated_a", "findings"), [(20.0, 0), (16.0, 0), (10.0, 1)])
def test_a_splice_stands_what_its_device_holds(rated_a: float, findings: int) -> None:
    got = found("splice-unprotected", branching(rated_a))
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(16.0))] * findings
    assert found("splice-overload", branching(rated_a)) == []  # 9 A of load


def test_the_overload_band_is_for_insulated_conductors_and_not_for_splices() -> None:
    """A limiter of 16 A ± 10 % before a splice of 16 A. IEC 60364-4-43 433.1 speaks of conductors (from memory)."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", Band(16.0, 14.4, 17.6)),
        wire("W1", "a", "s", ohm=0.02, rated=20.0),
        splice("S1", "s", 16.0),
        wire("W2", "s", "b", ohm=0.02, rated=20.0),
        wire("W4", "r", "m", ohm=0.02, rated=20.0),
        load("L1", "b", "r", 9.0),
    )
    (over,) = found("splice-unprotected", drawn)
    assert (over.value, over.limit) == (pytest.approx(17.6), 16.0)
    assert [f for f in found("overload-band", drawn) if f.subject.id == "S1"] == []
    (row,) = analysed(drawn).splices
    assert (row.sustained_fault_a, row.protected) == (pytest.approx(17.6), False)


@pytest.mark.parametrize(("rated_a", "protected"), [(20.0, True), (10.0, False)])
def test_rows_of_splices_say_what_holds_on_them(rated_a: float, protected: bool) -> None:
    results = analysed(branching(rated_a))
    (row,) = results.splices
    assert row.sustained_fault_a == pytest.approx(16.0)  # the limiter's
    assert row.protected is protected
    assert row.sustained_fault in {fault.id for fault in results.faults}


@pytest.mark.parametrize(("rated_a", "protected"), [(10.0, True), (3.0, False)])
def test_rows_of_switches_say_what_holds_on_them(rated_a: float, protected: bool) -> None:
    results = analysed(switched(rated_a))
    (row,) = results.switches
    assert (row.kind, row.sustained_fault_a, row.protected) == ("switch", pytest.approx(8.0), protected)
    assert row.sustained_fault in {fault.id for fault in results.faults}


def switched(rated_a: float, *, side_by_side: bool = False, diode: bool = False) -> Harness:
    kind = {"id": "S1", "subject": Subject("S1"), "node_a": "a", "node_b": "b", "rating_a": rated_a}
    second = Switch(id="S2", subject=Subject("S2"), node_a="a", node_b="b", rating_a=rated_a)
    parts = {
        "switches": (() if diode else (Switch(**kind),)) + ((second,) if side_by_side else ()),
        "diodes": (Diode(**kind),) if diode else (),
    }
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        limiter("CH1", "p", "a", 8.0),
        wire("W1", "b", "c", ohm=0.02, rated=17.0),
        wire("W2", "r", "m", ohm=0.02, rated=17.0),
        load("L1", "c", "r", 2.0),
        **parts,
    )


@pytest.mark.parametrize("diode", [False, True])
@pytest.mark.parametrize(("rated_a", "findings"), [(10.0, 0), (8.0, 0), (3.0, 1)])
def test_a_switch_stands_what_its_device_holds(rated_a: float, findings: int, diode: bool) -> None:
    got = found("switch-unprotected", switched(rated_a, diode=diode))
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(8.0))] * findings
    assert found("switch-overload", switched(rated_a, diode=diode)) == []  # 2 A of load


@pytest.mark.parametrize(("welds", "rated_a", "findings"), [(True, 3.0, 1), (True, 8.0, 0), (False, 3.0, 0)])
def test_an_open_switch_may_be_closed_by_hand(welds: bool, rated_a: float, findings: int) -> None:
    """Closed, it carries the 8 A that its limiter holds; one that is not on the board can't be closed."""
    (closed,) = switched(rated_a).switches
    drawn = replace(switched(rated_a), switches=(replace(closed, fitted=False, welds=welds),))
    got = found("switch-unprotected", drawn)
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(8.0))] * findings


def test_switches_side_by_side_share() -> None:
    """8 A of the limiter over two switches of no stated resistance: 4 A each, which 4 A allow and 3 A do not."""
    got = found("switch-unprotected", switched(3.0, side_by_side=True))
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(4.0)), ("S2", pytest.approx(4.0))]
    assert found("switch-unprotected", switched(4.0, side_by_side=True)) == []


def path_switches(rated_a: float) -> Harness:
    """An output that holds 50 A, and two ways of a switch and a wire of 10 mΩ side by side to a load of 30 A."""
    switches = tuple(
        Switch(id=name, subject=Subject(name), node_a="p", node_b=node, rating_a=rated_a)
        for name, node in (("S1", "a"), ("S2", "b"))
    )
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=50.0, trip_a=50.0, delay_s=0.1, resistance_ohm=0.01),
        wire("W1", "a", "c", ohm=0.01, rated=60.0),
        wire("W2", "b", "c", ohm=0.01, rated=60.0),
        wire("W3", "c", "e", ohm=0.01, rated=80.0),
        wire("W4", "n", "f", ohm=0.01, rated=80.0),
        load("L1", "e", "f", 30.0),
        switches=switches,
    )


def test_switches_in_parallel_ways() -> None:
    """W1 pinched at its switch: p and a are one joint through S1, which carries all of the 50 A that PS1 holds; by
    load each carries 15 A of the 30 A, and all 30 A with the other way open."""
    drawn = path_switches(16.0)
    got = found("switch-unprotected", drawn)
    assert [(f.subject.id, f.value) for f in got] == [("S1", pytest.approx(50.0)), ("S2", pytest.approx(50.0))]
    broken = found("open-circuit-overload", drawn)
    assert [(f.subject.id, f.value) for f in broken] == [("S1", pytest.approx(30.0)), ("S2", pytest.approx(30.0))]
    assert (
        found("switch-unprotected", path_switches(50.0))
        == found("open-circuit-overload", path_switches(50.0))
        == []
    )


def redundant(rated_a: float, trip_a: float = 30.0) -> Harness:
    """Two outputs behind diodes that share a load of 8 A."""
    diodes = tuple(
        Diode(id=name, subject=Subject(name), node_a=a, node_b=b, rating_a=rated_a)
        for name, a, b in (("D1", "p", "p2"), ("D2", "q", "q2"))
    )
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=10.0, trip_a=trip_a, delay_s=0.1),
        output("PS2", "q", "n", 12.0, limit_a=10.0, trip_a=trip_a, delay_s=0.1),
        wire("W1", "p2", "c", ohm=0.01, rated=40.0),
        wire("W2", "q2", "c", ohm=0.01, rated=40.0),
        wire("W3", "c", "e", ohm=0.01, rated=80.0),
        wire("W4", "n", "f", ohm=0.01, rated=80.0),
        load("L1", "e", "f", 8.0),
        diodes=diodes,
    )


def test_diodes_of_redundant_outputs() -> None:
    """Each output holds 30 A and its diode with it; with the other one off the diode carries 8 A of load."""
    got = found("switch-unprotected", redundant(6.0))
    assert [(f.subject.id, f.value) for f in got] == [("D1", pytest.approx(30.0)), ("D2", pytest.approx(30.0))]
    broken = found("open-circuit-overload", redundant(6.0))
    assert [(f.subject.id, f.value) for f in broken] == [("D1", pytest.approx(8.0)), ("D2", pytest.approx(8.0))]
    assert found("switch-unprotected", redundant(30.0)) == found("open-circuit-overload", redundant(30.0)) == []


@pytest.mark.parametrize(("trip_a", "subjects"), [(20.0, ["S1", "W1"]), (12.0, [])])
def test_a_tie_with_one_output_off(trip_a: float, subjects: list[str]) -> None:
    """Two outputs, each with a load of 8 A, joined by a tie that carries nothing: with one off, its load's 8 A run
    through the tie, and the other passes 16 A. An output that trips at 12 A does not do that continuously."""
    drawn = harness(
        output("PS1", "p", "n", 12.0, limit_a=10.0, trip_a=trip_a, delay_s=0.1),
        output("PS2", "q", "n", 12.0, limit_a=10.0, trip_a=trip_a, delay_s=0.1),
        wire("W1", "p", "t", ohm=0.01, rated=6.0),
        wire("W4", "n", "f", ohm=0.01, rated=80.0),
        load("L1", "p", "f", 8.0),
        load("L2", "q", "f", 8.0),
        switches=(Switch(id="S1", subject=Subject("S1"), node_a="t", node_b="q", rating_a=6.0),),
    )
    got = found("open-circuit-overload", drawn)
    assert [(f.subject.id, f.value) for f in got] == [(name, pytest.approx(8.0)) for name in subjects]
    assert all("output PS" in f.message for f in got)


def fanned(rated_a: float, into: int, out: int, load_a: float = 20.0) -> Harness:
    """A splice between wires of 10 mΩ side by side from an output that holds 40 A, and others to a load."""
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=40.0, trip_a=40.0, delay_s=0.1),
        *(wire(f"W{k}", "p", "s", ohm=0.01, rated=60.0, mm2=50, insulation="PVC 70 °C") for k in range(into)),
        *(wire(f"V{k}", "s", "e", ohm=0.01, rated=60.0, mm2=50, insulation="PVC 70 °C") for k in range(out)),
        splice("SP1", "s", rated_a),
        wire("R1", "n", "f", ohm=0.01, rated=80.0, mm2=50, insulation="PVC 70 °C"),
        load("L1", "e", "f", load_a),
    )


@pytest.mark.parametrize("paths", [2, 3, 4])
def test_a_splice_between_parallel_wires(paths: int) -> None:
    """Whatever the wires share, an overload behind the splice takes the 40 A that PS1 holds through it."""
    (got,) = found("splice-unprotected", fanned(30.0, paths, paths))
    assert (got.subject.id, got.value) == ("SP1", pytest.approx(40.0))
    assert found("splice-unprotected", fanned(40.0, paths, paths)) == []
    assert found("protection-not-determined", fanned(40.0, paths, paths)) == []


def test_a_splice_with_too_many_ways_to_search_is_bounded_or_not_judged() -> None:
    """Five wires in and five out. Each carries up to 40 A on a short piece of it, pinched at its other end, so that
    no more than half of 10 × 40 A flow through the splice: 200 A do, of less it is not determined."""
    for rated_a, subjects in ((30.0, ["SP1"]), (199.0, ["SP1"]), (200.0, [])):
        drawn = fanned(rated_a, 5, 5)
        assert [f.subject.id for f in found("protection-not-determined", drawn)] == subjects
        assert found("splice-unprotected", drawn) == []
        assert (verdict(drawn) is Verdict.INCOMPLETE) == bool(subjects)


def test_a_splice_in_one_of_two_ways() -> None:
    """Paths p - s - c and p - c of 10 mΩ a wire. A fault at the splice takes 30 A, 20 A over W1 and 10 A over W3
    and W2, all of it through the splice. With W3 open the load's 18 A run through it, where 6 A do with all
    whole."""
    parts = (
        output("PS1", "p", "n", 12.0, limit_a=30.0, trip_a=30.0, delay_s=0.1),
        wire("W1", "p", "s", ohm=0.01, rated=60.0),
        wire("W2", "s", "c", ohm=0.01, rated=60.0),
        wire("W3", "p", "c", ohm=0.01, rated=60.0),
        wire("R1", "n", "f", ohm=0.01, rated=80.0),
        load("L1", "c", "f", 18.0),
    )
    assert [f.value for f in found("splice-unprotected", harness(*parts, splice("SP1", "s", 29.0)))] == [
        pytest.approx(30.0)
    ]
    assert found("splice-unprotected", harness(*parts, splice("SP1", "s", 30.0))) == []
    (broken,) = found("open-circuit-overload", harness(*parts, splice("SP1", "s", 17.0)))
    assert (broken.subject.id, broken.value) == ("SP1", pytest.approx(18.0))
    assert "if W3 opened" in broken.message
    assert found("open-circuit-overload", harness(*parts, splice("SP1", "s", 18.0))) == []


def test_a_star_of_many_wires_passes_what_comes_in() -> None:
    """One wire in and twelve out: what flows in is what the one wire carries, the 40 A that PS1 holds."""
    drawn = harness(
        output("PS1", "p", "n", 12.0, limit_a=40.0, trip_a=40.0, delay_s=0.1),
        wire("W1", "p", "s", ohm=0.01, rated=60.0),
        *(wire(f"V{k}", "s", f"e{k}", ohm=0.01, rated=60.0) for k in range(12)),
        splice("SP1", "s", 40.0),
        wire("R1", "n", "f", ohm=0.01, rated=80.0),
        *(load(f"L{k}", f"e{k}", "f", 1.0) for k in range(12)),
    )
    assert found("splice-unprotected", drawn) == found("protection-not-determined", drawn) == []
    tighter = replace(drawn, splices=(splice("SP1", "s", 39.0),))
    assert [f.value for f in found("splice-unprotected", tighter)] == [pytest.approx(40.0)]


def test_a_switch_that_only_an_assumed_trip_protects_is_not_judged() -> None:
    """PS1 states no trip: 150 % of its 5 A is assumed, which the switch of 10 A would stand."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=5.0),
        wire("W1", "b", "c", ohm=0.02, rated=3000.0),
        wire("W2", "r", "m", ohm=0.02, rated=3000.0),
        load("L1", "c", "r", 2.0),
        switches=(Switch(id="S1", subject=Subject("S1"), node_a="p", node_b="b", rating_a=10.0),),
    )
    assert [f.subject.id for f in found("protection-not-determined", drawn)] == ["S1"]
    assert verdict(drawn) is Verdict.INCOMPLETE


@pytest.mark.parametrize("seed", range(12))
def test_no_fault_tried_at_random_passes_more_through_a_splice_than_is_said(seed: int) -> None:
    """Random meshes around a splice, each solved with faults of random resistance at every joint against the return
    terminal: where nothing opens, half the sum of the magnitudes of the currents at the splice is a lower bound of
    what is said, and one that comes near it."""
    rng = random.Random(seed)
    drawn = _mesh(rng)
    said = searched(drawn)["SP1"]
    most = 0.0
    for at in ("p", "s", "a", "b", "c", "e"):
        for step in range(400):
            ohm = 10.0 ** (-3.0 + 4.0 * step / 399)
            taken, through = _solved(drawn, at, ohm)
            if taken <= 30.0:
                most = max(most, through)
    assert said >= most * (1.0 - 1e-9)
    assert said <= 30.0 + 1e-6 and most >= 0.9 * said


def _mesh(rng: random.Random) -> Harness:
    links = [("p", "s"), ("p", "a"), ("a", "s"), ("s", "b"), ("s", "c"), ("b", "c"), ("c", "e")]
    links += rng.sample([("p", "b"), ("a", "c"), ("s", "e"), ("a", "e")], 2)
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=30.0, trip_a=30.0, delay_s=0.1, resistance_ohm=0.01),
        *(wire(f"W{k}", a, b, ohm=rng.uniform(0.005, 0.05), rated=60.0) for k, (a, b) in enumerate(links)),
        splice("SP1", "s", 20.0),
        wire("R1", "n", "f", ohm=0.01, rated=80.0),
        load("L1", "e", "f", 0.0),
    )


def _solved(drawn: Harness, at: str, ohm: float) -> tuple[float, float]:
    """Current of the output and through the splice with a resistor from a joint to n, which is at 0 V."""
    nodes = {name: k for k, name in enumerate(("p", "s", "a", "b", "c", "e"))}
    matrix, right = np.zeros((6, 6)), np.zeros(6)
    paths = [(c.node_a, c.node_b, c.resistance_ohm.nominal) for c in drawn.conductors if c.id != "R1"]
    for a, b, own in paths:
        for x, y in ((nodes[a], nodes[b]), (nodes[b], nodes[a])):
            matrix[x, x] += 1.0 / own
            matrix[x, y] -= 1.0 / own
    matrix[nodes[at], nodes[at]] += 1.0 / ohm
    matrix[nodes["p"], nodes["p"]] += 1.0 / 0.01
    right[nodes["p"]] = 12.0 / 0.01
    volts = np.linalg.solve(matrix, right)
    at_splice = [(volts[nodes[a]] - volts[nodes[b]]) / own for a, b, own in paths if "s" in (a, b)]
    taken = (12.0 - volts[nodes["p"]]) / 0.01
    own_a = volts[nodes["s"]] / ohm if at == "s" else 0.0
    return float(taken), 0.5 * (sum(abs(i) for i in at_splice) + abs(float(own_a)))
