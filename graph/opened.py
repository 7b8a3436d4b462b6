"""What the network is once a device has opened and another way still feeds: states that a fault can also hold.

Where ways run side by side, or outputs are joined, the first device to open does not end a fault: the others
take it over, and what they hold then can be more than what all of them together held before. So the fault
search also looks at the harness with devices and outputs of a loop out, wherever something is left to feed the
rest: of up to ``MOST_AT_WILL`` every set, whatever the order of opening that leads to it, which is on the safe side
where none does; of more each alone, and the k that open at the least current together, for every k. There, orders
of opening that leave out others than these are not tried.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np

from loadloom.graph.blocks import find_blocks
from loadloom.graph.devices import Threshold
from loadloom.graph.network import Network, piece_of, without

MOST_AT_WILL = 4
"""Devices and outputs of one loop of which every set is tried out: 15 sets."""


def opened_networks(network: Network, thresholds: Mapping[str, Threshold]) -> Iterator[Network]:
    """The piece of every loop with parts of it out, ``opened`` naming them; nothing for a harness without loops."""
    for group in _loops(network, thresholds):
        weakest_first = sorted(group, key=lambda name: (thresholds[name].held_a, name))
        out: list[tuple[str, ...]] = [(name,) for name in group]
        for k in range(2, len(group) + 1):
            out += combinations(weakest_first, k) if len(group) <= MOST_AT_WILL else [tuple(weakest_first[:k])]
        piece = _piece_with(network, group[0])
        for names in dict.fromkeys(out):
            rest = without(piece, names)
            if len(rest.source_ids):
                yield rest


def _loops(network: Network, thresholds: Mapping[str, Threshold]) -> list[list[str]]:
    """Devices and outputs that open for certain, by the loop of ways and outputs that they lie in."""
    ends_a = np.concatenate([network.edge_a, network.source_plus])
    ends_b = np.concatenate([network.edge_b, network.source_minus])
    closed = np.concatenate(
        [np.isfinite(network.edge_resistance_ohm), np.ones(len(network.source_ids), dtype=np.bool_)]
    )
    blocks = find_blocks(len(network.node_ids), ends_a, ends_b, closed)
    groups: dict[int, list[str]] = {}
    for k, name in enumerate((*network.edge_ids, *network.source_ids)):
        acts = thresholds.get(name)
        if acts is None or not acts.opens or not math.isfinite(acts.held_a):
            continue
        if closed[k] and not blocks.bridge[k]:
            groups.setdefault(int(blocks.label[k]), []).append(name)
    return list(groups.values())


def _piece_with(network: Network, part: str) -> Network:
    if part in network.edge_index:
        node = int(network.edge_a[network.edge_index[part]])
    else:
        node = int(network.source_plus[network.source_ids.index(part)])
    return piece_of(network, node)[0]
