"""Places of a fault or an overload in a piece that does not stand as it is drawn: what opens or draws elsewhere can
raise the voltage at a place, make one where there is none, or turn it round.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.piece import Piece, Variant
from loadloom.graph.faults.places import PieceGeometry, Place, Places, find_places
from loadloom.graph.faults.tolerances import TINY


def every_place(geometry: PieceGeometry, variant: Variant) -> Places:
    """All places of a variant, whether a voltage stands there or not. Which end of a place is named high is by
    the order of nodes, feeds before all others.
    """
    piece = geometry.piece
    count = len(piece.node_ids)
    path_out = np.isin(geometry.island, np.array(list(geometry.terminals), dtype=np.int64))
    # Potentials that differ everywhere: no place is left out for want of a voltage.
    made_up = np.where(path_out, 2.0 * count, 0.0) - np.arange(count, dtype=np.float64)
    # Not the variant's own places: neither they nor its answer at them may be taken for these.
    found = find_places(geometry, replace(variant, flows=replace(variant.flows, own_v=made_up), key=None))
    found.name = "any place"
    return found


def between_paths_out(geometry: PieceGeometry, places: list[Place]) -> BoolArray:
    """(P,) places at nodes both ends of which are on a feed: a fault there can carry either way."""
    island, paths = geometry.island, geometry.terminals
    both = [int(island[p.high.a]) in paths and int(island[p.low.a]) in paths for p in places]
    return np.array(both, dtype=np.bool_)


def highest_voltage_v(piece: Piece) -> float:
    """The most in V that can stand between two nodes of a piece, whatever has opened: of outputs with one return
    the highest, else all of them in series.
    """
    outputs = list(piece.sources)
    volts = np.abs(piece.branches.emf_v[outputs])
    one_return = len(np.unique(piece.island[piece.branches.a[outputs]])) == 1
    return float(volts.max(initial=0.0) if one_return else volts.sum())


def most_of_outputs_a(piece: Piece) -> float:
    """What all outputs of a piece can pass together in A (inf: without bound). No branch carries more, whatever is
    drawn and has opened: along what only takes, current runs from high to low, so all of it comes from an output.
    """
    total, highest_v = 0.0, highest_voltage_v(piece)
    for s in piece.sources:
        ohm = float(piece.branches.resistance_ohm[s])
        volts = max(highest_v, abs(float(piece.branches.emf_v[s])))
        total += min(float(piece.held_a[s]), volts / ohm if ohm > TINY else np.inf)
    return total
