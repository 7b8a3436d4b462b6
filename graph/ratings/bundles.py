"""Bundles: which conductors lie together, and how many of them carry current."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.model.elements import Conductor
from loadloom.graph.model.harness import Harness

BUNCHED = "bunched"
LAYOUTS = (BUNCHED, "wall", "tray", "ladder")
"""How the cables of a bundle lie: bunched, or in a single layer on a wall or floor, on a perforated tray, on a
ladder (IEC 60364-5-52 table B.52.17)."""

MOST_IN_A_LAYER = 3
"""Cores of a cable that a single layer has a factor for: the tables are for circuits of two or three conductors."""

LOADED_FROM_A = 1e-3
"""A conductor that carries at least a milliampere counts as loaded."""


def bundle_of(conductor: Conductor) -> str | None:
    """The bundle that a conductor lies in: its ``Bundle``, else its cable; None for one that lies alone."""
    if conductor.lies_in:
        return f"bundle {conductor.lies_in}"
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


def layouts(harness: Harness) -> dict[str, str]:
    """How every bundle and cable lies: what all of its conductors say alike in every arrangement, else bunched.

    A cable of more than three cores is a bunch in itself, however it lies.
    """
    said: dict[str, set[str]] = {}
    cores: dict[str, int] = {}
    for conductor in harness.conductors:
        name = bundle_of(conductor)
        if name is not None:
            said.setdefault(name, set()).update(c.layout or BUNCHED for c in conductor.variants())
            if conductor.cable is not None:
                cores[conductor.cable] = cores.get(conductor.cable, 0) + 1
                if cores[conductor.cable] > MOST_IN_A_LAYER:
                    said[name].add(BUNCHED)
    return {name: next(iter(words)) if len(words) == 1 else BUNCHED for name, words in said.items()}
