"""Random harnesses for setting ranges: groups of paths side by side, of which some have a device."""

from __future__ import annotations

import random

from wired import harness, limiter, load, output, wire

from loadloom.graph.model.elements import Element
from loadloom.graph.model.harness import Harness


def drawn_at_random(seed: int) -> Harness:
    """One or two outputs, joined or not, with groups of paths side by side, of which some have a device."""
    rng = random.Random(seed)
    parts: list[Element] = []

    def count(letter: str) -> str:
        return f"{letter}{1 + sum(1 for p in parts if p.id.startswith(letter))}"

    def path(a: str, b: str, guarded: bool) -> None:
        start = a
        if guarded:
            name = count("CH")
            start = f"{name}.out"
            parts.append(limiter(name, a, start, rng.choice([4.0, 6.0, 10.0, 15.0, 20.0]), delay_s=0.01))
        ohm, rated = round(rng.uniform(0.005, 0.1), 4), rng.choice([6.0, 9.0, 12.0, 16.0, 25.0])
        parts.append(wire(count("W"), start, b, ohm=ohm, rated=rated))

    joined = rng.random() < 0.4
    ends = []
    for k in range(rng.choice([1, 2])):
        trip_a, ohm = rng.choice([20.0, 40.0]), rng.choice([0.01, 0.05])
        parts.append(
            output(f"PS{k}", f"p{k}", "n", 24.0, limit_a=40.0, trip_a=trip_a, delay_s=0.1, resistance_ohm=ohm)
        )
        middle = "j" if joined else f"m{k}"
        path(f"p{k}", middle, rng.random() < 0.7)
        if joined and k:
            continue
        for branch in range(rng.choice([1, 2])):
            joint, end = f"{middle}.{branch}", f"e{k}{branch}"
            for _ in range(rng.choice([1, 2, 2, 3])):
                path(middle, joint, rng.random() < 0.6)
            path(joint, end, rng.random() < 0.3)
            ends.append(end)
    parts.append(wire(count("W"), "n", "r", ohm=0.01, rated=25.0))
    parts += [load(f"L{k}", end, "r", rng.choice([0.5, 1.0, 2.0])) for k, end in enumerate(ends)]
    return harness(*parts)
