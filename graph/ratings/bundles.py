"""Bundles: which conductors lie together, and how many of them carry current."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.elements import Conductor
from loadloom.graph.harness import Harness

LAYOUTS = ("bunched", "wall", "tray", "ladder")
"""How the cables of a bundle lie: bunched, or in a single layer on a wall or floor, on a perforated tray, on a
ladder (IEC 60364-5-52 table B.52.17)."""

LOADED_FROM_A = 1e-3
"""A conductor that carries at least a milliampere counts as loaded."""


def bundle_of(conductor: Conductor) -> str | None:
    """The bundle that a conductor lies in: its ``Bundle``, else its cable; None for one that lies alone."""
    if conductor.bundle:
        return f"bundle {conductor.bundle}"
    return f"cable {conductor.cable}" if conductor.cable else None


def loaded_counts(harness: Harness, currents_a: Mapping[str, float]) -> dict[str, int]:
    """How many conductors of every bundle and cable carry current in a state, feeds and returns alike.

    ``currents_a`` by conductor id. Bundles as named by ``bundle_of``.
    """
    counts: dict[str, int] = {}
    for conductor in harness.conductors:
        name = bundle_of(conductor)
        if name is not None:
            loaded = abs(currents_a.get(conductor.id, 0.0)) >= LOADED_FROM_A
            counts[name] = counts.get(name, 0) + int(loaded)
    return counts


def drawn_counts(harness: Harness) -> dict[str, int]:
    """How many conductors every bundle and cable has, loaded or not: the most that a state can load."""
    counts: dict[str, int] = {}
    for conductor in harness.conductors:
        name = bundle_of(conductor)
        if name is not None:
            counts[name] = counts.get(name, 0) + 1
    return counts
