"""Uneven sharing with wires at the ends of their own range, and contacts at the ends of theirs, by Ohm's law."""

from __future__ import annotations

from dataclasses import replace

import pytest
from wired import contact, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Conductor, Element
from loadloom.graph.model.settings import AnalysisSettings


def uneven(*parts: Element) -> dict[str, float]:
    """The greatest current of every part while all others share as unevenly as they may, 10 A of load."""
    drawn = harness(output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0), *parts, load("L1", "a", "m", 10.0))
    facts, _ = explore(drawn, AnalysisSettings(conductor_temperature_c=20.0), lambda _: None)
    (spread,) = facts.spread["nominal"]
    return dict(zip(spread.solution.network.edge_ids, spread.uneven_a.tolist(), strict=True))


def banded(name: str, a: str, b: str, ohm: Band) -> Conductor:
    return replace(wire(name, a, b), resistance_ohm=ohm)


@pytest.mark.parametrize("ohm", [0.01, 3.0])
def test_one_wire_at_its_least_beside_one_at_its_greatest(ohm: float) -> None:
    """± 20 %: 1.2 / (0.8 + 1.2) of the current; below and above 1 Ω."""
    band = Band(ohm, 0.8 * ohm, 1.2 * ohm)
    found = uneven(banded("W1", "p", "a", band), banded("W2", "p", "a", band))
    assert (found["W1"], found["W2"]) == (pytest.approx(6.0), pytest.approx(6.0))


def test_each_wire_by_its_own_range() -> None:
    """W1 of 8 to 12 mΩ, W2 of just 10: 10 / 18 of the current on W1, 12 / 22 on W2."""
    found = uneven(
        banded("W1", "p", "a", Band(0.01, 0.008, 0.012)),
        banded("W2", "p", "a", Band.exact(0.01)),
    )
    assert found["W1"] == pytest.approx(100.0 / 18.0) and found["W2"] == pytest.approx(120.0 / 22.0)


def test_contacts_and_wires_in_the_same_way_are_at_the_same_end() -> None:
    """Each way a contact of 1 to 5 mΩ and a wire of 8 to 12: 9 mΩ beside 17."""
    parts: list[Element] = []
    for k in (1, 2):
        parts.append(contact(f"X{k}.1", "p", f"n{k}", resistance_ohm=Band(0.003, 0.001, 0.005)))
        parts.append(banded(f"W{k}", f"n{k}", "a", Band(0.01, 0.008, 0.012)))
    found = uneven(*parts)
    assert all(found[name] == pytest.approx(170.0 / 26.0) for name in ("W1", "W2", "X1.1", "X2.1"))
