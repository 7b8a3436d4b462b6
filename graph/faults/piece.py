"""One galvanic piece of a harness in one case, as the fault search sees it: copper, what may open, loads.

Everything that holds a current down is written as rows ``a · currents <= limit``, linear in the fault current
and the load currents: devices and outputs that must not open, diodes that must not conduct backwards, resistive
loads that can't draw more than their voltage gives.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import cast

import numpy as np

from loadloom.graph.circuit.blocks import Blocks, find_blocks
from loadloom.graph.circuit.disagreeing import outputs_disagree
from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.kept import Kept, keep
from loadloom.graph.circuit.loading import continuous_equivalent, pulse_of
from loadloom.graph.circuit.network import FloatArray, IntArray, Network
from loadloom.graph.circuit.uneven_ways import NO_WAYS, UnevenWays, uneven_ways
from loadloom.graph.circuit.unit_flows import BoolArray, Branches, UnitFlows, branches_of, unit_flows
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import MOST_SHARED, MOST_VARIED
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.model.harness import Harness
from loadloom.graph.structure.rails import Rails, find_rails

CURRENT, POWER, RESISTANCE = 0, 1, 2


@dataclass(frozen=True)
class PieceLoads:
    """L loads of a piece: terminals, kind and demand (A, W or Ω), the least voltage at which they draw (V, 0 where
    not stated), and the current (A) that constant power draws in the case itself, at its lowest voltage.

    The demand of a load that pulses is the continuous one of equal heat. ``peak`` and ``rest`` are what it draws on
    and off, as multiples of that; ``share`` of the time it is on, for ``on_s`` at a stretch. All of them are on at
    once: that heats most.
    """

    ids: tuple[str, ...]
    plus: IntArray
    minus: IntArray
    kind: IntArray
    demand: FloatArray
    minimum_v: FloatArray
    case_a: FloatArray
    peak: FloatArray
    rest: FloatArray
    share: FloatArray
    on_s: FloatArray

    def take(self, chosen: IntArray, node_place: IntArray) -> PieceLoads:
        """Some of the loads, their nodes renumbered."""
        return PieceLoads(
            tuple(self.ids[k] for k in chosen.tolist()),
            node_place[self.plus[chosen]],
            node_place[self.minus[chosen]],
            self.kind[chosen],
            self.demand[chosen],
            self.minimum_v[chosen],
            self.case_a[chosen],
            self.peak[chosen],
            self.rest[chosen],
            self.share[chosen],
            self.on_s[chosen],
        )


@dataclass(frozen=True)
class Piece:
    """N nodes that hang together by copper and outputs; see ``Branches``. ``held_a`` (B,): T of every branch.

    ``reverse_too`` (B,): whether it opens on reverse current as well (an output is not credited with that).
    ``rides_s`` (B,): how long a pulse above T may last without opening it; NaN: it acts by its own heat.
    ``holds`` (B,): it holds its current at T instead of opening. ``island`` (N,): pieces of copper without the
    outputs. ``opened`` are devices and outputs that have opened already. ``origin`` (B,): position of every branch
    in the network that it is of, edges first. Its outputs are the branches from ``branches.edge_count`` on.
    ``rails`` are those of the network as it is drawn, whatever has opened: where a fault can be hangs on them.
    ``band_ohm``: the least and the greatest resistance of every branch, (B,) each, where they are known.
    ``token`` is the same for pieces that differ in what is set only.
    """

    node_ids: tuple[str, ...]
    branches: Branches
    held_a: FloatArray
    reverse_too: BoolArray
    holds: BoolArray
    island: IntArray
    loads: PieceLoads
    rails: Rails
    rides_s: FloatArray
    opened: tuple[str, ...] = ()
    origin: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    band_ohm: tuple[FloatArray, FloatArray] | None = None
    token: object = field(default_factory=object, compare=False, repr=False)

    def set_to(self, thresholds: Mapping[str, Threshold]) -> Piece:
        """The same piece with its devices and outputs set otherwise; what hangs on no setting is not found anew."""
        held, reverse, holds, rides_s = _thresholds(self.branches, thresholds)
        other = replace(self, held_a=held, reverse_too=reverse, holds=holds, rides_s=rides_s)
        shared = ("branch_index", "node_index", "whole", "blocks")
        vars(other).update({name: vars(self)[name] for name in shared if name in vars(self)})
        return other

    def keep(self, key: object, make: Callable[[], Kept]) -> Kept:
        """What hangs on no setting, made once for all pieces that differ in settings only."""
        return keep((self.token, key), make)

    def flows_with(self, closed: BoolArray) -> UnitFlows:
        """Response with some branches (B,) closed."""
        return self.keep(("flows", closed.tobytes()), lambda: unit_flows(len(self.node_ids), self.branches, closed))

    def uneven_ways(self, closed: BoolArray) -> UnevenWays:
        """The loops of what is closed (B,) in which nothing acts, with the bands of their resistances."""
        if self.band_ohm is None:
            return NO_WAYS
        branches, (least, most) = self.branches, self.band_ohm
        acts = np.isfinite(self.held_a) | branches.diode
        acts[list(self.sources)] = True
        busy = np.zeros(len(self.node_ids), dtype=np.bool_)
        busy[self.loads.plus] = busy[self.loads.minus] = True
        at = list(self.sources)
        sources = [*branches.a[at].tolist(), *branches.b[at].tolist()]
        return self.keep(
            ("uneven ways", closed.tobytes(), acts.tobytes()),
            lambda: uneven_ways(branches, len(self.node_ids), closed, acts, least, most, busy, sources),
        )

    @cached_property
    def branch_index(self) -> Mapping[str, int]:
        """Position of every branch by id."""
        return {name: k for k, name in enumerate(self.branches.ids)}

    @cached_property
    def node_index(self) -> Mapping[str, int]:
        """Position of every node by id."""
        return {name: k for k, name in enumerate(self.node_ids)}

    @cached_property
    def electrical_key(self) -> tuple[object, ...]:
        """Equal for pieces that differ in nothing but how much their loads draw, whatever the case they are of."""
        held = [getattr(self.branches, each.name) for each in fields(self.branches)]
        held += [self.node_ids, self.held_a, self.reverse_too, self.holds, self.island, self.opened]
        # Islands are numbered by the whole network: two are the same where they part the nodes alike.
        parted = np.unique(self.rails.island, return_inverse=True)[1]
        held += [
            parted,
            tuple(
                sorted(
                    (int(parted[self.rails.island == rail][0]), nodes) for rail, nodes in self.rails.returns.items()
                )
            ),
        ]
        held += [self.loads.ids, self.loads.plus, self.loads.minus, self.loads.kind, self.loads.minimum_v]
        held += [self.loads.peak, self.loads.rest, self.loads.share, self.loads.on_s, self.rides_s]
        return tuple(each.tobytes() if isinstance(each, np.ndarray) else each for each in held)

    @property
    def pulses(self) -> bool:
        """Whether any load pulses."""
        return bool((self.loads.share < 1.0).any())

    def draws_no_more_than(self, other: Piece) -> bool:
        """Whether no load draws more than in another piece of the same key: no fault is worse here then, since a
        load may stand anywhere from nothing to what it draws.
        """
        here, there = self.loads, other.loads
        less = np.where(here.kind == RESISTANCE, here.demand >= there.demand, here.demand <= there.demand)
        return bool(less.all() and (here.case_a <= there.case_a).all())

    @cached_property
    def disagrees(self) -> bool:
        """Whether outputs disagree through 0 Ω, so that what it carries rests on placeholders."""
        return outputs_disagree(len(self.node_ids), self.branches)

    @property
    def sources(self) -> range:
        """Positions of the outputs among the branches."""
        return range(self.branches.edge_count, len(self.branches.ids))

    @cached_property
    def whole(self) -> UnitFlows:
        """Response with every branch closed."""
        return self.flows_with(np.ones(len(self.branches.ids), dtype=np.bool_))

    @cached_property
    def blocks(self) -> Blocks:
        """Loops and bridges, outputs among the branches."""
        a, b = self.branches.a, self.branches.b
        return find_blocks(len(self.node_ids), a, b, np.ones(len(a), dtype=np.bool_))

    @property
    def in_loop(self) -> BoolArray:
        """(B,) branches that are no bridges: current has a way around them."""
        return ~self.blocks.bridge

    @cached_property
    def driven_back(self) -> BoolArray:
        """(B,) devices in loops that hold their current and that a draw or another voltage can drive backwards.

        A device acts on current either way, so that it holds what comes through it backwards as well. An output
        gives current one way only. Asked with every branch closed and with the other holders out of the way.
        """
        device = np.arange(len(self.branches.ids)) < self.branches.edge_count
        holders = np.flatnonzero(self.holds & self.in_loop & device).tolist()
        back = np.zeros(len(self.branches.ids), dtype=np.bool_)
        for k in holders:
            alone = np.ones(len(back), dtype=np.bool_)
            alone[[other for other in holders if other != k]] = False
            for flows in (self.whole, self.flows_with(alone)):
                back[k] |= flows.own_a[k] < -TINY or flows.flow[k].min() < -TINY
        return back

    @property
    def opens(self) -> BoolArray:
        """(B,) devices and outputs that open for certain, and leave another way to feed what they fed."""
        return self.in_loop & np.isfinite(self.held_a) & ~self.holds


def pieces_of(network: Network, thresholds: Mapping[str, Threshold], loads: PieceLoads) -> Iterator[Piece]:
    """The galvanic pieces of a network that hold an output. ``loads`` are of the whole network.

    Loads whose terminals are in different pieces have no return and carry nothing; they are left out.
    """
    known = cast(tuple[PieceLoads, list[Piece]] | None, network.kept.get("pieces"))
    if known is None or known[0] is not loads:
        known = loads, list(_pieces_of(network, thresholds, loads))
        if len(network.node_ids) <= MOST_SHARED:
            network.kept["pieces"] = known
        return iter(known[1])
    return (piece.set_to(thresholds) for piece in known[1])


def _pieces_of(network: Network, thresholds: Mapping[str, Threshold], loads: PieceLoads) -> Iterator[Piece]:
    every = branches_of(network)
    closed = np.isfinite(every.resistance_ohm)
    count = len(network.node_ids)
    copper = closed & (np.arange(len(closed)) < every.edge_count)
    island = hang_together(count, every.a[copper], every.b[copper])
    piece = hang_together(count, every.a[closed], every.b[closed])
    held, reverse, holds, rides_s = _thresholds(every, thresholds)
    drawn = network.drawn or network
    rails = find_rails(drawn)
    at = np.array([drawn.node_index[name] for name in network.node_ids], dtype=np.int64)
    for number in np.unique(piece[network.source_plus]).tolist():
        nodes = np.flatnonzero(piece == number)
        place = np.full(count, -1, dtype=np.int64)
        place[nodes] = np.arange(len(nodes))
        inside = np.flatnonzero(closed & (piece[every.a] == number) & (every.a != every.b))
        mine = np.flatnonzero((piece[loads.plus] == number) & (piece[loads.minus] == number))
        yield Piece(
            tuple(network.node_ids[k] for k in nodes.tolist()),
            every.take(inside, place),
            held[inside],
            reverse[inside],
            holds[inside],
            np.unique(island[nodes], return_inverse=True)[1].astype(np.int64),
            loads.take(mine, place),
            rails.at(at[nodes]),
            rides_s[inside],
            network.opened,
            inside,
            _band_of(network, inside),
        )


def _band_of(network: Network, chosen: IntArray) -> tuple[FloatArray, FloatArray] | None:
    """Least and greatest resistances of some branches; outputs, which are in no loop of copper, have no band."""
    if network.edge_band_ohm is None:
        return None
    outputs = np.zeros(len(network.source_ids))
    least, most = (np.concatenate([ohm, outputs])[chosen] for ohm in network.edge_band_ohm)
    return least, most


def _thresholds(
    branches: Branches, thresholds: Mapping[str, Threshold]
) -> tuple[FloatArray, BoolArray, BoolArray, FloatArray]:
    held = np.full(len(branches.ids), np.inf)
    reverse = np.arange(len(branches.ids)) < branches.edge_count
    holds = np.zeros(len(branches.ids), dtype=np.bool_)
    rides_s = np.full(len(branches.ids), np.nan)
    for k, name in enumerate(branches.ids):
        limit = thresholds.get(name)
        if limit is not None:
            held[k] = limit.held_a
            holds[k] = not limit.opens and np.isfinite(limit.held_a)
            rides_s[k] = np.nan if limit.rides_through_s is None else limit.rides_through_s
    return held, reverse, holds, rides_s


def piece_loads(network: Network, harness: Harness, case_least_v: Mapping[str, float] | None = None) -> PieceLoads:
    """The loads of a network as the fault search takes them.

    A state with a duration does not last: such a load counts with its continuous equivalent, the root mean square
    where it pulses.

    ``case_least_v``: the lowest voltage in V at each load in the case itself, by load id. Constant power draws
    more as the voltage falls and stops at its minimum voltage; but a load that the case already holds below that
    voltage is not taken to stop before the voltage of the case.
    """
    least_v = case_least_v or {}
    case_a = np.zeros(len(network.load_ids))
    demand = network.load_demand.copy()
    minimum = np.zeros(len(demand))
    peak, rest, share = np.ones(len(demand)), np.ones(len(demand)), np.ones(len(demand))
    on_s = np.full(len(demand), np.inf)
    plain = {load.id: load for load in harness.loads}
    for k, name in enumerate(network.load_ids):
        load = plain[name].under(network.case.state)
        minimum[k] = load.minimum_v or 0.0
        lasting = continuous_equivalent(plain[name], network.case.state)
        if lasting.fitted and lasting.demand is not None:
            demand[k] = lasting.demand
        pulse = pulse_of(plain[name], network.case.state)
        if pulse is not None and pulse.rms > 0.0:
            peak[k], rest[k] = pulse.on / pulse.rms, pulse.off / pulse.rms
            share[k], on_s[k] = pulse.share, pulse.on_s
        volts = least_v.get(name, 0.0)
        if volts > 0.0 and network.load_kind[k] == POWER:
            minimum[k] = min(minimum[k], volts)
            case_a[k] = demand[k] / volts
    return PieceLoads(
        network.load_ids,
        network.load_plus,
        network.load_minus,
        network.load_kind,
        demand,
        minimum,
        case_a,
        peak,
        rest,
        share,
        on_s,
    )


@dataclass(frozen=True)
class Rows:
    """R rows ``per_node · draws <= limit``: ``per_node`` (R, N) is per ampere drawn at a node.

    ``own`` is already taken off ``limit``. ``device`` (R,): the branch that is about to act, or -1.
    """

    per_node: FloatArray
    limit: FloatArray
    device: IntArray

    def per_node_draw(
        self, per_fault: FloatArray, per_load: FloatArray, fault_a: float, loads_a: FloatArray
    ) -> FloatArray:
        """(R,) left side of every row with a fault current and load currents in A."""
        return per_fault * fault_a + per_load @ loads_a


@dataclass(frozen=True)
class Variant:
    """A piece with some branches out of play: what a linear answer holds within. ``closed`` (B,): those in play.

    ``dead``: an output whose own voltage is gone, or -1. ``flows`` is the response; ``rows`` what must hold.
    ``name`` says in words what was changed, empty for the piece as it is. ``key`` tells it from other variants of
    the piece however its devices are set; None where what they hold changes more than the limits of the rows.
    """

    piece: Piece
    flows: UnitFlows
    rows: Rows
    dead: int
    name: str
    closed: BoolArray
    key: tuple[int, bytes, bytes] | None = None

    @cached_property
    def ways(self) -> UnevenWays:
        """What may share the response unevenly."""
        return self.piece.uneven_ways(self.closed)

    @cached_property
    def mixed_flow(self) -> tuple[FloatArray, ...]:
        """(L, N) each, like the ``flow`` of the response, what its ways then carry."""
        ways = self.ways
        return self.piece.keep(("mixed flow", ways), lambda: ways.mixed(self.flows.flow)) if ways.loops else ()

    def keep(self, name: str, make: Callable[[], Kept]) -> Kept:
        """What hangs on no setting, kept from one search of the variant to the next."""
        return make() if self.key is None else self.piece.keep((name, *self.key), make)

    def keep_copper(self, name: str, make: Callable[[], Kept]) -> Kept:
        """What hangs on no device either, but on what is closed alone: the same whichever of them can open."""
        return make() if self.key is None else self.piece.keep((name, *self.key[:2]), make)


def variants(
    piece: Piece, *, few: bool = False, apart: BoolArray | None = None, outputs_too: bool = True
) -> Iterator[Variant]:
    """Every linear piece of the network's behaviour that can matter to a fault.

    Outputs and limiters that hold a constant current and diodes change the network when they act. A part that
    is a bridge needs no variant of its own: what flows through it is the sum of what is drawn behind it, so its
    row alone says all. Of those in loops, every combination of diodes blocking and parts holding their current
    is tried; each with every output whole, and with each output in a loop shorted inside. A device holds forwards
    or, where something can drive it so (``driven_back``), backwards.

    ``few``: where there are too many (``every_state_tried``), and the bound over all states counts, one change at a
    time, and what acts in order: the diodes fed with the least voltage block first, the least currents are held
    first. ``apart`` (B,): diodes that need no state of their own. ``outputs_too``: with outputs shorted inside.
    """
    in_loop = piece.in_loop
    holders = np.flatnonzero(piece.holds & in_loop).tolist()
    diodes = np.flatnonzero(piece.branches.diode & in_loop & (True if apart is None else ~apart)).tolist()
    dead_ones = [-1, *(s for s in piece.sources if in_loop[s] and outputs_too)]
    states: list[tuple[int, tuple[int, ...], tuple[int, ...]]]
    if few:
        blocking = _in_order(_by_voltage(piece, diodes))
        holding_sets = _in_order(sorted(holders, key=lambda k: (float(piece.held_a[k]), piece.branches.ids[k])))
        states = [(dead, (), ()) for dead in dead_ones]
        states += [(-1, blocked, ()) for blocked in blocking] + [(-1, (), holding) for holding in holding_sets]
        states += [(-1, (), (~k,)) for k in holders if piece.driven_back[k]]
    else:
        ways = [way for held in _subsets(holders) for way in _forwards_or_back(held, piece.driven_back)]
        states = list(itertools.product(dead_ones, _subsets(diodes), ways))
    for dead, blocked, holding in states:
        if dead in holding:
            continue
        made = variant_of(piece, dead, blocked, holding)
        if made is not None:
            yield made


def every_state_tried(piece: Piece, apart: BoolArray) -> bool:
    """Whether every combination of diodes, but for those ``apart``, and of parts that hold their current can be
    tried.
    """
    in_loop = piece.in_loop
    diodes = np.count_nonzero(piece.branches.diode & in_loop & ~apart)
    holders = np.count_nonzero(piece.holds & in_loop)
    return bool(max(diodes, holders) <= MOST_VARIED)


def _subsets(members: list[int]) -> list[tuple[int, ...]]:
    return [chosen for size in range(len(members) + 1) for chosen in itertools.combinations(members, size)]


def _forwards_or_back(holding: tuple[int, ...], driven_back: BoolArray) -> Iterator[tuple[int, ...]]:
    """Every way in which some parts can hold: ``k`` forwards, ``~k`` backwards."""
    return itertools.product(*((k, ~k) if driven_back[k] else (k,) for k in holding))


def _in_order(members: list[int]) -> list[tuple[int, ...]]:
    """The first k of some parts for every k, and all but each."""
    first = [tuple(sorted(members[:k])) for k in range(1, len(members) + 1)]
    all_but = [tuple(sorted(k for k in members if k != one)) for one in members]
    return list(dict.fromkeys([*first, *(chosen for chosen in all_but if chosen)]))


def _by_voltage(piece: Piece, diodes: list[int]) -> list[int]:
    """Diodes by the voltage that feeds them while none conducts, the least first."""
    closed = np.ones(len(piece.branches.ids), dtype=np.bool_)
    closed[diodes] = False
    own_v = unit_flows(len(piece.node_ids), piece.branches, closed).own_v
    fed_v = own_v[piece.branches.a] + piece.branches.emf_v
    return sorted(diodes, key=lambda k: (float(fed_v[k]), piece.branches.ids[k]))


def variant_of(piece: Piece, dead: int, blocked: tuple[int, ...], holding: tuple[int, ...]) -> Variant | None:
    """A piece with an output shorted inside (or -1), diodes that block and parts that hold their current; None
    where one of those that hold is the only way left to what lies behind it: its row says all.

    ``holding``: branch ``k`` holds its current forwards; ``~k`` says that it holds it backwards.
    """
    branches = piece.branches
    out = [*blocked, *(_branch_of(each) for each in holding), *([dead] if dead >= 0 else [])]
    closed = np.ones(len(branches.ids), dtype=np.bool_)
    closed[out] = False
    flows = piece.flows_with(closed)
    for each in holding:
        k = _branch_of(each)
        a, b = int(branches.a[k]), int(branches.b[k])
        if flows.piece[a] != flows.piece[b]:
            return None
        current = piece.held_a[k] if each == k else -piece.held_a[k]
        own = flows.own_a + current * (flows.flow[:, a] - flows.flow[:, b])
        own[k] = current
        flows = replace(
            flows,
            own_a=own,
            own_v=flows.own_v - current * (flows.fall_ohm[:, a] - flows.fall_ohm[:, b]),
        )
    names = [f"{branches.ids[_branch_of(k)]} holding its current{' backwards' if k < 0 else ''}" for k in holding]
    names += [f"{branches.ids[k]} blocking" for k in blocked]
    names += [f"{branches.ids[dead]} shorted inside"] if dead >= 0 else []
    key = None if holding else (dead, closed.tobytes(), np.isfinite(piece.held_a).tobytes())
    rows = rows_of(piece, flows, closed, blocked, holding)
    return Variant(piece, flows, rows, dead, ", ".join(names), closed, key)


def _branch_of(holding: int) -> int:
    """The branch that holds, whichever way."""
    return holding if holding >= 0 else ~holding


def rows_of(
    piece: Piece, flows: UnitFlows, closed: BoolArray, blocked: tuple[int, ...], holding: tuple[int, ...]
) -> Rows:
    """What must hold with the branches that are ``closed`` (B,) and the response ``flows`` of them."""
    branches = piece.branches
    capped = np.flatnonzero(closed & np.isfinite(piece.held_a))
    backwards = capped[piece.reverse_too[capped]]
    one_way = np.flatnonzero(closed & branches.diode)
    per_node = [flows.flow[capped], -flows.flow[backwards], -flows.flow[one_way]]
    limit = [
        piece.held_a[capped] - flows.own_a[capped],
        piece.held_a[backwards] + flows.own_a[backwards],
        flows.own_a[one_way],
    ]
    device = [capped, backwards, np.full(len(one_way), -1)]
    for k in blocked:
        # v_a - v_b <= forward drop, else it would conduct.
        a, b = branches.a[k], branches.b[k]
        if flows.piece[a] == flows.piece[b]:
            per_node.append((flows.fall_ohm[b] - flows.fall_ohm[a])[None])
            limit.append(np.array([-branches.emf_v[k] - flows.own_v[a] + flows.own_v[b]]))
            device.append(np.array([-1]))
    for each in holding:
        # The voltage left for it must cover its own resistance, else it would not be holding.
        k, sign = _branch_of(each), 1.0 if each >= 0 else -1.0
        a, b = branches.a[k], branches.b[k]
        per_node.append(sign * (flows.fall_ohm[a] - flows.fall_ohm[b])[None])
        spare = sign * (flows.own_v[a] - flows.own_v[b] + branches.emf_v[k])
        limit.append(np.array([spare - branches.resistance_ohm[k] * piece.held_a[k]]))
        device.append(np.array([k]))
    return Rows(np.concatenate(per_node), np.concatenate(limit), np.concatenate(device).astype(np.int64))
