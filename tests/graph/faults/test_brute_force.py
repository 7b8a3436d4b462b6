"""The fault search against a brute force that shares nothing with it (``tests/brute_force.py``).

Two questions for every wire, contact and diode of random harnesses. Does the brute force find a state that carries
more? Then the tool's answer is unsafe. And does the fault that the tool names, solved again by numpy, carry what is
stated? Then the answer is not merely high.
"""

from __future__ import annotations

import pytest
from brute_force import carried, most_a
from random_drawings import KINDS, answers_of, drawing_of

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
            found = [carried(drawing, *state)[name] for state in answer.states]
            again = min(found, key=lambda a: abs(a - answer.value_a))
            if abs(again - answer.value_a) > WITHIN * answer.value_a + SMALL_A:
                other.append((name, answer, again))
    assert not below
    assert not other
