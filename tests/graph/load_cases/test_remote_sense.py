"""Outputs with remote sense: the voltage at the load, what nearer loads get, and sense leads in place of a main
lead.

Checked against Ohm's law by hand (closed form beside each number) and, on random harnesses, against a nodal
solution in which the sense point is a voltage source of its own.
"""

from __future__ import annotations

import random

import numpy as np
import pytest
from wired import analysed, contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Behaviour, Element, LoadKind, Tolerance
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


COPPER = {"mm2": 4.0, "length_m": 1.0, "insulation": "PVC 70 °C"}


def rules(results: Results, severity: str = "error") -> set[str]:
    return {f.rule for f in results.findings if f.severity == severity}


def sensed(
    *more: Element, limit: float | None = 0.5, ohm: float = 0.02, lead: dict | None = None, **values
) -> Harness:
    """12 V over two leads of ``ohm`` to the joints a and b, sensed there through leads of 1 mm²."""
    own = {"limit_a": 18.0, "trip_a": 20.0, "delay_s": 1e-3, "resistance_ohm": 0.0} | values
    senses = {"sense_plus": "sp", "sense_minus": "sm", "sense_limit_v": limit}
    return harness(
        output("PS1", "p", "m", 12.0, **own, **senses),
        wire("W1", "p", "a", ohm=ohm, rated=25.0, **COPPER),
        wire("W2", "b", "m", ohm=ohm, rated=25.0, **COPPER),
        wire("S1", "sp", "a", ohm=0.1, **COPPER, **(lead or {"rated": 25.0})),
        wire("S2", "sm", "b", ohm=0.1, **COPPER, **(lead or {"rated": 25.0})),
        *more,
    )


def current(results: Results, name: str) -> float:
    row = next(r for r in (*results.conductors, *results.loads) if r.id == name)
    return row.current_a


def test_a_resistance_at_the_sense_point_gets_the_whole_voltage() -> None:
    """1.2 Ω at 12 V: 10 A and a drop of 0.4 V, all of it made up for; without sense 12 / 1.24 = 9.68 A."""
    ohmic = load("L1", "a", "b", 1.2, demand_kind=LoadKind.RESISTANCE)
    assert current(analysed(sensed(ohmic)), "W1") == pytest.approx(10.0, rel=1e-6)
    plain = sensed(ohmic, limit=0.0)
    assert current(analysed(plain), "W1") == pytest.approx(12.0 / 1.24, rel=1e-6)


def test_the_lowest_voltage_in_a_ring_counts_with_what_is_made_up_for_once() -> None:
    """A ring of three contacts of 1 to 3 mΩ behind the sense point, which holds 12 V: 1 A drawn at one corner and
    10 A at the other. With x and y from the joint to the corners and z between them the first lies
    x · (1 A · (y + z) + 10 A · y) / (x + y + z) lower: 14.6 mV with x and y at 3 mΩ and z at 1 mΩ, and 12.0 mV
    with all at 3 mΩ.
    """
    banded = {"resistance_ohm": Band(2e-3, 1e-3, 3e-3), "rated": 25.0}
    ring = (
        contact("X1.1", "a", "c", **banded),
        contact("X2.1", "a", "d", **banded),
        contact("X3.1", "c", "d", **banded),
    )
    results = analysed(sensed(*ring, load("L1", "c", "b", 1.0), load("L2", "d", "b", 10.0)))
    row = next(row for row in results.loads if row.id == "L1")
    assert row.voltage_v == pytest.approx(12.0 - 3e-3 * (1.0 * 4e-3 + 10.0 * 3e-3) / 7e-3, abs=1e-6)


def test_no_more_than_the_limit_is_made_up_for() -> None:
    """A limit of 0.1 V: 12.1 V over 1.24 Ω. The drop that is asked for is 0.39 V."""
    ohmic = load("L1", "a", "b", 1.2, demand_kind=LoadKind.RESISTANCE)
    results = analysed(sensed(ohmic, limit=0.1))
    assert current(results, "W1") == pytest.approx(12.1 / 1.24, rel=1e-6)
    (found,) = (f for f in results.findings if f.rule == "sense-drop")
    assert found.value == pytest.approx(12.1 / 1.24 * 0.04, rel=1e-6)
    assert found.limit == 0.1
    assert "sense-drop" not in rules(analysed(sensed(ohmic)))


def test_a_load_nearer_to_the_output_gets_more_than_is_held() -> None:
    """10 A over 0.04 Ω: 12.4 V at the terminals, where a second load stands that stands 12.3 V."""
    far = load("L1", "a", "b", 10.0)
    near = load("L2", "p", "m", 0.5, maximum_v=12.3, minimum_v=11.0)
    (found,) = (f for f in analysed(sensed(far, near)).findings if f.rule == "voltage-high")
    assert found.subject.id == "L2"
    assert found.value == pytest.approx(12.4, rel=1e-6)
    at_it = load("L1", "a", "b", 10.0, maximum_v=12.1, minimum_v=11.0)
    assert "voltage-high" not in rules(analysed(sensed(at_it)))


def test_a_near_resistance_draws_by_the_compensated_voltage() -> None:
    """12.4 V across 2.4 Ω: 5.17 A and not 5 A."""
    near = load("L2", "p", "m", 2.4, demand_kind=LoadKind.RESISTANCE)
    results = analysed(sensed(load("L1", "a", "b", 10.0), near))
    assert next(o for o in results.outputs if o.id == "PS1").current_a == pytest.approx(10.0 + 12.4 / 2.4, rel=1e-6)


def test_a_low_voltage_is_made_up_for_as_well() -> None:
    far = load("L1", "a", "b", 10.0, minimum_v=11.9, maximum_v=13.0)
    assert "voltage-low" not in rules(analysed(sensed(far)))
    assert "voltage-low" in rules(analysed(sensed(far, limit=0.0)))
    assert "voltage-low" in rules(analysed(sensed(far, limit=0.2)))


@pytest.mark.parametrize(("limit", "missing"), [(None, True), (0.0, False), (0.5, False)])
def test_a_limit_that_nobody_states_is_not_determined(limit: float | None, missing: bool) -> None:
    results = analysed(sensed(load("L1", "a", "b", 5.0, minimum_v=10.0, maximum_v=13.0), limit=limit))
    assert ("sense-not-determined" in rules(results, "warning")) is missing
    assert (str(results.verdict) == "incomplete") is missing or limit == 0.0


def test_a_sense_terminal_on_the_other_pole_measures_nothing() -> None:
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=18.0, trip_a=20.0, delay_s=1e-3, sense_plus="b", sense_limit_v=0.5),
        wire("W1", "p", "a", ohm=0.02, rated=25.0),
        wire("W2", "b", "m", ohm=0.02, rated=25.0),
        load("L1", "a", "b", 5.0),
    )
    assert "sense-not-determined" in rules(analysed(drawn), "warning")


@pytest.mark.parametrize(
    ("lead", "over"),
    [({"rated": 3.0}, True), ({"rated": 7.9}, True), ({"rated": 8.1}, False), ({"rated": 25.0}, False)],
)
def test_a_sense_lead_carries_the_load_when_its_main_lead_opens(lead: dict[str, float], over: bool) -> None:
    results = analysed(sensed(load("L1", "a", "b", 8.0), lead=lead))
    found = {f.subject.id: f for f in results.findings if f.rule == "sense-overload"}
    assert set(found) == ({"S1", "S2"} if over else set())
    assert all(f.value == pytest.approx(8.0, rel=1e-6) for f in found.values())


@pytest.mark.parametrize(
    ("acting", "held_a"),
    [
        (fuse("F1", "sp", "x", 1.0, "UL 248-14"), 1.35),
        (fuse("F1", "sp", "x", 2.5, "UL 248-14"), 3.375),
        (limiter("F1", "sp", "x", Band(2.0, 1.8, 2.2), delay_s=1e-3), 2.2),
        (limiter("F1", "sp", "x", 6.0, delay_s=1e-3, behaviour=Behaviour.CONSTANT_CURRENT), 6.0),
    ],
)
def test_a_fuse_in_the_sense_lead_holds_it_down(acting: Element, held_a: float) -> None:
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=18.0, trip_a=20.0, delay_s=1e-3, sense_plus="sp", sense_limit_v=1.0),
        acting,
        contact("J1.1", "x", "y", rated=3.0),
        wire("S1", "y", "a", ohm=0.1, rated=3.0),
        wire("W1", "p", "a", ohm=0.02, rated=25.0),
        wire("W2", "b", "m", ohm=0.02, rated=25.0),
        load("L1", "a", "b", 8.0),
    )
    found = {f.subject.id: f.value for f in analysed(drawn).findings if f.rule == "sense-overload"}
    assert set(found) == ({"S1", "J1.1"} if held_a > 3.0 else set())
    assert all(value == pytest.approx(held_a, rel=1e-6) for value in found.values())


def test_main_leads_in_parallel_leave_the_sense_lead_alone() -> None:
    """Two main leads side by side: no single one that opens puts the load on the sense lead."""
    more = (wire("W3", "p", "a", ohm=0.02, rated=25.0), wire("W4", "b", "m", ohm=0.02, rated=25.0))
    drawn = sensed(load("L1", "a", "b", 8.0), *more, lead={"rated": 3.0})
    assert "sense-overload" not in rules(analysed(drawn))


def test_the_part_that_opens_may_be_a_contact_or_a_fuse() -> None:
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=18.0, trip_a=20.0, delay_s=1e-3, sense_plus="sp", sense_limit_v=1.0),
        fuse("F1", "p", "q", 15.0, "UL 248-14"),
        wire("W1", "q", "a", ohm=0.02, rated=25.0),
        wire("W3", "q", "a", ohm=0.02, rated=25.0),
        wire("S1", "sp", "a", ohm=0.1, rated=3.0),
        wire("W2", "b", "m", ohm=0.02, rated=25.0),
        load("L1", "a", "b", 8.0),
    )
    (found,) = (f for f in analysed(drawn).findings if f.rule == "sense-overload")
    assert "if F1 opened" in found.message


@pytest.mark.parametrize("seed", range(20))
def test_random_trunks_with_a_sense_point_somewhere(seed: int) -> None:
    """A trunk of joints with resistances from each to its return; the sense point is held as by a source there."""
    rng = random.Random(seed)
    count, at = rng.randint(2, 5), rng.randint(1, 2)
    lines = [round(rng.uniform(0.005, 0.03), 4) for _ in range(2 * count)]
    ohms = [round(rng.uniform(2.0, 12.0), 3) for _ in range(count)]
    volts, above = 12.0, rng.choice([0.0, 0.02])
    parts: list[Element] = []
    for n in range(count):
        one, other = ("p", "m") if n == 0 else (f"a{n}", f"b{n}")
        parts += [
            wire(f"W{n}", one, f"a{n + 1}", ohm=lines[2 * n], rated=99.0),
            wire(f"R{n}", other, f"b{n + 1}", ohm=lines[2 * n + 1], rated=99.0),
            load(f"L{n}", f"a{n + 1}", f"b{n + 1}", ohms[n], demand_kind=LoadKind.RESISTANCE),
        ]
    drawn = harness(
        output(
            "PS1", "p", "m", volts, limit_a=80.0, trip_a=90.0, delay_s=1e-3, tolerance=Tolerance.even(above),
            sense_plus="sp", sense_minus="sm", sense_limit_v=5.0,
        ),
        wire("S1", "sp", f"a{at}", ohm=0.2, rated=99.0),
        wire("S2", "sm", f"b{at}", ohm=0.2, rated=99.0),
        *parts,
    )  # fmt: skip
    # Unknowns: plus and minus joints 1…count, and the terminals' voltage, chosen so that the sense point holds.
    loop = np.zeros((count + 1, count + 1))
    right = np.zeros(count + 1)
    for n in range(count):  # voltage at joint n + 1 = terminals - sum of drops; currents of all loads beyond flow
        for k in range(count):
            shared = sum(lines[2 * j] + lines[2 * j + 1] for j in range(min(n, k) + 1))
            loop[n, k] = shared + (ohms[n] if n == k else 0.0)
        loop[n, count] = -1.0
    loop[count, at - 1] = ohms[at - 1]
    right[count] = volts * (1.0 + above)
    solved = np.linalg.solve(loop, right)
    assert current(analysed(drawn), "W0") == pytest.approx(float(solved[:count].sum()), rel=1e-5)
