"""A bound over all states of a piece: whatever has opened, blocks or holds, no fault puts more on a part.

For pieces with more devices, outputs, diodes and current-holding parts in loops than every combination can be
tried of. All else of the piece stays linear in what is drawn from it; the current of each of those parts is a
variable of its own, joined to the voltage across it by the state it is in, 0 or 1: a mixed-integer linear
programme with one fault at any place, loads anywhere between nothing and their most. Its states are a superset of
those that can be: fault resistance and the stretches between the ends of a conductor are let go of where they are
not linear. The answer is the solver's bound, not its best state, so it is on the safe side wherever it stops.

Combined overload current drops the rule that there is one fault only: draws at all places at once, none above its
short circuit. Of more than ``MOST_PLACES`` places its states are let go of as well: parts of a state count.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import scipy.sparse as sp

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.unit_flows import unit_flows
from loadloom.graph.faults.any_place import between_paths_out, every_place, highest_voltage_v, most_of_outputs_a
from loadloom.graph.faults.budgets import MOST_BRANCHINGS, MOST_PLACES
from loadloom.graph.faults.piece import CURRENT, POWER, RESISTANCE, Rows, rows_of, variant_of
from loadloom.graph.faults.places import PieceGeometry, Place, Point
from loadloom.graph.faults.response import LoadedVariant
from loadloom.graph.faults.tolerances import TINY, WITHIN

MOST_A = 1e5
"""Stands for a current that neither a device nor resistance bounds."""


SHORT_COUNTS = 5.0
"""A fault's own voltage is looked at where the short circuit of the whole piece is below so many times what devices
let through there.
"""


@dataclass(frozen=True)
class State:
    """A state by branch of the piece: what has opened, which diodes block, what holds its current, and the output
    that is shorted inside, or -1.
    """

    opened: tuple[int, ...]
    blocked: tuple[int, ...]
    holding: tuple[int, ...]
    dead: int


class StateBound:
    """The programmes of one piece. Variables: currents of the G parts that act, their states (0 or 1), draws at
    the P places, whether the fault is at each, currents of the L loads, potentials of the K bodies of copper that
    are left without the parts that act.
    """

    def __init__(self, geometry: PieceGeometry) -> None:
        piece = geometry.piece
        self.geometry, self.piece = geometry, piece
        branches = piece.branches
        source = np.arange(len(branches.ids)) >= branches.edge_count
        acts = piece.in_loop & (np.isfinite(piece.held_a) | source | branches.diode)
        self.acting: IntArray = np.flatnonzero(acts)
        self.flows = unit_flows(len(piece.node_ids), branches, ~acts)
        self.body = np.unique(self.flows.piece, return_inverse=True)[1]
        self.highest_v = highest_voltage_v(piece)
        self.most_a = min(most_of_outputs_a(piece), MOST_A)
        self._find_places()
        loads = piece.loads
        self.drawn = np.zeros((len(piece.node_ids), self.count))
        """(N, V): what each variable draws at each node."""
        every = np.arange(len(self.acting))
        np.add.at(self.drawn, (branches.a[self.acting], every), 1.0)
        np.add.at(self.drawn, (branches.b[self.acting], every), -1.0)
        for n, (high, low) in enumerate(self.ends):
            for point, sign in ((high, 1.0), (low, -1.0)):
                self.drawn[point.a, self.place_at + n] += sign * (1.0 - point.share)
                self.drawn[point.b, self.place_at + n] += sign * point.share
        of_load = self.load_at + np.arange(len(loads.ids))
        np.add.at(self.drawn, (loads.plus, of_load), 1.0)
        np.add.at(self.drawn, (loads.minus, of_load), -1.0)
        self.ways = piece.uneven_ways(~acts)
        even = self.flows.flow @ self.drawn
        self.mixed = self.ways.mixed(even)
        self.currents = self.ways.with_worst(even, self.mixed)
        self.own_ends_a = self.ways.ends(self.flows.own_a)
        """(B, V): current of every branch, with ways in parallel at the worst of their bands."""
        self.currents[self.acting] = 0.0
        self.currents[self.acting, every] = 1.0  # a diode is answered for as well
        self.potential = -self.flows.fall_ohm @ self.drawn
        self.potential[np.arange(len(self.body)), self.body_at + self.body] += 1.0
        self._bound_places()

    # -- variables -------------------------------------------------------------------------------------------------

    @property
    def state_at(self) -> int:
        """Where the states begin."""
        return len(self.acting)

    @property
    def place_at(self) -> int:
        """Where the draws begin."""
        return 2 * len(self.acting)

    @property
    def chosen_at(self) -> int:
        """Where the choice of the place begins."""
        return self.place_at + len(self.ends)

    @property
    def load_at(self) -> int:
        """Where the loads begin."""
        return self.chosen_at + len(self.ends)

    @property
    def body_at(self) -> int:
        """Where the potentials begin."""
        return self.load_at + len(self.piece.loads.ids)

    @property
    def count(self) -> int:
        """Number of variables."""
        return self.body_at + int(self.body.max(initial=-1)) + 1

    def _find_places(self) -> None:
        """Places with the direction in which a fault carries there; both where either can be."""
        piece, branches = self.piece, self.piece.branches
        whole = variant_of(piece, -1, (), ())
        assert whole is not None
        places = every_place(self.geometry, whole)
        listed = list(places.listed)
        self.inside: dict[int, int] = {}
        for s in piece.sources:
            if piece.in_loop[s]:
                self.inside[len(listed)] = s
                plus, minus = Point.at_node(int(branches.b[s])), Point.at_node(int(branches.a[s]))
                listed.append(Place(plus, minus, "source", branches.ids[s], piece.node_ids[int(branches.a[s])]))
        response = LoadedVariant(whole).response(listed)
        either = between_paths_out(self.geometry, listed)
        if len(np.unique(piece.island[branches.a[list(piece.sources)]])) > 1:
            either[:] = True  # one of several in series can be driven backwards by the others
        self.ends: list[tuple[Point, Point]] = []
        self.dead_of: dict[int, int] = {}
        self.loop_ohm: list[float] = []
        where: dict[tuple[int, bool], int] = {}
        for n, place in enumerate(listed):
            open_v = float(response.open_v[n])
            for turned in (False, True):
                if n in self.inside and turned:
                    continue
                stands = open_v < -TINY if turned else open_v > TINY
                if not (stands or either[n] or abs(open_v) <= TINY or n in self.inside):
                    continue
                where[n, turned] = len(self.ends)
                if n in self.inside:
                    self.dead_of[self.inside[n]] = len(self.ends)
                self.ends.append((place.low, place.high) if turned else (place.high, place.low))
                self.loop_ohm.append(float(response.loop_ohm[n]))
        self.own: dict[int, list[tuple[int, bool, bool]]] = defaultdict(list)
        """By conductor: places at its ends, whether at the far one, and whether the fault draws from there."""
        for end in places.own:
            for turned in (False, True):
                if (end.place, turned) in where:
                    self.own[end.branch].append((where[end.place, turned], end.share >= 1.0, end.at_high != turned))

    def _bound_places(self) -> None:
        """The most that a fault can draw at each place: Kirchhoff's current law, and its short circuit.

        What opens adds resistance and no voltage: no short circuit is above that of the whole piece.
        """
        count = len(self.ends)
        law = np.round(self._law[0][:, self.place_at : self.chosen_at], 9) + 0.0
        self._law_key = [law[:, n].tobytes() for n in range(count)]
        self.most_at = np.full(count, self.most_a)
        for alike in self.alike(np.zeros(self.count)):
            gain = np.zeros(self.count)
            gain[self.place_at + alike[0]] = 1.0
            self.most_at[alike] = min(self._law_most(gain, [alike[:1]]), self.most_a)
        ohm = np.array(self.loop_ohm)
        with np.errstate(divide="ignore"):
            short = np.where(ohm > TINY, self.highest_v / np.maximum(ohm, TINY), np.inf)
        self._short_counts = short < SHORT_COUNTS * self.most_at
        self.most_at = np.minimum(self.most_at, short)
        # Between its two ends a pinch on a conductor can draw what is drawn at either of them together.
        for k, ends in self.own.items():
            if self.piece.in_loop[k]:
                top = max(self.most_at[n] for n, _, _ in ends)
                self.most_at[[n for n, _, _ in ends]] = top

    # -- rows ------------------------------------------------------------------------------------------------------

    @cached_property
    def rows(self) -> Rows:
        """What holds a current down outside loops."""
        closed = np.ones(len(self.piece.branches.ids), dtype=np.bool_)
        closed[self.acting] = False
        return rows_of(self.piece, self.flows, closed, (), ())

    @cached_property
    def load_most(self) -> FloatArray:
        """(L,) the most in A that each load draws in any state."""
        loads = self.piece.loads
        most = np.full(len(loads.ids), self.most_a)
        with np.errstate(divide="ignore"):
            power = np.maximum(loads.demand / loads.minimum_v, loads.case_a)
            ohmic = self.highest_v / loads.demand
        most = np.where(loads.kind == CURRENT, loads.demand, most)
        most = np.where(loads.kind == POWER, power, most)
        most = np.where(loads.kind == RESISTANCE, ohmic, most)
        bounded: FloatArray = np.minimum(np.nan_to_num(most, nan=0.0, posinf=self.most_a), self.most_a)
        return bounded

    @cached_property
    def _law(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rows of Kirchhoff's current law and of devices outside loops: matrix, lower and upper end."""
        bodies = int(self.body.max(initial=-1)) + 1
        member = np.zeros((bodies, len(self.body)))
        member[self.body, np.arange(len(self.body))] = 1.0
        matrix = np.concatenate([member @ self.drawn, self.rows.per_node @ self.drawn])
        nothing = np.zeros(bodies)
        # A current that is exceeded by itself is let be: the bound only asks for what adds to it.
        top = np.maximum(self.rows.limit, 0.0)
        return (
            matrix,
            np.concatenate([nothing, np.full(len(top), -np.inf)]),
            np.concatenate([nothing, top]),
        )

    @cached_property
    def _states(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rows that join current and state: nothing through what is open, what it holds through what holds."""
        made: list[tuple[FloatArray, float, float]] = []
        branches, piece = self.piece.branches, self.piece
        for g, k in enumerate(self.acting.tolist()):
            held = min(float(piece.held_a[k]), self.most_a)
            down = held if piece.reverse_too[k] and np.isfinite(piece.held_a[k]) else self.most_a
            row = np.zeros(self.count)
            row[g] = 1.0
            if piece.holds[k]:
                # c >= -down + (down + held) · state, unless it can hold backwards as well
                row[self.state_at + g] = 0.0 if piece.driven_back[k] else -(held + down)
                self._free_inside(row, k, down + held)
                made.append((row, -down, np.inf))
                continue
            upper, lower = row.copy(), row.copy()
            upper[self.state_at + g] = held if not branches.diode[k] else self.most_a
            made.append((upper, -np.inf, upper[self.state_at + g]))
            lower[self.state_at + g] = -down
            made.append((lower, -down, np.inf) if not branches.diode[k] else (row, 0.0, np.inf))
        return _stacked(made, self.count)

    @cached_property
    def _voltages(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rows of Ohm's law across what acts, and of resistive loads."""
        made: list[tuple[FloatArray, float, float]] = []
        piece, branches, own_v = self.piece, self.piece.branches, self.flows.own_v
        for g, k in enumerate(self.acting.tolist()):
            a, b = int(branches.a[k]), int(branches.b[k])
            ohm = float(branches.resistance_ohm[k])
            spare = self.potential[a] - self.potential[b]
            spare[g] -= ohm
            known = float(own_v[a] - own_v[b] + branches.emf_v[k])
            free = self.highest_v + abs(float(branches.emf_v[k]))
            for sign in (1.0, -1.0):
                row = sign * spare
                # 0 in its plain state; a diode that blocks can only lack voltage, one that holds only have it left.
                forwards = piece.holds[k] and not piece.driven_back[k]
                if not (branches.diode[k] and sign > 0.0) and not (forwards and sign < 0.0):
                    row[self.state_at + g] -= free
                if piece.holds[k]:
                    self._free_inside(row, k, -free)
                made.append((row, -np.inf, -sign * known))
        loads = piece.loads
        for n in np.flatnonzero(loads.kind == RESISTANCE).tolist():
            plus, minus = int(loads.plus[n]), int(loads.minus[n])
            least = -self.highest_v if len(piece.sources) > 1 else 0.0
            row = self.potential[plus] - self.potential[minus]
            most = float(self.load_most[n])
            if most > TINY:
                row[self.load_at + n] -= (self.highest_v - least) / most
            made.append((row, least - float(own_v[plus] - own_v[minus]), np.inf))
        return _stacked(made, self.count)

    @cached_property
    def _fault_voltages(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rows of the voltage that is left at the fault, by place."""
        made: list[tuple[FloatArray, float, float]] = []
        for n, (high, low) in enumerate(self.ends):
            row = self._potential(high) - self._potential(low)
            known = self._own_v(high) - self._own_v(low)
            row[self.chosen_at + n] -= self.highest_v
            made.append((row, -self.highest_v - known, np.inf))
        return _stacked(made, self.count)

    def _free_inside(self, row: FloatArray, branch: int, by: float) -> None:
        """Let a row go where the fault is inside the output itself."""
        if branch in self.dead_of:
            row[self.chosen_at + self.dead_of[branch]] += by

    def _potential(self, point: Point) -> FloatArray:
        found: FloatArray = self.potential[point.a] * (1.0 - point.share) + self.potential[point.b] * point.share
        return found

    def _own_v(self, point: Point) -> float:
        own = self.flows.own_v
        return float(own[point.a] * (1.0 - point.share) + own[point.b] * point.share)

    # -- answers ---------------------------------------------------------------------------------------------------

    def _solve(
        self,
        gain: FloatArray,
        places: IntArray,
        top: FloatArray,
        *,
        by_voltage: bool = True,
        by_state: bool = True,
        one: bool = True,
    ) -> tuple[float, FloatArray | None]:
        """A bound above ``gain · v``, and the best variables found, if any. ``places``: those that can draw, up to
        ``top``; ``one``: one of them at a time.
        """
        parts = [self._law, self._states]
        if by_voltage:
            parts.append(self._voltages)
        if by_voltage and one:
            parts.append(_taken(self._fault_voltages, places[self._short_counts[places]]))
        ends = np.arange(len(places))
        row = np.zeros((len(places), self.count))
        row[ends, self.place_at + places] = 1.0
        row[ends, self.chosen_at + places] = -top
        parts.append((row, np.full(len(places), -np.inf), np.zeros(len(places))))
        if one:
            row = np.zeros((1, self.count))
            row[0, self.chosen_at + places] = 1.0
            parts.append((row, np.array([-np.inf]), np.array([1.0])))
        # An output that nothing makes open is out only where the fault is inside.
        for g, k in enumerate(self.acting.tolist()):
            if not np.isfinite(self.piece.held_a[k]) and k in self.dead_of:
                row = np.zeros((1, self.count))
                row[0, self.state_at + g], row[0, self.chosen_at + self.dead_of[k]] = 1.0, -1.0
                parts.append((row, np.array([-np.inf]), np.array([0.0])))
        least, most = np.zeros(self.count), np.zeros(self.count)
        least[: self.state_at] = -self.most_a
        most[: self.state_at] = np.minimum(self.piece.held_a[self.acting], self.most_a)
        most[self.state_at : self.place_at] = 1.0
        most[self.place_at + places], most[self.chosen_at + places] = top, 1.0
        most[self.load_at : self.body_at] = self.load_most
        # One of the potentials is taken as 0.
        least[self.body_at + 1 :], most[self.body_at + 1 :] = -self.highest_v, self.highest_v
        whole = np.zeros(self.count, dtype=np.int64)
        if by_state:
            whole[self.state_at : self.place_at] = 1
            whole[[self.chosen_at + place for place in self.dead_of.values()]] = 1
            by_state = bool(whole.any())
        used = np.flatnonzero((least < 0.0) | (most > 0.0))
        from scipy.optimize import Bounds, LinearConstraint, milp  # 0.1 s that many harnesses do without

        constraint: Any = LinearConstraint(
            sp.csr_array(np.concatenate([p[0][:, used] for p in parts])),
            np.concatenate([p[1] for p in parts]),
            np.concatenate([p[2] for p in parts]),
        )
        with _silent():
            answer = milp(
                -gain[used],
                constraints=constraint,
                bounds=Bounds(least[used], most[used]),
                integrality=whole[used],
                options={"node_limit": MOST_BRANCHINGS, "mip_rel_gap": WITHIN, "presolve": False},
            )
        if answer.status == 2:
            return -np.inf, None  # no state at all
        bound = answer.mip_dual_bound if by_state else answer.fun
        if bound is None or not np.isfinite(bound):
            return np.inf, None
        if answer.x is None:
            return -float(bound), None
        variables = np.zeros(self.count)
        variables[used] = answer.x
        return -float(bound), variables

    def _law_most(self, gain: FloatArray, groups: list[IntArray], *, one: bool = True) -> float:
        """A bound by Kirchhoff's current law alone, with places that it can't tell apart as one."""
        first = np.array([group[0] for group in groups], dtype=np.int64)
        top = np.array([self.most_at[group].max() if one else self.most_at[group].sum() for group in groups])
        return self._solve(gain, first, top, by_voltage=False, by_state=False, one=one)[0]

    def alike(self, gain: FloatArray) -> list[IntArray]:
        """Places that are alike to the current law and to a part."""
        keys: dict[bytes, list[int]] = defaultdict(list)
        for n in range(len(self.ends)):
            keys[self._law_key[n] + bytes(np.round(gain[self.place_at + n], 9) + 0.0)].append(n)
        return [np.array(group, dtype=np.int64) for group in keys.values()]

    def part_gains(self, branch: int) -> list[tuple[float, FloatArray]]:
        """What a part carries either way: without any draw, and per variable. Both parts of it where the fault
        is on it.
        """
        least, most = (float(end[branch]) for end in self.own_ends_a)
        found = []
        for sign in (1.0, -1.0):
            gain = sign * self.currents[branch]
            for place, far, draws in self.own.get(branch, ()):
                if draws == ((sign > 0.0) != far):
                    at = self.place_at + place
                    row = self.ways.row_of.get(branch)
                    each = [self.currents[branch, at]] if row is None else [m[row, at] for m in self.mixed]
                    gain[at] = max(sign * float(amps) for amps in each) + 1.0
            found.append((most if sign > 0.0 else -least, gain))
        return found

    def sustained_fault(self, branch: int, known_a: float, inside: int | None = None) -> tuple[float, State | None]:
        """The bound on a part's sustained fault current in A, at least ``known_a``, and a state that comes nearest
        to it; of faults inside one output only where ``inside`` names it.
        """
        best, state = known_a, None
        for own, gain in self.part_gains(branch):
            if best >= self.most_a:
                break
            groups = self.alike(gain)
            if inside is not None:
                groups = [np.array([self.dead_of[inside]], dtype=np.int64)]
            if own + self._law_most(gain, groups) <= best * (1.0 + WITHIN):
                continue
            left = [group for group in groups if own + self._law_most(gain, [group]) > best * (1.0 + WITHIN)]
            places = np.sort(np.concatenate([np.zeros(0, dtype=np.int64), *left]))
            top = self.most_at[places]
            if own + self._solve(gain, places, top, by_state=False)[0] <= best * (1.0 + WITHIN):
                continue
            value, variables = self._solve(gain, places, top)
            if own + value > best * (1.0 + WITHIN):
                best = min(own + value, max(best, self.most_a))
                state = self._state(variables) if variables is not None else None
        return best, state

    def combined_overload(self, branch: int, known_a: float) -> tuple[float, State | None]:
        """The bound on a part's combined overload current in A, at least ``known_a``, and a state that comes
        nearest to it."""
        best, state = known_a, None
        everywhere = np.arange(len(self.ends))
        for own, gain in self.part_gains(branch):
            if best >= self.most_a:
                break
            if own + self._law_most(gain, self.alike(gain), one=False) <= best * (1.0 + WITHIN):
                continue
            value, variables = self._solve(gain, everywhere, self.most_at, by_state=False, one=False)
            if own + value <= best * (1.0 + WITHIN):
                continue
            if len(self.ends) <= MOST_PLACES:
                value, variables = self._solve(gain, everywhere, self.most_at, one=False)
            if own + value > best * (1.0 + WITHIN):
                best = min(own + value, max(best, self.most_a))
                state = self._state(variables) if variables is not None else None
        return best, state

    def combined_overload_by_law(self, branch: int) -> float:
        """The bound in A that Kirchhoff's current law alone gives on a part's combined overload current."""
        most = max(own + self._law_most(gain, self.alike(gain), one=False) for own, gain in self.part_gains(branch))
        return min(most, self.most_a)

    def _state(self, variables: FloatArray) -> State:
        acts = variables[self.state_at : self.place_at] > 0.5
        dead = [s for s, n in self.dead_of.items() if variables[self.chosen_at + n] > 0.5]
        chosen = [k for k in self.acting[acts].tolist() if k not in dead]
        piece = self.piece
        return State(
            tuple(k for k in chosen if not piece.holds[k] and not piece.branches.diode[k]),
            tuple(k for k in chosen if piece.branches.diode[k]),
            tuple(k for k in chosen if piece.holds[k]),
            dead[0] if dead else -1,
        )


@contextmanager
def _silent() -> Iterator[None]:
    """Keep what the solver prints by itself off standard output, where a report may be going."""
    try:
        kept = os.dup(1)
    except OSError:  # there is none, as in a setting range
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _taken(
    rows: tuple[FloatArray, FloatArray, FloatArray], chosen: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    return rows[0][chosen], rows[1][chosen], rows[2][chosen]


def _stacked(made: list[tuple[FloatArray, float, float]], width: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    if not made:
        return np.zeros((0, width)), np.zeros(0), np.zeros(0)
    return np.array([m[0] for m in made]), np.array([m[1] for m in made]), np.array([m[2] for m in made])
