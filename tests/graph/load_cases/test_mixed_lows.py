"""The lowest voltage at a load in a ring or mesh, against a brute force of its own.

Source: a nodal solve (Kirchhoff's laws) at every corner of the bands of the contacts, loads of constant current.
"""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest
from wired import analysed, contact, harness, load, output, wire

from loadloom.graph.load_cases import mixed_lows
from loadloom.graph.model.elements import Band
from loadloom.graph.model.harness import Harness

MESHES = {
    3: [(0, 1), (0, 2), (1, 2)],
    4: [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)],
    5: [(0, 1), (0, 2), (1, 2), (1, 3), (2, 4), (3, 4)],
    6: [(0, 1), (1, 2), (3, 4), (4, 5), (0, 3), (1, 4), (2, 5)],
}

Drawn = tuple[int, list[tuple[float, float]], dict[int, float]]


def at_random(seed: int) -> Drawn:
    rng = random.Random(seed)
    nodes = rng.choice(list(MESHES))
    bands = [(lo := rng.uniform(2e-3, 8e-3), lo * rng.uniform(1.0, 8.0)) for _ in MESHES[nodes]]
    return nodes, bands, {n: rng.choice([0.5, 2.0, 10.0, 20.0]) for n in range(1, nodes)}


def drawn_as(mesh: Drawn) -> Harness:
    nodes, bands, draws = mesh
    ends = zip(MESHES[nodes], bands, strict=True)
    return harness(
        output("PS1", "p", "m", 24.0, limit_a=200.0, trip_a=Band.exact(250.0)),
        wire("W1", "p", "n0", ohm=0.0, rated=300.0),
        *(
            contact(f"X{k}.1", f"n{a}", f"n{b}", resistance_ohm=Band((lo + hi) / 2, lo, hi), rated=300.0)
            for k, ((a, b), (lo, hi)) in enumerate(ends)
        ),
        *(load(f"L{n}", f"n{n}", "m", amps) for n, amps in draws.items()),
    )


def least_v(mesh: Drawn) -> dict[str, float]:
    nodes, bands, draws = mesh
    into = np.zeros((len(bands), nodes))
    for k, (a, b) in enumerate(MESHES[nodes]):
        into[k, a], into[k, b] = 1.0, -1.0
    amps = np.array([draws.get(n, 0.0) for n in range(nodes)])
    least = np.full(nodes, np.inf)
    for ohm in itertools.product(*bands):
        per_v = into.T @ np.diag(1.0 / np.array(ohm)) @ into
        volts = 24.0 + np.concatenate([[0.0], np.linalg.solve(per_v[1:, 1:], -amps[1:])])
        least = np.minimum(least, volts)
    return {f"L{n}": float(least[n]) for n in draws}


@pytest.mark.parametrize("seed", range(40))
def test_the_least_voltage_is_that_of_the_worst_corner(seed: int) -> None:
    mesh = at_random(seed)
    rows = {row.id: row.voltage_v for row in analysed(drawn_as(mesh)).loads}
    assert rows == pytest.approx(least_v(mesh), abs=3e-5)


def test_a_ring_by_hand() -> None:
    """A ring of three contacts of 1 to 3 mΩ, 1 A drawn at one corner and 20 A at the other. With x and y to the
    corners and z between them the first lies x · (1 A · (y + z) + 20 A · y) / (x + y + z) below 24 V: 27.4 mV with
    x and y at 3 mΩ and z at 1 mΩ, and 22.0 mV with all at 3 mΩ, which was told.
    """
    mesh: Drawn = 3, [(1e-3, 3e-3)] * 3, {1: 1.0, 2: 20.0}
    rows = {row.id: row for row in analysed(drawn_as(mesh)).loads}
    assert rows["L1"].voltage_v == pytest.approx(24.0 - 3e-3 * (4e-3 + 20.0 * 3e-3) / 7e-3, rel=1e-9)


def test_that_not_every_mixture_was_solved_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a budget of no further mixture, of one load, and of no round, on a ring that has a worse mixture."""
    mesh: Drawn = 3, [(1e-3, 3e-3)] * 3, {1: 1.0, 2: 20.0}
    words = "another mixture may leave some load less"
    assert not any(words in sentence for sentence in analysed(drawn_as(mesh)).assumptions)
    for budget, least in (("MOST_STATES", 1), ("MOST_LOADS", 1), ("MOST_ROUNDS", 0)):
        with monkeypatch.context() as patch:
            patch.setattr(mixed_lows, budget, least)
            assert any(words in sentence for sentence in analysed(drawn_as(mesh)).assumptions), budget
