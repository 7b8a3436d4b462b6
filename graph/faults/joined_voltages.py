"""At which voltages of joined outputs a fault puts the most on a part: seldom where each stands at its highest.

Outputs that are joined by copper or diodes share a fault's current by their voltages and leads. Where one
stands a little above the others it reaches its own trip, or holds its current, before they give anything; where
each stands just so far above the joint as its lead takes at its own limit, all of them give their most at once.
The bands of their voltages say how near to that they may come.

So beside the highest voltages those are searched at which a fault draws the most or puts the most on a stretch
of a loop, by a linear programme for each. The fault's current and how far each output stands below its highest
voltage are its unknowns; that nothing opens and no diode blocks are its rows. Loads are left out of it: the
search itself puts them beside. An output that holds its current gives it at any lower voltage, so that its own
is free downwards. Of the voltages found only those are taken that put more on something than others already do.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.optimize import linprog

from loadloom.graph.circuit.network import BoolArray, FloatArray, Network, OutputVoltage, output_voltage_v
from loadloom.graph.circuit.unit_flows import unit_flows
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import LARGEST_PIECE
from loadloom.graph.faults.piece import Piece, PieceLoads, piece_loads, pieces_of
from loadloom.graph.faults.tolerances import WORTH
from loadloom.graph.model.harness import Harness

STEP_V = 1e-4
"""Voltages nearer to each other than this are the same."""

AT_LIMIT = 1e-6
"""A source within this share of its limit gives all that it can."""

HIGH_RATHER = 1e-7
"""Weight of a volt below the highest against an ampere: of equal answers the highest voltages count."""

LEEWAY_A = 1e-6


@dataclass
class JoinedVoltages:
    """What was found for the pieces of several networks: volts below the highest, (B,) each, and the devices and
    outputs in loops of joined outputs, on whose settings those voltages hang.
    """

    below_v: dict[tuple[object, ...], list[FloatArray]] = field(default_factory=dict)
    devices: set[str] = field(default_factory=set)


def networks_at_joined_voltages(
    harness: Harness,
    network: Network,
    thresholds: Mapping[str, Threshold],
    known: JoinedVoltages,
) -> tuple[Network, ...]:
    """A network with joined outputs at those of their voltages that put the most on a part; itself left out.

    ``known``: what was found for equal pieces of other networks; it is added to.
    """
    highest_v = network.source_voltage_v
    outputs = {o.id: o for o in (output.under(network.case.arrangement) for output in harness.outputs)}
    lowest_v = np.array([output_voltage_v(outputs[name], OutputVoltage.LOWEST) for name in network.source_ids])
    if len(highest_v) < 2 or not (highest_v - lowest_v > STEP_V).any():
        return ()
    place = {name: k for k, name in enumerate(network.source_ids)}
    found: dict[tuple[int, ...], FloatArray] = {}
    for piece in pieces_of(network, thresholds, piece_loads(network, harness)):
        if len(piece.node_ids) > LARGEST_PIECE:
            continue  # joined outputs of such a piece are not determined
        joined = [s for s in piece.sources if piece.in_loop[s]]
        at = {s: place[piece.branches.ids[s]] for s in joined}
        ranged = [s for s in joined if highest_v[at[s]] - lowest_v[at[s]] > STEP_V]
        if len(joined) < 2 or not ranged:
            continue
        room_v = np.zeros(len(piece.branches.ids))
        for s in joined:
            room_v[s] = highest_v[at[s]] if piece.holds[s] else highest_v[at[s]] - lowest_v[at[s]]
        key = _key(piece, room_v)
        if key not in known.below_v:
            levels = _Levels(piece, room_v)
            known.below_v[key] = list(levels.found(frozenset(joined)))
            setting = levels.loops & np.isfinite(piece.held_a)
            known.devices.update(piece.branches.ids[k] for k in np.flatnonzero(setting).tolist())
        for below_v in known.below_v[key]:
            volts = highest_v.copy()
            for s in ranged:
                volts[at[s]] -= 0.0 if piece.holds[s] else below_v[s]
            if (highest_v - volts > STEP_V).any():
                found.setdefault(tuple(np.round(volts / STEP_V).astype(int).tolist()), volts)
    return tuple(replace(network, source_voltage_v=volts) for volts in found.values())


def _key(piece: Piece, room_v: FloatArray) -> tuple[object, ...]:
    """Equal for pieces whose sources come to the same voltages."""
    branches, loads = piece.branches, piece.loads
    arrays = [branches.a, branches.b, branches.resistance_ohm, branches.emf_v, piece.held_a, piece.reverse_too]
    arrays += [piece.holds, piece.island, room_v, loads.plus, loads.minus]
    return branches.ids, *(each.tobytes() for each in arrays)


@dataclass(frozen=True)
class _Programme:
    """Rows ``rows · unknowns <= most`` of a fault at one place: its current in A, then volts below the highest of
    each free source. A target's current is ``base`` (T,) plus ``gain`` (T, unknowns) times them.
    """

    rows: FloatArray
    most: FloatArray
    base: FloatArray
    gain: FloatArray

    def greatest(self, target: int, room_v: Sequence[float]) -> tuple[float, FloatArray] | None:
        """The most of a target, and the unknowns that have it; None where the sources can't all give."""
        price = np.full(len(room_v) + 1, HIGH_RATHER)
        price[0] = 0.0
        bounds = [(0.0, None), *((0.0, room) for room in room_v)]
        answer = linprog(price - self.gain[target], A_ub=self.rows, b_ub=self.most, bounds=bounds)
        if answer.status != 0:
            return None
        unknowns = np.asarray(answer.x, dtype=np.float64)
        return float(self.base[target] + self.gain[target] @ unknowns), unknowns

    def with_voltages(self, below_v: FloatArray) -> FloatArray:
        """(T,) the most of every target with the sources so far below their highest; -inf where none can be."""
        room = self.most - self.rows[:, 1:] @ below_v
        per_a = self.rows[:, 0]
        still = np.abs(per_a) <= LEEWAY_A
        with np.errstate(divide="ignore"):
            ratio = np.where(still, np.inf, room / np.where(still, 1.0, per_a))
        most_a = float(ratio[per_a > LEEWAY_A].min(initial=np.inf))
        least_a = float(ratio[per_a < -LEEWAY_A].max(initial=0.0))
        nothing = np.full(len(self.base), -np.inf)
        if (room[still] < -LEEWAY_A).any() or least_a > most_a + LEEWAY_A or not np.isfinite(most_a):
            return nothing
        base = self.base + self.gain[:, 1:] @ below_v
        return np.maximum(base + self.gain[:, 0] * most_a, base + self.gain[:, 0] * max(0.0, least_a))


class _Levels:
    """The voltages of the joined sources of a piece. ``room_v`` (B,): how far each can stand below its highest."""

    def __init__(self, piece: Piece, room_v: FloatArray) -> None:
        self.piece, self.room_v = piece, room_v
        self.joined = frozenset(s for s in piece.sources if piece.in_loop[s])
        self.loops = np.isin(piece.blocks.label, [piece.blocks.label[s] for s in self.joined]) & piece.in_loop
        self.tried: set[frozenset[int]] = set()

    def found(self, giving: frozenset[int]) -> Iterator[FloatArray]:
        """(B,) volts below the highest that put the most on something, with some of the sources giving.

        The others are blocked by their diodes, or have opened: they stand at their lowest. Where a fault does not
        bring all that give to their limits, those are tried that are left without one of them.
        """
        if len(giving) < 2 or giving in self.tried:
            return
        self.tried.add(giving)
        closed = np.ones(len(self.piece.branches.ids), dtype=np.bool_)
        closed[list(self.joined - giving)] = False
        free = sorted(s for s in giving if self.room_v[s] > 0.0)
        room_v = [float(self.room_v[s]) for s in free]
        programmes = self._programmes(closed, free)
        best: dict[int, tuple[float, FloatArray]] = {}
        for programme in programmes:
            for target in np.flatnonzero(programme.gain.any(axis=1)).tolist():
                answer = programme.greatest(target, room_v)
                if answer is not None and answer[0] > best.get(target, (0.0,))[0]:
                    best[target] = answer
        known = np.zeros(len(programmes[0].base) if programmes else 0)
        self._raise(known, programmes, np.zeros(len(free)))
        for target, (value_a, unknowns) in sorted(best.items()):
            if value_a > known[target] * (1.0 + WORTH) + LEEWAY_A:
                self._raise(known, programmes, unknowns[1:])
                below_v = np.zeros(len(closed))
                below_v[list(self.joined - giving)] = self.room_v[list(self.joined - giving)]
                below_v[free] = unknowns[1:]
                yield below_v
        held_a = sum(float(self.piece.held_a[s]) for s in giving)
        if min((best.get(k, (0.0,))[0] for k in range(len(programmes))), default=0.0) < held_a * (1.0 - AT_LIMIT):
            for s in sorted(giving):
                yield from self.found(giving - {s})

    @staticmethod
    def _raise(known: FloatArray, programmes: Sequence[_Programme], below_v: FloatArray) -> None:
        for programme in programmes:
            np.maximum(known, programme.with_voltages(below_v), out=known)

    def _programmes(self, closed: BoolArray, free: Sequence[int]) -> list[_Programme]:
        """A programme for each place. The targets of all are the faults' own currents, place by place, then each
        stretch of a loop either way.
        """
        piece, branches = self.piece, self.piece.branches
        flows = piece.flows_with(closed)
        per_volt = [_per_volt(piece, s, closed) for s in free]
        # What lies beyond the loops takes what comes, so that no voltage hangs on how it is set.
        limited = np.isfinite(piece.held_a) & closed & self.loops
        backwards, diode = limited & piece.reverse_too, branches.diode & closed
        own_a, held_a = flows.own_a, piece.held_a
        places = list(self._places())
        drawn = np.array([flows.flow[:, a] - flows.flow[:, b] for a, b in places]).reshape(len(places), len(own_a))
        stretch = self._stretches(np.concatenate([drawn, own_a[None, :], *(each[0][None, :] for each in per_volt)]))
        found: list[_Programme] = []
        for (a, b), draw in zip(places, drawn, strict=True):
            through = np.column_stack([draw, *(-amps for amps, _ in per_volt)])
            fall = flows.fall_ohm[a, a] + flows.fall_ohm[b, b] - 2.0 * flows.fall_ohm[a, b]
            shorted = [fall, *(volts[a] - volts[b] for _, volts in per_volt)]
            most = [held_a[limited] - own_a[limited], held_a[backwards] + own_a[backwards], own_a[diode]]
            itself = np.zeros((len(places), 1 + len(free)))
            itself[len(found), 0] = 1.0
            found.append(
                _Programme(
                    np.concatenate([through[limited], -through[backwards], -through[diode], [shorted]]),
                    np.concatenate([*most, [flows.own_v[a] - flows.own_v[b]]]),
                    np.concatenate([np.zeros(len(places)), own_a[stretch], -own_a[stretch]]),
                    np.concatenate([itself, through[stretch], -through[stretch]]),
                )
            )
        return found

    def _stretches(self, columns: FloatArray) -> list[int]:
        """One branch of each stretch of the loops: branches in series carry the same in every column."""
        found: dict[tuple[float, ...], int] = {}
        for k in np.flatnonzero(self.loops).tolist():
            column = np.round(columns[:, k], 9) + 0.0
            turned = column if tuple(column) >= tuple(-column) else -column
            found.setdefault(tuple((turned + 0.0).tolist()), k)
        return list(found.values())

    def _places(self) -> Iterator[tuple[int, int]]:
        """Pairs of nodes, a higher and a lower one, between which a fault is tried: where current leaves the loops
        of joined outputs, and beside each source, diode and device in them.
        """
        piece, branches, inside = self.piece, self.piece.branches, self.loops
        on_loop = set(np.concatenate([branches.a[inside], branches.b[inside]]).tolist())
        loads: PieceLoads = piece.loads
        acting = inside & (np.isfinite(piece.held_a) | branches.diode)
        acting[list(self.joined)] = True
        beside = [branches.a[acting], branches.b[acting]]
        leaving = [branches.a[~inside], branches.b[~inside], loads.plus, loads.minus]
        by_island: dict[int, list[int]] = {}
        for node in sorted(on_loop & set(np.concatenate([*beside, *leaving]).tolist())):
            by_island.setdefault(int(piece.island[node]), []).append(node)
        volts = piece.whole.own_v
        for one, other in itertools.combinations(by_island.values(), 2):
            high, low = (one, other) if volts[one[0]] > volts[other[0]] else (other, one)
            yield from itertools.product(high, low)


def _per_volt(piece: Piece, source: int, closed: BoolArray) -> tuple[FloatArray, FloatArray]:
    """(B,) currents and (N,) potentials that one volt in a source alone drives."""
    volt = np.zeros(len(closed))
    volt[source] = 1.0
    flows = unit_flows(len(piece.node_ids), replace(piece.branches, emf_v=volt), closed)
    return flows.own_a, flows.own_v
