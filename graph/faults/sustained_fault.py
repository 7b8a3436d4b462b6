"""Sustained fault current: the most that one fault can hold on each part without anything opening.

Parts are conductors, contacts, switches and diodes; splices are answered for by their cuts (``splice_cuts``), which
are numbered behind the branches.

Within one variant of a piece every current is linear in the fault current x and the load currents y, so the
most on a part with the fault at one place is a small linear programme: 0 <= x, 0 <= y <= what the load can
draw, nothing opens, the fault's own voltage is not negative. Bounds are found first for all places at once: a
state that can be reached (no load on, or every load on that adds to the part), and above it the bound that the
row holding that state gives by weak duality. Where both meet, as in every tree, the answer is exact without
more; the rest goes to the solver, the most promising place of each part first.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray
from loadloom.graph.circuit.programmes import solve_programmes
from loadloom.graph.faults.piece import POWER, RESISTANCE, Variant
from loadloom.graph.faults.places import KINDS, OwnEnd, PieceGeometry, Place, Places
from loadloom.graph.faults.response import LoadedVariant, Response
from loadloom.graph.faults.tolerances import SAME, TINY


@dataclass(frozen=True)
class Hit:
    """The best found for one part: value (A), how much of the part carries it (0…1), and the state that does.

    ``fault_a`` is x, ``loads_a`` (L,) is y; place None where no fault adds to the loads' own current.
    ``per_fault_a`` is the part's current per ampere of fault current. ``fed_by_loads``: the fault carries what
    loads feed through it, and no more (``cut_off``). ``adds_pulses``: what pulsed loads add counts with the sum of
    their root mean squares, which is no less than that of their sum: a bound. So is one of a fault ``between_ends``
    of a conductor, for which no single point is known that has it.
    """

    value_a: float
    extent: float
    place: Place | None
    fault_a: float
    loads_a: FloatArray
    per_fault_a: float
    fed_by_loads: bool = False
    adds_pulses: bool = False
    between_ends: bool = False

    def rank(self) -> tuple[float, float, int]:
        """Order among equally bad hits: the whole part carries it, loads off, the plainer kind of fault."""
        kind = KINDS.index(self.place.kind) if self.place else len(KINDS)
        return (-round(self.extent, 6), float(np.count_nonzero(self.loads_a > TINY)), kind)


@dataclass(frozen=True)
class Queries:
    """Q pairs of a part and a place. ``place`` and ``branch`` (Q,) number them; the part's current is ``base`` plus
    ``gain`` per ampere of fault plus ``helps`` (Q, L) per ampere of each load. ``extent``: how much of the part
    carries it. ``own_end``: of the last queries, the end of a conductor that lies at the place.
    """

    response: Response
    listed: list[Place]
    place: IntArray
    branch: IntArray
    gain: FloatArray
    base: FloatArray
    helps: FloatArray
    extent: FloatArray
    own_end: list[OwnEnd]

    def place_of(self, q: int, variant: Variant) -> Place:
        """The place of a query, named by the conductor that is asked about where it lies on it."""
        there, own = self.listed[int(self.place[q])], q - len(self.place) + len(self.own_end)
        return there if own < 0 else named(there, self.own_end[own], variant)


class Search:
    """The sustained fault current of every part of one variant of a piece.

    ``known_a``: what is known of a part by id in A from other states; no programme is solved that can't exceed it.
    ``enough_a``: of a part that is above this, nothing more is asked.
    """

    def __init__(
        self,
        geometry: PieceGeometry,
        variant: Variant,
        known_a: Callable[[str], float] = lambda name: 0.0,
        enough_a: Mapping[str, float] = MappingProxyType({}),
    ) -> None:
        self.geometry = geometry
        self.known_a = known_a
        self.enough_a = enough_a
        self.variant = variant
        self.loaded = LoadedVariant(variant)
        self.parts = np.array(geometry.parts, dtype=np.int64)
        self.cuts = geometry.cuts
        count = len(variant.piece.branches.ids)
        self.asked: IntArray = np.concatenate([self.parts, count + np.arange(len(self.cuts.listed))])
        self.places = Places()
        self.best: dict[int, Hit] = {}
        self.cut_short: set[str] = set()
        """Budgets that have cut something, by name (``budgets.SAID``)."""

    # -- what flows, found when it is asked for: in most states no fault can hold anything ------------------

    @cached_property
    def own_ends_a(self) -> tuple[FloatArray, FloatArray]:
        """(B + V,) each: the least and the most that the voltages drive in every branch and cut, with its sign."""
        ways, own_a = self.variant.ways, self.variant.flows.own_a
        ends = ways.ends(own_a)
        if not len(self.cuts.listed):
            return ends
        cuts = ways.ends_of_cuts(self.cuts.weights, own_a)
        return np.concatenate([ends[0], cuts[0]]), np.concatenate([ends[1], cuts[1]])

    def own_along_a(self, branch: IntArray | int, sign: FloatArray | float) -> FloatArray:
        """The most that the voltages drive in branches and cuts (Q,), or in one, along a direction, so negative
        where they drive it the other way. What is taken off a fault's current so is the least: the mixture of
        resistances that has the most of the fault need not have the most of what flows against it.
        """
        least, most = self.own_ends_a
        return np.where(np.asarray(sign) > 0.0, most[branch], -least[branch])

    @cached_property
    def load_branch(self) -> FloatArray:
        """(B + V, L) currents of branches and cuts per ampere of each load."""
        return self._with_cuts(self.loaded.load_branch, self.loaded.load_even)

    # -- splices --------------------------------------------------------------------------------------------

    def name(self, branch: int) -> str:
        """The id of what a branch, or a cut behind the branches, belongs to."""
        ids = self.variant.piece.branches.ids
        return ids[branch] if branch < len(ids) else self.cuts.listed[branch - len(ids)]

    def _with_cuts(self, by_branch: FloatArray, even: FloatArray) -> FloatArray:
        """Values by branch (B, ...) with those of the cuts behind them, from the ``even`` ones of the network."""
        if not len(self.cuts.listed):
            return by_branch
        return np.concatenate([by_branch, self.variant.ways.of_cuts(self.cuts.weights, even)])

    def through(self, response: Response) -> FloatArray:
        """(B + V, P) currents of branches and cuts per ampere of fault at each place."""
        return self._with_cuts(response.branch, response.currents.even)

    def cut_ends(self, conductor: int) -> Iterator[tuple[int, float]]:
        """The cuts that a conductor is in, numbered behind the branches, with its sign in them."""
        count = len(self.variant.piece.branches.ids)
        for v in np.flatnonzero(self.cuts.weights[:, conductor]).tolist():
            yield count + v, float(self.cuts.weights[v, conductor])

    # -- bounds and programmes ------------------------------------------------------------------------------

    def without_fault(self) -> None:
        """Start from the loads' own currents: what flows where no fault adds to it."""
        most = np.where(self.loaded.kind == POWER, 0.0, self.loaded.demand)
        volts = np.maximum(np.abs(self.loaded.load_open_v), TINY)
        with np.errstate(divide="ignore"):
            by_power = np.maximum(self.loaded.demand / np.maximum(volts, self.loaded.minimum), self.loaded.case_a)
            most = np.where(self.loaded.kind == POWER, by_power, most)
            most = np.where(self.loaded.kind == RESISTANCE, volts / self.loaded.demand, most)
        rows, limit = self.loaded.load_rows, self.variant.rows.limit
        if (limit < -TINY).any():
            return
        through = self.load_branch[self.asked]
        for sign in (1.0, -1.0):
            drawn = np.where(sign * through > TINY, most, 0.0)
            over = drawn @ rows.T
            with np.errstate(divide="ignore", invalid="ignore"):
                room = np.where(over > TINY, limit / over, np.inf).min(axis=1, initial=1.0)
            drawn *= room[:, None]
            value = self.own_along_a(self.asked, sign) + sign * (through * drawn).sum(axis=1)
            pulses = np.logical_and(self.loaded.share < 1.0, drawn > TINY).max(axis=1, initial=False)
            for k, value_a, loads_a, adds_pulses in zip(
                self.asked.tolist(), value.tolist(), drawn, pulses.tolist(), strict=True
            ):
                self._offer(k, Hit(value_a, 1.0, None, 0.0, loads_a, 0.0, adds_pulses=adds_pulses))

    def value_a(self, branch: int) -> float:
        """The most found so far for a branch in A, in this state or another, 0 for none; inf where it is enough."""
        found, name = self.best[branch].value_a if branch in self.best else 0.0, self.name(branch)
        value = max(found, self.known_a(name))
        return math.inf if value > self.enough_a.get(name, math.inf) else value

    def queries(self, places: Places) -> Queries | None:
        """All pairs of a part that is asked for and a place that says something of it."""
        response = self.loaded.response_at(places)
        sound = self.loaded.most_fault(response, response.most_a) < 1e12
        sound &= np.isfinite(response.most_a).all(axis=1)
        sound &= self.loaded.holds_somehow(response)
        if not sound.any():
            return None
        through = self.through(response)[self.asked]
        worth = (np.abs(through) > TINY) & sound[None, :]
        if len(self.cuts.listed):
            row_of = {k: n for n, k in enumerate(self.asked.tolist())}
            for end in places.own:
                if 0.0 < end.share < 1.0:
                    for cut, _ in self.cut_ends(end.branch):
                        worth[row_of[cut], end.place] = False  # asked by the part of the conductor at the splice
        part_row, place = np.nonzero(worth)
        branch = self.asked[part_row]
        per_fault = through[part_row, place]
        extent = np.ones(len(place))
        own_place, own_branch, own_per_fault, own_extent, own_end = self._own_queries(places.own, response, sound)
        first_own = len(place)
        place = np.concatenate([place, own_place])
        branch = np.concatenate([branch, own_branch])
        per_fault = np.concatenate([per_fault, own_per_fault])
        extent = np.concatenate([extent, own_extent])
        if self.geometry.only is not None:
            asked = np.isin(branch, self.asked)
            own_end = [end for end, kept in zip(own_end, asked[first_own:].tolist(), strict=True) if kept]
            place, branch, per_fault, extent = place[asked], branch[asked], per_fault[asked], extent[asked]
        if not len(place):
            return None
        sign = np.sign(per_fault)
        base, helps = self.own_along_a(branch, sign), sign[:, None] * self.load_branch[branch]
        gain = np.abs(per_fault)
        return Queries(response, places.listed, place, branch, gain, base, helps, extent, own_end)

    def search(self, places: Places) -> None:
        """Bound all (place, part) pairs at once, then solve what the bounds leave open."""
        queries = self.queries(places)
        if queries is None:
            return
        place, branch, gain, helps = queries.place, queries.branch, queries.gain, queries.helps
        reached, above, fault, drawn, whole_cycle = self.bounds(queries.response, place, gain, queries.base, helps)
        pulsed = ((helps != 0.0) & (self.loaded.share < 1.0)[None, :]) if self.variant.piece.pulses else None

        def adds_pulses(q: int, loads_a: FloatArray) -> bool:
            """Whether pulsed loads add to a query's part in a state whose cycle was not followed."""
            return pulsed is not None and not whole_cycle[q] and bool((pulsed[q] & (loads_a > TINY)).any())

        loads_on = (drawn > TINY).sum(axis=1)
        kind = np.array([KINDS.index(p.kind) for p in places.listed])[place]
        for q in _best_of_each(branch, reached, (kind, loads_on, -queries.extent.round(6))).tolist():
            hit = Hit(
                float(reached[q]),
                float(queries.extent[q]),
                queries.place_of(q, self.variant),
                float(fault[q]),
                drawn[q].copy(),
                float(gain[q]),
                adds_pulses=adds_pulses(q, drawn[q]),
            )
            self._offer(int(branch[q]), hit)
        self._solve_rest(queries, adds_pulses, above, reached)

    def _own_queries(
        self, own: list[OwnEnd], response: Response, sound: np.ndarray
    ) -> tuple[IntArray, IntArray, FloatArray, FloatArray, list[OwnEnd]]:
        """The near and far part of the conductor that a place lies on, for every place on one; and every cut that
        the conductor is in, with its part at the splice.
        """
        own = [o for o in own if sound[o.place]]
        place = np.array([o.place for o in own], dtype=np.int64)
        branch = np.array([o.branch for o in own], dtype=np.int64)
        share = np.array([o.share for o in own])
        sign = np.array([1.0 if o.at_high else -1.0 for o in own])
        through = response.currents.even[branch, place] if len(own) else np.zeros(0)
        near, far = through + sign * (1.0 - share), through - sign * share
        for n, end in enumerate(own):
            if end.branch in self.variant.ways.row_of:
                near[n], far[n] = response.on_end(end)
        both = np.concatenate([near, far])
        extent = np.concatenate([share, 1.0 - share])
        keep = np.abs(both) > TINY
        ends = [end for end, kept in zip(own + own, keep.tolist(), strict=True) if kept]
        found = (np.tile(place, 2)[keep], np.tile(branch, 2)[keep], both[keep], extent[keep])
        if not len(self.cuts.listed):
            return (*found, ends)
        every = self.through(response)
        asked = [
            (o, cut, float(every[cut, o.place]) + at_splice(weight, o.share, o.at_high))
            for o in own
            for cut, weight in self.cut_ends(o.branch)
        ]
        asked = [each for each in asked if abs(each[2]) > TINY]
        return (
            np.concatenate([found[0], np.array([o.place for o, _, _ in asked], dtype=np.int64)]),
            np.concatenate([found[1], np.array([cut for _, cut, _ in asked], dtype=np.int64)]),
            np.concatenate([found[2], np.array([gain for _, _, gain in asked])]),
            np.concatenate([found[3], np.ones(len(asked))]),
            [*ends, *(o for o, _, _ in asked)],
        )

    def bounds(
        self, response: Response, place: IntArray, gain: FloatArray, base: FloatArray, helps: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, BoolArray]:
        """For Q queries: the best state reached, a bound above every state, that state's x and y, and whether its
        value is that of its whole cycle, pulse by pulse, and no state's is greater.
        """
        limit = self.variant.rows.limit
        rows = np.concatenate([response.rows[:, place].T, response.loop_ohm[place][:, None]], axis=1)
        most = response.most_a[place]
        fall = response.fall[place]
        room_off = np.concatenate(
            [np.broadcast_to(limit, (len(place), len(limit))), response.open_v[place][:, None]], axis=1
        )
        on = np.where(helps > TINY, most, 0.0)
        # A resistive load draws less than its most once its voltage falls: not counted in a state reached.
        on = np.where((self.loaded.kind == RESISTANCE)[None, :], 0.0, on)
        taken = np.concatenate([on @ self.loaded.load_rows.T, (fall * on).sum(axis=1)[:, None]], axis=1)
        room_on = room_off - taken

        def fault_of(room: FloatArray) -> tuple[FloatArray, IntArray, np.ndarray]:
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = np.where(rows > TINY, room / rows, np.inf)
            which = ratio.argmin(axis=1)
            x = np.take_along_axis(ratio, which[:, None], axis=1)[:, 0]
            finite = np.where(np.isfinite(x), np.maximum(x, 0.0), 0.0)
            left = room - rows * finite[:, None]
            fine = np.isfinite(x) & (left >= -TINY * (1.0 + np.abs(room_off))).all(axis=1)
            return np.where(fine, finite, 0.0), which, fine

        off_x, off_row, off_fine = fault_of(room_off)
        on_x, on_row, on_fine = fault_of(room_on)
        off_value = np.where(off_fine, base + gain * off_x, -np.inf)
        on_value = np.where(on_fine, base + gain * on_x + (helps * on).sum(axis=1), -np.inf)
        better = on_value > off_value * (1.0 + SAME) + TINY
        reached = np.where(better, on_value, off_value)
        fault = np.where(better, on_x, off_x)
        drawn = np.where(better[:, None], on, 0.0)

        above = np.full(len(place), np.inf)
        every = np.arange(len(place))
        for row in (off_row, on_row):
            per_x, room = rows[every, row], room_off[every, row]
            with np.errstate(divide="ignore", invalid="ignore"):
                price = np.where(per_x > TINY, gain / per_x, np.inf)
                is_short = (row == len(limit))[:, None]
                per_y = np.where(
                    is_short, fall, self.loaded.load_rows[np.minimum(row, len(limit) - 1)] if len(limit) else fall
                )
                left = np.maximum(helps - price[:, None] * per_y, 0.0) * most
                bound = base + price * room + left.sum(axis=1)
            above = np.fmin(above, np.where(np.isfinite(bound), bound, np.inf))
        followed = np.zeros(len(place), dtype=np.bool_)
        if self.variant.piece.pulses:
            # One more row stands for the short itself, which no device sees.
            none = np.zeros((1, len(self.loaded.plus)))
            per_amp = np.concatenate([self.loaded.per_amp, none])[off_row]
            per_y = np.where((off_row == len(limit))[:, None], fall, per_amp)
            price = np.where(off_fine, gain / np.where(off_fine, rows[every, off_row], 1.0), 0.0)
            rides = np.concatenate([self.loaded.rides, none > 0.0])[off_row]
            cycle_a, drawing, followed = self._whole_cycle(
                rows, room_off, off_x, off_fine, most, gain, base, helps, price[:, None] * per_y, rides
            )
            reached = np.where(followed, cycle_a, reached)
            above = np.where(followed, cycle_a, above)
            fault = np.where(followed, off_x, fault)
            drawn = np.where(followed[:, None], drawing, drawn)
        return reached, above, fault, drawn, followed

    def _whole_cycle(
        self,
        rows: FloatArray,
        room: FloatArray,
        fault_a: FloatArray,
        fine: BoolArray,
        most: FloatArray,
        gain: FloatArray,
        base: FloatArray,
        helps: FloatArray,
        worth: FloatArray,
        rides: BoolArray,
    ) -> tuple[FloatArray, FloatArray, BoolArray]:
        """The root mean square over a cycle with the fault at its most, and with every load that adds and takes
        nothing from it; those loads; and for which queries no state has more.

        That is where a load that takes from the fault adds no more than it takes (``worth``), at any moment: then
        no moment of any state has more current than the same moment of this one.
        """
        loaded = self.loaded
        adds = helps > TINY
        on = np.where(adds & (worth <= TINY), most, 0.0)
        taking = adds & (worth > TINY)
        own = base + gain * fault_a
        ohmic = (loaded.kind == RESISTANCE)[None, :]
        fine = fine & (own >= 0.0) & ~(adds & ohmic & (worth <= TINY)).any(axis=1)
        fine &= ~(taking & (rides | (helps > worth * (1.0 + SAME)))).any(axis=1)
        # A state without pulses is exact as it is.
        fine &= (adds & (loaded.share < 1.0)[None, :]).any(axis=1)
        square = np.zeros(len(gain))
        left = room[:, :-1] - rows[:, :-1] * fault_a[:, None]
        leeway = TINY * (1.0 + np.abs(room[:, :-1]))
        for share, level in loaded.cycle:
            square += share * (own + (helps * on) @ level) ** 2
            taken = (on * level) @ np.where(loaded.rides, 0.0, loaded.per_amp).T
            taken += on @ np.where(loaded.rides, loaded.load_rows, 0.0).T
            fine &= (taken <= left + leeway).all(axis=1)
        return np.sqrt(square), on, fine

    def _floor_a(self, branch: int) -> float:
        """What a bound must exceed to be worth solving, -inf where nothing is known."""
        value = self.value_a(branch)
        return value if value > 0.0 or branch in self.best else -np.inf

    def _offer(self, branch: int, hit: Hit) -> None:
        known = self.best.get(branch)
        if (
            known is None
            or hit.value_a > known.value_a * (1.0 + SAME) + TINY
            or (hit.value_a >= known.value_a * (1.0 - SAME) - TINY and hit.rank() < known.rank())
        ):
            self.best[branch] = hit

    def _solve_rest(
        self,
        queries: Queries,
        adds_pulses: Callable[[int, FloatArray], bool],
        above: FloatArray,
        reached: FloatArray,
    ) -> None:
        """Solve, part by part from the highest bound down, until no bound is above what was found."""
        branch, gain, base, helps = queries.branch, queries.gain, queries.base, queries.helps
        floor_of = {k: self._floor_a(k) for k in np.unique(branch).tolist()}
        floor = np.array([floor_of[k] for k in branch.tolist()])
        open_ones = np.flatnonzero((above > floor * (1.0 + SAME) + TINY) & (above > reached * (1.0 + SAME) + TINY))
        waiting: dict[int, list[int]] = {}
        for q in open_ones[np.argsort(-above[open_ones], kind="stable")].tolist():
            waiting.setdefault(int(branch[q]), []).append(q)
        batch_size = 1
        while True:
            batch: list[int] = []
            for k in list(waiting):
                known = self._floor_a(k)
                left = [q for q in waiting[k] if above[q] > known * (1.0 + SAME) + TINY]
                batch += left[:batch_size]
                waiting[k] = left[batch_size:]
                if not waiting[k]:
                    del waiting[k]
            if not batch:
                return
            programmes = [
                self.loaded.programme(queries.response, int(queries.place[q]), float(gain[q]), helps[q])
                for q in batch
            ]
            for q, answer in zip(batch, solve_programmes(programmes), strict=True):
                if answer is not None:
                    value = float(base[q] + gain[q] * answer[0] + helps[q] @ answer[1:])
                    hit = Hit(
                        value,
                        float(queries.extent[q]),
                        queries.place_of(q, self.variant),
                        float(answer[0]),
                        answer[1:],
                        float(gain[q]),
                        adds_pulses=adds_pulses(q, answer[1:]),
                    )
                    self._offer(int(branch[q]), hit)
            batch_size *= 2


def at_splice(weight: float, share: float, at_high: bool) -> float:
    """What a cut gets besides, per ampere of a fault on a conductor that is in it with ``weight``: of the
    conductor, the part between the fault and the splice counts.
    """
    sign = 1.0 if at_high else -1.0
    return weight * (-sign * share if weight > 0.0 else sign * (1.0 - share))


def named(place: Place, end: OwnEnd, variant: Variant) -> Place:
    """A place under the name of the conductor on which ``end`` has it."""
    if place.kind not in ("pinch", "chassis", "wires"):
        return place
    name = f"{variant.piece.branches.ids[end.branch]}:{end.share:.2f}"
    return replace(place, at=name) if end.at_high else replace(place, to=name)


def _best_of_each(branch: IntArray, value: FloatArray, preference: tuple[FloatArray | IntArray, ...]) -> IntArray:
    """Of queries by branch: the one of the greatest value, among equal ones the least by ``preference``, last
    key first.
    """
    order = np.lexsort((-value, branch))
    first = np.concatenate([[True], branch[order][1:] != branch[order][:-1]])
    top = value[order][first][np.cumsum(first) - 1]
    equal: IntArray = order[np.isfinite(top) & (value[order] >= top - SAME * np.abs(top))]
    if not len(equal):
        return equal
    chosen: IntArray = equal[np.lexsort((*(p[equal] for p in preference), branch[equal]))]
    first = np.concatenate([[True], branch[chosen][1:] != branch[chosen][:-1]])
    return np.compress(first, chosen)
