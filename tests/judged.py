"""The fault search against the judge of ``brute_force``, harness by harness.

Run by hand for many seeds: ``python tests/judged.py KIND FIRST LAST`` writes a line of JSON for each harness.
"""

from __future__ import annotations

import json
import math
import sys
import time
from dataclasses import dataclass, field

from brute_force import Drawing, NotReachedError, carried, most_a
from random_drawings import Answer, answers_of, drawing_of

WITHIN = 2e-3
"""The two sides may differ by this share."""

SMALL_A = 1e-3


@dataclass
class Judged:
    """What was found for one harness, each by part: a state that carries more than the tool says (unsafe), a named
    fault that, solved again, carries something else, and what is said to stay just below tripping and carries
    another current than what it holds.
    """

    below: list[tuple[str, float, float, str]] = field(default_factory=list)
    other: list[tuple[str, float, float]] = field(default_factory=list)
    holding: list[tuple[str, str, float, float]] = field(default_factory=list)
    parts: int = 0
    bounds: int = 0
    worst_below: float = 0.0
    worst_other: float = 0.0
    most_above: float = 0.0
    """The greatest share by which an answer that is not marked a bound lies above every state of the judge."""


def judged(drawing: Drawing) -> Judged:
    """Both questions for every wire, contact and diode of a drawing."""
    answers = answers_of(drawing)
    found = Judged(parts=len(answers), bounds=sum(not answer.exact for answer in answers.values()))
    for name, most in most_a(drawing).items():
        if name not in answers:
            continue
        value_a = answers[name].value_a
        if most.current_a > SMALL_A:
            found.worst_below = max(found.worst_below, (most.current_a - value_a) / most.current_a)
            if answers[name].exact:
                found.most_above = max(found.most_above, (value_a - most.current_a) / most.current_a)
        if most.current_a > value_a * (1.0 + WITHIN) + SMALL_A:
            found.below.append((name, value_a, most.current_a, most.state))
    for name, answer in answers.items():
        if answer.exact:
            again = min(
                (_again(drawing, name, answer, state) for state in answer.states),
                key=lambda a, value_a=answer.value_a: abs(a - value_a),
            )
            off_a = abs(again - answer.value_a)
            if answer.value_a > SMALL_A:
                found.worst_other = max(found.worst_other, off_a / answer.value_a)
            if not off_a <= WITHIN * answer.value_a + SMALL_A:
                found.other.append((name, answer.value_a, again))
            if answer.held_by is not None and answer.held_a is not None and not answer.cycle:
                through_a = _nearest(drawing, answer.held_by, answer)
                if not math.isclose(through_a, answer.held_a, rel_tol=WITHIN, abs_tol=SMALL_A):
                    found.holding.append((name, answer.held_by, answer.held_a, through_a))
    return found


def _nearest(drawing: Drawing, device: str, answer: Answer) -> float:
    """What a device carries in the state of an answer that is nearest to what it holds, in A."""
    through = [abs(carried(drawing, *state)[device]) for state in answer.states]
    return min(through, key=lambda a: abs(a - (answer.held_a or 0.0)))


def _again(drawing: Drawing, name: str, answer: Answer, state: tuple) -> float:
    """What a part carries with the named fault: in A, over a period of the loads that pulse the root mean square.

    The fault takes the same current in every moment, as its resistance does at the lowest voltage of a period.
    """
    at, to, ohm, loads, opened, inside = state
    if not answer.cycle:
        try:
            return carried(drawing, at, to, ohm, loads, opened, inside)[name]
        except NotReachedError:
            return math.inf
    taken = carried(drawing, at, to, ohm, loads, opened, inside)["«fault»"]
    square = 0.0
    for share, drawn in answer.cycle:
        square += share * carried(drawing, at, to, ohm, drawn, opened, inside, fault_a=taken)[name] ** 2
    return math.sqrt(square)


def main(kind: str, first: str, last: str) -> None:
    """Judge harnesses of a kind, one line each."""
    for seed in range(int(first), int(last)):
        start = time.process_time()
        line: dict[str, object] = {"kind": kind, "seed": seed}
        try:
            line |= vars(judged(drawing_of(kind, seed)))
        except Exception as error:  # a crash is a result of the sweep as well
            line["error"] = f"{type(error).__name__}: {error}"
        print(json.dumps(line | {"cpu_s": round(time.process_time() - start, 2)}), flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
