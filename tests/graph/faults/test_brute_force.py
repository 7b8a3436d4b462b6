"""The fault search against a brute force that shares nothing with it (``tests/brute_force.py``).

Two questions for every wire, contact and diode of random harnesses. Does the brute force find a state that carries
more? Then the tool's answer is unsafe. And does the fault that the tool names, solved again by numpy, carry what is
stated? Then the answer is not merely high.
"""

from __future__ import annotations

import math

import pytest
from brute_force import Drawing, carried, most_a
from random_drawings import KINDS, Answer, answers_of, drawing_of

WITHIN = 2e-3
"""The two sides may differ by this share."""

SMALL_A = 1e-3
SEEDS = 20


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(SEEDS))
def test_no_state_carries_more_and_the_named_fault_carries_it(kind: str, seed: int) -> None:
    drawing = drawing_of(kind, seed)
    answers = answers_of(drawing)
    below, other = [], []
    for name, found in most_a(drawing).items():
        if name in answers and found.current_a > answers[name].value_a * (1.0 + WITHIN) + SMALL_A:
            below.append((name, answers[name].value_a, found))
    for name, answer in answers.items():
        if answer.exact:
            found = [_again(drawing, name, answer, state) for state in answer.states]
            again = min(found, key=lambda a: abs(a - answer.value_a))
            if abs(again - answer.value_a) > WITHIN * answer.value_a + SMALL_A:
                other.append((name, answer, again))
    assert not below
    assert not other


def _again(drawing: Drawing, name: str, answer: Answer, state: tuple) -> float:
    """What a part carries with the named fault: in A, over a period of the loads that pulse the root mean square.

    The fault takes the same current in every moment, as its resistance does at the lowest voltage of a period.
    """
    at, to, ohm, loads, opened, inside = state
    if not answer.cycle:
        return carried(drawing, at, to, ohm, loads, opened, inside)[name]
    taken = carried(drawing, at, to, ohm, loads, opened, inside)["«fault»"]
    square = 0.0
    for share, drawn in answer.cycle:
        square += share * carried(drawing, at, to, ohm, drawn, opened, inside, fault_a=taken)[name] ** 2
    return math.sqrt(square)
