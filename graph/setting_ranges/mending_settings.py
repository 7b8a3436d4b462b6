"""Settings of devices that bring a part's sustained fault current down to what it is allowed, each tried before it
is named."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.setting_ranges.trial import Trial

MOST_NAMED = 5
"""Devices that a remedy names at most."""

MOST_ROUNDS = 12
DIGITS = 3


def try_together(trial: Trial, answers: Iterable[PartFault]) -> None:
    """Make the first search of ``mending_settings`` for all parts at once whose device has to hold the same."""
    alike: dict[tuple[str, float], set[str]] = {}
    for answer in answers:
        if answer.allowed_a is None or answer.held_by is None or answer.held_to_protect_a is None:
            continue
        lowered_a = floored(answer.held_to_protect_a)
        if lowered_a > 0.0:
            alike.setdefault((answer.held_by, lowered_a), set()).add(answer.id)
    for (name, lowered_a), parts in alike.items():
        trial.sustained_fault(_by_case(trial, {name: lowered_a}), frozenset(parts))


def mending_settings(trial: Trial, answer: PartFault) -> dict[str, float] | None:
    """By device id what each may hold at most in A, so that the part of ``answer`` is within its allowed current
    with all of them; None where no such settings are known.

    The device that holds the worst fault is lowered until it no longer does too much, then the one that holds the
    worst fault left, and so on.
    """
    if answer.allowed_a is None:
        return None
    found: dict[str, float] = {}
    worst = answer
    for _ in range(MOST_ROUNDS):
        name, enough_a = worst.held_by, worst.held_to_protect_a
        if name is None or enough_a is None:
            return None
        lowered_a = floored(enough_a)
        if lowered_a <= 0.0 or lowered_a >= found.get(name, math.inf):
            return None
        found[name] = lowered_a
        if len(found) > MOST_NAMED:
            return None
        answers = trial.answers((answer.id,), _by_case(trial, found))
        if answers is None:
            return None
        over = [a for a in answers[answer.id] if a.protected is False]
        if not over:
            return found
        worst = max(over, key=lambda a: a.sustained_fault_a or 0.0)
    return None


def floored(current_a: float) -> float:
    """A current in A rounded down to three digits, so that the number that is printed is enough."""
    if current_a <= 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(current_a)) - DIGITS + 1)
    return math.floor(current_a / step * (1.0 + 1e-12)) * step


def _by_case(trial: Trial, held_a: Mapping[str, float]) -> dict[str, dict[str, float]]:
    return {
        name: {
            case: min(a, each[name].held_a)
            for case, each in trial.thresholds.items()
            if name in each and math.isfinite(each[name].held_a)
        }
        for name, a in held_a.items()
    }
