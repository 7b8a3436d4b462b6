"""At which resistances and voltages, within their bands, a fault puts the most on what a loop feeds.

Devices that feed a fault round two sides of a ring, side by side, or from joined outputs share its current by the
resistances of their ways and by the outputs' voltages. At the least resistances and the highest voltages one of
them may come to its limit long before the others; with a contact a little worn, a wire a little longer or an output
set a little lower all of them give their most at once. The bands say how near to that they may come.

With the direction of a current given, "the resistance is anywhere from lo to hi" is linear in current and voltage
drop: lo · i <= drop <= hi · i. So the most that a fault at one place can have, over all resistances, voltages,
loads and openings at once, is one mixed-integer programme for each place: unknown are the currents of the ways
between the joints of a loop, their drops, the potentials, the outputs' voltages, and for each way whether it
carries forward, back or has opened. Programmes are written in A, mV and mΩ. What they find, the resistances
drop / current and the voltages, makes one more network for the fault search, which answers for it as for any other:
a programme that is wrong can miss a worse network, never make up a current. What a fault's current runs through
beyond the loop counts with its resistance, since it takes the less from the loop the more of its voltage is used
there: of the parts that hang at a joint those that lie about as far away have targets together.

Targets are what a fault and the loads at a joint draw together, with the fault at each other joint in turn; at
either end of each way, what runs to a fault in it from that end, which is the fault's current less what comes
from the other end, and where something in the way opens also what runs back through it with the way cut; the
current of each way; and what comes from either side to a fault between two parts of a way. Only targets that the
network as it is does not reach, and no network found before, are worth one more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
import scipy.sparse as sp

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import FloatArray, IntArray, Network, OutputVoltage, output_voltage_v
from loadloom.graph.circuit.runs import Run, runs_between
from loadloom.graph.circuit.unit_flows import BoolArray, Branches, UnitFlows, unit_flows
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import MOST_PROGRAMMES, MOST_WAYS
from loadloom.graph.faults.every_pair import EveryPair
from loadloom.graph.faults.piece import POWER, RESISTANCE, Piece, piece_loads, pieces_of, variant_of
from loadloom.graph.faults.places import PieceGeometry, find_places
from loadloom.graph.faults.tolerances import TINY, WORTH
from loadloom.graph.model.harness import Harness

STEP_OHM = 1e-7
STEP_V = 1e-4
"""Resistances and voltages of a network nearer to each other than these are the same."""

RATHER = 1e-6
"""Weight of a millivolt that is raised or lowered against an ampere: of equal answers the least change counts."""

NO_ANSWER = 2
"""What the solver says of a programme that has no answer; all else but 0 is a search that stopped."""

ALL_ASKED = 4
"""Of so many further networks each is searched for every part; of more each for those that it was found for."""


FARTHER = 1.5
"""What lies beyond a joint by no more than so many times the resistance counts as equally far."""

LEAST_BEYOND_MOHM = 0.1
"""What lies beyond a joint by less hangs at the joint itself."""


@dataclass(frozen=True)
class Found:
    """Values of a loop that are worst for some parts: resistances in Ω and voltages in V by branch of the piece."""

    branches: IntArray
    ohm: FloatArray
    emf_v: FloatArray
    asked: frozenset[str]

    def asking(self, more: frozenset[str]) -> Found:
        """The same, for further parts as well."""
        return replace(self, asked=self.asked | more)


@dataclass
class KnownBands:
    """What was found for the loops of several networks, by what their answer hangs on; the devices and outputs in
    loops whose currents hang on a band, so that no highest setting is told for them; whether a budget has cut; the
    parts of meshes in which nothing acts, that share a fault as ``uneven_ways`` says; and the outputs of copper in
    which some ``disagree`` through 0 Ω, where nothing is sought.
    """

    found: dict[tuple[object, ...], list[Found]] = field(default_factory=dict)
    devices: set[str] = field(default_factory=set)
    cut: bool = False
    unsure: set[str] = field(default_factory=set)
    disagree: dict[str, None] = field(default_factory=dict)


def networks_within_bands(
    harness: Harness, network: Network, worn: Network, thresholds: Mapping[str, Threshold], known: KnownBands
) -> tuple[Network, ...]:
    """A network at those of its resistances and voltages that put more on something than the network itself does.

    ``worn`` is the same network at the greatest resistances; its own are the least, its voltages the highest.
    ``known`` is added to.
    """
    ohm = np.concatenate([network.edge_resistance_ohm, network.source_resistance_ohm])
    most = np.maximum(ohm, np.concatenate([worn.edge_resistance_ohm, worn.source_resistance_ohm]))
    outputs = {o.id: o for o in (output.under(network.case.arrangement) for output in harness.outputs)}
    least_v = [output_voltage_v(outputs[name], OutputVoltage.LOWEST) for name in network.source_ids]
    emf_v = np.concatenate([-network.edge_drop_v, network.source_voltage_v])
    low_v = np.concatenate([-network.edge_drop_v, np.minimum(least_v, network.source_voltage_v)])
    of_loops: list[tuple[Piece, list[Found]]] = []
    for piece in pieces_of(network, thresholds, piece_loads(network, harness)):
        if piece.disagrees:
            known.disagree.update(dict.fromkeys(piece.branches.ids[k] for k in piece.sources))
            continue
        labels = _labels(piece)
        unsure = piece.uneven_ways(np.ones(len(piece.branches.ids), dtype=np.bool_)).unsure
        known.unsure |= {piece.branches.ids[k] for k in unsure.tolist()}
        for label in labels:
            loop = _Loop(harness, piece, label, most[piece.origin], low_v[piece.origin])
            if not loop.matters:
                continue
            known.devices |= loop.acting_names
            if loop.key not in known.found:
                known.found[loop.key] = loop.found()
                known.cut |= loop.cut
            if known.found[loop.key]:
                of_loops.append((piece, known.found[loop.key]))
    made: dict[tuple[bytes, bytes], Network] = {}
    count = max((len(found) for _, found in of_loops), default=0)
    edges = len(network.edge_ids)
    for number in range(count):
        for beyond in (0, -1):  # loops with fewer: their first, and their last
            here, volts, asked = ohm.copy(), emf_v.copy(), set[str]()
            for piece, found in of_loops:
                one = found[number] if number < len(found) else found[beyond]
                at = piece.origin[one.branches]
                here[at], volts[at] = one.ohm, one.emf_v
                asked |= one.asked
            key = np.round(here[np.isfinite(here)] / STEP_OHM).tobytes(), np.round(volts / STEP_V).tobytes()
            if key in made:
                before = made[key].asked
                made[key] = replace(made[key], asked=None if before is None else before | asked)
            else:
                made[key] = replace(
                    network,
                    edge_resistance_ohm=here[:edges],
                    source_resistance_ohm=here[edges:],
                    source_voltage_v=volts[edges:],
                    asked=frozenset(asked) if count > ALL_ASKED else None,
                )
    return tuple(made.values())


def _labels(piece: Piece) -> list[int]:
    """Loops with a part that opens, holds, blocks or feeds."""
    acting = piece.in_loop & (np.isfinite(piece.held_a) | piece.branches.diode)
    acting[list(piece.sources)] |= piece.in_loop[list(piece.sources)]
    found: list[int] = np.unique(piece.blocks.label[acting]).tolist()
    return found


@dataclass(frozen=True)
class _Target:
    """What is to be the most, with a fault between two nodes and a way cut (-1: none): ``fault`` times its current,
    and that of way ``through`` (-1: none) times ``sign``, and what loads draw at ``joint`` (-1: none) beside it.
    ``asked``: the parts that it bears on. ``beyond_mohm``: what the fault's current runs through outside of the
    loop.
    """

    high: int
    low: int
    asked: frozenset[str]
    cut: int = -1
    fault: float = 1.0
    through: int = -1
    sign: float = 1.0
    joint: int = -1
    beyond_mohm: float = 0.0


@dataclass(frozen=True)
class _Best:
    """The most of a target in A, the resistances (K,) in mΩ and voltages (K,) in mV that have it, and the choices
    (4 · K,) of its programme.
    """

    value_a: float
    ohm: FloatArray
    emf: FloatArray
    chosen: FloatArray


class _Loop:
    """One block of a piece whose parts act. ``most`` (B,) greatest resistances in Ω, ``low_v`` (B,) least voltages
    of the piece's branches. ``within``: a node between two of its branches that is a joint as well (-1: none).
    """

    def __init__(
        self, harness: Harness, piece: Piece, label: int, most: FloatArray, low_v: FloatArray, within: int = -1
    ) -> None:
        self.harness, self.piece, self.most, self.low_v = harness, piece, most, low_v
        self.label, self.within = label, within
        self.inside: BoolArray = piece.blocks.label == label
        self.cut = False
        self.programmes = 0

    @cached_property
    def matters(self) -> bool:
        """Whether some resistance or voltage of it has a band."""
        branches, inside = self.piece.branches, self.inside
        apart = self.most[inside] - branches.resistance_ohm[inside] > STEP_OHM
        return bool(apart.any() or (branches.emf_v[inside] - self.low_v[inside] > STEP_V).any())

    @property
    def acting_names(self) -> set[str]:
        """Devices and outputs that have a limit."""
        limited = self.inside & np.isfinite(self.piece.held_a)
        return {self.piece.branches.ids[k] for k in np.flatnonzero(limited).tolist()}

    @cached_property
    def key(self) -> tuple[object, ...]:
        """Equal for loops of pieces that come to the same values."""
        branches, loads, piece = self.piece.branches, self.piece.loads, self.piece
        arrays = [branches.a, branches.b, branches.resistance_ohm, branches.emf_v, piece.held_a, piece.reverse_too]
        arrays += [piece.holds, piece.island, self.most, self.low_v, self.inside]
        arrays += [loads.plus, loads.minus, self._load_a]
        return branches.ids, *(each.tobytes() for each in arrays)

    # -- the loop as ways between joints ---------------------------------------------------------------------------

    @cached_property
    def gate(self) -> IntArray:
        """(N,) for every node of the piece the node of the loop at which it hangs."""
        branches = self.piece.branches
        outside = ~self.inside
        group = hang_together(len(self.piece.node_ids), branches.a[outside], branches.b[outside])
        nodes = np.unique(np.concatenate([branches.a[self.inside], branches.b[self.inside]]))
        of_group = np.zeros(int(group.max()) + 1, dtype=np.int64)
        of_group[group[nodes]] = nodes
        found: IntArray = of_group[group]
        return found

    @cached_property
    def ways(self) -> tuple[Run, ...]:
        """Runs of branches with nothing attached between."""
        branches, inside = self.piece.branches, np.flatnonzero(self.inside)
        joint: BoolArray = np.bincount(self.gate, minlength=len(self.gate)) > 1
        loads = self.piece.loads
        joint[loads.plus] = joint[loads.minus] = True
        if self.within >= 0:
            joint[self.within] = True
        ends = np.concatenate([branches.a[inside], branches.b[inside]])
        joint |= np.bincount(ends, minlength=len(joint)) > 2
        return runs_between(branches.a, branches.b, inside, joint)

    @cached_property
    def joint_at(self) -> dict[int, int]:
        """The position of every joint of the loop, by node."""
        return {n: k for k, n in enumerate(sorted({n for way in self.ways for n in (way.first, way.last)}))}

    def sum_of(self, values: FloatArray, *, signed: bool = False) -> FloatArray:
        """(K,) sums of what branches of the piece have, along each way; ``signed``: turned the way's way round."""
        return np.array([float((values[w.branches] * (w.signs if signed else 1.0)).sum()) for w in self.ways])

    @cached_property
    def limits(self) -> tuple[FloatArray, FloatArray, BoolArray]:
        """(K,) the most that each way carries forward and back, inf where nothing holds it, and whether something
        in it opens.
        """
        piece = self.piece
        forward, back, opens = [], [], []
        for way in self.ways:
            held, diode = piece.held_a[way.branches], piece.branches.diode[way.branches]
            most = {}
            for sign in (1.0, -1.0):
                along = way.signs == sign
                counts = along | piece.reverse_too[way.branches]
                limit = float(held[counts].min(initial=np.inf))
                most[sign] = 0.0 if (diode & ~along).any() else limit
            forward.append(most[1.0])
            back.append(most[-1.0])
            opens.append(bool((np.isfinite(held) & ~piece.holds[way.branches]).any()))
        return np.array(forward), np.array(back), np.array(opens, dtype=np.bool_)

    # -- what can be drawn from it ---------------------------------------------------------------------------------

    @cached_property
    def _potential_v(self) -> FloatArray:
        """(N,) potentials by the outputs' own voltages alone: which of two pieces of copper is higher."""
        piece, branches = self.piece, self.piece.branches
        volts: dict[int, float] = {int(piece.island[branches.a[piece.sources[0]]]): 0.0}
        waiting = list(piece.sources)
        while waiting:
            later = []
            for s in waiting:
                low, high = int(piece.island[branches.a[s]]), int(piece.island[branches.b[s]])
                if low in volts:
                    volts.setdefault(high, volts[low] + float(branches.emf_v[s]))
                elif high in volts:
                    volts[low] = volts[high] - float(branches.emf_v[s])
                else:
                    later.append(s)
            if len(later) == len(waiting):
                break
            waiting = later
        return np.array([volts.get(island, 0.0) for island in piece.island.tolist()])

    @property
    def spread_v(self) -> float:
        """How far potentials of the piece are apart in V, about."""
        return float(np.ptp(self._potential_v))

    @cached_property
    def pairs(self) -> list[tuple[int, int]]:
        """Where a fault draws from the loop and where it gives back: gates of points that it can join."""
        volts = np.round(self._potential_v, 9)
        every = set(zip(volts.tolist(), self.gate.tolist(), self.piece.island.tolist(), strict=True))
        points = sorted(point for point in every if point[1] in self.joint_at)
        found: dict[tuple[int, int], None] = {}
        for high_v, high, one in points:
            for low_v, low, other in points:
                if one != other and high_v >= low_v and high != low:
                    found[high, low] = None
        return list(found)

    @cached_property
    def _load_a(self) -> FloatArray:
        """(L,) what each load draws at most, about."""
        loads = self.piece.loads
        volts = max(float(self.piece.branches.emf_v[list(self.piece.sources)].max()), 1.0)
        by_power = np.where(
            loads.case_a > 0.0, loads.case_a, loads.demand / np.maximum(loads.minimum_v, 0.5 * volts)
        )
        with np.errstate(divide="ignore"):
            by_ohm = np.where(loads.demand > 0.0, volts / np.maximum(loads.demand, TINY), 0.0)
        found: FloatArray = np.where(
            loads.kind == RESISTANCE, by_ohm, np.where(loads.kind == POWER, by_power, loads.demand)
        )
        return found

    @cached_property
    def draws(self) -> dict[tuple[int, int], float]:
        """The most in A that loads draw from one joint of the loop and give back at another."""
        found: dict[tuple[int, int], float] = defaultdict(float)
        loads, gate = self.piece.loads, self.gate
        plus, minus = gate[loads.plus].tolist(), gate[loads.minus].tolist()
        for high, low, amps in zip(plus, minus, self._load_a.tolist(), strict=True):
            if high != low and amps > TINY:
                found[high, low] += amps
        return found

    def _behind(self, gate: int) -> frozenset[str]:
        """Parts and splices that hang at a joint of the loop."""
        branches = self.piece.branches
        there = np.flatnonzero(~self.inside & (self.gate[branches.a] == gate))
        nodes = {self.piece.node_ids[n] for n in np.flatnonzero(self.gate == gate).tolist()}
        splices = (splice.id for splice in self.harness.splices if splice.node in nodes)
        return frozenset([*(branches.ids[k] for k in there.tolist()), *splices])

    def _at_node(self, node: int) -> frozenset[str]:
        """Splices at a node."""
        return frozenset(s.id for s in self.harness.splices if s.node == self.piece.node_ids[node])

    def _along(self, way: Run) -> frozenset[str]:
        branches = self.piece.branches
        nodes = {*branches.a[way.branches].tolist(), *branches.b[way.branches].tolist()}
        names = {self.piece.node_ids[n] for n in nodes}
        splices = (splice.id for splice in self.harness.splices if splice.node in names)
        return frozenset([*(branches.ids[k] for k in way.branches.tolist()), *splices])

    def _with_inner_joints(self) -> Iterator[_Loop]:
        """The same loop with each node between two branches of a way as a joint."""
        a, b = self.piece.branches.a, self.piece.branches.b
        for way in self.ways:
            for one, other in pairwise(way.branches.tolist()):
                node = ({int(a[one]), int(b[one])} & {int(a[other]), int(b[other])}) - {way.first, way.last}
                yield _Loop(self.harness, self.piece, self.label, self.most, self.low_v, next(iter(node)))

    def _targets_within(self) -> Iterator[list[_Target]]:
        """What comes from either side to a fault at the joint within a way, or just beside it."""
        forward, back, _ = self.limits
        beside = [k for k, way in enumerate(self.ways) if self.within in (way.first, way.last)]
        asked = frozenset[str]().union(*(self._along(self.ways[k]) for k in beside))
        for k in beside:
            way = self.ways[k]
            for at_high in (True, False):
                sign = 1.0 if (way.last == self.within) is at_high else -1.0
                there = [pair for pair in self.pairs if pair[0 if at_high else 1] == self.within]
                if (forward if sign > 0.0 else back)[k] > TINY and there:
                    yield [_Target(*pair, asked, fault=0.0, through=k, sign=sign) for pair in there]

    def _targets(self) -> Iterator[list[_Target]]:
        """Groups of targets of which the greatest counts."""
        pairs = self.pairs
        for joint in self.joint_at:
            asked = self._behind(joint)
            if asked:
                # Not all of them can be reached by every fault, so each of the other joints stands for itself.
                yield from ([_Target(*pair, asked, joint=joint)] for pair in pairs if joint in pair)
        forward, back, opens = self.limits
        far = [target for joint in self.joint_at for pair in pairs for target in self._far_targets(joint, pair)]
        for k, way in enumerate(self.ways):
            asked = self._along(way)
            for joint, out in ((way.first, 1.0), (way.last, -1.0)):
                there = [pair for pair in pairs if joint in pair]
                if opens[k]:
                    yield [_Target(*pair, asked, cut=k) for pair in there]
                if way.first != way.last:
                    # What comes to a fault in it, at this end, is all that does not come from its other end.
                    yield [
                        _Target(high, low, asked, through=k, sign=out if joint == high else -out)
                        for high, low in there
                    ]
            for sign, limit in ((1.0, forward[k]), (-1.0, back[k])):
                if limit > TINY:
                    ends = {way.first, way.last}
                    there = [pair for pair in pairs if ends & set(pair)]
                    yield [_Target(*pair, asked, fault=0.0, through=k, sign=sign) for pair in there]
        yield from ([target] for target in far)

    def _far_targets(self, joint: int, pair: tuple[int, int]) -> Iterator[_Target]:
        """Faults in what hangs at a joint of a pair, some way from it."""
        if joint not in pair:
            return
        high, low = pair
        piece, branches = self.piece, self.piece.branches
        there = np.flatnonzero(self.gate == joint)
        others = np.flatnonzero(self.gate == (low if joint == high else high))
        fall = piece.whole.fall_ohm
        own = fall.diagonal()
        both = own[there][:, None] + own[others][None, :] - 2.0 * fall[np.ix_(there, others)]
        apart = piece.island[there][:, None] != piece.island[others][None, :]
        least = np.where(apart, both, np.inf).min(axis=1, initial=np.inf)
        beyond = dict(zip(there.tolist(), ((least - self._across_ohm(pair)) * 1e3).tolist(), strict=True))
        steps: dict[int, tuple[float, set[str]]] = {}
        for k in np.flatnonzero(~self.inside & (self.gate[branches.a] == joint)).tolist():
            mohm = min(beyond[int(branches.a[k])], beyond[int(branches.b[k])])
            if np.isfinite(mohm) and mohm > LEAST_BEYOND_MOHM:
                step = round(math.log(mohm) / math.log(FARTHER))
                at, names = steps.get(step, (mohm, set()))
                steps[step] = max(at, mohm), {*names, branches.ids[k]}
        for mohm, names in steps.values():
            yield _Target(high, low, frozenset(names), joint=joint, beyond_mohm=mohm)

    def _across_ohm(self, pair: tuple[int, int]) -> float:
        """The resistance of the loop between two of its joints in Ω."""
        fall = self.piece.whole.fall_ohm
        high, low = pair
        return float(fall[high, high] + fall[low, low] - 2.0 * fall[high, low])

    # -- what is worst ---------------------------------------------------------------------------------------------

    def found(self) -> list[Found]:
        """Values that put more on something than those of the piece, and than others found before."""
        if len(self.ways) > MOST_WAYS:
            self.cut = True
            return []
        branches = self.piece.branches
        at: list[tuple[FloatArray, FloatArray]] = [(branches.resistance_ohm, branches.emf_v)]
        values: list[Found] = []
        loops = [(self, self._targets()), *((loop, loop._targets_within()) for loop in self._with_inner_joints())]
        for loop, targets in loops:
            for group in targets:
                loop.programmes = self.programmes
                if group and not loop._take(group, at, values):
                    self.cut = True
                    return values
                self.programmes = loop.programmes
                self.cut |= loop.cut
        self._take_every_pair(at, values)
        return values

    def _take_every_pair(self, at: Sequence[tuple[FloatArray, FloatArray]], values: list[Found]) -> None:
        """Add values that put more on something with a fault between two nodes of which one lies within a way."""
        piece, branches, inside = self.piece, self.piece.branches, np.flatnonzero(self.inside)
        acts = np.isfinite(piece.held_a) & ~piece.holds | branches.diode
        opening = [int(way.branches[acts[way.branches]][0]) for way in self.ways if acts[way.branches].any()]
        variant = variant_of(piece, -1, (), ())
        if variant is None:
            return
        geometry = PieceGeometry.of(self.harness, piece)
        outside = {k for k in geometry.parts if not self.inside[k]}
        nodes = set(branches.a[inside].tolist()) | set(branches.b[inside].tolist())
        flow = piece.whole.flow
        beyond: dict[tuple[int, int], set[int]] = {}
        for place in find_places(geometry, variant).listed:
            high, low = place.high.a, place.low.a
            pair = int(self.gate[high]), int(self.gate[low])
            if pair[0] != pair[1] and nodes.issuperset(pair):
                carries = np.flatnonzero(np.abs(flow[:, high] - flow[:, low]) > TINY)
                beyond.setdefault(pair, set()).update(outside.intersection(carries.tolist()))
        pairs = np.array(sorted(beyond), dtype=np.int64).reshape(-1, 2)
        hanging = [bool(beyond[pair]) or any(map(self._at_node, pair)) for pair in sorted(beyond)]
        counts = np.concatenate([np.isin(inside, geometry.parts), np.array(hanging, dtype=np.bool_)])
        within = self.inside[list(piece.sources)].any()
        beyond_a = math.inf if within else float(piece.held_a[list(piece.sources)].sum())
        ends = self.most, self.low_v, self.beyond_mv * 1e-3, beyond_a
        for mixture in EveryPair(piece, inside, pairs, counts, opening, *ends).mixtures(at):
            parts = {*mixture.branches, *(k for pair in mixture.pairs for k in beyond[pair])}
            joints = {int(n) for k in parts for n in (branches.a[k], branches.b[k])}
            joints |= {n for pair in mixture.pairs for n in pair}
            splices = (self._at_node(n) for n in joints)
            names = frozenset().union((branches.ids[k] for k in parts), *splices)
            if mixture.known:
                values[mixture.known - 1] = values[mixture.known - 1].asking(names)
            else:
                values.append(Found(inside, mixture.ohm[inside], mixture.emf_v[inside], names))

    def _take(self, group: Sequence[_Target], at: list[tuple[FloatArray, FloatArray]], values: list[Found]) -> bool:
        """Add what is worst for a group of targets to ``values``, and to ``at``, resistances and voltages (B,) each
        with those of the piece first. False where the budget of programmes is used up.
        """
        here = [(self.sum_of(ohm) * 1e3, self.sum_of(emf, signed=True) * 1e3) for ohm, emf in at]
        best: _Best | None = None
        worst = group[0]
        reached = [self._reached([there], group) for there in here]
        for target in group:
            if self._most_there(target) <= max(reached) * (1.0 + WORTH):
                continue
            if self.programmes >= MOST_PROGRAMMES:
                return False
            name = replace(target, asked=frozenset())
            if name not in self._solved:
                self._solved[name] = self._solve(target)
            answer = self._solved[name]
            if answer is not None and (best is None or answer.value_a > best.value_a):
                best, worst = answer, target
        known = reached.index(max(reached))
        if best is None or best.value_a <= reached[known] * (1.0 + WORTH):
            if reached[known] > reached[0] * (1.0 + WORTH):
                values[known - 1] = values[known - 1].asking(group[0].asked)
            return True
        if self._as_it_is(group, worst, best, *here[0]):
            return True
        if np.allclose(best.ohm, here[0][0], rtol=0.0, atol=STEP_OHM * 1e3) and np.allclose(
            best.emf, here[0][1], rtol=0.0, atol=STEP_V * 1e3
        ):
            return True
        found = self._spread(best.ohm, best.emf, group[0].asked)
        whole = at[0][0].copy(), at[0][1].copy()
        whole[0][found.branches], whole[1][found.branches] = found.ohm, found.emf_v
        at.append(whole)
        values.append(found)
        return True

    @cached_property
    def _solved(self) -> dict[_Target, _Best | None]:
        return {}

    @cached_property
    def _emf_ends(self) -> tuple[FloatArray, FloatArray]:
        """(B,) least and greatest voltage of each branch in V, along its way."""
        branches = self.piece.branches
        low, sign = self.low_v, np.ones(len(self.low_v))
        for way in self.ways:
            sign[way.branches] = way.signs
        return np.minimum(sign * branches.emf_v, sign * low), np.maximum(sign * branches.emf_v, sign * low)

    @cached_property
    def _bands(self) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """(K,) least and greatest resistances in mΩ, least and greatest voltages along each way in mV."""
        low, high = self._emf_ends
        ohm = self.piece.branches.resistance_ohm
        return self.sum_of(ohm) * 1e3, self.sum_of(self.most) * 1e3, self.sum_of(low) * 1e3, self.sum_of(high) * 1e3

    def _most_there(self, target: _Target) -> float:
        """What the limits of the ways at a target's joints let through at most, in A."""
        forward, back, _ = self.limits
        if not target.fault:
            return float((forward if target.sign > 0.0 else back)[target.through])
        most = []
        if target.beyond_mohm and not any(self.inside[s] for s in self.piece.sources):
            # Nothing within the bands lets a short through more easily than the least resistances.
            ohm = target.beyond_mohm * 1e-3 + self._across_ohm((target.high, target.low))
            drawn_a = sum(amps for ends, amps in self.draws.items() if target.joint in ends)
            most.append(self.beyond_mv * 1e-3 / ohm + drawn_a)
        # What flows on along the way of a fault in it comes to its end by the others.
        apart = {target.cut, target.through}
        for joint, into in ((target.high, True), (target.low, False)):
            if not self._counted_at(target, joint):
                continue
            amps = 0.0
            for k, way in enumerate(self.ways):
                if k not in apart and way.first != way.last:
                    amps += forward[k] if (way.last == joint) is into and joint in (way.first, way.last) else 0.0
                    amps += back[k] if (way.first == joint) is into and joint in (way.first, way.last) else 0.0
            most.append(amps)
        return float(min(most))

    def _counted_at(self, target: _Target, joint: int) -> bool:
        """Whether all that counts of a target flows through the ways at one of its joints."""
        if target.joint >= 0:
            return joint == target.joint
        if target.through < 0:
            return True
        way = self.ways[target.through]
        return joint == (way.first if (target.sign > 0.0) is (joint == target.high) else way.last)

    def _reached(self, at: Sequence[tuple[FloatArray, FloatArray]], group: Sequence[_Target]) -> float:
        """What some of the values reach for one of the targets with no load and nothing else opened, in A."""
        return max((self._value(ohm, emf, target) for ohm, emf in at for target in group), default=0.0)

    def _flows(self, ohm: FloatArray, emf: FloatArray, cut: int) -> UnitFlows:
        place = self.joint_at
        a = np.array([place[way.first] for way in self.ways])
        b = np.array([place[way.last] for way in self.ways])
        count = len(self.ways)
        branches = Branches(("",) * count, a, b, ohm, emf, np.zeros(count, dtype=np.bool_), count)
        closed = np.arange(count) != cut
        return unit_flows(len(place), branches, closed)

    def _value(self, ohm: FloatArray, emf: FloatArray, target: _Target) -> float:
        key = ohm.tobytes(), emf.tobytes(), target.cut
        if key not in self._known_flows:
            self._known_flows[key] = self._flows(ohm, emf, target.cut)
        flows = self._known_flows[key]
        high, low = self.joint_at[target.high], self.joint_at[target.low]
        if flows.piece[high] != flows.piece[low]:
            return 0.0
        share = flows.flow[:, high] - flows.flow[:, low]
        forward, back, _ = self.limits
        room = np.where(share > 0.0, forward - flows.own_a, back + flows.own_a)
        used = np.abs(share) > TINY
        if (flows.own_a > forward + TINY).any() or (-flows.own_a > back + TINY).any():
            return 0.0
        amps = float((room[used] / np.abs(share[used])).min(initial=np.inf))
        fall = flows.fall_ohm[high, high] + flows.fall_ohm[low, low] - 2.0 * flows.fall_ohm[high, low]
        spare = float(flows.own_v[high] - flows.own_v[low]) + self.beyond_mv
        fall += target.beyond_mohm
        amps = min(amps, spare / fall if fall > TINY else np.inf)
        if not np.isfinite(amps):
            return 0.0
        found = target.fault * amps
        if target.through >= 0:
            found += target.sign * float(flows.own_a[target.through] + share[target.through] * amps)
        return found

    @cached_property
    def _known_flows(self) -> dict[tuple[bytes, bytes, int], UnitFlows]:
        return {}

    @cached_property
    def beyond_mv(self) -> float:
        """The voltage in mV that outputs outside of the loop can bring to a fault."""
        outside = [s for s in self.piece.sources if not self.inside[s]]
        return float(np.abs(self.piece.branches.emf_v[outside]).sum()) * 1e3

    @cached_property
    def most_a(self) -> float:
        """A current in A that none of the ways exceeds."""
        forward, back, _ = self.limits
        every = np.concatenate([forward, back])
        amps = float(every[np.isfinite(every)].sum()) + sum(self.draws.values())
        if np.isfinite(forward).all() and np.isfinite(back).all():
            return amps
        ohm, emf = self.sum_of(self.piece.branches.resistance_ohm) * 1e3, self._bands[3]
        flows = self._flows(ohm, emf, -1)
        loops = np.abs(self._bands[2:]).max(axis=0).sum() / max(float(ohm[ohm > TINY].min(initial=1.0)), TINY)
        return amps + float(np.abs(flows.own_a).max()) + float(min(loops, 1e4))

    def _solve(self, target: _Target) -> _Best | None:
        """The most of a target within the bands."""
        self.programmes += 1
        return _Programme(self, target, self._bands).best()

    def _as_it_is(
        self, group: Sequence[_Target], worst: _Target, best: _Best, ohm: FloatArray, emf: FloatArray
    ) -> bool:
        """Whether the piece's own values of the ways have as much of any target as the best has of its own."""
        bands = ohm, ohm, emf, emf
        # With the choices of the best one it mostly reaches as much. Where it does not, a bound without whole
        # choices mostly says that no other ones do. Only what neither settles is searched.
        if best.value_a <= _Programme(self, worst, bands).with_choices_a(best.chosen) * (1.0 + WORTH):
            return True
        for target in group:
            if best.value_a <= _Programme(self, target, bands).bound_a() * (1.0 + WORTH):
                self.programmes += 1
                if best.value_a <= _Programme(self, target, bands).most_a() * (1.0 + WORTH):
                    return True
        return False

    def _spread(self, ohm: FloatArray, emf: FloatArray, asked: frozenset[str]) -> Found:
        """Values of the ways shared out among their branches, each as far within its band as the others."""
        branches = self.piece.branches
        here, volts = branches.resistance_ohm.copy(), branches.emf_v.copy()
        least, most, low, high = self._bands
        for k, way in enumerate(self.ways):
            at = way.branches
            if most[k] > least[k]:
                part = min(1.0, max(0.0, float(ohm[k] - least[k]) / float(most[k] - least[k])))
                here[at] += part * (self.most[at] - here[at])
            if high[k] > low[k]:
                part = (float(emf[k]) - float(low[k])) / float(high[k] - low[k])
                ends = self._emf_ends[0][at], self._emf_ends[1][at]
                volts[at] = way.signs * (ends[0] + part * (ends[1] - ends[0]))
        chosen = np.flatnonzero(self.inside)
        return Found(chosen, here[chosen], volts[chosen], asked)


class _Programme:
    """The mixed-integer programme of one target. Columns: the fault, then loads; then for each of K ways what it
    carries forward and back in A, its drop forward and back in mV, its voltage in mV; the potentials of the joints
    in mV; and for each way whether it carries forward, whether back, and whether it holds its current either way.
    """

    def __init__(
        self, loop: _Loop, target: _Target, bands: tuple[FloatArray, FloatArray, FloatArray, FloatArray]
    ) -> None:
        self.loop, self.target = loop, target
        self.least, self.most, self.low, self.high = bands
        self.place = loop.joint_at
        self.loads = list(loop.draws.items())
        count = len(loop.ways)
        self.count = count
        first = 1 + len(self.loads)
        self.forward, self.back, self.drop, self.rise, self.emf = (
            range(first + n * count, first + (n + 1) * count) for n in range(5)
        )
        self.potential = range(first + 5 * count, first + 5 * count + len(self.place))
        last = self.potential.stop
        self.ahead, self.behind = range(last, last + count), range(last + count, last + 2 * count)
        self.width = last + 4 * count
        self.rows: list[dict[int, float]] = []
        self.lower: list[float] = []
        self.upper: list[float] = []

    def _row(self, values: Mapping[int, float], lower: float, upper: float) -> None:
        self.rows.append(dict(values))
        self.lower.append(lower)
        self.upper.append(upper)

    def most_a(self) -> float:
        """The most of the target in A; 0 where there is no state at all."""
        found = self._run(*self._write(), self._whole)
        return 0.0 if found is None else self._value(found)

    def with_choices_a(self, chosen: FloatArray) -> float:
        """The same with these choices (4 · K,) made, 0 where they have no state."""
        price, bottom, top = self._write()
        first = self.ahead.start
        if (chosen > top[first:]).any():
            return 0.0
        bottom[first:] = top[first:] = chosen
        found = self._run(price, bottom, top, np.zeros(self.width, dtype=np.int64))
        return 0.0 if found is None else self._value(found)

    def bound_a(self) -> float:
        """No less than ``most_a``: with choices made in part."""
        _, bottom, top = self._write()
        price = np.zeros(self.width)
        for column, weight in self._counted():
            price[column] -= weight
        found = self._run(price, bottom, top, np.zeros(self.width, dtype=np.int64))
        return 0.0 if found is None else self._value(found)

    def best(self) -> _Best | None:
        """See ``_Loop._solve``."""
        price, bottom, top = self._write()
        found = self._run(price, bottom, top, self._whole)
        if found is None:
            return None
        # Once more with the choices made, so that none of them is true by a millionth only.
        chosen = np.round(found[self.ahead.start :])
        bottom[self.ahead.start :] = top[self.ahead.start :] = chosen
        again = self._run(price, bottom, top, np.zeros(self.width, dtype=np.int64))
        found = found if again is None else again
        amps = found[self.forward.start : self.forward.stop] - found[self.back.start : self.back.stop]
        drops = found[self.drop.start : self.drop.stop] - found[self.rise.start : self.rise.stop]
        emf = found[self.emf.start : self.emf.stop].copy()
        closed = np.abs(amps) > 1e-6
        closed &= (chosen[2 * self.count : 3 * self.count] + chosen[3 * self.count :]) == 0.0
        ohm = np.where(closed, drops / np.where(closed, amps, 1.0), self.least)
        gone = (chosen[: self.count] + chosen[self.count : 2 * self.count]) == 0.0
        own = self.loop.sum_of(self.loop.piece.branches.emf_v, signed=True) * 1e3
        emf[gone] = np.where(np.abs(self.low - own) > np.abs(self.high - own), self.low, self.high)[gone]
        return _Best(
            self._value(found), np.clip(ohm, self.least, self.most), np.clip(emf, self.low, self.high), chosen
        )

    @property
    def _whole(self) -> IntArray:
        """(columns,) 1 for those that are whole numbers."""
        return (np.arange(self.width) >= self.ahead.start).astype(np.int64)

    def _value(self, found: FloatArray) -> float:
        return sum(weight * float(found[column]) for column, weight in self._counted())

    def _counted(self) -> Iterator[tuple[int, float]]:
        """The columns that the target is the sum of, each with its weight."""
        target = self.target
        if target.fault:
            yield 0, target.fault
        if target.through >= 0:
            yield self.forward[target.through], target.sign
            yield self.back[target.through], -target.sign
        if target.joint >= 0:
            yield from ((1 + n, 1.0) for n, (pair, _) in enumerate(self.loads) if target.joint in pair)

    def _run(self, price: FloatArray, bottom: FloatArray, top: FloatArray, whole: IntArray) -> FloatArray | None:
        from scipy.optimize import Bounds, LinearConstraint, milp  # 0.1 s that many harnesses do without

        at = [(r, c, v) for r, values in enumerate(self.rows) for c, v in values.items()]
        row, column, value = zip(*at, strict=True)
        matrix: Any = sp.csr_array((value, (row, column)), shape=(len(self.rows), self.width))
        answer = milp(
            price,
            integrality=whole,
            bounds=Bounds(bottom, top),
            constraints=LinearConstraint(matrix, self.lower, self.upper),
            options={"mip_rel_gap": WORTH / 2, "node_limit": 2000},
        )
        if answer.status not in (0, NO_ANSWER):
            self.loop.cut = True
        if answer.x is None:
            return None
        found: FloatArray = np.asarray(answer.x, dtype=np.float64)
        return found

    def _write(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        loop, target, count = self.loop, self.target, self.count
        forward, back, opens = loop.limits
        most_a = loop.most_a
        most_mv = 1.5e3 * loop.spread_v + 1e3
        bottom, top = np.zeros(self.width), np.full(self.width, np.inf)
        top[0] = most_a
        for k, (_, amps) in enumerate(self.loads):
            top[1 + k] = amps
        bottom[self.potential.start : self.potential.stop] = -most_mv
        top[self.potential.start : self.potential.stop] = most_mv
        bottom[self.potential.start] = top[self.potential.start] = 0.0
        bottom[self.emf.start : self.emf.stop], top[self.emf.start : self.emf.stop] = self.low, self.high
        top[self.ahead.start :] = 1.0
        held = loop.piece.holds
        for k, way in enumerate(loop.ways):
            gone = k == target.cut
            limits = (0.0, 0.0) if gone else (min(forward[k], most_a), min(back[k], most_a))
            may_open = bool(opens[k]) or gone
            holding = bool(held[way.branches].any())
            for amps, drops, state, holds, limit in (
                (self.forward[k], self.drop[k], self.ahead[k], self.ahead[k] + 2 * count, limits[0]),
                (self.back[k], self.rise[k], self.behind[k], self.behind[k] + 2 * count, limits[1]),
            ):
                # What has opened leaves any voltage across it, a diode that blocks any against its direction.
                apart = may_open or limit <= TINY
                row = {drops: 1.0, amps: -self.most[k]}
                if apart:
                    row |= {self.ahead[k]: most_mv, self.behind[k]: most_mv}
                if holding and limit > TINY:
                    # What holds its current takes any voltage beyond its own drop.
                    row[holds] = -most_mv
                    self._row({amps: 1.0, holds: -limit}, 0.0, np.inf)
                else:
                    top[holds] = 0.0
                self._row(row, -np.inf, most_mv if apart else 0.0)
                top[amps] = limit
                top[drops] = most_mv
                if limit <= TINY:
                    top[state] = 0.0
                self._row({amps: 1.0, state: -limit}, -np.inf, 0.0)
                self._row({drops: 1.0, amps: -self.least[k]}, 0.0, np.inf)
            both = {self.ahead[k]: 1.0, self.behind[k]: 1.0}
            self._row(both, 0.0 if may_open or min(limits) <= TINY else 1.0, 1.0)
            across = {self.emf[k]: 1.0, self.drop[k]: -1.0, self.rise[k]: 1.0}
            ends = {self.potential[self.place[way.first]]: 1.0, self.potential[self.place[way.last]]: -1.0}
            if way.first == way.last:
                ends = {}
            self._row({**across, **ends}, 0.0, 0.0)
        self._laws_of_the_joints()
        # A fault takes what voltage there is, and gives none.
        high, low = self.potential[self.place[target.high]], self.potential[self.place[target.low]]
        self._row({high: 1.0, low: -1.0, 0: -target.beyond_mohm}, -loop.beyond_mv, np.inf)
        price = np.zeros(self.width)
        for k in range(count):
            price[self.drop[k]] = price[self.rise[k]] = RATHER
            price[self.forward[k]] = price[self.back[k]] = -RATHER * self.least[k]
            own = float(loop.piece.branches.emf_v[loop.ways[k].branches] @ loop.ways[k].signs) * 1e3
            price[self.emf[k]] = -RATHER if own >= (self.low[k] + self.high[k]) / 2 else RATHER
        for column, weight in self._counted():
            price[column] -= weight
        return price, bottom, top

    def _laws_of_the_joints(self) -> None:
        at: list[dict[int, float]] = [defaultdict(float) for _ in self.place]
        for k, way in enumerate(self.loop.ways):
            for joint, sign in ((way.first, 1.0), (way.last, -1.0)):
                at[self.place[joint]][self.forward[k]] += sign
                at[self.place[joint]][self.back[k]] -= sign
        drawn: Iterable[tuple[int, tuple[int, int]]] = [(0, (self.target.high, self.target.low))]
        for column, (high, low) in [*drawn, *((1 + n, pair) for n, (pair, _) in enumerate(self.loads))]:
            at[self.place[high]][column] += 1.0
            at[self.place[low]][column] -= 1.0
        for row in at:
            self._row(row, 0.0, 0.0)
