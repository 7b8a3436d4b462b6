"""What the network is once a device has opened and another way still feeds: states that a fault can also hold.

Where ways run side by side, or outputs are joined, the first device to open does not end a fault: the others
take it over, and what they hold then can be more than what all of them together held before. So the fault
search also looks at the harness with devices and outputs of loops out, wherever something is left to feed the
rest, whatever the order of opening that leads to it, which is on the safe side where none does. A fault puts the
loops on its path in series, so sets go across them; loops that no fault has on its path together, and that loads
alone can't bring to open either, are not combined.

Of up to ``MOST_AT_WILL`` devices and outputs on one path every set is tried. Of more, each alone, the k of the
least held currents together, for every k, and the k that open first as a current drawn at a load rises;
``OpenedSets.complete`` is then false, and the bound over all states (``state_bound``) counts.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loadloom.graph.faults.piece import POWER, RESISTANCE, TINY, Piece, PieceLoads
from loadloom.graph.solving.network import Network, piece_of, without
from loadloom.graph.solving.unit_flows import BoolArray, unit_flows

MOST_AT_WILL = 4
"""Devices and outputs on one path of a fault of which every set is tried out: 15 sets."""

MOST_SETS = 255
"""Sets across loops tried in one piece; where there would be more, those of each loop alone."""

MOST_RISING = 4
"""Loads at which a current is let rise, of those that the devices tell apart; each costs a response per step."""

LARGEST_RISING = 400
"""Nodes of a piece up to which that is done."""

MOST_PAIRS = 10_000
"""Pairs of places, by the loops on their way, that are compared."""


@dataclass(frozen=True)
class OpenedSets:
    """Sets of devices and outputs by branch of a piece, and whether no others can matter."""

    sets: tuple[tuple[int, ...], ...]
    complete: bool


def opened_networks(
    network: Network, piece: Piece, sets: Sequence[tuple[int, ...]], loads: PieceLoads
) -> Iterator[tuple[Network, PieceLoads]]:
    """What is left of a network's piece with each of the ``sets`` of its branches out, ``opened`` naming them, and
    its loads. ``loads`` are of the whole network.
    """
    if not sets:
        return
    whole, position = piece_of(network, network.node_index[piece.node_ids[0]])
    place = {name: k for k, name in enumerate(loads.ids)}
    inside = loads.take(np.array([place[name] for name in whole.load_ids], dtype=np.int64), position)
    for chosen in sets:
        rest = without(whole, [piece.branches.ids[k] for k in chosen])
        if len(rest.source_ids):
            yield rest, inside


def opened_sets(piece: Piece) -> OpenedSets:
    """What of a piece can have opened while the rest is fed."""
    acting = np.flatnonzero(piece.opens)
    if not len(acting):
        return OpenedSets((), True)
    loops: dict[int, list[int]] = defaultdict(list)
    for k in acting.tolist():
        loops[int(piece.blocks.label[k])].append(k)
    apart, _ = _sets_of(piece, loops, [frozenset([label]) for label in loops])
    together = _on_one_path(piece, loops)
    if together is not None:
        found, complete = _sets_of(piece, loops, together)
        if len(found) <= len(apart) + MOST_SETS:
            return OpenedSets(tuple(found), complete)
    return OpenedSets(tuple(apart), False)


def behind_loops(piece: Piece) -> BoolArray:
    """(B,) branches in loops that have parts that open, hold or block, and those that lie behind such a loop."""
    acting = piece.in_loop & (np.isfinite(piece.held_a) | piece.branches.diode)
    loops = frozenset(piece.blocks.label[acting].tolist())
    node = np.array([bool(above) for above in _loops_above(piece, loops)], dtype=np.bool_)
    behind: BoolArray = node[piece.branches.a] | node[piece.branches.b] | np.isin(piece.blocks.label, list(loops))
    return behind


def _sets_of(
    piece: Piece, loops: Mapping[int, list[int]], together: list[frozenset[int]]
) -> tuple[list[tuple[int, ...]], bool]:
    found: dict[tuple[int, ...], None] = {}
    complete = True
    for path in together:
        group = [k for label in sorted(path) for k in loops[label]]
        weakest_first = sorted(group, key=lambda k: (piece.held_a[k], piece.branches.ids[k]))
        found.update(dict.fromkeys((k,) for k in group))
        every = len(group) <= MOST_AT_WILL
        complete = complete and every
        for size in range(2, len(group) + 1):
            some = itertools.combinations(weakest_first, size) if every else [weakest_first[:size]]
            found.update(dict.fromkeys(tuple(sorted(chosen)) for chosen in some))
        if not every:
            found.update(dict.fromkeys(_as_current_rises(piece, group)))
        if not every and len(path) > 1:  # what one loop has is tried in full all the same
            found.update(dict.fromkeys(_sets_of(piece, loops, [frozenset([one]) for one in sorted(path)])[0]))
    return list(found), complete


def _as_current_rises(piece: Piece, group: list[int]) -> list[tuple[int, ...]]:
    """What of a group has opened, step by step, while a current drawn at a load rises and takes its way alone."""
    if len(piece.node_ids) > LARGEST_RISING:
        return []
    acting = np.array(group, dtype=np.int64)
    at: dict[bytes, tuple[int, int]] = {}
    for plus, minus in zip(piece.loads.plus.tolist(), piece.loads.minus.tolist(), strict=True):
        shares = piece.whole.flow[acting, plus] - piece.whole.flow[acting, minus]
        if (np.abs(shares) > TINY).any():
            at.setdefault((np.round(shares, 6) + 0.0).tobytes(), (plus, minus))
    found: dict[tuple[int, ...], None] = {}
    for plus, minus in itertools.islice(at.values(), MOST_RISING):
        closed = np.ones(len(piece.branches.ids), dtype=np.bool_)
        flows = piece.whole
        while flows.piece[plus] == flows.piece[minus]:
            share, own = flows.flow[acting, plus] - flows.flow[acting, minus], flows.own_a[acting]
            room = np.where(share > 0.0, piece.held_a[acting] - own, piece.held_a[acting] + own)
            acts = closed[acting] & ((share > TINY) | ((share < -TINY) & piece.reverse_too[acting]))
            if not acts.any():
                break
            at_a = np.where(acts, room / np.where(acts, np.abs(share), 1.0), np.inf)
            closed[acting[int(at_a.argmin())]] = False
            found[tuple(acting[~closed[acting]].tolist())] = None
            flows = unit_flows(len(piece.node_ids), piece.branches, closed)
    return [tuple(sorted(chosen)) for chosen in found]


def _on_one_path(piece: Piece, loops: Mapping[int, list[int]]) -> list[frozenset[int]] | None:
    """The greatest groups of loops that one fault has on its path together, with those that loads can open; None
    where there are too many to compare.
    """
    every = frozenset(loops)
    if len(every) == 1 or sum(len(group) for group in loops.values()) <= MOST_AT_WILL // 2:
        return [every]
    above = _loops_above(piece, every)
    drawn = _most_by_loads_a(piece, above)
    always = {label for label in every if drawn[label] >= min(float(piece.held_a[k]) for k in loops[label])}
    volts = piece.branches.emf_v[list(piece.sources)]
    if float(np.ptp(volts)) > 0.0:  # outputs drive currents round their loops without any load
        always |= {int(piece.blocks.label[s]) for s in piece.sources} & every
    at: dict[int, set[frozenset[int]]] = defaultdict(set)
    for island, path in zip(piece.island.tolist(), above, strict=True):
        at[island].add(path)
    if sum(len(one) * len(other) for one, other in itertools.combinations(at.values(), 2)) > MOST_PAIRS:
        return None
    paths = {
        one | other | always
        for here, there in itertools.combinations(at.values(), 2)
        for one, other in itertools.product(here, there)
    }
    greatest: list[frozenset[int]] = []
    for path in sorted(paths, key=lambda path: (-len(path), sorted(path))):
        if path and not any(path <= other for other in greatest if len(other) > len(path)):
            greatest.append(path)
    return greatest or [every]


def _loops_above(piece: Piece, wanted: frozenset[int]) -> list[frozenset[int]]:
    """(N,) which of the loops lie between each node and the first output."""
    a, b, label = piece.branches.a, piece.branches.b, piece.blocks.label
    of_node: dict[int, dict[int, None]] = defaultdict(dict)
    of_block: dict[int, dict[int, None]] = defaultdict(dict)
    for n, m, block in zip(a.tolist(), b.tolist(), label.tolist(), strict=True):
        for node in (n, m):
            of_node[node][block] = None
            of_block[block][node] = None
    above: dict[int, frozenset[int]] = {}
    for root in (int(b[piece.sources[0]]), *range(len(piece.node_ids))):
        if root in above:
            continue
        above[root] = frozenset()
        waiting, entered = [root], set()
        for node in waiting:
            for block in of_node[node]:
                if block in entered:
                    continue
                entered.add(block)
                beyond = above[node] | {block} if block in wanted else above[node]
                for other in of_block[block]:
                    if other not in above:
                        above[other] = beyond
                        waiting.append(other)
    return [above[n] for n in range(len(piece.node_ids))]


def _most_by_loads_a(piece: Piece, above: list[frozenset[int]]) -> Mapping[int, float]:
    """The most in A that loads draw through each loop; inf where one of constant power has no minimum voltage."""
    loads = piece.loads
    total: dict[int, float] = defaultdict(float)
    highest_v = float(np.abs(piece.branches.emf_v[list(piece.sources)]).sum())
    for k in range(len(loads.ids)):
        demand, least_v = float(loads.demand[k]), float(loads.minimum_v[k])
        if loads.kind[k] == RESISTANCE:
            most = highest_v / demand if demand > 0.0 else math.inf
        elif loads.kind[k] == POWER:
            most = max(float(loads.case_a[k]), demand / least_v if least_v > 0.0 else math.inf)
        else:
            most = demand
        for loop in above[int(loads.plus[k])] | above[int(loads.minus[k])]:
            total[loop] += most
    return total
