"""Splices on the way of one of several paths that share unevenly.

Source: the current divider by hand. Two ways side by side carry 18 A. Each has a contact of 1 to 10 mΩ and two
wires of 1 mΩ with a splice between: one takes at most 18 A · (10 + 2) / (10 + 2 + 1 + 2) = 14.4 A, and so does its
splice; evenly it would be 9 A. Where the ways begin and end 18 A pass, however they share them.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from wired import analysed, contact, harness, limiter, load, output, splice, wire

from loadloom.graph.model.elements import Band
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness

BAND = Band(5.5e-3, 1e-3, 10e-3)


def two_ways(**rated: float) -> Harness:
    parts = [
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=Band.exact(40.0)),
        limiter("CH1", "p", "a", 20.0),
        load("L1", "b", "m", 18.0),
        *(splice(name, name.lower(), amps) for name, amps in rated.items()),
    ]
    for k in (1, 2):
        parts += [
            contact(f"X{k}.1", "a", f"c{k}", resistance_ohm=BAND, rated=50.0),
            wire(f"W{k}", f"c{k}", f"s{k}", ohm=1e-3, rated=50.0),
            wire(f"V{k}", f"s{k}", "b", ohm=1e-3, rated=50.0),
        ]
    return harness(*parts)


def told(drawn: Harness) -> dict[str, tuple[float | None, Severity]]:
    found = [f for f in analysed(drawn).findings if f.rule == "uneven-sharing" and "Splice" in f.message]
    return {f.subject.id: (f.value, f.severity) for f in found}


def test_a_splice_on_one_way_passes_what_that_way_may_take() -> None:
    found = told(two_ways(S1=14.0, S2=14.5, A=18.5, B=18.5))
    assert found == {"S1": (pytest.approx(14.4), Severity.ERROR)}


def ring_worst_a() -> float:
    """The most at the joint of a bridge of six contacts, by its own nodal solve at every corner of their bands."""
    ends = [(0, 1), (0, 2), (1, 2), (1, 3), (2, 3)]
    drawn = np.array([0.0, 6.0, 0.0, 12.0])
    worst = 0.0
    for ohm in itertools.product((BAND.lower, BAND.upper), repeat=len(ends)):
        into = np.zeros((len(ends), 4))
        for k, (a, b) in enumerate(ends):
            into[k, a], into[k, b] = 1.0, -1.0
        per_v = into.T @ np.diag(1.0 / np.array(ohm)) @ into
        volts = np.concatenate([[0.0], np.linalg.solve(per_v[1:, 1:], -drawn[1:])])
        amps = into @ volts / np.array(ohm)
        worst = max(worst, 0.5 * (np.abs(amps[[0, 2, 3]]).sum() + drawn[1]))
    return worst


def test_a_splice_in_a_mesh_is_bounded() -> None:
    """A bridge fed at one corner with 6 A drawn at its side and 12 A at its end, and a splice at the side."""
    worst_a = ring_worst_a()

    def mesh(rated_a: float) -> Harness:
        ends = [("a", "s"), ("a", "t"), ("s", "t"), ("s", "b"), ("t", "b")]
        return harness(
            output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=Band.exact(40.0)),
            limiter("CH1", "p", "a", 20.0),
            *(contact(f"X{k}.1", a, b, resistance_ohm=BAND, rated=50.0) for k, (a, b) in enumerate(ends)),
            load("L1", "s", "m", 6.0),
            load("L2", "b", "m", 12.0),
            splice("S1", "s", rated_a),
        )

    assert "S1" in told(mesh(worst_a * 0.999))
    assert told(mesh(worst_a * 1.5)) == {}
