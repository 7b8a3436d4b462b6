"""Faults in meshes whose contacts are unlike, with loads that draw beside them.

Source: a nodal solve of its own (Kirchhoff's laws) at every corner of the bands of the contacts; a fault at each
joint, and of the loads those that add to the part, as much as the device before the mesh lets through, in either
direction.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from wired import analysed, contact, harness, limiter, load, output

from loadloom.graph.model.elements import Band

MESHES = {
    4: [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)],
    5: [(0, 1), (0, 2), (1, 2), (1, 3), (2, 4), (3, 4)],
    6: [(0, 1), (1, 2), (3, 4), (4, 5), (0, 3), (1, 4), (2, 5)],
}


def worst_a(nodes: int, bands: list[tuple[float, float]], trip_a: float, draws: dict[int, float]) -> list[float]:
    into = np.zeros((len(bands), nodes))
    for k, (a, b) in enumerate(MESHES[nodes]):
        into[k, a], into[k, b] = 1.0, -1.0
    worst = np.zeros(len(bands))
    for ohm in itertools.product(*bands):
        per_v = into.T @ np.diag(1.0 / np.array(ohm)) @ into
        volts = np.zeros((nodes, nodes))
        volts[1:, 1:] = -np.linalg.inv(per_v[1:, 1:])
        per_draw = np.diag(1.0 / np.array(ohm)) @ into @ volts
        for k, place, sign in itertools.product(range(len(bands)), range(nodes), (1.0, -1.0)):
            adds = [(sign * per_draw[k, place], trip_a)]
            adds += [(sign * per_draw[k, n], amps) for n, amps in draws.items()]
            room, total = trip_a, 0.0
            for gain, most in sorted((each for each in adds if each[0] > 0.0), reverse=True):
                taken = min(most, room)
                total, room = total + gain * taken, room - taken
            worst[k] = max(worst[k], total)
    return worst.tolist()


@pytest.mark.parametrize("seed", range(12))
def test_loads_add_to_a_part_whichever_way_the_worst_mixture_sends_them(seed: int) -> None:
    rng = random.Random(seed)
    nodes, trip_a = rng.choice(list(MESHES)), rng.choice((20.0, 40.0, 60.0))
    bands = [(low := rng.uniform(1e-3, 4e-3), low * rng.uniform(1.0, 6.0)) for _ in MESHES[nodes]]
    draws = {n: rng.uniform(3.0, 15.0) for n in range(1, nodes) if rng.random() < 0.8}
    drawn = harness(
        output("U", "u", "m", 24.0, limit_a=300.0, trip_a=Band.exact(400.0), resistance_ohm=1e-3),
        limiter("D", "u", "n0", trip_a),
        *(
            contact(f"P{k}.1", f"n{a}", f"n{b}", resistance_ohm=Band((lo + hi) / 2, lo, hi), rated=500.0)
            for k, ((a, b), (lo, hi)) in enumerate(zip(MESHES[nodes], bands, strict=True))
        ),
        *(load(f"L{n}", f"n{n}", "m", amps) for n, amps in draws.items()),
    )
    rows = {row.id: row.sustained_fault_a for row in analysed(drawn).contacts}
    found = [rows[f"P{k}.1"] for k in range(len(bands))]
    assert found == pytest.approx(worst_a(nodes, bands, trip_a, draws), rel=1e-6)
