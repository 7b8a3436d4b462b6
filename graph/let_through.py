"""Let-through: the most that one fault can hold on each conductor and contact without anything opening.

Within one variant of a piece every current is linear in the fault current x and the load currents y, so the
most on a part with the fault at one place is a small linear programme: 0 <= x, 0 <= y <= what the load can
draw, nothing opens, the fault's own voltage is not negative. Bounds are found first for all places at once: a
state that can be reached (no load on, or every load on that adds to the part), and above it the bound that the
row holding that state gives by weak duality. Where both meet, as in every tree, the answer is exact without
more; the rest goes to the solver, the most promising place of each part first.

How loads enter, each so that the answer is on the safe side:
constant current: from 0 to its current, at whatever voltage is left;
constant power: from 0 to power / the least voltage that this fault can leave at it, not below its minimum
voltage, where it is taken to stop; with no minimum stated, up to what devices and copper let it have;
resistance: from 0 to its own voltage / resistance, exactly, as a row.

Along a conductor at share s everything drawn at the point is (1 - s) at its one end and s at the other, plus
(1 - s) more in the near part and s less in the far part; the loop resistance is quadratic in s. The most is at
an end, where two rows cross, or where the short's current through the part is stationary: ``shares_along``
solves for all of these.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.fault_piece import POWER, RESISTANCE, TINY, Variant
from loadloom.graph.fault_places import KINDS, OwnEnd, PieceGeometry, Place, Places, Point, find_places
from loadloom.graph.fault_stretches import Stretch, find_stretches
from loadloom.graph.network import CHASSIS_NODE, FloatArray, IntArray
from loadloom.graph.programmes import Programme, solve_programmes

SAME = 1e-7
"""Share within which two let-throughs count as equal, and the place where the whole part carries it is named."""

UNBOUNDED_A = 1e9
"""Stands for a load current that neither a device nor copper bounds."""

MOST_ROUNDS = 200
STRETCHES_TOGETHER = 200
BOUND_ROUNDS = 6


@dataclass(frozen=True)
class Hit:
    """The best found for one part: value (A), how much of the part carries it (0…1), and the state that does.

    ``fault_a`` is x, ``loads_a`` (L,) is y; place None where no fault adds to the loads' own current.
    ``per_fault_a`` is the part's current per ampere of fault current.
    """

    value_a: float
    extent: float
    place: Place | None
    fault_a: float
    loads_a: FloatArray
    per_fault_a: float

    def rank(self) -> tuple[float, float, int]:
        """Order among equally bad hits: the whole part carries it, loads off, the plainer kind of fault."""
        kind = KINDS.index(self.place.kind) if self.place else len(KINDS)
        return (-round(self.extent, 6), float(np.count_nonzero(self.loads_a > TINY)), kind)


@dataclass(frozen=True)
class Response:
    """What P places do to a variant: arrays over places, rows and loads.

    ``branch`` (B, P) currents per ampere of fault; ``rows`` (R, P); ``loop_ohm`` (P,) loop resistance;
    ``open_v`` (P,) voltage without the fault; ``fall`` (P, L) fall of that voltage per ampere of each load;
    ``most_a`` (P, L) the most each load can draw; ``at_load`` (P, L) fall of a load's voltage per fault ampere.
    """

    branch: FloatArray
    rows: FloatArray
    loop_ohm: FloatArray
    open_v: FloatArray
    fall: FloatArray
    at_load: FloatArray
    most_a: FloatArray


class Search:
    """The let-through of every part of one variant of a piece."""

    def __init__(self, geometry: PieceGeometry, variant: Variant) -> None:
        self.geometry = geometry
        self.variant = variant
        piece, flows = variant.piece, variant.flows
        loads = piece.loads
        fed = np.flatnonzero(flows.piece[loads.plus] == flows.piece[loads.minus])
        self.load_at = fed
        self.plus, self.minus = loads.plus[fed], loads.minus[fed]
        self.kind, self.demand, self.minimum = loads.kind[fed], loads.demand[fed], loads.minimum_v[fed]
        self.load_branch = flows.flow[:, self.plus] - flows.flow[:, self.minus]
        self.load_rows = variant.rows.per_node[:, self.plus] - variant.rows.per_node[:, self.minus]
        self.load_fall = flows.fall_ohm[:, self.plus] - flows.fall_ohm[:, self.minus]
        self.load_pair = self.load_fall[self.plus] - self.load_fall[self.minus]
        self.load_open_v = flows.own_v[self.plus] - flows.own_v[self.minus]
        self.parts = np.array(geometry.parts, dtype=np.int64)
        self.best: dict[int, Hit] = {}
        self.programmes_solved = 0
        self.above: dict[int, float] = {}
        """By branch: the answer of a stretch's programme, which is never below the true let-through."""
        highest = float(np.abs(piece.branches.emf_v).sum())
        several = len(piece.sources) > 1
        # A load's voltage can turn round only where another output drives it; then its row must allow for it.
        self.least_load_v = np.full(len(fed), -highest if several else 0.0)

    # -- one answer for all parts ---------------------------------------------------------------------------

    def run(self) -> dict[int, Hit]:
        """Search all places; the best hit by branch."""
        places = find_places(self.geometry, self.variant)
        self.places = places
        self._without_fault()
        self._search(places)
        along = self._along(places, None)
        if along.listed:
            self._search(along)
        self._search_stretches(find_stretches(self.geometry, self.variant, places))
        looped = {k for k in self.geometry.conductors if self.variant.piece.in_loop[k]}
        loaded = {k: h.loads_a for k, h in self.best.items() if k in looped and (h.loads_a > TINY).any()}
        if loaded:
            refined = self._along(places, loaded)
            if refined.listed:
                self._search(refined)
        return self.best

    def response(self, places: list[Place]) -> Response:
        """How everything answers to one ampere at each place."""
        flows, piece = self.variant.flows, self.variant.piece
        high_a = np.array([p.high.a for p in places], dtype=np.int64)
        high_b = np.array([p.high.b for p in places], dtype=np.int64)
        low_a = np.array([p.low.a for p in places], dtype=np.int64)
        low_b = np.array([p.low.b for p in places], dtype=np.int64)
        s, t = np.array([p.high.share for p in places]), np.array([p.low.share for p in places])

        def drawn(per_node: FloatArray) -> FloatArray:
            high = per_node[:, high_a] * (1.0 - s) + per_node[:, high_b] * s
            return high - per_node[:, low_a] * (1.0 - t) - per_node[:, low_b] * t

        def between(at_node: FloatArray) -> FloatArray:
            """(N, K) to (P, K): high minus low."""
            high = at_node[high_a] * (1.0 - s)[:, None] + at_node[high_b] * s[:, None]
            return high - at_node[low_a] * (1.0 - t)[:, None] - at_node[low_b] * t[:, None]

        fall = drawn(flows.fall_ohm)
        every = np.arange(len(places))
        loop = fall[high_a, every] * (1.0 - s) + fall[high_b, every] * s
        loop -= fall[low_a, every] * (1.0 - t) + fall[low_b, every] * t
        ohm = piece.branches.resistance_ohm
        loop += s * (1.0 - s) * ohm[[p.high.branch for p in places]]
        loop += t * (1.0 - t) * ohm[[p.low.branch for p in places]]
        rows, branch = drawn(self.variant.rows.per_node), drawn(flows.flow)
        open_v = between(flows.own_v[:, None])[:, 0]
        at_load = (fall[self.plus] - fall[self.minus]).T
        made = Response(branch, rows, loop, open_v, between(self.load_fall), at_load, np.zeros_like(at_load))
        return Response(*(*_fields(made)[:-1], self._most(made)))

    def _most(self, response: Response) -> FloatArray:
        """The most that every load can draw with the fault at each place, (P, L)."""
        count = len(response.loop_ohm)
        most = np.tile(np.where(self.kind == POWER, np.inf, self.demand), (count, 1))
        resistive = self.kind == RESISTANCE
        with np.errstate(divide="ignore", invalid="ignore"):
            if resistive.any():
                highest = self.load_open_v if len(self.variant.piece.sources) == 1 else -self.least_load_v
                most[:, resistive] = np.maximum(highest, 0.0)[resistive] / self.demand[resistive]
            power = self.kind == POWER
            if not power.any():
                return most
            # To start with, what devices and copper let a load have by itself, or its power at its minimum.
            spare = np.maximum(self.variant.rows.limit, 0.0)[:, None]
            ratio = np.where(self.load_rows > TINY, spare / self.load_rows, np.inf)
            alone = ratio.min(axis=0, initial=np.inf)
            short = np.maximum(self.load_open_v, 0.0) / np.diag(self.load_pair)
            alone = np.fmin(np.where(np.isnan(alone), np.inf, alone), np.where(np.isnan(short), np.inf, short))
            stop = np.where(self.minimum > 0.0, self.demand / self.minimum, np.inf)
            start = np.fmin(alone, stop)
            most[:, power] = start[power]
            fault = self._most_fault(response, most)
            for _ in range(BOUND_ROUNDS):
                drop = most @ np.maximum(self.load_pair, 0.0).T
                least = self.load_open_v - np.maximum(response.at_load, 0.0) * fault[:, None] - drop
                least = np.maximum(least, self.minimum)
                bound = np.where(least > TINY, self.demand / least, np.inf)
                most[:, power] = np.fmin(most, bound)[:, power]
        return np.minimum(most, UNBOUNDED_A)

    def _most_fault(self, response: Response, most: FloatArray) -> FloatArray:
        """An upper bound of the fault current at each place, whatever the loads do, (P,)."""
        with np.errstate(divide="ignore", invalid="ignore"):
            # 0 times a load without bound is 0: it has nothing to do with that row.
            helping = np.nan_to_num(most @ np.maximum(-self.load_rows, 0.0).T, nan=np.inf, posinf=np.inf)
            room = np.maximum(self.variant.rows.limit[None, :] + helping, 0.0)
            ratio = np.where(response.rows.T > TINY, room / response.rows.T, np.inf)
            raised = (most * np.maximum(-response.fall, 0.0)).sum(axis=1)
            raised = np.nan_to_num(raised, nan=np.inf, posinf=np.inf)
            short = np.where(response.loop_ohm > 0.0, (response.open_v + raised) / response.loop_ohm, np.inf)
        return np.maximum(np.fmin(ratio.min(axis=1, initial=np.inf), short), 0.0)

    # -- bounds and programmes ------------------------------------------------------------------------------

    def _without_fault(self) -> None:
        """Start from the loads' own currents: what flows where no fault adds to it."""
        flows = self.variant.flows
        most = np.where(self.kind == POWER, 0.0, self.demand)
        volts = np.maximum(np.abs(self.load_open_v), TINY)
        with np.errstate(divide="ignore"):
            most = np.where(self.kind == POWER, self.demand / np.maximum(volts, self.minimum), most)
            most = np.where(self.kind == RESISTANCE, volts / self.demand, most)
        rows, limit = self.load_rows, self.variant.rows.limit
        if (limit < -TINY).any():
            return
        for k in self.parts.tolist():
            for sign in (1.0, -1.0):
                drawn = np.where(sign * self.load_branch[k] > TINY, most, 0.0)
                over = rows @ drawn
                with np.errstate(divide="ignore", invalid="ignore"):
                    room = np.where(over > TINY, limit / over, np.inf).min(initial=1.0)
                value = sign * (flows.own_a[k] + self.load_branch[k] @ (drawn * room))
                self._offer(k, Hit(float(value), 1.0, None, 0.0, drawn * room, 0.0))

    def _search(self, places: Places) -> None:
        """Bound all (place, part) pairs at once, then solve what the bounds leave open."""
        response = self.response(places.listed)
        flows = self.variant.flows
        sound = self._most_fault(response, response.most_a) < 1e12
        sound &= np.isfinite(response.most_a).all(axis=1)

        through = response.branch[self.parts]
        part_row, place = np.nonzero((np.abs(through) > TINY) & sound[None, :])
        branch = self.parts[part_row]
        per_fault = through[part_row, place]
        extent = np.ones(len(place))
        own_place, own_branch, own_per_fault, own_extent, own_end = self._own_queries(places.own, response, sound)
        first_own = len(place)

        def place_of(q: int) -> Place:
            """The place of a query, named by the conductor that is asked about where it lies on it."""
            there = places.listed[int(place[q])]
            return there if q < first_own else _named(there, own_end[q - first_own], self.variant)

        place = np.concatenate([place, own_place])
        branch = np.concatenate([branch, own_branch])
        per_fault = np.concatenate([per_fault, own_per_fault])
        extent = np.concatenate([extent, own_extent])
        if not len(place):
            return
        sign = np.sign(per_fault)
        gain = np.abs(per_fault)
        base = sign * flows.own_a[branch]
        helps = sign[:, None] * self.load_branch[branch]

        reached, above, fault, drawn = self._bounds(response, place, gain, base, helps)
        order = np.lexsort((-reached, branch))
        for q in self._worth_offering(order, branch, reached).tolist():
            hit = Hit(
                float(reached[q]),
                float(extent[q]),
                place_of(q),
                float(fault[q]),
                drawn[q].copy(),
                float(gain[q]),
            )
            self._offer(int(branch[q]), hit)
        self._solve_rest(place_of, response, place, branch, gain, base, helps, extent, above, reached)

    def _own_queries(
        self, own: list[OwnEnd], response: Response, sound: np.ndarray
    ) -> tuple[IntArray, IntArray, FloatArray, FloatArray, list[OwnEnd]]:
        """The near and far part of the conductor that a place lies on, for every place on one."""
        own = [o for o in own if sound[o.place]]
        place = np.array([o.place for o in own], dtype=np.int64)
        branch = np.array([o.branch for o in own], dtype=np.int64)
        share = np.array([o.share for o in own])
        sign = np.array([1.0 if o.at_high else -1.0 for o in own])
        through = response.branch[branch, place] if len(own) else np.zeros(0)
        near, far = through + sign * (1.0 - share), through - sign * share
        both = np.concatenate([near, far])
        extent = np.concatenate([share, 1.0 - share])
        keep = np.abs(both) > TINY
        ends = [end for end, kept in zip(own + own, keep.tolist(), strict=True) if kept]
        return np.tile(place, 2)[keep], np.tile(branch, 2)[keep], both[keep], extent[keep], ends

    def _bounds(
        self, response: Response, place: IntArray, gain: FloatArray, base: FloatArray, helps: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """For Q queries: the best state reached, a bound above every state, and that state's x and y."""
        limit = self.variant.rows.limit
        rows = np.concatenate([response.rows[:, place].T, response.loop_ohm[place][:, None]], axis=1)
        most = response.most_a[place]
        fall = response.fall[place]
        room_off = np.concatenate(
            [np.broadcast_to(limit, (len(place), len(limit))), response.open_v[place][:, None]], axis=1
        )
        on = np.where(helps > TINY, most, 0.0)
        # A resistive load draws less than its most once its voltage falls: not counted in a state reached.
        on = np.where((self.kind == RESISTANCE)[None, :], 0.0, on)
        taken = np.concatenate([on @ self.load_rows.T, (fall * on).sum(axis=1)[:, None]], axis=1)
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
                    is_short, fall, self.load_rows[np.minimum(row, len(limit) - 1)] if len(limit) else fall
                )
                left = np.maximum(helps - price[:, None] * per_y, 0.0) * most
                bound = base + price * room + left.sum(axis=1)
            above = np.fmin(above, np.where(np.isfinite(bound), bound, np.inf))
        return reached, above, fault, drawn

    def _worth_offering(self, order: IntArray, branch: IntArray, reached: FloatArray) -> IntArray:
        """Of queries in order of (branch, falling value): those that tie with the best of their branch."""
        sorted_branch = branch[order]
        first = np.concatenate([[True], sorted_branch[1:] != sorted_branch[:-1]])
        top = reached[order][first][np.cumsum(first) - 1]
        return order[np.isfinite(top) & (reached[order] >= top - SAME * np.abs(top))]

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
        place_of: Callable[[int], Place],
        response: Response,
        place: IntArray,
        branch: IntArray,
        gain: FloatArray,
        base: FloatArray,
        helps: FloatArray,
        extent: FloatArray,
        above: FloatArray,
        reached: FloatArray,
    ) -> None:
        """Solve, part by part from the highest bound down, until no bound is above what was found."""
        floor = np.array([self.best[k].value_a if k in self.best else -np.inf for k in branch.tolist()])
        open_ones = np.flatnonzero((above > floor * (1.0 + SAME) + TINY) & (above > reached * (1.0 + SAME) + TINY))
        waiting: dict[int, list[int]] = {}
        for q in open_ones[np.argsort(-above[open_ones], kind="stable")].tolist():
            waiting.setdefault(int(branch[q]), []).append(q)
        batch_size = 1
        for _ in range(MOST_ROUNDS):
            batch: list[int] = []
            for k in list(waiting):
                known = self.best[k].value_a if k in self.best else -np.inf
                left = [q for q in waiting[k] if above[q] > known * (1.0 + SAME) + TINY]
                batch += left[:batch_size]
                waiting[k] = left[batch_size:]
                if not waiting[k]:
                    del waiting[k]
            if not batch:
                return
            programmes = [self._programme(response, int(place[q]), float(gain[q]), helps[q]) for q in batch]
            self.programmes_solved += len(batch)
            for q, answer in zip(batch, solve_programmes(programmes), strict=True):
                if answer is not None:
                    value = float(base[q] + gain[q] * answer[0] + helps[q] @ answer[1:])
                    hit = Hit(
                        value,
                        float(extent[q]),
                        place_of(q),
                        float(answer[0]),
                        answer[1:],
                        float(gain[q]),
                    )
                    self._offer(int(branch[q]), hit)
            batch_size *= 2

    def _programme(self, response: Response, place: int, gain: float, helps: FloatArray) -> Programme:
        """The linear programme of one query: variables x and y, all rows written out."""
        limit = self.variant.rows.limit
        blocks = [np.column_stack([response.rows[:, place], self.load_rows])]
        blocks.append(np.concatenate([[response.loop_ohm[place]], response.fall[place]])[None])
        right = [limit, response.open_v[[place]]]
        most = response.most_a[place]
        resistive = np.flatnonzero((self.kind == RESISTANCE) & (most > TINY))
        if len(resistive):
            least = self.least_load_v[resistive]
            top = most[resistive] * self.demand[resistive]
            own = self.load_pair[resistive].copy()
            own[np.arange(len(resistive)), resistive] += (top - least) / most[resistive]
            blocks.append(np.column_stack([response.at_load[place][resistive], own]))
            right.append(self.load_open_v[resistive] - least)
        return Programme(
            np.concatenate([[gain], helps]),
            np.concatenate(blocks),
            np.concatenate(right),
            np.concatenate([[np.inf], most]),
        )

    # -- stretches ------------------------------------------------------------------------------------------

    def _search_stretches(self, stretches: list[Stretch]) -> None:
        """Faults anywhere on a stretch: first a bound, then the programme, then its point as a place.

        A current drawn at a point between two ends is drawn partly at each. The stretch's programme has one
        fault current for each of its corners and a voltage row that lies above the true one (the loop
        resistance between the ends is never below the line between them), so its answer is never below any
        point's; the answer's own point is then searched like any other place.
        """
        if not stretches:
            return
        response = self.response(self.places.listed)
        flows, limit = self.variant.flows, self.variant.rows.limit
        asked: list[tuple[float, int, float, Stretch, FloatArray]] = []
        for stretch in stretches:
            corners = list(stretch.corners)
            rows = np.concatenate([response.rows[:, corners], response.loop_ohm[None, corners]])
            room = np.concatenate([limit, [response.open_v[corners].max()]])
            taken = np.concatenate([self.load_rows, response.fall[corners].min(axis=0)[None]])
            most = response.most_a[corners].max(axis=0)
            branch, gains = self._stretch_gains(stretch, response)
            for sign in (1.0, -1.0):
                bound = _stretch_bound(
                    sign * gains,
                    rows,
                    room,
                    sign * flows.own_a[branch],
                    sign * self.load_branch[branch],
                    taken,
                    most,
                )
                for n in np.flatnonzero(bound > self._floor(branch)).tolist():
                    asked.append((float(bound[n]), int(branch[n]), sign, stretch, gains[n]))
        asked.sort(key=lambda item: -item[0])
        for start in range(0, len(asked), STRETCHES_TOGETHER):
            batch = [
                q for q in asked[start : start + STRETCHES_TOGETHER] if q[0] > self._floor(np.array([q[1]]))[0]
            ]
            self._solve_stretches(response, batch)

    def _floor(self, branch: IntArray) -> FloatArray:
        """What a bound must exceed to be worth solving."""
        best = np.array([self.best[k].value_a if k in self.best else 0.0 for k in branch.tolist()])
        return best * (1.0 + 10.0 * SAME) + TINY

    def _stretch_gains(self, stretch: Stretch, response: Response) -> tuple[IntArray, FloatArray]:
        """Branches and their currents per ampere at each corner, (Q, corners): every part, and near and far
        part of the conductors that the stretch lies on.
        """
        corners = list(stretch.corners)
        branch = [*self.parts.tolist()]
        gains = [response.branch[self.parts][:, corners]]
        for k, at_first, sign in stretch.along:
            first = sign * np.array([1.0 if yes else 0.0 for yes in at_first])
            gains += [
                (response.branch[k, corners] + first)[None],
                (response.branch[k, corners] + first - sign)[None],
            ]
            branch += [k, k]
        return np.array(branch, dtype=np.int64), np.concatenate(gains)

    def _solve_stretches(
        self, response: Response, batch: list[tuple[float, int, float, Stretch, FloatArray]]
    ) -> None:
        programmes = []
        for _, k, sign, stretch, gains in batch:
            corners = list(stretch.corners)
            helps = sign * self.load_branch[k]
            parts = [self._programme(response, c, 0.0, helps) for c in corners]
            most = np.max([p.most[1:] for p in parts], axis=0)
            # All rows but the voltage's are the same at every corner, up to the fault's own column.
            short = len(self.variant.rows.limit)
            rows = np.column_stack([*(p.rows[:, 0] for p in parts), parts[0].rows[:, 1:]])
            rows[short, len(corners) :] = np.min([p.rows[short, 1:] for p in parts], axis=0)
            right = parts[0].limit.copy()
            right[short] = max(p.limit[short] for p in parts)
            programmes.append(
                Programme(
                    np.concatenate([sign * gains, helps]),
                    rows,
                    right,
                    np.concatenate([np.full(len(corners), np.inf), most]),
                )
            )
        self.programmes_solved += len(programmes)
        found = Places()
        for (_, k, sign, stretch, gains), answer in zip(batch, solve_programmes(programmes), strict=True):
            if answer is None:
                continue
            drawn = answer[: len(stretch.corners)]
            value = sign * float(self.variant.flows.own_a[k] + gains @ drawn)
            value += sign * float(self.load_branch[k] @ answer[len(stretch.corners) :])
            if drawn.sum() > TINY and value > self._floor(np.array([k]))[0]:
                stretch.place_of(drawn, self.geometry, self.places, found)
                self.above[k] = max(self.above.get(k, 0.0), value)
        if found.listed:
            self._search(found)

    # -- along conductors -----------------------------------------------------------------------------------

    def _along(self, nodes: Places, loaded: dict[int, FloatArray] | None) -> Places:
        """Places between the ends of conductors at which something can be worst.

        ``loaded``: the load currents (L,) with which the rows cross, by branch; None = no load and, in loops,
        every load as well.
        """
        made = Places()
        if self.variant.dead >= 0:
            return made
        piece, branches = self.variant.piece, self.variant.piece.branches
        chosen = self.geometry.conductors if loaded is None else tuple(loaded)
        # Every conductor of a way out, between its two end places against the same other point.
        by_pair = {(p.high, p.low): n for n, p in enumerate(nodes.listed)}
        all_places = self.response(nodes.listed) if nodes.listed else None
        for k in chosen:
            a, b = Point.at_node(int(branches.a[k])), Point.at_node(int(branches.b[k]))
            for terminal in self.geometry.terminals.get(int(piece.island[a.a]), ()):
                other = Point.at_node(terminal)
                for high in (True, False):
                    ends = [by_pair.get((p, other) if high else (other, p)) for p in (a, b)]
                    if ends[0] is None or ends[1] is None or all_places is None:
                        continue
                    for share in self._shares(k, ends[0], ends[1], all_places, high, loaded):
                        point = Point(a.a, b.a, share, k)
                        label, name = f"{branches.ids[k]}:{share:.2f}", piece.node_ids[terminal]
                        kind = "chassis" if name == CHASSIS_NODE else "pinch"
                        place = (
                            Place(point, other, kind, label, name)
                            if high
                            else Place(other, point, kind, label, name)
                        )
                        made.own.append(OwnEnd(made.add(place), k, share, high))
        return made

    def _shares(
        self, k: int, first: int, second: int, response: Response, high: bool, loaded: dict[int, FloatArray] | None
    ) -> list[float]:
        branches = self.variant.piece.branches
        flows = self.variant.flows
        a, b = int(branches.a[k]), int(branches.b[k])
        looped = bool(self.variant.piece.in_loop[k])
        around = flows.fall_ohm[a, a] + flows.fall_ohm[b, b] - 2.0 * flows.fall_ohm[a, b]
        bow = max(float(branches.resistance_ohm[k] - around), 0.0) if looped else 0.0
        ends = [first, second]
        if loaded is not None:
            draws = [loaded[k]]
        else:
            # With a constant-power load's most depending on the place, the greater of the two ends'.
            everything = response.most_a[ends].max(axis=0)
            draws = [np.zeros(len(self.plus)), *([everything] if looped and everything.any() else [])]
        sign = 1.0 if high else -1.0
        found: list[float] = []
        for drawn in draws:
            limit = self.variant.rows.limit - self.load_rows @ drawn
            found += shares_along(
                response.rows[:, ends].T,
                limit,
                response.loop_ohm[ends],
                bow,
                response.open_v[ends] - response.fall[ends] @ drawn,
                sign * response.branch[k, ends],
                looped=looped,
            )
        return sorted({round(s, 12) for s in found if 1e-6 < s < 1.0 - 1e-6})


def _named(place: Place, end: OwnEnd, variant: Variant) -> Place:
    """A place under the name of the conductor on which ``end`` has it."""
    if place.kind not in ("pinch", "chassis", "wires"):
        return place
    name = f"{variant.piece.branches.ids[end.branch]}:{end.share:.2f}"
    return replace(place, at=name) if end.at_high else replace(place, to=name)


def _stretch_bound(
    gains: FloatArray,
    rows: FloatArray,
    room: FloatArray,
    base: FloatArray,
    helps: FloatArray,
    taken: FloatArray,
    most: FloatArray,
) -> FloatArray:
    """(Q,) by weak duality with one row at a time, the least over all rows."""
    bound = np.full(len(gains), np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        for r in range(len(rows)):
            price = np.where(gains > TINY, gains / np.where(rows[r] > TINY, rows[r], 0.0), 0.0).max(axis=1)
            left = np.maximum(helps - price[:, None] * taken[r], 0.0) * most
            above = base + price * room[r] + left.sum(axis=1)
            bound = np.fmin(bound, np.where(np.isfinite(price) & np.isfinite(above), above, np.inf))
    # Nothing that a fault could add to: left to the search at nodes.
    return np.where((gains > TINY).any(axis=1), bound, -np.inf)


def shares_along(
    rows: FloatArray,
    limit: FloatArray,
    loop_ohm: FloatArray,
    bow_ohm: float,
    open_v: FloatArray,
    through: FloatArray,
    *,
    looped: bool,
) -> list[float]:
    """Shares s in 0…1 along a conductor at which the most current on it or on anything else can stand.

    ``rows`` (2, R), ``loop_ohm``, ``open_v``, ``through`` (2,): values with the fault at s = 0 and s = 1; all
    but the loop resistance, ``(1-s)·r0 + s·r1 + s·(1-s)·bow_ohm``, are linear in s. The fault current is the
    least of limit/row and open voltage/loop resistance; its maxima times a linear share lie at an end, where
    two of these cross, or where the short's current through the near or far part is stationary.
    """
    g0, g1 = rows
    r0, r1 = loop_ohm
    v0, v1 = open_v
    loop = np.array([-bow_ohm, r1 - r0 + bow_ohm, r0])
    volts = np.array([v1 - v0, v0])
    usable = np.flatnonzero(((g0 > TINY) | (g1 > TINY)) & (limit > TINY))
    if not looped and len(usable):
        # On a bridge the rows don't change along it: only the tightest can meet the short.
        tightest = usable[np.argmin(limit[usable] / np.maximum(g0, g1)[usable])]
        usable = np.array([tightest])
    candidates: list[float] = []
    for i in usable.tolist():
        row = np.array([g1[i] - g0[i], g0[i]])
        candidates += _real_roots(np.polysub(limit[i] * loop, np.polymul(volts, row)))
    if looped:
        first, second = np.triu_indices(len(usable), 1)
        i, j = usable[first], usable[second]
        level = limit[i] * g0[j] - limit[j] * g0[i]
        slope = limit[i] * (g1[j] - g0[j]) - limit[j] * (g1[i] - g0[i])
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = -level / slope
        candidates += crossing[np.isfinite(crossing)].tolist()
        for part in (
            [through[1] - through[0] - 1.0, through[0] + 1.0],
            [through[1] - through[0] - 1.0, through[0]],
        ):
            top = np.polymul(part, volts)
            candidates += _real_roots(
                np.polysub(np.polymul(np.polyder(top), loop), np.polymul(top, np.polyder(loop)))
            )
    inside = np.unique(np.array([s for s in candidates if 0.0 < s < 1.0]))
    return _on_the_edge(inside, rows, limit, loop, volts).tolist()


def _on_the_edge(
    shares: FloatArray, rows: FloatArray, limit: FloatArray, loop: FloatArray, volts: FloatArray
) -> FloatArray:
    """Of the shares, those where the least of all rows is met twice, or the short alone holds."""
    if not len(shares):
        return shares
    g = rows[0][None] * (1.0 - shares)[:, None] + rows[1][None] * shares[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(g > TINY, np.maximum(limit, 0.0)[None] / g, np.inf)
        short = (np.polyval(volts, shares) / np.polyval(loop, shares))[:, None]
    every = np.sort(np.concatenate([ratio, short], axis=1), axis=1)
    least = every[:, 0]
    met_twice = every[:, 1] <= least * (1.0 + 1e-7) if every.shape[1] > 1 else np.ones(len(shares), dtype=bool)
    short_holds = short[:, 0] <= least * (1.0 + 1e-9)
    return shares[met_twice | short_holds]


def _real_roots(polynomial: FloatArray) -> list[float]:
    trimmed = np.trim_zeros(
        np.where(np.abs(polynomial) > 1e-15 * np.abs(polynomial).max(initial=0.0), polynomial, 0.0), "f"
    )
    if len(trimmed) < 2:
        return []
    roots = np.roots(trimmed)
    return roots.real[np.abs(roots.imag) <= 1e-9 * (1.0 + np.abs(roots))].tolist()


def _fields(response: Response) -> tuple[FloatArray, ...]:
    return (
        response.branch,
        response.rows,
        response.loop_ohm,
        response.open_v,
        response.fall,
        response.at_load,
        response.most_a,
    )
