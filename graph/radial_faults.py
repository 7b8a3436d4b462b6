"""Let-through and exposure of a radial piece in closed form, in time that grows with its size and no faster.

On the way out, a fault can stand directly behind every part, against the return terminal; so a bridge's
let-through is the least T on its way from the output, at most the dead short there, whatever the loads draw. In a
block, one point takes the most of a part's share of that (``radial_tree``). On the return a fault has to come
from somewhere: from the places that land behind the part, each bounded by the devices on its own way, with the
loads that land there too drawing beside it (``radial_returns``).

What is exact and what is a bound: every number has one below it that a state with everything holding reaches;
where the two meet the number is exact, else it is a bound on the safe side (``Radial.exact``). They can differ
where loads of constant power or resistance draw beside a fault (taken at the most they could ever draw), where
copper and not a device holds a fault down while other loads draw on the same return, inside meshes, where a fault
can land inside a set of parallel returns, and around devices in loops and in returns.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, overload

import numpy as np

from loadloom.graph.fault_places import PieceGeometry
from loadloom.graph.network import FloatArray, IntArray
from loadloom.graph.radial_piece import CHASSIS, LOAD, UNBOUNDED_A, RadialPiece
from loadloom.graph.radial_returns import Classes, Forest, Landed, Returns, find_classes, greatest_in
from loadloom.graph.radial_tree import DenseBlock, along_path
from loadloom.graph.unit_flows import BoolArray

MET = 1e-9
"""Share within which a number and the state that reaches it count as the same."""


@dataclass(frozen=True)
class Landing:
    """What lands on the return, and the passes over it.

    Draws are ties first, then loads. ``sure`` and ``most`` are the passes with loads at what they surely and at
    what they could ever draw; ``shorts_a`` (classes,) every place at once (exposure).
    """

    classes: Classes
    returns: Returns
    sure: Landed
    most: Landed
    shorts: Landed
    devices: Landed


class Radial:
    """The answer for the P conductors and contacts of a radial piece, by position in ``geometry.parts``.

    ``let_a`` (P,) let-through; ``exact`` (P,) whether it is reached; ``exposure_a`` (P,); ``gain`` (P,) the
    part's current per ampere of the fault; ``fault_a`` (P,) the fault's current; ``extent`` (P,) how much of the
    part carries it. ``tie`` (P,): the place among the piece's ties, -1: a pinch against the return terminal at
    ``share`` (P,) of the part's way from its near end. ``cross`` marks places among the ties between ways out.
    ``held_by`` (P,): branch of the device that just holds, -1 where copper does. ``beside`` (P,): class of the
    return whose loads draw beside the fault, -1 none; ``spared`` (P,): region whose loads stay off.
    """

    def __init__(self, geometry: PieceGeometry) -> None:
        self.piece = RadialPiece(geometry)
        self.parts: IntArray = np.array(geometry.parts, dtype=np.int64)
        count = len(self.parts)
        self.let_a, self.exposure_a = np.zeros(count), np.zeros(count)
        self.exact = np.ones(count, dtype=np.bool_)
        self.gain, self.fault_a = np.ones(count), np.zeros(count)
        self.greatest_share = np.ones(count)
        self.extent, self.share = np.ones(count), np.ones(count)
        self.tie, self.held_by, self.beside, self.spared = (np.full(count, -1, dtype=np.int64) for _ in range(4))
        self.cross = np.zeros(count, dtype=np.bool_)
        self.is_conductor = np.isin(self.parts, np.array(geometry.conductors, dtype=np.int64))
        tree = self.piece.tree
        self.near, self.far = tree.near[self.parts], tree.far[self.parts]
        self.feed = self.piece.is_feed[self.near]
        self._tie_limits()
        self._feed_bridges()
        self._feed_ways()
        self._returns()
        for block in tree.dense:
            self._meshed(block)
        self._across_outputs()
        self._unsure_around_devices()

    def _unsure_around_devices(self) -> None:
        """Mark as bounds what devices in loops and in returns leave open."""
        piece, tree = self.piece, self.piece.tree
        if piece.coarse:
            self.exact[:] = False
        acting = piece.in_loop_acting
        if len(acting):
            way = np.maximum(piece.held_towards, piece.held_away)[np.minimum(self.parts, len(piece.held_away) - 1)]
            self.let_a = np.minimum(self.let_a, way)
            self.exposure_a = np.minimum(self.exposure_a, way)
            self.exact &= ~np.isin(tree.label[self.parts], acting)
            high = piece.ties.high
            inside = (
                np.isin(tree.above[high], acting) & (tree.exit[tree.above[high]] != high) & (tree.above[high] >= 0)
            )
            if inside.any():
                self.exact &= self.feed
        if len(piece.in_return):
            at = np.where(tree.bridge[self.parts], self.far, tree.node_count + tree.label[self.parts])
            behind = ~self.feed
            behind[behind] = self._acting_behind(at[behind])
            held = piece.held_a[np.where(tree.bridge[self.parts], self.far, tree.entry[tree.label[self.parts]])]
            self.exact &= ~behind | (tree.bridge[self.parts] & (self.let_a >= held * (1.0 - MET)) & self.exact)

    # -- places ---------------------------------------------------------------------------------------------

    def _tie_limits(self) -> None:
        """For every tie: loop resistance, voltage, and the most that a fault there can take with no load on."""
        piece, ties = self.piece, self.piece.ties
        self.tie_ohm = piece.ohm[ties.high] + piece.ohm[ties.low]
        self.tie_v = piece.volts[ties.high] - piece.volts[ties.low]
        with np.errstate(divide="ignore"):
            short = np.where(self.tie_ohm > 0.0, self.tie_v / self.tie_ohm, UNBOUNDED_A)
        self.tie_short_a = np.minimum(short, UNBOUNDED_A)
        device = np.minimum(piece.held_a[ties.high], piece.held_a[ties.low])
        self.tie_a = np.minimum(device, self.tie_short_a)

    # -- the way out ----------------------------------------------------------------------------------------

    def _short_a(self, volts: FloatArray, ohm: FloatArray) -> FloatArray:
        with np.errstate(divide="ignore", invalid="ignore"):
            found: FloatArray = np.where(ohm > 0.0, volts / ohm, np.inf)
        return found

    @cached_property
    def _limits_a(self) -> FloatArray:
        """(regions,) what each region's device passes at most: its T, or the greatest dead short behind it."""
        piece = self.piece
        short = self._short_a(piece.volts[piece.top], piece.ohm[piece.top])
        limit: FloatArray = np.minimum(piece.own_a, short) + self._brought_in_a
        return limit

    @cached_property
    def _brought_in_a(self) -> FloatArray:
        """(regions,) what other outputs can bring onto what hangs behind a region's device, which relieves it."""
        piece, cross = self.piece, self.piece.cross_ties
        from_region, at = piece.region[cross.high], piece.region[cross.low]
        pairs = []
        while (at >= 0).any():
            pairs.append(np.stack([from_region[at >= 0], at[at >= 0]], axis=1))
            at = np.where(at >= 0, piece.above[np.maximum(at, 0)], -1)
        if not pairs:
            return np.zeros(len(piece.top))
        single = np.unique(np.concatenate(pairs), axis=0)
        most = np.minimum(piece.held_a[piece.top], UNBOUNDED_A)
        return np.bincount(single[:, 1], weights=most[single[:, 0]], minlength=len(piece.top)).astype(np.float64)

    @cached_property
    def _limit_on_way_a(self) -> FloatArray:
        """(regions,) the least of these limits from the output on."""
        above = self.piece.above
        parent = np.where(above < 0, np.arange(len(above)), above)
        return along_path(parent, self._limits_a, lesser=True)

    def _feed_bridges(self) -> None:
        piece, tree = self.piece, self.piece.tree
        some = np.flatnonzero(self.feed & tree.bridge[self.parts])
        near, far = self.near[some], self.far[some]
        held, volts = piece.held_a[far], piece.volts[far]
        at_far = self._short_a(volts, piece.ohm[far])
        at_near = np.where(self.is_conductor[some], self._short_a(volts, piece.ohm[near]), at_far)
        at_near = np.where(np.isfinite(np.minimum(held, at_near)), at_near, at_far)
        value = np.minimum(held, at_near)
        value = np.where(value < UNBOUNDED_A, value, 0.0)
        self.let_a[some], self.fault_a[some] = value, value
        # The furthest point that still takes it: the far end, or where the dead short has fallen to it.
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = (volts / value - piece.ohm[near]) / (piece.ohm[far] - piece.ohm[near])
        whole = at_far >= value * (1.0 - MET)
        reach = np.where(whole, 1.0, np.clip(np.nan_to_num(reach), 0.0, 1.0))
        self.extent[some], self.share[some] = reach, reach
        self._name_holder(some, held, value, piece.region[far])
        self._name_load(some[whole], far[whole], value[whole])
        region = piece.region[far]
        behind = self._shorts_behind[far]
        self.exposure_a[some] = np.maximum(np.minimum(self._limit_on_way_a[region], behind + at_near), value)

    @cached_property
    def _shorts_behind(self) -> FloatArray:
        """(N,) sum of the dead shorts of all places behind each node of the ways out."""
        piece, ties = self.piece, self.piece.ties
        short = np.zeros(len(piece.forest.parent))
        n = piece.tree.node_count
        own = np.minimum(self._short_a(piece.volts, piece.ohm), UNBOUNDED_A)
        short[:n] = np.where(piece.is_feed, own, 0.0)
        short += np.bincount(ties.high, weights=self.tie_short_a, minlength=len(short))
        return piece.forest.below(short)[:n]

    def _name_holder(self, some: IntArray, held: FloatArray, value: FloatArray, region: IntArray) -> None:
        """The device that holds where a device does."""
        piece = self.piece
        device = piece.device[piece.least_region[region]]
        self.held_by[some] = np.where((held <= value * (1.0 + MET)) & (region >= 0), device, -1)

    def _name_load(self, some: IntArray, node: IntArray, value: FloatArray) -> None:
        """Name a load as the place where one behind a node takes as much as a pinch."""
        ties, forest = self.piece.ties, self.piece.forest
        loads = np.flatnonzero(np.array([kind == LOAD for kind in ties.kind], dtype=np.bool_))
        if not len(loads):
            return
        loads = loads[np.argsort(forest.entry[ties.high[loads]], kind="stable")]
        where = forest.entry[ties.high[loads]]
        low = np.searchsorted(where, forest.entry[node])
        high = np.searchsorted(where, forest.leave[node])
        best = greatest_in(self.tie_a[loads], low, high)
        found = np.flatnonzero(best >= 0)
        found = found[self.tie_a[loads[best[found]]] >= value[found] * (1.0 - MET)]
        self.tie[some[found]] = loads[best[found]]

    def _feed_ways(self) -> None:
        """Parts of ways side by side. From the near side the most is at the nearest point, from the far side at
        the furthest: the share falls faster along the way than the short.
        """
        piece, tree = self.piece, self.piece.tree
        some = np.flatnonzero(self.feed & tree.plain[self.parts])
        if not len(some):
            return
        k = self.parts[some]
        entry, leave = tree.entry[tree.label[k]], tree.exit[tree.label[k]]
        rho, others = tree.rho[tree.chain[k]], tree.others[tree.chain[k]]
        total = rho + others
        held, volts, up = piece.held_a[entry], piece.volts[entry], piece.ohm[entry]
        sure, most = (piece.forest.below(self._at_nodes(y))[leave] for y in (piece.load_sure_a, piece.load_most_a))
        conductor = self.is_conductor[some]

        def at(t: FloatArray) -> FloatArray:
            return up + t * (total - t) / total

        front = np.where(conductor, tree.t_near[k], tree.t_far[k])
        fallback = np.isinf(np.minimum(held, self._short_a(volts, at(front))))
        front = np.where(fallback, tree.t_far[k], front)
        share = (total - front) / total
        fault, beside = self._beside(
            share, others / total, held, volts, at(front), up + front * others / total, sure
        )
        value = share * fault + others / total * beside
        top_fault, top_beside = self._beside(
            share, others / total, held, volts, at(front), up + front * others / total, most
        )
        upper = share * top_fault + others / total * top_beside
        back = np.where(conductor, tree.t_far[k], tree.t_near[k])
        back_fault = np.minimum(held, self._short_a(volts, at(back)))
        back_value = np.where(np.isfinite(back_fault), back / total * back_fault, 0.0)
        from_back = back_value > upper
        self.let_a[some] = np.where(from_back, back_value, upper)
        self.exact[some] = from_back | (value >= upper * (1.0 - MET))
        self.fault_a[some] = np.where(from_back, back_fault, top_fault)
        self.gain[some] = np.where(from_back, back / total, share)
        self.greatest_share[some] = np.maximum(share, np.where(conductor, tree.t_far[k], tree.t_near[k]) / total)
        self.share[some] = np.where(conductor, np.where(from_back, 1.0, 0.0), np.where(from_back, 0.0, 1.0))
        self.extent[some] = np.where(conductor, 0.0, 1.0)
        self._name_holder(
            some, held, self.fault_a[some] + np.where(from_back, 0.0, top_beside), piece.region[entry]
        )
        limit = self._limit_on_way_a[piece.region[entry]]
        self.exposure_a[some] = np.maximum(self.greatest_share[some] * limit, self.let_a[some])

    @staticmethod
    def _beside(
        share: FloatArray,
        load_share: FloatArray,
        held: FloatArray,
        volts: FloatArray,
        ohm: FloatArray,
        mutual_ohm: FloatArray,
        loads_a: FloatArray,
    ) -> tuple[FloatArray, FloatArray]:
        """The best fault current and load current beside it: the greater of no load, all of it, and as much as
        leaves device and short equal.
        """
        best_fault, best_load = np.zeros(len(share)), np.zeros(len(share))
        best = np.full(len(share), -np.inf)
        with np.errstate(divide="ignore", invalid="ignore"):
            short = np.where(ohm > 0.0, volts / ohm, np.inf)
            # held - y = (volts - mutual y) / ohm
            equal = np.where(
                np.isfinite(short) & (ohm > mutual_ohm), (held * ohm - volts) / (ohm - mutual_ohm), 0.0
            )
            equal = np.clip(np.nan_to_num(equal, nan=0.0, posinf=0.0, neginf=0.0), 0.0, np.minimum(loads_a, held))
            for load in (np.zeros(len(share)), equal, np.minimum(loads_a, held)):
                by_copper = np.where(ohm > 0.0, (volts - mutual_ohm * load) / ohm, np.inf)
                fault = np.maximum(np.minimum(held - load, by_copper), 0.0)
                value = np.where(np.isfinite(fault), share * fault + load_share * load, -np.inf)
                better = value > best * (1.0 + MET) + 1e-12
                best = np.where(better, value, best)
                best_fault = np.where(better, fault, best_fault)
                best_load = np.where(better, load, best_load)
        return best_fault, best_load

    def _at_nodes(self, loads_a: FloatArray, *, low: bool = False) -> FloatArray:
        """Load currents (L,) at the nodes of the forest."""
        loads = self.piece.piece.loads
        return np.bincount(
            loads.minus if low else loads.plus, weights=loads_a, minlength=len(self.piece.forest.parent)
        ).astype(np.float64)

    # -- the return -----------------------------------------------------------------------------------------

    @cached_property
    def landing(self) -> Landing | None:
        """Everything that lands on the return; None where nothing does."""
        piece, ties, forest = self.piece, self.piece.ties, self.piece.forest
        loads = piece.piece.loads
        drawing = np.flatnonzero(piece.load_most_a > 0.0)
        self.drawing = drawing
        high = np.concatenate([ties.high, loads.plus[drawing]])
        low = np.concatenate([ties.low, loads.minus[drawing]])
        if not len(high):
            return None
        region = piece.region[high]
        classes = find_classes(forest, low)
        returns = Returns(classes, region, classes.of[low], piece.above)
        none = np.zeros(len(ties.high))
        no_place = np.full(len(drawing), -np.inf)
        most, sure = piece.load_most_a[drawing], piece.load_sure_a[drawing]
        # Beyond the loads in its own place, which it takes the place of, a fault adds at most its dead short.
        device = np.minimum(piece.held_a[ties.low], self.tie_short_a)
        own = self._in_its_place(most)
        upper = returns.run(np.concatenate([none, most]), piece.own_a, np.concatenate([device - own, no_place]))
        with np.errstate(divide="ignore", invalid="ignore"):
            left = np.where(self.tie_ohm > 0.0, (self.tie_v - self._fall_of_all(sure)) / self.tie_ohm, UNBOUNDED_A)
        beside = np.where(
            np.isfinite(piece.held_a[ties.low]), piece.held_a[ties.low] - self._landing_with(sure), np.inf
        )
        lower = returns.run(
            np.concatenate([none, sure]), piece.own_a, np.concatenate([np.minimum(beside, left), no_place])
        )
        idle = np.zeros(len(drawing))
        shorts, devices = (
            returns.run(np.concatenate([each, idle]), self._limits_a)
            for each in (self._tie_shorts_together_a, np.full(len(ties.high), UNBOUNDED_A))
        )
        return Landing(classes, returns, lower, upper, shorts, devices)

    @cached_property
    def _tie_shorts_together_a(self) -> FloatArray:
        """(T,) dead shorts; at the chassis, where one point of a region stands for all, of all of them together."""
        piece, ties = self.piece, self.piece.ties
        found = self.tie_short_a.copy()
        chassis = np.flatnonzero(np.array([kind == CHASSIS for kind in ties.kind], dtype=np.bool_))
        if len(chassis):
            bond = int(ties.low[chassis[0]])
            nodes = np.flatnonzero(piece.is_feed)
            each = self._short_a(piece.volts[nodes] - piece.volts[bond], piece.ohm[nodes] + piece.ohm[bond])
            sums = np.bincount(piece.region[nodes], weights=np.minimum(each, UNBOUNDED_A), minlength=len(piece.top))
            found[chassis] = sums[piece.region[ties.high[chassis]]]
        return found

    def _in_its_place(self, loads_a: FloatArray) -> FloatArray:
        """(T,) the current of the loads between the same two nodes as each tie."""
        ties, loads = self.piece.ties, self.piece.piece.loads
        n = self.piece.tree.node_count
        key = ties.high * n + ties.low
        order = np.argsort(key)
        of = loads.plus[self.drawing] * n + loads.minus[self.drawing]
        at = np.minimum(np.searchsorted(key[order], of), max(len(key) - 1, 0))
        found = np.zeros(len(key))
        if len(key):
            same = key[order[at]] == of
            np.add.at(found, order[at[same]], loads_a[same])
        return found

    def _landing_with(self, loads_a: FloatArray) -> FloatArray:
        """(T,) an upper bound of the load current through any device of the return on each tie's way."""
        piece, ties = self.piece, self.piece.ties
        if not np.isfinite(piece.held_a[ties.low]).any():
            return np.zeros(len(ties.low))
        return np.full(len(ties.low), float(loads_a.sum()))

    def _fall_of_all(self, loads_a: FloatArray) -> FloatArray:
        """(T,) by how much all loads together lower the voltage at each tie, as an upper bound."""
        piece, tree, ties = self.piece, self.piece.tree, self.piece.ties
        every = np.zeros(len(piece.load_most_a))
        every[self.drawing] = loads_a
        n = tree.node_count
        through = (piece.forest.below(self._at_nodes(every)) + piece.forest.below(self._at_nodes(every, low=True)))[
            :n
        ]
        # Within a block nothing lowers a node more than a current drawn there would.
        inside = np.flatnonzero(tree.above >= 0)
        inside = inside[~self._bridged[inside]]
        in_block = np.bincount(tree.above[inside], weights=through[inside], minlength=len(tree.entry))
        through[inside] = in_block[tree.above[inside]]
        fall = along_path(tree.parent, piece.ohm_in * through)
        found: FloatArray = fall[ties.high] + fall[ties.low]
        return found

    @cached_property
    def _bridged(self) -> BoolArray:
        """(N,) nodes that hang on a bridge."""
        tree = self.piece.tree
        found = np.zeros(tree.node_count, dtype=np.bool_)
        found[tree.far[tree.bridge]] = True
        return found

    def _class_values(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """By class: let-through of a part that carries all that lands there, what is surely reached, exposure."""
        landing = self.landing
        assert landing is not None
        return (
            landing.most.drawn_a + np.maximum(landing.most.more_a, 0.0),
            # Where all loads at once leave no voltage for a fault anywhere, what they draw is not surely drawn.
            np.where(landing.sure.more_a >= 0.0, landing.sure.drawn_a + landing.sure.more_a, 0.0),
            landing.shorts.drawn_a,
        )

    def _returns(self) -> None:
        piece, tree = self.piece, self.piece.tree
        landing = self.landing
        some = np.flatnonzero(~self.feed & (tree.bridge | tree.plain)[self.parts])
        self.let_a[~self.feed] = 0.0
        if landing is None or not len(some):
            return
        upper, lower, shorts = self._class_values()
        k = self.parts[some]
        bridge, plain = tree.bridge[k], tree.plain[k]
        at = np.where(bridge, self.far[some], tree.exit[tree.label[k]])
        cls = landing.classes.of[at]
        limit = piece.held_a[np.where(bridge, self.far[some], tree.entry[tree.label[k]])]
        share = np.ones(len(some))
        chain = tree.chain[k[plain]]
        share[plain] = tree.others[chain] / (tree.rho[chain] + tree.others[chain])
        used = cls >= 0
        most = np.where(used, np.minimum(upper[cls], limit), 0.0)
        sure = np.where(used, np.minimum(lower[cls], limit), 0.0)
        self.gain[some], self.greatest_share[some] = share, share
        self.let_a[some] = share * most
        met = share * sure >= self.let_a[some] * (1.0 - MET)
        self.exact[some] = met & (~self._acting_behind(at) | (most >= limit * (1.0 - MET)))
        self.exposure_a[some] = np.maximum(
            share * np.where(used, np.minimum(shorts[cls], limit), 0.0), self.let_a[some]
        )
        self._name_return(some[used], cls[used], most[used], limit[used])
        self._own_ends(dict(zip(some.tolist(), cls.tolist(), strict=True)))
        self._landing_inside(some[plain], cls[plain], share[plain], limit[plain])

    def _acting_behind(self, at: IntArray) -> BoolArray:
        """Whether a device of the return lies behind a forest node."""
        piece = self.piece
        n = piece.tree.node_count
        acting = np.zeros(len(piece.forest.parent))
        acting[:n] = np.isfinite(piece.own_held_a) & ~piece.is_feed
        found: BoolArray = piece.forest.below(acting)[at] > 0.5
        return found

    def _name_return(self, some: IntArray, cls: IntArray, most: FloatArray, limit: FloatArray) -> None:
        """Place, fault current, holder and loads beside it, for parts that carry all that lands behind them."""
        landing, piece = self.landing, self.piece
        assert landing is not None
        tie, region = landing.most.fault[cls], landing.most.region[cls]
        alone = np.where(tie >= 0, self.tie_a[np.maximum(tie, 0)], 0.0)
        by_itself = (tie >= 0) & (alone >= most * (1.0 - MET))
        adds = (landing.most.more_a[cls] > 0.0) & (tie >= 0)
        self.tie[some] = np.where(adds | by_itself, tie, -1)
        spared = np.where(region >= 0, region, -1)
        off = np.zeros(len(some))
        asked = np.flatnonzero((spared >= 0) & ~by_itself)
        if len(asked):
            off[asked] = self._drawn_by(spared[asked], cls[asked])
        fault = np.where(by_itself, most, np.maximum(landing.most.more_a[cls], 0.0) + off)
        fault = np.minimum(fault, np.maximum(most - np.maximum(landing.most.drawn_a[cls] - off, 0.0), 0.0))
        self.fault_a[some] = np.where(by_itself, most, fault)
        self.beside[some] = np.where(by_itself, -1, cls)
        self.spared[some] = np.where(by_itself, -1, spared)
        # Who holds: the device of the region, a device of the return, or for a fault alone the one on its way.
        device = np.where(region >= 0, piece.device[np.maximum(region, 0)], -1)
        high_region = piece.region[piece.ties.high[np.maximum(tie, 0)]] if len(piece.ties.high) else tie
        alone_device = piece.device[piece.least_region[np.maximum(high_region, 0)]]
        alone_held = piece.held_a[piece.ties.high[np.maximum(tie, 0)]] if len(piece.ties.high) else most
        device = np.where(by_itself, np.where(alone_held <= most * (1.0 + MET), alone_device, -1), device)
        back = np.flatnonzero(limit <= most * (1.0 + MET))
        for q in back.tolist():
            device[q] = self._return_device(int(self.near[some[q]]), float(limit[q]))
        self.held_by[some] = device

    def _return_device(self, node: int, held_a: float) -> int:
        """The device of that T on the way from a node to the return terminal."""
        piece = self.piece
        for at in piece.return_devices(node):
            if piece.own_held_a[at] <= held_a * (1.0 + MET):
                return int(piece.bridge_of[at])
        return -1

    def _drawn_by(self, region: IntArray, cls: IntArray) -> FloatArray:
        """What the loads behind a region's device draw that land in a class and below, for each pair."""
        landing, piece = self.landing, self.piece
        assert landing is not None
        pairs, inverse = np.unique(np.stack([region, cls], axis=1), axis=0, return_inverse=True)
        inverse = inverse.reshape(-1)
        loads, forest = piece.piece.loads, piece.forest
        first = forest.entry[piece.top]
        last = forest.leave[piece.top]
        at_high = forest.entry[loads.plus[self.drawing]]
        at_class = landing.returns.cls[len(piece.ties.high) :]
        order = np.argsort(at_class, kind="stable")
        sorted_class, sorted_high = at_class[order], at_high[order]
        drawn = piece.load_most_a[self.drawing][order]
        found = np.zeros(len(pairs))
        low = np.searchsorted(sorted_class, pairs[:, 1])
        high = np.searchsorted(sorted_class, landing.classes.leave[pairs[:, 1]])
        for n, (r, i, j) in enumerate(zip(pairs[:, 0].tolist(), low.tolist(), high.tolist(), strict=True)):
            if r < 0:
                continue
            inside = (sorted_high[i:j] >= first[r]) & (sorted_high[i:j] < last[r])
            found[n] = drawn[i:j][inside].sum()
        return found[inverse]

    def _own_ends(self, cls_of: dict[int, int]) -> None:
        """Return conductors on which a fault can land: near the terminal less copper holds it down."""
        piece, own = self.piece, self.piece.own_ties
        landing = self.landing
        assert landing is not None
        row_of = np.full(len(piece.piece.branches.ids), -1, dtype=np.int64)
        row_of[self.parts] = np.arange(len(self.parts))
        rows = row_of[own.branch]
        tree = piece.tree
        fine = (rows >= 0) & tree.bridge[np.minimum(own.branch, len(tree.bridge) - 1)]
        fine[fine] &= piece.ties.low[own.tie[fine]] == self.near[rows[fine]]
        self._exposed_at_ends(rows[fine], own.tie[fine], cls_of)
        for row, tie in zip(rows[fine].tolist(), own.tie[fine].tolist(), strict=True):
            fault = float(self.tie_a[tie])
            # The far end is a place as well; only where copper holds it down there can the near end be worse.
            if fault <= self.let_a[row] * (1.0 + MET) and self.exact[row]:
                continue
            cls = cls_of.get(row, -1)
            beside = float(landing.most.drawn_a[cls]) if cls >= 0 else 0.0
            limit = float(min(piece.held_a[piece.ties.high[tie]] + beside, piece.held_a[self.near[row]]))
            total = min(fault + beside, limit)
            if total > self.let_a[row] * (1.0 + MET):
                self.let_a[row], self.exact[row] = total, beside == 0.0
                self.exposure_a[row] = max(float(self.exposure_a[row]), total)
                self.tie[row], self.extent[row], self.fault_a[row] = tie, 0.0, fault
                self.beside[row], self.spared[row] = (cls if beside else -1), -1
                region = int(piece.least_region[piece.region[piece.ties.high[tie]]])
                by_device = piece.held_a[piece.ties.high[tie]] <= fault * (1.0 + MET)
                self.held_by[row] = int(piece.device[region]) if by_device else -1

    def _exposed_at_ends(self, rows: IntArray, ties: IntArray, cls_of: dict[int, int]) -> None:
        """Exposure with the places at the near ends of return conductors, where copper holds something down."""
        piece, landing = self.piece, self.landing
        assert landing is not None
        more = np.bincount(rows, weights=self.tie_short_a[ties], minlength=len(self.parts))
        touched = np.unique(rows)
        cls = np.array([cls_of.get(row, -1) for row in touched.tolist()], dtype=np.int64)
        devices = np.where(cls >= 0, landing.devices.drawn_a[cls], np.inf)
        with_ends = np.minimum(
            np.minimum(self.exposure_a[touched] + more[touched], devices), piece.held_a[self.far[touched]]
        )
        self.exposure_a[touched] = np.maximum(self.exposure_a[touched], with_ends)

    def _landing_inside(self, some: IntArray, cls: IntArray, common: FloatArray, limit: FloatArray) -> None:
        """Parts of returns side by side where a fault can land on one of them, not only where they meet.

        A fault that lands at t on a way puts (total - t) / total of it on the parts towards the terminal, t / total
        the other way round on those beyond, total being the way with the others back. Where its share is above
        ``common``, the share of what lands where the ways meet, the fault comes first and the loads take what it
        leaves of the devices: share · x + common · (all that can flow - x).
        """
        piece, tree, ties = self.piece, self.piece.tree, self.piece.ties
        landing = self.landing
        assert landing is not None
        tie, way, t, own = self._inside_ties()
        if not len(tie) or not len(some):
            return
        self._on_other_ways(some, cls, common, limit, tie[own < 0], way[own < 0], t[own < 0])
        order = np.argsort(way, kind="stable")
        tie, way, t, own = tie[order], way[order], t[order], own[order]
        mine = tree.chain[self.parts[some]]
        low, high = np.searchsorted(way, mine), np.searchsorted(way, mine + 1)
        row = np.repeat(np.arange(len(some)), high - low)
        which = np.arange(len(row)) - np.repeat(np.cumsum(high - low) - (high - low), high - low) + low[row]
        k = self.parts[some[row]]
        fits = (own[which] < 0) | (own[which] == k)
        row, which, k = row[fits], which[fits], k[fits]
        if not len(row):
            return
        total, here, is_own = tree.rho[mine[row]] + tree.others[mine[row]], t[which], own[which] == k
        at_step = np.where(is_own, 0, tree.node_step[ties.low[tie[which]]])
        towards, away = (tree.step[k] <= at_step) | is_own, (tree.step[k] > at_step) | is_own
        share_to = np.where(towards, (total - here) / total, 0.0)
        share_from = np.where(away, here / total, 0.0)
        place = tie[which]
        fault, spare = self.tie_a[place], common[row]
        region = piece.region[ties.high[place]]
        all_of_it, surely = (
            self._with_fault(landed, loads, region, cls[row], fault)
            for landed, loads in ((landing.most, landing.most.drawn_a), (landing.sure, landing.sure.drawn_a))
        )
        all_of_it, surely = np.minimum(all_of_it, limit[row]), np.minimum(surely, limit[row])
        first = np.where(share_to > 0.0, share_to * fault + spare * np.maximum(all_of_it - fault, 0.0), 0.0)
        left = np.maximum(self.tie_v[place] - self._fall_of_ties[place], 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            by_copper = np.where(self.tie_ohm[place] > 0.0, left / self.tie_ohm[place], np.inf)
        with_loads = np.where(
            (share_to > 0.0) & (by_copper >= fault * (1.0 - MET)),
            share_to * fault + spare * np.maximum(surely - fault, 0.0),
            0.0,
        )
        value = np.maximum(first, share_from * fault)
        reached = np.maximum(with_loads, np.maximum(share_to, share_from) * fault)
        np.maximum.at(self.greatest_share, some[row], np.maximum(share_to, share_from))
        at_joint = is_own & (here <= 0.0)
        self._exposed_inside(some, row, np.maximum(share_to, share_from), spare, region, at_joint)
        best = np.where(self.exact[some], self.let_a[some], 0.0)
        np.maximum.at(best, row, reached)
        order = np.lexsort((value, row))
        last = order[np.concatenate([row[order][1:] != row[order][:-1], [True]])]
        p = some[row[last]]
        over = value[last] > self.let_a[p] * (1.0 + MET)
        settled = best[row[last]] >= self.let_a[p] * (1.0 - MET)
        self.exact[p[~over]] = self.exact[p[~over]] | settled[~over]
        last, p = last[over], p[over]
        self.let_a[p], self.tie[p], self.fault_a[p] = value[last], place[last], fault[last]
        self.exact[p] = best[row[last]] >= value[last] * (1.0 - MET)
        self.gain[p] = np.maximum(share_to, share_from)[last]
        self.extent[p] = np.where(is_own[last], 0.0, 1.0)
        alone = self.gain[p] * fault[last] >= value[last] * (1.0 - MET)
        self.beside[p], self.spared[p] = np.where(alone, -1, cls[row[last]]), np.where(alone, -1, region[last])
        self.held_by[p] = self._holder_beside(region[last], cls[row[last]], fault[last], alone)
        self.exposure_a[p] = np.maximum(self.exposure_a[p], self.let_a[p])

    def _holder_beside(self, region: IntArray, cls: IntArray, fault: FloatArray, alone: BoolArray) -> IntArray:
        """The device that holds a fault in a region, ``alone`` or with the loads beside it that land in a class."""
        piece, landing = self.piece, self.landing
        assert landing is not None
        by_itself = np.where(
            piece.held_a[piece.top[region]] <= fault * (1.0 + MET), piece.device[piece.least_region[region]], -1
        )
        slack, tight = landing.returns.slack_and_region(landing.most, region, cls)
        beside = np.where(slack <= fault * (1.0 + MET), piece.device[tight], -1)
        return np.where(alone | (by_itself >= 0), by_itself, beside)

    def _with_fault(
        self, landed: Landed, drawn_a: FloatArray, region: IntArray, cls: IntArray, fault: FloatArray
    ) -> FloatArray:
        """All that can flow with a fault in a region and the loads that land in a class."""
        landing = self.landing
        assert landing is not None
        slack = landing.returns.slack_a(landed, region, cls)
        found: FloatArray = np.where(cls >= 0, drawn_a[cls], 0.0) + np.maximum(np.minimum(slack, fault), 0.0)
        return found

    @cached_property
    def _fall_of_ties(self) -> FloatArray:
        return self._fall_of_all(self.piece.load_sure_a[self.drawing])

    def _inside_ties(self) -> tuple[IntArray, IntArray, FloatArray, IntArray]:
        """Ties on ways of returns side by side: tie, way, distance from the terminal-side joint, and the conductor
        on whose end they lie if it is asked for by itself (-1: any part of the way).
        """
        piece, tree, ties = self.piece, self.piece.tree, self.piece.ties
        if not len(ties.low):
            none = np.zeros(0, dtype=np.int64)
            return none, none, np.zeros(0), none
        chain = tree.node_chain[ties.low]
        inside = np.flatnonzero(chain >= 0)
        inside = inside[tree.exit[tree.above[ties.low[inside]]] != ties.low[inside]]
        own = np.flatnonzero(piece.own_ties.branch < len(tree.chain))
        own = own[tree.chain[piece.own_ties.branch[own]] >= 0]
        k, tie = piece.own_ties.branch[own], piece.own_ties.tie[own]
        at_near = ties.low[tie] == tree.near[k]
        return (
            np.concatenate([inside, tie]),
            np.concatenate([chain[inside], tree.chain[k]]),
            np.concatenate([tree.node_t[ties.low[inside]], np.where(at_near, tree.t_near[k], tree.t_far[k])]),
            np.concatenate([np.full(len(inside), -1, dtype=np.int64), k]),
        )

    def _on_other_ways(
        self,
        some: IntArray,
        cls: IntArray,
        common: FloatArray,
        limit: FloatArray,
        tie: IntArray,
        way: IntArray,
        t: FloatArray,
    ) -> None:
        """Faults on another way of the same block reach this one by the far joint, with t / rho of themselves."""
        piece, tree, landing = self.piece, self.piece.tree, self.landing
        assert landing is not None
        if not len(tie):
            return
        label = tree.above[piece.ties.low[tie]]
        exit_class = landing.classes.of[tree.exit[label]]
        region = piece.region[piece.ties.high[tie]]
        part = np.where(tree.rho[way] > 0.0, t / np.where(tree.rho[way] > 0.0, tree.rho[way], 1.0), 1.0)
        rows = np.flatnonzero(np.isin(tree.label[self.parts[some]], label))
        for landed, is_sure in ((landing.most, False), (landing.sure, True)):
            slack = landing.returns.slack_a(landed, region, exit_class)
            fault = np.minimum(slack, self.tie_a[tie])
            if is_sure:
                left = (self.tie_v[tie] - self._fall_of_ties[tie]) / np.maximum(self.tie_ohm[tie], 1e-12)
                fault = np.minimum(fault, left)
            adds = part * np.maximum(fault, 0.0)
            # The greatest of each block, and the greatest not on that one's way.
            order = np.lexsort((-adds, label))
            first = order[np.concatenate([[True], label[order][1:] != label[order][:-1]])]
            best, best_way = np.zeros(len(tree.entry)), np.full(len(tree.entry), -1, dtype=np.int64)
            best_tie = np.full(len(tree.entry), -1, dtype=np.int64)
            best[label[first]], best_way[label[first]], best_tie[label[first]] = adds[first], way[first], tie[first]
            rest = np.flatnonzero(way != best_way[label])
            second, second_tie = np.zeros(len(tree.entry)), np.full(len(tree.entry), -1, dtype=np.int64)
            order = rest[np.argsort(adds[rest], kind="stable")]
            second[label[order]], second_tie[label[order]] = adds[order], tie[order]
            block, mine = tree.label[self.parts[some[rows]]], tree.chain[self.parts[some[rows]]]
            own_best = best_way[block] == mine
            more = np.where(own_best, second[block], best[block])
            which = np.where(own_best, second_tie[block], best_tie[block])
            drawn = np.where(cls[rows] >= 0, landed.drawn_a[cls[rows]], 0.0)
            value = common[rows] * np.minimum(drawn + more, limit[rows])
            p = some[rows]
            if is_sure:
                self.exact[p] |= value >= self.let_a[p] * (1.0 - MET)
                continue
            over = value > self.let_a[p] * (1.0 + MET)
            p, which, more = p[over], which[over], more[over]
            self.let_a[p], self.exact[p], self.tie[p], self.extent[p] = value[over], False, which, 1.0
            share = part[np.argsort(tie)][np.searchsorted(np.sort(tie), which)]
            self.fault_a[p] = more / np.maximum(share, 1e-12)
            self.gain[p] = common[rows][over] * share
            self.beside[p], self.spared[p] = cls[rows][over], -1
            self.held_by[p] = self._holder_beside(
                piece.region[piece.ties.high[which]],
                self.beside[p],
                self.fault_a[p],
                np.zeros(len(p), dtype=np.bool_),
            )
            self.exposure_a[p] = np.maximum(self.exposure_a[p], self.let_a[p])
        add = self._others_add()[tree.label[self.parts[some]]]
        through = np.where(cls >= 0, landing.shorts.drawn_a[cls], 0.0) + add
        self.exposure_a[some] = np.maximum(self.exposure_a[some], common * np.minimum(through, limit))

    def _exposed_inside(
        self,
        some: IntArray,
        row: IntArray,
        share: FloatArray,
        common: FloatArray,
        region: IntArray,
        outside: BoolArray,
    ) -> None:
        """Exposure of parts on whose way faults can land: what comes through where the ways meet, and what every
        region can bring onto the way itself, each at its greatest share. ``outside`` marks places at the joint
        towards the terminal, which only the conductor that ends there carries.
        """
        piece, tree, landing = self.piece, self.piece.tree, self.landing
        assert landing is not None
        k = self.parts[some]
        label, way_of = tree.label[k], tree.chain[k]
        limit = piece.held_a[tree.entry[label]]
        own_share = tree.others[way_of] / (tree.rho[way_of] + tree.others[way_of])
        at_joint = landing.classes.of[tree.exit[label]]
        whole = landing.classes.of[tree.node_count + label]
        all_a = np.where(whole >= 0, landing.devices.drawn_a[whole], 0.0)
        order = np.lexsort((-share, region, row))
        one = order[
            np.concatenate(
                [[True], (row[order][1:] != row[order][:-1]) | (region[order][1:] != region[order][:-1])]
            )
        ]
        one = one[~self._covered(row[one], region[one], share[one])]
        way_a = self._limit_on_way_a[region[one]]
        # What a region can add to what already comes through where the ways meet.
        adds = landing.returns.slack_a(landing.shorts, region[one], at_joint[row[one]])
        adds = np.clip(adds, 0.0, way_a)
        more = np.bincount(row[one], weights=np.maximum(share[one] - common[one], 0.0) * way_a, minlength=len(some))
        own_adds = np.bincount(row[one], weights=adds, minlength=len(some))
        extra = np.bincount(row[one], weights=np.where(outside[one], way_a, 0.0), minlength=len(some))
        through = np.where(at_joint >= 0, landing.shorts.drawn_a[at_joint], 0.0) + own_adds
        through = np.minimum(through + self._others_add()[label], all_a + extra)
        value = own_share * np.minimum(through, limit) + more
        value = np.minimum(value, self.greatest_share[some] * np.minimum(all_a + extra, limit))
        self.exposure_a[some] = np.maximum(self.exposure_a[some], value)

    def _covered(self, row: IntArray, region: IntArray, share: FloatArray) -> BoolArray:
        """Of regions that land in the same rows: those inside another one that lands with no lesser share."""
        above = self.piece.above
        size = len(above) + 1
        keys = row * size + region
        order = np.argsort(keys)
        found = np.zeros(len(row), dtype=np.bool_)
        at = above[region]
        while (at >= 0).any():
            asked = row * size + np.maximum(at, 0)
            place = np.minimum(np.searchsorted(keys[order], asked), max(len(keys) - 1, 0))
            hit = order[place]
            found |= (at >= 0) & (keys[hit] == asked) & (share[hit] >= share * (1.0 - MET))
            at = np.where(at >= 0, above[np.maximum(at, 0)], -1)
        return found

    def _others_add(self) -> FloatArray:
        """(blocks,) what the regions that can land on any way of a block add where its ways meet, each weighed by
        how much of it goes round by there.
        """
        piece, tree, landing = self.piece, self.piece.tree, self.landing
        assert landing is not None
        tie, way, t, own = self._inside_ties()
        tie, way, t = tie[own < 0], way[own < 0], t[own < 0]
        if not len(tie):
            return np.zeros(len(tree.entry))
        label = tree.above[piece.ties.low[tie]]
        region = piece.region[piece.ties.high[tie]]
        part = np.where(tree.rho[way] > 0.0, t / np.where(tree.rho[way] > 0.0, tree.rho[way], 1.0), 1.0)
        order = np.lexsort((-part, region, label))
        new = (label[order][1:] != label[order][:-1]) | (region[order][1:] != region[order][:-1])
        one = order[np.concatenate([[True], new])]
        one = one[~self._covered(label[one], region[one], part[one])]
        adds = landing.returns.slack_a(landing.shorts, region[one], landing.classes.of[tree.exit[label[one]]])
        adds = np.clip(adds, 0.0, self._limit_on_way_a[region[one]])
        return np.bincount(label[one], weights=part[one] * adds, minlength=len(tree.entry)).astype(np.float64)

    # -- meshes ---------------------------------------------------------------------------------------------

    def _meshed(self, block: DenseBlock) -> None:
        """Parts of a block that is no set of plain ways: a bound, reached where a device and no copper holds."""
        piece, tree = self.piece, self.piece.tree
        row_of = {k: n for n, k in enumerate(block.branches.tolist())}
        mine = np.flatnonzero(np.isin(self.parts, block.branches))
        if not len(mine):
            return
        entry = block.entry
        index = {node: n for n, node in enumerate(block.nodes.tolist())}
        feed = bool(piece.is_feed[entry])
        held, volts, up = float(piece.held_a[entry]), float(piece.volts[entry]), float(piece.ohm[entry])
        own_ties: dict[int, list[int]] = {}
        if not feed:
            for k, tie in zip(piece.own_ties.branch.tolist(), piece.own_ties.tie.tolist(), strict=True):
                own_ties.setdefault(k, []).append(tie)
        landing = self.landing
        cls = -1
        if not feed and landing is not None:
            cls = int(landing.classes.of[tree.node_count + block.label])
            if cls < 0:
                self.let_a[mine] = self.exposure_a[mine] = 0.0
                return
        for p in mine.tolist():
            k = int(self.parts[p])
            shares = np.abs(block.share[row_of[k]]) if block.known else np.ones(len(block.nodes))
            points = (
                [(float(s), up + float(o), int(n)) for s, o, n in zip(shares, block.ohm, block.nodes, strict=True)]
                if block.known
                else []
            )
            if self.is_conductor[p] and block.known:
                signed = block.share[row_of[k]]
                for end, sign in ((int(piece.piece.branches.a[k]), -1.0), (int(piece.piece.branches.b[k]), 1.0)):
                    through = float(signed[index[end]]) if end in index else 0.0
                    # Just inside the end: the ampere leaves on the part's own other side.
                    ohm = up + (float(block.ohm[index[end]]) if end in index else 0.0)
                    points.append((abs(through - sign), ohm, end))
            greatest = max((s for s, _, _ in points), default=1.0) if block.known else 1.0
            self.greatest_share[p] = greatest
            if feed:
                with np.errstate(divide="ignore"):
                    reached = max(
                        ((s * min(held, volts / o if o > 0.0 else np.inf), s, o, n) for s, o, n in points),
                        default=(0.0, 1.0, up, entry),
                        key=lambda item: item[0] if np.isfinite(item[0]) else -1.0,
                    )
                most = greatest * min(held, volts / up if up > 0.0 else np.inf)
                value = most if np.isfinite(most) else reached[0]
                self.let_a[p], self.exact[p] = value, reached[0] >= value * (1.0 - MET)
                self.gain[p] = greatest
                self.fault_a[p] = value / greatest if greatest > 0.0 else 0.0
                near_end = reached[3] == self.near[p]
                self.share[p], self.extent[p] = (0.0 if near_end else 1.0), (0.0 if self.is_conductor[p] else 1.0)
                region = int(piece.region[entry])
                limit = float(self._limit_on_way_a[region])
                self.exposure_a[p] = max(greatest * limit, value) if np.isfinite(limit) else value
                holds = np.isfinite(held) and self.fault_a[p] >= held * (1.0 - MET)
                self.held_by[p] = int(piece.device[piece.least_region[region]]) if holds else -1
                continue
            if landing is None:
                continue
            most = min(float(landing.most.drawn_a[cls] + max(landing.most.more_a[cls], 0.0)), held)
            more = float(landing.sure.more_a[cls])
            sure = min(float(landing.sure.drawn_a[cls]) + more, held) if more >= 0.0 else 0.0
            ends = [n for n in block.nodes.tolist() if landing.classes.of[n] >= 0]
            at_nodes = [float(shares[index[n]]) for n in ends] if block.known else [1.0]
            top = max([*at_nodes, *([greatest] if own_ties.get(k) else [])], default=1.0)
            self.let_a[p] = top * most
            self.exact[p] = bool(
                len(ends) == 1 and not own_ties.get(k) and block.known and sure >= most * (1.0 - MET)
            )
            self.gain[p], self.greatest_share[p] = top, top
            self.exposure_a[p] = max(top * min(float(landing.shorts.drawn_a[cls]), held), self.let_a[p])
            self._name_return(np.array([p]), np.array([cls]), np.array([most]), np.array([held]))

    # -- between ways out -----------------------------------------------------------------------------------

    def _across_outputs(self) -> None:
        """A fault from one output's way out onto another's drives its current backwards along that."""
        piece, tree, cross = self.piece, self.piece.tree, self.piece.cross_ties
        if not len(cross.high):
            return
        at_source = np.zeros(tree.node_count, dtype=np.bool_)
        at_source[piece.plus] = True
        backwards = along_path(tree.parent, np.where(at_source, np.inf, piece.own_held_a), lesser=True)
        # What comes in backwards can feed the loads of that way out on its way.
        backwards = backwards + piece.forest.below(self._at_nodes(piece.load_most_a))[tree.root]
        # The copper between is left out: on the safe side.
        ohm = piece.ohm[cross.high] + piece.ohm[tree.root[cross.low]]
        volts = piece.volts[cross.high] - piece.volts[cross.low]
        short = self._short_a(volts, ohm)
        fault = np.minimum(np.minimum(piece.held_a[cross.high], short), UNBOUNDED_A)
        forest = piece.forest
        order = np.argsort(forest.entry[cross.low], kind="stable")
        where = forest.entry[cross.low][order]
        some = np.flatnonzero(self.feed)
        k = self.parts[some]
        bridge = tree.bridge[k]
        behind = np.where(bridge, self.far[some], tree.entry[tree.label[k]])
        low = np.searchsorted(where, forest.entry[behind])
        high = np.searchsorted(where, forest.leave[behind])
        best = greatest_in(fault[order], low, high)
        found = np.flatnonzero(best >= 0)
        some, bridge, behind = some[found], bridge[found], behind[found]
        tie = order[best[found]]
        share = np.where(bridge, 1.0, self.greatest_share[some])
        value = share * np.minimum(fault[tie], backwards[behind])
        over = value > self.let_a[some] * (1.0 + MET)
        p, tie = some[over], tie[over]
        self.let_a[p], self.fault_a[p], self.gain[p] = value[over], value[over] / share[over], share[over]
        self.tie[p], self.cross[p], self.extent[p] = tie, True, 1.0
        self.beside[p], self.exact[p] = -1, False
        region = piece.least_region[piece.region[cross.high[tie]]]
        holds = piece.held_a[cross.high[tie]] <= self.fault_a[p] * (1.0 + MET)
        self.held_by[p] = np.where(holds, piece.device[region], -1)
        # At once with the other output's own, and with its devices relieved by what comes in.
        fed = np.flatnonzero(self.feed)
        fed = fed[self._brought_in_a[piece.region[self.near[fed]]] > 0.0]
        most = self._limit_on_way_a[piece.region[self.near[fed]]]
        most = np.where(np.isfinite(most), self.greatest_share[fed] * most, 0.0)
        self.exposure_a[fed] = np.maximum(self.exposure_a[fed], most)
        self.exposure_a[p] = np.maximum(self.exposure_a[p], self.let_a[p])

    @cached_property
    def common_region(self) -> IntArray:
        """(classes,) the region that holds everything that lands in a class and below, -1: none does."""
        landing, piece = self.landing, self.piece
        assert landing is not None
        returns, classes = landing.returns, landing.classes
        above = piece.above
        forest = Forest.of(np.where(above < 0, np.arange(len(above)), above))
        order = np.argsort(returns.cls, kind="stable")
        at = forest.entry[returns.region[order]].astype(np.float64)
        low = np.searchsorted(returns.cls[order], np.arange(len(classes.parent)))
        high = np.searchsorted(returns.cls[order], classes.leave)
        first, last = greatest_in(-at, low, high), greatest_in(at, low, high)
        one, two = forest.order[at[first].astype(np.int64)], forest.order[at[last].astype(np.int64)]
        while (
            apart := (one >= 0)
            & ~((forest.entry[one] <= forest.entry[two]) & (forest.entry[two] < forest.leave[one]))
        ).any():
            one = np.where(apart, above[one], one)
        found: IntArray = one
        return found

    @cached_property
    def row_of(self) -> Mapping[str, int]:
        """Position of every part by id."""
        ids = self.piece.piece.branches.ids
        return {ids[k]: n for n, k in enumerate(self.parts.tolist())}

    # -- what a state is made of ----------------------------------------------------------------------------

    @cached_property
    def _by_class(self) -> tuple[IntArray, IntArray]:
        """The drawing loads in order of their class, and those classes."""
        landing = self.landing
        assert landing is not None
        cls = landing.returns.cls[len(self.piece.ties.high) :]
        order = np.argsort(cls, kind="stable")
        return self.drawing[order], cls[order]

    def _landing_in(self, part: int) -> tuple[IntArray, BoolArray]:
        """Loads that land behind a part, and which of them draw beside its fault."""
        cls, spared = int(self.beside[part]), int(self.spared[part])
        landing, piece = self.landing, self.piece
        if cls < 0 or landing is None:
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.bool_)
        loads, classes = self._by_class
        first, last = np.searchsorted(classes, [cls, int(landing.classes.leave[cls])]).tolist()
        inside = loads[first:last]
        draws = np.ones(len(inside), dtype=np.bool_)
        if spared >= 0:
            top = int(piece.top[spared])
            at = self._load_entry[inside]
            draws = (at < piece.forest.entry[top]) | (at >= piece.forest.leave[top])
        return inside, draws

    @cached_property
    def _load_entry(self) -> IntArray:
        """(L,) where each load hangs in the order of the ways out."""
        return self.piece.forest.entry[self.piece.piece.loads.plus]

    def loads_beside(self, part: int) -> IntArray:
        """The piece's loads that draw beside the fault of a part, by position."""
        inside, draws = self._landing_in(part)
        return inside[draws]

    @cached_property
    def _fall_on_return(self) -> tuple[FloatArray, FloatArray]:
        """(forest nodes,) fall of every load together along the return, and resistance to the terminal."""
        piece, tree = self.piece, self.piece.tree
        n = tree.node_count
        through = piece.forest.below(self._at_nodes(piece.load_most_a, low=True))[:n]
        fall = along_path(tree.parent, np.where(piece.is_feed, 0.0, piece.ohm_in * through))
        return np.concatenate([fall, fall[tree.entry]]), np.concatenate([piece.ohm, piece.ohm[tree.entry]])

    def fall_v(self, part: int, high: int, low: int) -> float:
        """By how much the loads beside a part's fault lower the voltage between the fault's two nodes, in V."""
        piece, forest, landing = self.piece, self.piece.forest, self.landing
        inside, draws = self._landing_in(part)
        if landing is None or not draws.any():
            return 0.0
        most = piece.load_most_a
        # On the return: all that lands there, less what stays off.
        fall, ohm = self._fall_on_return
        node = int(landing.classes.node[int(self.beside[part])])
        off = inside[~draws]
        if not forest.entry[node] <= forest.entry[low] < forest.leave[node]:
            # The fault lands nearer to the terminal than all of them, or on one of several ways beside them.
            total = self._mutual_ohm(low, node) * float(most[inside[draws]].sum())
            off = off[:0]
        else:
            total = float(fall[low] - fall[node] + ohm[node] * most[inside].sum())
        if len(off):
            cls = landing.classes.of[piece.piece.loads.minus[off]]
            meet = landing.classes.meet(np.full(len(off), int(landing.classes.of[low])), cls)
            total -= float(ohm[landing.classes.node[meet]] @ most[off])
        # On the way out: up from the fault until everything that draws is behind.
        loads = inside[draws]
        at, drawn = self._load_entry[loads], most[loads]
        every = float(drawn.sum())
        tree, chain = piece.tree, int(piece.tree.node_chain[high])
        if chain >= 0:
            # On one of several ways: what is drawn behind the joint where they meet shares a part of it.
            meet_at = int(tree.exit[tree.above[high]])
            behind_it = drawn[(at >= forest.entry[meet_at]) & (at < forest.leave[meet_at])].sum()
            shared = tree.node_t[high] * tree.others[chain] / (tree.rho[chain] + tree.others[chain])
            total += float(shared * behind_it)
        while True:
            behind = float(drawn[(at >= forest.entry[high]) & (at < forest.leave[high])].sum())
            if behind >= every * (1.0 - MET):
                return total + float(piece.ohm[high]) * every
            total += float(piece.ohm_in[high]) * behind
            if piece.tree.parent[high] == high:
                return total
            high = int(piece.tree.parent[high])

    def _mutual_ohm(self, low: int, node: int) -> float:
        """Resistance that a fault at a node of the return shares with what lands at or behind another."""
        tree, piece, forest = self.piece.tree, self.piece, self.piece.forest
        if forest.entry[low] <= forest.entry[node] < forest.leave[low]:
            return float(piece.ohm[low])
        chain, above = int(tree.node_chain[low]), int(tree.parent[low])
        shared = 0.0
        if chain >= 0:
            shared = float(tree.node_t[low] * tree.others[chain] / (tree.rho[chain] + tree.others[chain]))
        return float(piece.ohm[above]) + shared

    @cached_property
    def columns(self) -> Columns:
        """The answer as lists."""
        ids = self.piece.piece.branches.ids
        return Columns(
            id=[ids[k] for k in self.parts.tolist()],
            branch=self.parts.tolist(),
            feed=self.feed.tolist(),
            exact=self.exact.tolist(),
            exposure_a=self.exposure_a.tolist(),
            fault_a=self.fault_a.tolist(),
            gain=self.gain.tolist(),
            greatest_share=self.greatest_share.tolist(),
            extent=self.extent.tolist(),
            share=self.share.tolist(),
            tie=self.tie.tolist(),
            cross=self.cross.tolist(),
            beside=self.beside.tolist(),
            spared=self.spared.tolist(),
            held_by=[ids[k] if k >= 0 else None for k in self.held_by.tolist()],
            ohm=self.piece.piece.branches.resistance_ohm[self.parts].tolist(),
        )


class Columns(NamedTuple):
    """``Radial``'s arrays as lists, which are faster to read one by one; ids in place of numbers."""

    id: list[str]
    branch: list[int]
    feed: list[bool]
    exact: list[bool]
    exposure_a: list[float]
    fault_a: list[float]
    gain: list[float]
    greatest_share: list[float]
    extent: list[float]
    share: list[float]
    tie: list[int]
    cross: list[bool]
    beside: list[int]
    spared: list[int]
    held_by: list[str | None]
    ohm: list[float]


class Beside(Sequence[tuple[str, float]]):
    """Loads that draw beside a fault, with their currents in A; made when asked for, since a trunk has many."""

    def __init__(self, radial: Radial, part: int) -> None:
        self._radial, self._part = radial, part

    @cached_property
    def _all(self) -> tuple[tuple[str, float], ...]:
        piece = self._radial.piece
        names = piece.piece.loads.ids
        loads = self._radial.loads_beside(self._part).tolist()
        return tuple((names[n], float(piece.load_most_a[n])) for n in loads)

    def __len__(self) -> int:
        return len(self._all)

    @overload
    def __getitem__(self, index: int) -> tuple[str, float]: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[tuple[str, float], ...]: ...
    def __getitem__(self, index: int | slice) -> tuple[str, float] | tuple[tuple[str, float], ...]:
        return self._all[index]

    def __iter__(self) -> Iterator[tuple[str, float]]:
        return iter(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(self._all)
