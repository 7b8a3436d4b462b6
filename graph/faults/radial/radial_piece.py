"""A galvanic piece that is fed radially: what hangs behind which device, and every place where a fault can be.

Radial means: every output stands by itself on the way out, all return to one joint, and no loop of copper holds
a diode or a part that holds its current. Loops of copper (ways side by side, meshes) are blocks of the tree.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.network import CHASSIS_NODE, FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.piece import POWER, RESISTANCE, Piece
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.returns import Forest
from loadloom.graph.faults.radial.tree import RadialTree, along_path, radial_tree
from loadloom.graph.faults.tolerances import TINY

UNBOUNDED_A = 1e12
LOAD, CONTACTS, CHASSIS, WIRES = "load", "contacts", "chassis", "wires"


@dataclass(frozen=True)
class Ties:
    """Places of fault between the way out and the return (or another output's way out), without doubles.

    ``high`` and ``low`` (T,) nodes, ``kind`` and ``what`` say what fails there: the load's id, the two contacts
    (high one first), nothing for the chassis, the conductor on the low side and its end.
    """

    high: IntArray
    low: IntArray
    kind: list[str]
    what: list[tuple[str | int, ...]]


@dataclass(frozen=True)
class OwnTies:
    """Ties that lie on a return conductor's end: ``branch`` and the position of the tie, (K,) each."""

    branch: IntArray
    tie: IntArray


class RadialPiece:
    """A radial piece of N nodes; see ``of``. Regions are numbered: outputs first, then devices of the ways out.

    By node: ``ohm`` from the output's inside (its own resistance included) or to the common return, ``held_a``
    the least T on the way, ``open_v`` the voltage lost in diodes taken off, ``region`` (-1 on the return).
    By region: ``above`` (-1), ``top`` (its first node), ``own_a`` (T), ``device`` (branch).
    ``device_share`` (N,): the share of what hangs on a node that its device carries, below 1 in ways side by side.
    ``in_loop_acting``: blocks with devices inside; ``coarse``: some are no plain ways, and their devices' limits
    are not used at all.
    """

    def __init__(self, geometry: PieceGeometry) -> None:
        piece = geometry.piece
        self.geometry, self.piece = geometry, piece
        branches = piece.branches
        count = len(piece.node_ids)
        sources = np.array(list(piece.sources), dtype=np.int64)
        self.sources = sources
        self.minus = int(branches.a[sources[0]])
        self.plus = branches.b[sources]
        leaving = np.zeros(count, dtype=np.bool_)
        leaving[piece.loads.plus], leaving[piece.loads.minus] = True, True
        roots = np.concatenate([[self.minus], self.plus])
        self.tree: RadialTree = radial_tree(count, branches, roots, leaving, self._most_ohm())
        self.is_feed: BoolArray = self.tree.root != self.minus
        self._paths(sources)
        self._regions(sources)

    def _most_ohm(self) -> FloatArray:
        """(E,) greatest resistances; of ways that devices are in, which share by their least, those."""
        piece, edges = self.piece, self.piece.branches.edge_count
        least = piece.branches.resistance_ohm[:edges]
        if piece.band_ohm is None:
            return least
        acts = np.isin(piece.blocks.label, np.unique(piece.blocks.label[np.isfinite(piece.held_a)]))
        found: FloatArray = np.where(acts[:edges], least, piece.band_ohm[1][:edges])
        return found

    # -- what makes a piece radial --------------------------------------------------------------------------

    @staticmethod
    def fits(piece: Piece) -> bool:
        """Whether a piece is radial."""
        sources = np.array(list(piece.sources), dtype=np.int64)
        branches = piece.branches
        if not branches.edge_count:
            return False
        minus = np.unique(branches.a[sources])
        islands = piece.island[branches.b[sources]]
        if len(minus) != 1 or len(np.unique(islands)) != len(islands) or int(piece.island[minus[0]]) in islands:
            return False
        if int(piece.rails.island[minus[0]]) in piece.rails.returns:
            return False  # the plus side is the reference: what can be touched anywhere is the minus side
        if (piece.in_loop & (branches.diode | piece.holds)).any():
            return False
        loads = piece.loads
        back = int(piece.island[minus[0]])
        drawing = (loads.kind == RESISTANCE) | (loads.demand > 0.0)
        forward = (piece.island[loads.plus] != back) & (piece.island[loads.minus] == back)
        return bool((forward | ~drawing).all())

    # -- paths ----------------------------------------------------------------------------------------------

    def _paths(self, sources: IntArray) -> None:
        tree, branches, piece = self.tree, self.piece.branches, self.piece
        edges = branches.edge_count
        ohm_in = tree.ohm_in.copy()
        ohm_in[self.plus] = branches.resistance_ohm[sources]
        bridge = np.flatnonzero(tree.bridge)
        far = tree.far[bridge]
        own = np.full(tree.node_count, np.inf)
        own[far] = piece.held_a[:edges][bridge]
        # A diode turned against the way lets nothing through.
        diode = branches.diode[:edges][bridge]
        forward = np.where(self.is_feed[far], branches.a[:edges][bridge] == tree.near[bridge], True)
        forward &= np.where(self.is_feed[far], True, branches.a[:edges][bridge] == far)
        own[far[diode & ~forward]] = 0.0
        own[self.plus] = piece.held_a[sources]
        drop = np.zeros(tree.node_count)
        drop[far[diode]] = -branches.emf_v[:edges][bridge][diode]
        self._devices_of_paths(own)
        self.ohm_in, self.own_held_a = ohm_in, own
        self.ohm = along_path(tree.parent, ohm_in)
        self.held_a = along_path(tree.parent, own, lesser=True)
        lost = along_path(tree.parent, drop)
        source_v = np.zeros(tree.node_count)
        source_v[self.plus] = branches.emf_v[sources]
        self.volts = np.where(self.is_feed, source_v[tree.root] - lost, lost)
        """Open-circuit potential of every node above the common return."""
        self.bridge_of[far] = bridge

    def _devices_of_paths(self, own: FloatArray) -> None:
        """Devices in ways side by side: for all that is drawn where the ways meet, the block is one device, which
        acts when the first of them does. Fills in ``own`` (N,) and ``bridge_of``.
        """
        tree, piece = self.tree, self.piece
        held = piece.held_a[: piece.branches.edge_count]
        acting = np.flatnonzero(np.isfinite(held) & ~tree.bridge)
        self.bridge_of = np.full(tree.node_count, -1, dtype=np.int64)
        self.device_share = np.ones(tree.node_count)
        self.in_loop_acting = np.unique(tree.label[acting])
        self.held_towards, self.held_away = np.full(len(held), np.inf), np.full(len(held), np.inf)
        ways = acting[tree.plain[acting]]
        self.coarse = len(ways) < len(acting)
        # A way's own devices: towards the entry, and towards the joint at which the ways meet.
        for k in ways.tolist():
            same = np.flatnonzero(tree.chain == tree.chain[k])
            beyond, before = same[tree.step[same] >= tree.step[k]], same[tree.step[same] <= tree.step[k]]
            self.held_towards[beyond] = np.minimum(self.held_towards[beyond], held[k])
            self.held_away[before] = np.minimum(self.held_away[before], held[k])
        if not len(ways):
            return
        chain, leave = tree.chain[ways], tree.exit[tree.label[ways]]
        share = tree.others[chain] / (tree.rho[chain] + tree.others[chain])
        with np.errstate(divide="ignore"):
            whole = np.where(share > 0.0, held[ways] / share, np.inf)
        for n in np.argsort(-whole, kind="stable").tolist():
            own[leave[n]] = whole[n]
            self.bridge_of[leave[n]], self.device_share[leave[n]] = ways[n], share[n]

    def _regions(self, sources: IntArray) -> None:
        tree = self.tree
        begins = np.isfinite(self.own_held_a) & self.is_feed
        begins[self.plus] = True
        tops = np.concatenate([self.plus, np.setdiff1d(np.flatnonzero(begins), self.plus)])
        region = np.full(tree.node_count, -1, dtype=np.int64)
        region[tops] = np.arange(len(tops))
        up = np.where(begins | ~self.is_feed, np.arange(tree.node_count), tree.parent)
        while not (up[up] == up).all():
            up = up[up]
        self.region: IntArray = region[up]
        self.top = tops
        self.own_a = self.own_held_a[tops]
        self.above = np.where(np.isin(tops, self.plus), -1, self.region[tree.parent[tops]])
        self.device = np.concatenate([sources, self.bridge_of[tops[len(sources) :]]])

    @cached_property
    def in_return(self) -> IntArray:
        """Nodes of the return that hang on a device."""
        return np.flatnonzero(np.isfinite(self.own_held_a) & ~self.is_feed)

    @cached_property
    def _next_device(self) -> IntArray:
        """(N,) the first node from each on towards its root that hangs on a device, the root if there is none."""
        count = self.tree.node_count
        stays = np.isfinite(self.own_held_a) | (self.tree.parent == np.arange(count))
        up = np.where(stays, np.arange(count), self.tree.parent)
        while not (up[up] == up).all():
            up = up[up]
        return up

    def return_devices(self, node: int) -> Iterator[int]:
        """Nodes that hang on a device of the return, from a node on towards the terminal."""
        while np.isfinite(self.own_held_a[node := int(self._next_device[node])]):
            yield node
            node = int(self.tree.parent[node])

    @cached_property
    def forest(self) -> Forest:
        """All nodes, and for every block of the return that is no bridge one more (N + label) around its nodes."""
        tree = self.tree
        n = tree.node_count
        parent = np.concatenate([tree.parent, np.arange(n, n + len(tree.entry))])
        loops = np.unique(tree.label[~tree.bridge])
        loops = loops[~self.is_feed[tree.entry[loops]]]
        around = np.flatnonzero(np.isin(tree.above, loops))
        parent[around] = n + tree.above[around]
        parent[n + loops] = tree.entry[loops]
        return Forest.of(parent)

    @cached_property
    def least_region(self) -> IntArray:
        """(regions,) for every region the one whose device has the least T on its way, the nearest of equals."""
        found = np.arange(len(self.top))
        order = np.argsort(self.held_a[self.top], kind="stable")[::-1]
        depth = np.zeros(len(found), dtype=np.int64)
        at = self.above.copy()
        while (at >= 0).any():
            depth += at >= 0
            at = np.where(at >= 0, self.above[np.maximum(at, 0)], -1)
        for level in range(1, int(depth.max(initial=0)) + 1):
            these = order[depth[order] == level]
            over = found[self.above[these]]
            found[these] = np.where(self.own_a[these] <= self.own_a[over], these, over)
        return found

    # -- places ---------------------------------------------------------------------------------------------

    @cached_property
    def _end_conductor(self) -> IntArray:
        """(N,) for every node the first conductor that ends there, in drawn order; -1 none."""
        branches = self.piece.branches
        found = np.full(self.tree.node_count, -1, dtype=np.int64)
        some = np.array(self.geometry.conductors, dtype=np.int64)[::-1]
        # Later ones overwrite: the first conductor wins, and of one conductor its end b is overwritten by a.
        found[np.stack([branches.b[some], branches.a[some]], axis=1).ravel()] = np.repeat(some, 2)
        return found

    def name(self, node: int) -> str:
        """How results name a node: the end of a conductor there, else the joint."""
        k = int(self._end_conductor[node])
        if k < 0:
            return self.piece.node_ids[node]
        return f"{self.piece.branches.ids[k]}:{0.0 if self.piece.branches.a[k] == node else 1.0:.2f}"

    @cached_property
    def _ties(self) -> tuple[Ties, OwnTies, Ties]:
        """Ties to the return, which of them lie on a return conductor's end, and ties between two ways out."""
        high: list[int] = []
        low: list[int] = []
        kind: list[str] = []
        what: list[tuple[str | int, ...]] = []
        own_branch: list[int] = []
        own_key: list[tuple[int, int]] = []
        loads = self.piece.loads
        known = dict(zip(loads.ids, zip(loads.plus.tolist(), loads.minus.tolist(), strict=True), strict=True))
        for load in self.geometry.harness.loads:
            # A load that draws nothing in this case is a place as well.
            plus, minus = known.get(load.id) or self._nodes_of(load.node_plus, load.node_minus)
            if load.fitted and plus is not None and minus is not None:
                high.append(plus)
                low.append(minus)
                kind.append(LOAD)
                what.append((load.id, load.node_minus))
        for side in self.geometry.mated:
            self._within_connector(side, high, low, kind, what)
        for body in self.geometry.bodies:
            self._within(body, high, low, kind, what, own_branch, own_key)
        bond = self.piece.node_index.get(CHASSIS_NODE) if self.geometry.harness.chassis else None
        if bond is not None and not self.is_feed[bond]:
            # Of a region's points the nearest stands for all: to the return they differ in nothing else.
            for node in self.top.tolist():
                high.append(node)
                low.append(bond)
                kind.append(CHASSIS)
                what.append(())
        one, two = np.array(high, dtype=np.int64), np.array(low, dtype=np.int64)
        turned = self.volts[one] < self.volts[two]
        h, g = np.where(turned, two, one), np.where(turned, one, two)
        for n in np.flatnonzero(turned).tolist():
            if kind[n] == CONTACTS:
                what[n] = (what[n][1], what[n][0])
        useful = (self.volts[h] - self.volts[g] > TINY) & (self.region[h] >= 0)
        key = h * self.tree.node_count + g
        _, first_at = np.unique(key, return_index=True)
        single = np.zeros(len(h), dtype=np.bool_)
        single[first_at] = True
        to_return = np.flatnonzero(useful & single & ~self.is_feed[g])
        between = np.flatnonzero(useful & single & self.is_feed[g] & (self.tree.root[h] != self.tree.root[g]))

        def chosen(some: IntArray) -> Ties:
            picked = some.tolist()
            return Ties(h[some], g[some], [kind[n] for n in picked], [what[n] for n in picked])

        place = {k: n for n, k in enumerate(key[to_return].tolist())}
        on = [
            (branch, place[x * self.tree.node_count + y])
            for branch, (x, y) in zip(own_branch, own_key, strict=True)
            if x * self.tree.node_count + y in place
        ]
        own = OwnTies(
            np.array([branch for branch, _ in on], dtype=np.int64), np.array([tie for _, tie in on], dtype=np.int64)
        )
        return chosen(to_return), own, chosen(between)

    def _nodes_of(self, plus: str, minus: str) -> tuple[int | None, int | None]:
        return self.piece.node_index.get(plus), self.piece.node_index.get(minus)

    @property
    def ties(self) -> Ties:
        """Places between the ways out and the return."""
        return self._ties[0]

    @property
    def own_ties(self) -> OwnTies:
        """Those of them that lie on the end of a return conductor."""
        return self._ties[1]

    @property
    def cross_ties(self) -> Ties:
        """Places between two outputs' ways out."""
        return self._ties[2]

    def _within(
        self,
        body: tuple[int, ...],
        high: list[int],
        low: list[int],
        kind: list[str],
        what: list[tuple[str | int, ...]],
        own_branch: list[int],
        own_key: list[tuple[int, int]],
    ) -> None:
        """From the nearest conductor end of every region in a body to both ends of every other conductor in it."""
        branches, tree = self.piece.branches, self.tree
        members = np.array(body, dtype=np.int64)
        feeds = members[self.is_feed[branches.a[members]]]
        if not len(feeds):
            return
        nodes = np.unique(np.concatenate([branches.a[feeds], branches.b[feeds]]))
        order = np.lexsort((nodes, self.ohm[nodes], self.region[nodes]))
        nodes = nodes[order]
        first = np.concatenate([[True], self.region[nodes[1:]] != self.region[nodes[:-1]]])
        starts = nodes[first].tolist()
        island = tree.root
        ends = [(k, end, share) for k in body for end, share in ((int(branches.a[k]), 0), (int(branches.b[k]), 1))]
        for node in starts:
            for k, end, share in ends:
                if island[end] == island[node]:
                    continue
                if self.is_feed[end] and self.volts[end] >= self.volts[node]:
                    continue
                high.append(node)
                low.append(end)
                kind.append(WIRES)
                what.append((branches.ids[k], share))
                own_branch.append(k)
                own_key.append((node, end))

    def _within_connector(
        self,
        side: tuple[tuple[int, str], ...],
        high: list[int],
        low: list[int],
        kind: list[str],
        what: list[tuple[str | int, ...]],
    ) -> None:
        """From the nearest contact of every region on one side of a connector to every other contact on it."""
        name = dict(side)
        nodes = np.array(list(name), dtype=np.int64)
        feeds = nodes[self.is_feed[nodes]]
        feeds = feeds[np.lexsort((feeds, self.ohm[feeds], self.region[feeds]))]
        first = np.ones(len(feeds), dtype=np.bool_)
        first[1:] = self.region[feeds[1:]] != self.region[feeds[:-1]]
        island = self.tree.root
        for node in feeds[first].tolist():
            others = nodes[island[nodes] != island[node]]
            others = others[~self.is_feed[others] | (self.volts[others] < self.volts[node])]
            for end in others.tolist():
                high.append(node)
                low.append(end)
                kind.append(CONTACTS)
                what.append((name[node], name[end]))

    # -- loads ----------------------------------------------------------------------------------------------

    @cached_property
    def load_most_a(self) -> FloatArray:
        """(L,) the most each load can draw while everything holds.

        Constant current: its current. Resistance: its open-circuit voltage over it. Constant power: its power
        over the least voltage that full current in every part on its way leaves, or over its minimum voltage,
        and never more than devices and copper let it have, nor less than it draws in the case itself.
        """
        loads = self.piece.loads
        high, low = loads.plus, loads.minus
        volts = np.maximum(self.volts[high] - self.volts[low], 0.0)
        loop = self.ohm[high] + self.ohm[low]
        with np.errstate(divide="ignore", invalid="ignore"):
            alone = np.fmin(
                np.minimum(self.held_a[high], self.held_a[low]), np.where(loop > 0.0, volts / loop, np.inf)
            )
            full = np.minimum(
                self.held_a, np.where(self.is_feed, np.inf, float(self.own_a[: len(self.plus)].sum()))
            )
            fall = along_path(self.tree.parent, np.where(self.ohm_in > 0.0, self.ohm_in * full, 0.0))
            least = np.maximum(volts - fall[high] - fall[low], loads.minimum_v)
            power = np.fmin(alone, np.where(least > 0.0, loads.demand / least, np.inf))
            found = np.where(loads.kind == POWER, np.maximum(power, loads.case_a), loads.demand)
            found = np.where(loads.kind == RESISTANCE, volts / loads.demand, found)
        return np.minimum(np.where(loads.demand > 0.0, found, 0.0), UNBOUNDED_A)

    @cached_property
    def load_sure_a(self) -> FloatArray:
        """(L,) what each load can draw without a doubt: constant current, else 0."""
        loads = self.piece.loads
        return np.where((loads.kind == POWER) | (loads.kind == RESISTANCE), 0.0, np.maximum(loads.demand, 0.0))
