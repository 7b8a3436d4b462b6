"""More devices, diodes and current-holding parts in loops than every state can be tried of.

Source of the numbers: Kirchhoff's laws; that devices open one after the other is common practice, no published
source. References are written here: all sets of paths of a ladder in closed form, and a bus swept by its voltage.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from fault_bench import AT_20_C, faults_of, networks_of, thresholds_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.faults.answer import FaultAnswer
from loadloom.graph.faults.piece import piece_loads, pieces_of
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.search import search_network
from loadloom.graph.faults.state_bound import StateBound
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.model.elements import Band, Behaviour, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

HOLDS = Behaviour.CONSTANT_CURRENT


def diode(name: str, a: str, b: str) -> Diode:
    return Diode(id=name, subject=Subject(name), node_a=a, node_b=b)


def answer(drawn: Harness) -> FaultAnswer:
    return faults_of(drawn)


# --- devices that open ----------------------------------------------------------------------------------------


def ladder(groups: list[list[tuple[float, float]]], end_ohm: float = 0.01, volts: float = 12.0) -> Harness:
    """Groups of paths side by side, (A held, Ω) each, one group after the other, and one wire behind them all."""
    parts = [output("PS", "p", "n", volts, trip_a=400.0, resistance_ohm=0.01)]
    start = "p"
    for g, paths in enumerate(groups):
        for k, (held_a, ohm) in enumerate(paths):
            parts.append(limiter(f"Q{g}{k}", start, f"a{g}{k}", held_a))
            parts.append(wire(f"W{g}{k}", f"a{g}{k}", f"b{g}", ohm=ohm))
        start = f"b{g}"
    parts += [wire("WX", start, "x", ohm=end_ohm), wire("WY", "n", "y", ohm=end_ohm), load("L", "x", "y", 1.0)]
    return harness(*parts)


def most_behind(groups: list[list[tuple[float, float]]], end_ohm: float = 0.01, volts: float = 12.0) -> float:
    """The most in A through the whole of the wire behind a ladder: of every set of paths left in every group, what
    their devices hold or a short circuit from its far end to the output gives; ways share by their conductances.
    """
    best = 0.0
    sets = [[s for n in range(len(g)) for s in itertools.combinations(g, n + 1)] for g in groups]
    for left in itertools.product(*sets):
        each = [sum(1.0 / ohm for _, ohm in paths) for paths in left]
        held = min(held_a * ohm * total for paths, total in zip(left, each, strict=True) for held_a, ohm in paths)
        best = max(best, min(held, volts / (0.01 + end_ohm + sum(1.0 / total for total in each))))
    return best


def test_devices_of_two_loops_in_series_open_together() -> None:
    """CH1 (5 A) beside CH2 (20 A), then 2 A beside 9.9 A and 9.9 A, equal leads.

    Whole, the paths of 2 A hold it to 3 · 2 = 6 A, and with those open CH1 to 2 · 5 = 10 A. With CH1 and the 2 A
    open, CH2 holds 20 A and the other two 2 · 9.9 = 19.8 A.
    """
    part = answer(ladder([[(5.0, 0.01), (20.0, 0.01)], [(2.0, 0.01), (9.9, 0.01), (9.9, 0.01)]])).parts["WX"]
    assert part.sustained_fault_a == pytest.approx(19.8)
    assert part.exact
    assert part.fault is not None
    assert part.fault.opened == ("Q00", "Q10")


def test_the_strongest_with_the_best_leads_may_open_first() -> None:
    """Four ways of 10 A and 0.2 Ω, two of 12 A and 0.001 Ω: the two open first, 4 · 10 A = 40 A are held."""
    part = answer(ladder([[(10.0, 0.2)] * 4 + [(12.0, 0.001)] * 2])).parts["WX"]
    assert part.sustained_fault_a == pytest.approx(40.0)
    assert part.exact


@pytest.mark.parametrize("seed", range(12))
def test_ladders_hold_what_their_best_set_of_ways_holds(seed: int) -> None:
    r = random.Random(seed)
    sizes = r.choice(([5], [6], [7], [3, 2], [3, 3], [2, 2, 2]))
    groups = [[(r.uniform(2.0, 12.0), 10.0 ** r.uniform(-2.5, -0.5)) for _ in range(n)] for n in sizes]
    end_ohm = r.choice((0.01, 0.2))
    part = answer(ladder(groups, end_ohm)).parts["WX"]
    expected = most_behind(groups, end_ohm)
    assert part.sustained_fault_a >= expected * (1.0 - 1e-6)
    assert part.sustained_fault_a <= expected * (1.0 + 1e-4) or not part.exact
    assert part.sustained_fault_a <= expected * 1.1
    assert part.combined_overload_a >= part.sustained_fault_a


# --- diodes and parts that hold their current -----------------------------------------------------------------


def on_a_bus(units: list[tuple[float, float, float, bool]]) -> Harness:
    """Outputs (V, A, Ω, holds its current) behind diodes and leads of 0.01 Ω onto one bus."""
    parts = []
    for k, (volts, amps, ohm, holds) in enumerate(units):
        how = {"limit_a": amps, "behaviour": HOLDS} if holds else {"trip_a": amps}
        parts.append(output(f"PS{k}", f"p{k}", "n", volts, resistance_ohm=ohm, **how))
        parts += [wire(f"W{k}", f"p{k}", f"a{k}", ohm=0.01), diode(f"D{k}", f"a{k}", "c")]
    parts += [wire("WX", "c", "d", ohm=0.01), wire("WY", "n", "e", ohm=0.01), load("L", "d", "e", 1.0)]
    return harness(*parts)


def swept(units: list[tuple[float, float, float, bool]]) -> tuple[list[float], float]:
    """The most of every output and of all together in A, by the voltage on the bus: nothing else tells their
    currents. The lead and return behind it need 0.02 Ω times the current. Any outputs may be off.
    """
    most, together = [0.0] * len(units), 0.0
    for size in range(1, len(units) + 1):
        for on in itertools.combinations(range(len(units)), size):
            # The steps just below where an output is about to open or to hold are where the most is.
            corners = [units[k][0] - units[k][1] * (units[k][2] + 0.01) for k in on]
            for bus_v in (*np.linspace(0.0, 30.0, 61), *corners, *(units[k][0] for k in on)):
                amps = {k: max(0.0, (units[k][0] - bus_v) / (units[k][2] + 0.01)) for k in on}
                if any(amps[k] > units[k][1] * (1.0 + 1e-9) and not units[k][3] for k in on):
                    continue
                amps = {k: min(a, units[k][1]) for k, a in amps.items()}
                if bus_v < 0.0 or bus_v < 0.02 * sum(amps.values()):
                    continue
                together = max(together, sum(amps.values()))
                for k, a in amps.items():
                    most[k] = max(most[k], a)
    return most, together


def test_one_of_six_outputs_behind_diodes_holds_alone() -> None:
    """28 V and five of 24 V, 10 A each: at 28 - 10 · (0.1 + 0.01) = 26.9 V on the bus the other diodes block."""
    part = answer(on_a_bus([(28.0, 10.0, 0.1, False)] + [(24.0, 10.0, 0.1, False)] * 5)).parts["W0"]
    assert part.sustained_fault_a == pytest.approx(10.0)


def test_five_limiters_that_hold_their_current_hold_it_together() -> None:
    """5 · 10 A = 50 A: the worst lead needs 10 A · 0.39 Ω = 3.9 V of 12 V."""
    parts = [output("PS", "p", "n", 12.0, trip_a=400.0, resistance_ohm=0.01)]
    for k in range(5):
        parts.append(limiter(f"CH{k}", "p", f"p{k}", 10.0, behaviour=HOLDS))
        parts.append(wire(f"W{k}", f"p{k}", "c", ohm=0.01 * 2.5**k))
    parts += [wire("WX", "c", "d", ohm=0.01), wire("WY", "n", "e", ohm=0.01), load("L", "d", "e", 1.0)]
    part = answer(harness(*parts)).parts["WX"]
    assert part.sustained_fault_a == pytest.approx(50.0)
    assert part.exact


@pytest.mark.parametrize("seed", range(4))
def test_outputs_behind_diodes_hold_what_the_voltage_on_their_bus_says(seed: int) -> None:
    r = random.Random(seed)
    units = [
        (r.choice((24.0, 24.5, 26.0, 28.0)), r.choice((5.0, 10.0)), r.choice((0.05, 0.1, 0.3)), r.random() < 0.5)
        for _ in range(5)
    ]
    parts = answer(on_a_bus(units)).parts
    most, together = swept(units)
    for name, expected in (*((f"W{k}", a) for k, a in enumerate(most)), ("WX", together)):
        assert parts[name].sustained_fault_a >= expected * (1.0 - 1e-6), name
        assert parts[name].sustained_fault_a <= expected * 1.1, name


# --- the bound itself -----------------------------------------------------------------------------------------


def mixed(seed: int) -> Harness:
    """One or two outputs, diodes, limiters that open and that hold, ways side by side in one or two steps."""
    r = random.Random(seed)
    parts = []
    for k in range(r.choice((1, 1, 2))):
        how = {"limit_a": 20.0, "behaviour": HOLDS} if r.random() < 0.4 else {"trip_a": r.choice((30.0, 60.0))}
        volts = 12.0 + r.choice((0.0, 0.0, 0.5))
        parts.append(output(f"U{k}", f"p{k}", "n", volts, resistance_ohm=r.choice((0.01, 0.05)), **how))
        start = f"p{k}"
        if r.random() < 0.4:
            parts.append(diode(f"D{k}", start, f"d{k}"))
            start = f"d{k}"
        parts.append(wire(f"S{k}", start, "bus", ohm=r.uniform(0.01, 0.1)))
    at = "bus"
    for step in range(r.choice((1, 2))):
        for path in range(r.choice((2, 2, 3))):
            name, start = f"{step}{path}", at
            if r.random() < 0.85:
                how = {"behaviour": HOLDS} if r.random() < 0.2 else {}
                own = Band.exact(0.002)
                parts.append(
                    limiter(f"Q{name}", at, f"q{name}", r.choice((3.0, 5.0, 8.0)), resistance_ohm=own, **how)
                )
                start = f"q{name}"
            parts.append(wire(f"W{name}", start, f"j{step}", ohm=r.uniform(0.01, 0.2)))
        at = f"j{step}"
        if r.random() < 0.5:
            parts.append(load(f"L{step}", at, "e", 1.5))
    parts += [wire("WX", at, "z", ohm=0.02), wire("WY", "n", "e", ohm=0.02), load("LX", "z", "e", 1.0)]
    return harness(*parts)


def test_the_bound_is_never_below_a_state_that_was_searched_and_mostly_meets_it() -> None:
    met = []
    for seed in range(10):
        drawn = mixed(seed)
        (case,) = drawn.cases(AT_20_C)
        (network,) = networks_of(drawn, AT_20_C, case)
        thresholds, loads = thresholds_of(drawn, AT_20_C, case), piece_loads(network, drawn)
        worst = WorstFaults()
        search_network(drawn, case, network, thresholds, loads, {}, worst)
        (piece,) = pieces_of(network, thresholds, loads)
        bound = StateBound(PieceGeometry(drawn, piece))
        for k in bound.geometry.parts:
            name = piece.branches.ids[k]
            value, _ = bound.sustained_fault(k, 0.0)
            assert value >= worst.value_a(name) * (1.0 - 1e-5), (seed, name)
            met.append(value <= worst.value_a(name) * (1.0 + 1e-4))
    assert np.mean(met) > 0.9
