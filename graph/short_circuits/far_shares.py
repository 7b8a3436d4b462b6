"""What every part carries of a short circuit behind it, where ways lie side by side: at the worst of their bands.

A device on the way sees the whole of it; how unlike contacts share it, and wires of one size, no device sees.
"""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.circuit.uneven_ways import UnevenWays, greatest_of, uneven_ways
from loadloom.graph.circuit.unit_flows import Branches
from loadloom.graph.structure.guards import Arrangement
from loadloom.graph.structure.paths import Paths


def uneven_copper(there: Arrangement, worn_ohm: FloatArray) -> UnevenWays:
    """The loops of an arrangement in which nothing acts. ``worn_ohm`` (E,): greatest resistances of its network."""
    branches, count = there.branches, there.block_map.nodes
    index = there.network.edge_index
    most = np.maximum(branches.ohm, worn_ohm[[index[name] for name in branches.ids]])
    acts = np.array([name in there.devices for name in branches.ids], dtype=np.bool_) | branches.diode
    busy = np.zeros(count, dtype=np.bool_)
    busy[[node for _, *ends in there.loads for node in ends]] = True
    busy[[paths.root for each in there.outputs for paths in (each.feed, each.back)]] = True
    every = np.ones(len(branches.ids), dtype=np.bool_)
    plain = Branches(
        branches.ids, branches.a, branches.b, branches.ohm, branches.drop_v, branches.diode, len(branches.ids)
    )
    return uneven_ways(plain, count, every, acts, branches.ohm, most, busy)


def far_shares(paths: Paths, copper: UnevenWays) -> FloatArray:
    """(B,) the most of a short circuit at a part's far end that the part itself can carry."""
    found = paths.far_share.copy()
    entry_of = {k: block.entry for block in paths.blocks if not block.is_bridge for k in block.branches}
    for loop in copper.loops:
        entry = entry_of.get(int(loop.branches[0]))
        if entry is None:
            continue  # this output does not reach it
        drawn = loop.drawn_at(entry, paths.far_node[loop.branches].tolist())
        found[loop.branches] = np.abs(np.diag(greatest_of(loop.mixed(drawn))))
    return found


def greatest_shares(paths: Paths, copper: UnevenWays) -> FloatArray:
    """(B,) the greatest share of each part in what leaves its block at any exit."""
    found = paths.far_share.copy()
    loop_of = {int(k): loop for loop in copper.loops for k in loop.branches}
    for block in paths.blocks:
        if block.is_bridge or not block.exits:
            continue
        found[list(block.branches)] = block.greatest_share
        loop = loop_of.get(block.branches[0])
        if loop is not None:
            mixed = loop.mixed(loop.drawn_at(block.entry, block.exits))
            found[loop.branches] = np.abs(greatest_of(mixed)).max(axis=1)
    return found
