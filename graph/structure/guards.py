"""Which device guards which part: the nearest on the path to the output, out and back.

A part's *guards* are the devices through which the current of a fault at or behind it must come, the nearest
ones only; the output itself is the last of them. Each guard has a *factor*: the amperes on the part for one
ampere through the guard. It is 1 in a tree; among parallel paths it is the ratio of shares, at the exit of the
block that is worst, but at least 1 where a device inside can send all of its current through the part: the others
may have opened. A part of a block to which a way leads that none of its devices is in has the guards before the
block.
Devices that never act in an arrangement guard nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from loadloom.graph.circuit.network import Network, output_voltage_v
from loadloom.graph.devices.device_bands import Threshold, threshold
from loadloom.graph.model.elements import Device, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.structure.paths import Block, BlockMap, Branches, Paths, find_paths

NEGLIGIBLE_SHARE = 1e-6
"""A guard that carries less than this share of a current does not guard against it."""


@dataclass(frozen=True, slots=True)
class Guard:
    """A device or output by id, with the amperes on the guarded part for one ampere through it."""

    device: str
    factor: float


Guards = tuple[Guard, ...]


@dataclass(frozen=True, slots=True)
class Passed:
    """The devices between a node and the root, nearest first, as a linked list that branches share.

    ``share``: amperes through the device for one ampere that leaves at the node.
    """

    device: str
    share: float
    rest: Passed | None

    def __iter__(self) -> Iterator[tuple[str, float]]:
        here: Passed | None = self
        while here is not None:
            yield here.device, here.share
            here = here.rest


@dataclass(frozen=True, slots=True)
class Most:
    """The most in A that can leave at a node continuously, and the devices that together let no more through."""

    current_a: float
    devices: tuple[str, ...]


@dataclass(frozen=True)
class Guarded:
    """Guards along the paths from one root: by node number and branch position; None where not reached."""

    of_node: tuple[Guards | None, ...]
    of_branch: tuple[Guards | None, ...]
    passed: tuple[Passed | None, ...]
    most: tuple[Most | None, ...]


@dataclass(frozen=True)
class OutputWays:
    """One output of an arrangement: its feeds and back. ``only_feed`` is false where another output's
    terminal is on the same copper; ways and currents of this one alone are then not the whole truth.

    Outputs in series are seen as one more such, never the only feed: out of the uppermost one's plus terminal and
    back to the lowest one's minus terminal. ``between`` are the positions of the branches that join them.
    """

    output: Output
    voltage_v: float
    hold_a: float
    feed: Paths
    back: Paths
    only_feed: bool
    between: tuple[int, ...] = ()


@dataclass(frozen=True)
class Arrangement:
    """The protection of one arrangement at one corner: its devices that act, and every output's ways.

    ``stacks`` are the outputs in series, each stack of two or more from the uppermost down.
    ``loads`` are the fitted loads' ids with the node numbers of their terminals; ``thresholds`` those of
    ``devices`` and outputs.
    """

    word: str | None
    network: Network
    branches: Branches
    block_map: BlockMap
    devices: Mapping[str, Device]
    outputs: tuple[OutputWays, ...]
    stacks: tuple[OutputWays, ...]
    loads: tuple[tuple[str, int, int], ...]
    thresholds: Mapping[str, Threshold]

    def acting(self, block: Block) -> list[tuple[int, str]]:
        """Acting devices in a block: (place among its branches, id)."""
        ids = self.branches.ids
        return [(i, ids[k]) for i, k in enumerate(block.branches) if ids[k] in self.devices]


def arrange(harness: Harness, word: str | None, network: Network, settings: AnalysisSettings) -> Arrangement:
    """See an arrangement's copper from each of its outputs. ``network`` is compiled for it, without chassis."""
    branches = Branches.of(network)
    block_map = BlockMap.of(len(network.node_ids), branches)
    index = network.node_index
    terminals = {index[n] for load in harness.loads for n in (load.node_plus, load.node_minus)}
    outputs = [o for o in (o.under(word) for o in harness.outputs) if o.fitted and o.voltage_v is not None]
    terminals |= {index[n] for o in outputs for n in (o.node_plus, o.node_minus)}
    piece = _pieces(len(network.node_ids), branches)
    held = dict(zip(network.source_ids, network.source_hold_a.tolist(), strict=True))
    found: list[OutputWays] = []
    for output in outputs:
        feed = find_paths(branches, block_map, index[output.node_plus], terminals, outward=True)
        back = find_paths(branches, block_map, index[output.node_minus], terminals, outward=False)
        others = [(piece[index[o.node_plus]], piece[index[o.node_minus]]) for o in outputs if o.id != output.id]
        found.append(
            OutputWays(
                output,
                output_voltage_v(output, network.corner.voltage),
                held[output.id],
                feed,
                back,
                _alone(piece[index[output.node_plus]], piece[index[output.node_minus]], others),
            )
        )
    devices = {d.id: d for d in (d.under(word) for d in harness.devices) if d.fitted}
    thresholds = {o.id: threshold(o, settings, None) for o in outputs}
    thresholds |= {name: threshold(d, settings, None) for name, d in devices.items()}
    acting = {name: d for name, d in devices.items() if math.isfinite(thresholds[name].held_a)}
    loads = tuple((load.id, index[load.node_plus], index[load.node_minus]) for load in harness.loads if load.fitted)
    return Arrangement(word, network, branches, block_map, acting, tuple(found), _stacks(found), loads, thresholds)


def _pieces(nodes: int, branches: Branches) -> list[int]:
    """By node: the number of the copper that it is on, diodes and all."""
    links = coo_array((np.ones(len(branches.a)), (branches.a, branches.b)), shape=(nodes, nodes))
    numbers: list[int] = connected_components(links, directed=False)[1].tolist()
    return numbers


def _alone(plus: int, minus: int, others: Sequence[tuple[int, int]]) -> bool:
    """Whether none of the other outputs, each given by the copper of its terminals, touches the copper of the feed,
    or makes a way of its own beside the return, as two do that join the same copper.
    """
    if any(plus in pair for pair in others):
        return False
    beside = [frozenset(pair) for pair in others if minus in pair]
    return len(set(beside)) == len(beside)


def _stacks(outputs: Sequence[OutputWays]) -> tuple[OutputWays, ...]:
    """Outputs in series: from each one down through every output whose plus terminal its return comes to."""
    found: list[OutputWays] = []

    def down(top: OutputWays, lowest: OutputWays, passed: tuple[str, ...], between: tuple[int, ...]) -> None:
        for below in outputs:
            plus = below.feed.root
            if below.output.id in passed or not lowest.back.reaches(plus):
                continue
            joined = (*between, *(k for block in lowest.back.path(plus) for k in block.branches))
            volts = top.voltage_v + sum(
                o.voltage_v for o in outputs if o.output.id in (*passed, below.output.id)[1:]
            )
            found.append(OutputWays(top.output, volts, math.inf, top.feed, below.back, False, joined))
            down(top, below, (*passed, below.output.id), joined)

    for top in outputs:
        down(top, top, (top.output.id,), ())
    return tuple(found)


def guard(paths: Paths, source: str, arrangement: Arrangement) -> Guarded:
    """Guards of everything that a root reaches; ``source`` is the output's id, the first guard of all."""
    count = arrangement.block_map.nodes
    of_node: list[Guards | None] = [None] * count
    of_branch: list[Guards | None] = [None] * len(arrangement.branches.ids)
    passed: list[Passed | None] = [None] * count
    most: list[Most | None] = [None] * count
    held = arrangement.thresholds
    most[paths.root] = Most(held[source].held_a if source in held else math.inf, (source,))
    of_node[paths.root] = (Guard(source, 1.0),)
    passed[paths.root] = Passed(source, 1.0, None)
    for block in paths.blocks:
        here, before = of_node[block.entry], passed[block.entry]
        limit = most[block.entry]
        assert here is not None
        assert limit is not None
        acting = arrangement.acting(block)
        bare = _bare(block, arrangement.branches, {block.branches[place] for place, _ in acting})
        inner = Most(sum(held[name].held_a for _, name in acting), tuple(name for _, name in acting))
        for node in block.inside:
            tighter = bool(acting) and node not in bare and inner.current_a < limit.current_a
            most[node] = inner if tighter else limit
        if block.is_bridge:
            node = block.inside[0]
            of_branch[block.branches[0]] = here
            of_node[node] = (Guard(acting[0][1], 1.0),) if acting else here
            passed[node] = Passed(acting[0][1], 1.0, before) if acting else before
        else:
            ends = [(int(arrangement.branches.a[k]), int(arrangement.branches.b[k])) for k in block.branches]
            open_to = [bool(acting) and (a in bare or b in bare) for a, b in ends]
            _through_block(block, acting, (here, open_to, bare), before, of_node, of_branch, passed)
    return Guarded(tuple(of_node), tuple(of_branch), tuple(passed), tuple(most))


def _bare(block: Block, branches: Branches, acting: set[int]) -> set[int]:
    """The nodes of a block that its entry reaches by no acting device of the block."""
    at: dict[int, list[int]] = {}
    for k in block.branches:
        if k not in acting:
            a, b = int(branches.a[k]), int(branches.b[k])
            at.setdefault(a, []).append(b)
            at.setdefault(b, []).append(a)
    found, queue = {block.entry}, [block.entry]
    while queue:
        for node in at.get(queue.pop(), ()):
            if node not in found:
                found.add(node)
                queue.append(node)
    return found


def _through_block(
    block: Block,
    acting: list[tuple[int, str]],
    upstream: tuple[Guards, list[bool], set[int]],
    before: Passed | None,
    of_node: list[Guards | None],
    of_branch: list[Guards | None],
    passed: list[Passed | None],
) -> None:
    here, open_to, bare = upstream
    exit_at = {node: j for j, node in enumerate(block.exits)}
    shares = block.shares
    worst = shares.max(axis=1) if block.exits else np.ones(len(block.branches))
    for i, k in enumerate(block.branches):
        inner = []
        for place, name in acting:
            through = shares[place]
            counts = through > NEGLIGIBLE_SHARE
            if counts.any():
                ratio = float((shares[i, counts] / through[counts]).max())
                inner.append(Guard(name, ratio if open_to[i] else max(ratio, 1.0)))
        # Devices of the block that have opened leave all of the current to a part that none of them is before.
        scaled = tuple(Guard(g.device, g.factor * (1.0 if inner else float(worst[i]))) for g in here)
        of_branch[k] = (*inner, *scaled) if open_to[i] or not inner else tuple(inner)
    for node in block.inside:
        of_node[node], passed[node] = here, before
        if node not in exit_at:
            continue
        guards, chain = [], before
        for place, name in acting:
            share = float(shares[place, exit_at[node]])
            if share > NEGLIGIBLE_SHARE:
                guards.append(Guard(name, 1.0 / share))
                chain = Passed(name, share, chain)
        if guards:
            of_node[node], passed[node] = here if node in bare else tuple(guards), chain
