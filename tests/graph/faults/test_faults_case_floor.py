"""No sustained fault current is below what the load case itself carries; numbers by hand from Kirchhoff's laws.

A load of constant power P behind a resistance R on a voltage U stands at V = (U + sqrt(U² - 4·R·P)) / 2.
"""

from __future__ import annotations

import numpy as np
import pytest
from fault_bench import faults_of
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.faults import search as fault_search
from loadloom.graph.load_cases.case_loading import CaseLoading
from loadloom.graph.model.elements import LoadKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def fans(minimum_v: float) -> Harness:
    """Three loads of 100 W behind 0.2 Ω and a device of 12 A each, on one feed and one return."""
    parts = [
        output("PS1", "p", "n", 12.0, trip_a=40.0),
        wire("W0", "p", "bus", ohm=1e-7, rated=25.0),
        wire("W9", "ret", "n", ohm=1e-7, rated=25.0),
    ]
    for k in range(3):
        parts.append(limiter(f"Q{k}", "bus", f"q{k}", 12.0))
        parts.append(wire(f"A{k}", f"q{k}", f"a{k}", ohm=0.1, rated=15.0))
        parts.append(wire(f"B{k}", f"b{k}", "ret", ohm=0.1, rated=15.0))
        parts.append(load(f"L{k}", f"a{k}", f"b{k}", 100.0, demand_kind=LoadKind.POWER, minimum_v=minimum_v))
    return harness(*parts)


def test_a_case_below_the_minimum_voltage_draws_on_in_the_fault_search() -> None:
    volts = (12.0 + np.sqrt(12.0**2 - 4.0 * 0.2 * 100.0)) / 2.0
    assert volts == pytest.approx(10.0)
    found = analysed(fans(minimum_v=11.5))
    rows = {r.id: r for r in found.conductors}
    # The case: 3 × 10 A. On the return, a fault of 12 A in the place of one load, the others as in the case: 32 A.
    # With the loads taken to stop at 11.5 V it would be 12 A + 2 × 100 W / 11.5 V = 29.4 A, less than the case.
    assert rows["W9"].current_a == pytest.approx(30.0, rel=1e-4)
    assert rows["W9"].sustained_fault_a == pytest.approx(32.0, rel=1e-4)
    # On the feed a pinch at the bus takes what the output holds.
    assert rows["W0"].sustained_fault_a == pytest.approx(40.0, rel=1e-4)
    for name in ("W0", "W9"):
        assert rows[name].combined_overload_a >= rows[name].sustained_fault_a


@pytest.mark.parametrize("radial_from", [None, 1])
def test_a_case_above_every_fault_is_no_faults_doing(
    radial_from: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where a case carries more than any fault that was found, the answer names the case and no fault: the numbers
    of one would be below it.
    """
    if radial_from is not None:
        monkeypatch.setattr(fault_search, "RADIAL_FROM", radial_from)
    found = faults_of(fans(minimum_v=9.0), AT_20_C, {"nominal": CaseLoading(continuous_a={"A0": 90.0, "A1": 1.0})})
    raised, other = found.parts["A0"], found.parts["A1"]
    assert raised.sustained_fault_a == raised.combined_overload_a == 90.0
    assert (raised.fault, raised.held_by, raised.loads_a, raised.case) == (None, None, (), "nominal")
    assert raised.protected is False
    assert other.fault is not None and other.sustained_fault_a is not None and other.sustained_fault_a > 1.0


@pytest.mark.parametrize("seed", range(1, 16))
def test_never_below_the_case(seed: int) -> None:
    """Random trees, some with two ways side by side, of loads of every kind at a poor voltage; no device opens."""
    rng = np.random.default_rng(seed)
    low = float(rng.uniform(9.0, 11.5))
    parts = [output("PS1", "p", "n", 12.0, resistance_ohm=0.02)]
    joints = ["p"]
    for k in range(int(rng.integers(2, 6))):
        at = joints[int(rng.integers(len(joints)))]
        joints.append(f"f{k}")
        parts.append(limiter(f"Q{k}", at, f"q{k}", float(rng.uniform(8.0, 20.0))))
        parts.append(wire(f"A{k}", f"q{k}", f"f{k}", ohm=float(rng.uniform(0.01, 0.1)), length_m=1.0))
        if rng.random() < 0.4:
            parts.append(wire(f"C{k}", f"q{k}", f"f{k}", ohm=float(rng.uniform(0.01, 0.1)), length_m=2.0))
        parts.append(wire(f"B{k}", f"g{k}", "n", ohm=float(rng.uniform(0.01, 0.1)), length_m=1.0))
        kind, most = [(LoadKind.POWER, 60.0), (LoadKind.CURRENT, 3.0), (LoadKind.RESISTANCE, 8.0)][
            int(rng.integers(3))
        ]
        values = {"minimum_v": low} if kind is LoadKind.POWER and rng.random() < 0.7 else {}
        demand = most * float(rng.uniform(0.6, 1.0))
        parts.append(load(f"L{k}", f"f{k}", f"g{k}", demand, demand_kind=kind, **values))
    found = analysed(harness(*parts))
    opening = {f.rule for f in found.findings} & {"limiter-would-trip", "fuse-would-open", "output-overload"}
    for row in found.conductors:
        if not opening and row.current_a is not None:
            assert row.sustained_fault_a >= row.current_a * (1.0 - 1e-6), row.id
            assert row.combined_overload_a >= row.sustained_fault_a * (1.0 - 1e-9), row.id
