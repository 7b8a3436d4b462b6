"""Running motors that feed a short circuit for as long as they state.

Which part of it flows through a conductor follows from where the short is; all that motors of the same galvanic
piece give counts at every place, which is never too little. It adds to the current of the short for as long as it
lasts: the heat grows from I²·t by ((I + F)² - I²)·t with F for its own time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import networkx as nx

from loadloom.graph.model.elements import TwoEnded
from loadloom.graph.model.harness import Harness
from loadloom.graph.short_circuits.short_circuits import Prospective, Short, Shorts


@dataclass(frozen=True, slots=True)
class _Fed:
    """What the motors of one piece give: A, and for how long at most in s."""

    current_a: float
    lasts_s: float


def with_feed_back(harness: Harness, shorts: Shorts) -> Shorts:
    """Short circuits with what running motors add; the same ones where none is stated."""
    fed = _by_part(harness)
    if not fed:
        return shorts
    return Shorts(
        tuple(_more(short, fed) for short in shorts.conductors),
        tuple(_more(short, fed) for short in shorts.contacts),
        {
            name: Prospective(found.case, found.current_a + fed[name].current_a) if name in fed else found
            for name, found in shorts.prospective.items()
        },
        tuple(_more(short, fed) for short in shorts.every),
        shorts.as_drawn,
    )


def _by_part(harness: Harness) -> dict[str, _Fed]:
    """By id of a two-ended part: what motors of its piece give."""
    stated: dict[str, _Fed] = {}
    for load in harness.loads:
        gives = [there.start for there in load.variants() if there.start.feeds_back_a and there.start.feeds_back_s]
        if load.fitted and gives:
            stated[load.id] = _Fed(
                max(start.feeds_back_a or 0.0 for start in gives), max(start.feeds_back_s or 0.0 for start in gives)
            )
    if not stated:
        return {}
    loads = {load.id: load for load in harness.loads}
    found: dict[str, _Fed] = {}
    for nodes in nx.connected_components(harness.graph):
        here = [fed for name, fed in stated.items() if loads[name].node_plus in nodes]
        if not here:
            continue
        whole = _Fed(sum(fed.current_a for fed in here), max(fed.lasts_s for fed in here))
        parts: tuple[TwoEnded, ...] = harness.two_ended
        found.update((part.id, whole) for part in parts if part.node_a in nodes)
    return found


def _more(short: Short, fed: Mapping[str, _Fed]) -> Short:
    there = fed.get(short.part)
    if there is None:
        return short
    row, more_a = short.row, there.current_a
    heat = (2.0 * short.own_greatest_a * more_a + more_a**2) * there.lasts_s
    return replace(
        short,
        row=replace(
            row,
            greatest_a=row.greatest_a + more_a if row.greatest_a is not None else None,
            i2t_a2s=row.i2t_a2s + heat if row.i2t_a2s is not None else None,
        ),
        own_greatest_a=short.own_greatest_a + more_a,
        cleared=tuple(
            # Beyond the motor's own time its heat counts as spread over the whole time.
            (math.sqrt(a**2 + (2.0 * a * more_a + more_a**2) * min(1.0, there.lasts_s / s)) if s > 0.0 else a, s)
            for a, s in short.cleared
        ),
    )
