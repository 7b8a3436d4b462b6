"""Devices through which a fault can drive a current one way as well as the other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import TINY


def driven_either_way(search: Search) -> Iterator[str]:
    """Ids of the devices that faults at the places of a search drive one way here and the other way there.

    What the outputs drive round by themselves, with no fault, counts as well. A device on the only path from one
    output carries the current of every fault the same way, whichever of its pins comes first in the drawing.
    """
    piece, places = search.variant.piece, search.places
    acting = [k for k in range(piece.branches.edge_count) if np.isfinite(piece.held_a[k])]
    if not acting or not places.listed or not (len(piece.sources) > 1 or piece.in_loop[acting].any()):
        return
    per_fault = search.loaded.response_at(places).currents.even[acting]
    own_a = search.variant.flows.own_a[acting]
    forwards = (per_fault > TINY).any(axis=1) | (own_a > TINY)
    backwards = (per_fault < -TINY).any(axis=1) | (own_a < -TINY)
    for k, either in zip(acting, forwards & backwards, strict=True):
        if either:
            yield piece.branches.ids[k]


def driven_in_large(radial: Radial) -> Iterator[str]:
    """The same of a piece with a closed form: where outputs' feeds can touch, or in a loop, every device may be."""
    piece, touch = radial.piece.piece, len(radial.piece.cross_ties.high) > 0
    for k in np.flatnonzero(np.isfinite(piece.held_a[: piece.branches.edge_count])).tolist():
        if touch or piece.in_loop[k]:
            yield piece.branches.ids[k]
