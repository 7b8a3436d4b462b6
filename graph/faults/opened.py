"""What the network is once a device has opened and another way still feeds: states that a fault can also hold.

Where ways run side by side, or outputs are joined, the first device to open does not end a fault: the others
take it over, and what they hold then can be more than what all of them together held before. So the fault
search also looks at the harness with devices and outputs of loops out, wherever something is left to feed the
rest, whatever the order of opening that leads to it, which is on the safe side where none does. A fault puts the
loops on its path in series, so sets go across them; loops that no fault has on its path together, and that loads
alone can't bring to open either, are not combined.

Of up to ``MOST_AT_WILL`` devices and outputs in one loop every set is tried. Of more on paths side by side those
that matter (``parallel_paths``). Of any others each alone, the k of the least held currents together, for every
k, and the k that open first as a current drawn at a load rises; ``OpenedSets.complete`` is then false, and the
bound over all states (``state_bound``) counts.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

from loadloom.graph.circuit.network import Network, piece_of, without
from loadloom.graph.circuit.unit_flows import BoolArray, unit_flows
from loadloom.graph.faults.budgets import LARGEST_RISING, MOST_AT_WILL, MOST_PAIRS, MOST_RISING, MOST_SETS
from loadloom.graph.faults.parallel_paths import OpenedSet, parallel_paths_of
from loadloom.graph.faults.piece import POWER, RESISTANCE, Piece, PieceLoads
from loadloom.graph.faults.tolerances import TINY

Asked = frozenset[str] | None
"""Ids of the parts that are asked for in a set of openings; None: all."""


@dataclass(frozen=True)
class OpenedSets:
    """Sets of devices and outputs of a piece, and whether no others can matter. ``beside``: they are
    those of paths side by side, which come with their bounds.
    """

    sets: tuple[OpenedSet, ...]
    complete: bool
    beside: bool = False


def opened_networks(
    network: Network, piece: Piece, sets: Iterable[tuple[OpenedSet, Asked]], loads: PieceLoads
) -> Iterator[tuple[tuple[OpenedSet, Asked], Network, PieceLoads]]:
    """Each of the ``sets``, with what is asked of it, and what is left of a network's piece without its branches,
    ``opened`` naming them, with its loads. ``loads`` are of the whole network.
    """
    for chosen, asked in sets:
        cut, inside = piece.keep("cut", lambda: _cut_out(network, piece, loads))
        out = tuple(piece.branches.ids[k] for k in chosen.branches)
        rest = piece.keep(("without", out), partial(without, cut, out))
        if len(rest.source_ids):
            yield (chosen, asked), rest, inside


def _cut_out(network: Network, piece: Piece, loads: PieceLoads) -> tuple[Network, PieceLoads]:
    """A piece as a network of its own, with its loads."""
    whole, position = piece_of(network, network.node_index[piece.node_ids[0]])
    place = {name: k for k, name in enumerate(loads.ids)}
    return whole, loads.take(np.array([place[name] for name in whole.load_ids], dtype=np.int64), position)


def opened_sets(piece: Piece, at_will: int | None = None) -> OpenedSets:
    """What of a piece can have opened while the rest is fed; of up to ``at_will`` (None: ``MOST_AT_WILL``) in one
    loop every set.
    """
    at_will = MOST_AT_WILL if at_will is None else at_will
    acting = np.flatnonzero(piece.opens)
    if not len(acting):
        return OpenedSets((), True)
    loops: dict[int, list[int]] = defaultdict(list)
    for k in acting.tolist():
        loops[int(piece.blocks.label[k])].append(k)
    if len(loops) == 1 and len(acting) > at_will:
        beside = parallel_paths_of(piece, next(iter(loops)))
        if beside is not None:
            return OpenedSets(tuple(beside.opened()), True, beside=True)
    of_loop = {label: _sets_of_loop(piece, label, group, at_will) for label, group in loops.items()}
    apart = {chosen: None for sets, _ in of_loop.values() for chosen in sets}
    together = _on_one_path(piece, loops)
    if together is not None and sum(_count(of_loop, path) for path in together) <= len(apart) + MOST_SETS:
        found = dict.fromkeys(
            tuple(sorted(itertools.chain(*some)))
            for path in together
            for some in itertools.product(*([(), *of_loop[label][0]] for label in sorted(path)))
        )
        complete = all(of_loop[label][1] for path in together for label in path)
        return OpenedSets(tuple(OpenedSet(chosen) for chosen in found if chosen), complete)
    return OpenedSets(tuple(OpenedSet(chosen) for chosen in apart), False)


def _count(of_loop: Mapping[int, tuple[list[tuple[int, ...]], bool]], path: frozenset[int]) -> int:
    return math.prod(1 + len(of_loop[label][0]) for label in path) - 1


def behind_loops(piece: Piece) -> BoolArray:
    """(B,) branches in loops that have parts that open, hold or block, and those that lie behind such a loop."""
    acting = piece.in_loop & (np.isfinite(piece.held_a) | piece.branches.diode)
    loops = frozenset(piece.blocks.label[acting].tolist())
    node = np.array([bool(above) for above in _loops_above(piece, loops)], dtype=np.bool_)
    behind: BoolArray = node[piece.branches.a] | node[piece.branches.b] | np.isin(piece.blocks.label, list(loops))
    return behind


def _sets_of_loop(piece: Piece, label: int, group: list[int], at_will: int) -> tuple[list[tuple[int, ...]], bool]:
    """The sets of one loop's devices and outputs that are tried, and whether no others can matter."""
    weakest_first = sorted(group, key=lambda k: (piece.held_a[k], piece.branches.ids[k]))
    if len(group) <= at_will:
        sizes = range(1, len(group) + 1)
        every = itertools.chain.from_iterable(itertools.combinations(weakest_first, size) for size in sizes)
        return [tuple(sorted(chosen)) for chosen in every], True
    beside = parallel_paths_of(piece, label)
    if beside is not None:
        return list(dict.fromkeys(each.branches for each in beside.opened())), True
    found: dict[tuple[int, ...], None] = {(k,): None for k in group}
    found.update(dict.fromkeys(tuple(sorted(weakest_first[:size])) for size in range(2, len(group) + 1)))
    found.update(dict.fromkeys(_as_current_rises(piece, group)))
    return list(found), False


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
