"""The highest voltage that can stand across a part once it is open, or between it and the other pole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts


@dataclass(frozen=True, slots=True)
class Highest:
    """A voltage in V and the arrangement word that it was found in."""

    volts: float
    word: str | None


def highest_voltages(facts: Facts) -> Mapping[int, Highest]:
    """By piece of copper (``Topology.piece``): its greatest voltage against the other pole of its outputs.

    No load, highest output voltages. Copper at a plus terminal is held against all copper with a minus terminal
    that hangs together with it through outputs, and the other way round, so outputs in series add up.
    """
    where = facts.topology
    found: dict[int, Highest] = {}
    for word, solution in facts.open_circuit.items():
        index = solution.network.node_index
        low: dict[int, float] = {}
        high: dict[int, float] = {}
        for node, k in index.items():
            if node in where.piece:
                number, volts = where.piece[node], float(solution.node_v[k])
                low[number] = min(volts, low.get(number, volts))
                high[number] = max(volts, high.get(number, volts))
        for island in _islands(facts):
            for one in island:
                for other in island:
                    poles = (one in where.plus and other in where.minus) or (
                        one in where.minus and other in where.plus
                    )
                    if one == other or not poles:
                        continue
                    volts = max(abs(high[one] - low[other]), abs(low[one] - high[other]))
                    if one not in found or volts > found[one].volts:
                        found[one] = Highest(volts, word)
    return found


def _islands(facts: Facts) -> list[set[int]]:
    """Pieces of copper that outputs join."""
    where = facts.topology
    islands: list[set[int]] = []
    for output in facts.harness.outputs:
        if not output.fitted:
            continue
        joined = {where.piece[output.node_plus], where.piece[output.node_minus]}
        touching = [island for island in islands if island & joined]
        islands = [island for island in islands if not island & joined]
        islands.append(joined.union(*touching))
    return islands
