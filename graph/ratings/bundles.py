"""Bundles: which conductors lie together, and how many of them carry current."""

from __future__ import annotations

from collections.abc import Mapping

from loadloom.graph.elements import Conductor
from loadloom.graph.harness import Harness

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


def load_shares(
    harness: Harness, currents_a: Mapping[str, float], single_a: Mapping[str, float | None]
) -> dict[str, float]:
    """Share of every bundle's capacity in use: Σ |current| / Σ current each could carry alone (AC 43.13-1B, 11-67).

    ``single_a`` by conductor id. Only loaded conductors count, in both sums, as they do in ``loaded_counts``. A
    bundle with an unrated loaded conductor, or with none loaded, has no share. Greatest share 1.
    """
    used: dict[str, float] = {}
    capacity: dict[str, float | None] = {}
    for conductor in harness.conductors:
        name = bundle_of(conductor)
        current_a = abs(currents_a.get(conductor.id, 0.0))
        if name is None or current_a < LOADED_FROM_A:
            continue
        used[name] = used.get(name, 0.0) + current_a
        so_far, more = capacity.get(name, 0.0), single_a.get(conductor.id)
        capacity[name] = None if so_far is None or more is None else so_far + more
    return {name: min(1.0, used[name] / total) for name, total in capacity.items() if total}
