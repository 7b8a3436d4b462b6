"""The fault search against a brute force that shares nothing with it (``tests/brute_force.py``).

Three questions for every wire, contact and diode of random harnesses. Does the brute force find a state that
carries more? Then the tool's answer is unsafe. Does the fault that the tool names, solved again by numpy, carry
what is stated? Then the answer is not merely high. Does what stays just below tripping carry what it holds?
"""

from __future__ import annotations

import pytest
from brute_force import Draw, Drawing, Part, Source
from judged import judged
from random_drawings import KINDS, OTHERS, VARIANTS, drawing_of

SEEDS = 20


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(SEEDS))
def test_no_state_carries_more_and_the_named_fault_carries_it(kind: str, seed: int) -> None:
    found = judged(drawing_of(kind, seed))
    assert not found.below
    assert not found.other
    assert not found.holding


@pytest.mark.parametrize("kind", (*VARIANTS, *OTHERS))
@pytest.mark.parametrize("seed", range(4))
def test_nor_with_loads_of_all_kinds_fuses_and_outputs_that_fold_back(kind: str, seed: int) -> None:
    found = judged(drawing_of(kind, seed))
    assert not found.below
    assert not found.other
    assert not found.holding


@pytest.mark.parametrize(
    ("kind", "seed"),
    [
        ("pulsed mixed", 28),  # a load of constant power that pulses, at the voltage of its pulse
        ("pulsed mixed", 41),
        ("single fused", 43),  # a load of constant power that counts with more than it draws is a bound
        ("single fused", 57),
        ("single fused", 98),
        ("two voltages mixed", 47),
        ("two voltages mixed", 3),  # a load of constant power at the place of the fault
        ("joined", 8012),  # a fault on one of two wires side by side, just beside its end, onto their return
    ],
)
def test_harnesses_that_were_wrong_once(kind: str, seed: int) -> None:
    found = judged(drawing_of(kind, seed))
    assert not found.below
    assert not found.other
    assert not found.holding


@pytest.mark.parametrize("volts", [(12.5, 12.0), (12.3, 12.0), (12.0, 12.2)])
@pytest.mark.parametrize("drop", [0.4, 0.7])
def test_a_diode_across_a_wire_in_which_a_current_flows_anyway(volts: tuple[float, float], drop: float) -> None:
    """Two outputs joined by a wire with a diode across it: the diode blocks until the wire drops its voltage."""
    drawing = Drawing(
        parts=(
            Part("W1", "wire", "p0", "p1", 0.05),
            Part("D1", "diode", "p0", "p1", 0.005, drop_v=drop),
            Part("W2", "wire", "p1", "f", 0.02),
            Part("W3", "wire", "r", "m", 0.02),
        ),
        sources=tuple(Source(f"U{n}", f"p{n}", "m", volts[n], 0.02, 25.0 + 10.0 * n) for n in range(2)),
        draws=(Draw("L1", "f", "r", "current", 2.0),),
        returns={"p0": ("m",)},
    )
    found = judged(drawing)
    assert not found.below
    assert not found.other
    assert not found.holding
