"""Faults that feed, through loads, what an open device, output or diode has cut off.

What lies behind the only part that leads to it goes dead once that part is open or blocks. A fault that joins it to
copper that is still fed wakes it: the loads between the two sides close the way. Where a device in a common return
is open, the loads of one output feed back through the fault into the copper of another; where an output or a diode
is, what it fed takes the voltage of the output that the fault joins it to, and a resistance draws more at that.

Such a fault carries no more than these loads draw, and needs outputs of different voltage: across a load that it
joins to its own output no voltage is left. All is linear in the load currents y: the fault current x is what leaves
nothing in the open part, whose own voltage is free. The fault is a short circuit, at which the loads have the most
voltage; constant power may draw as at its least voltage all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from loadloom.graph.circuit.blocks import find_blocks
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.any_place import highest_voltage_v
from loadloom.graph.faults.budgets import MOST_WIRES, PAIRS_TOGETHER
from loadloom.graph.faults.piece import POWER, RESISTANCE, Piece
from loadloom.graph.faults.places import OwnEnd, Places, Point, find_places
from loadloom.graph.faults.response import UNBOUNDED_A, Response
from loadloom.graph.faults.sustained_fault import Hit, Search, named
from loadloom.graph.faults.tolerances import SAME, TINY


def voltages_differ(piece: Piece) -> bool:
    """Whether outputs of a piece differ in voltage or in their return: only then can loads feed through a fault."""
    outputs = list(piece.sources)
    volts, returns = piece.branches.emf_v[outputs], piece.island[piece.branches.a[outputs]]
    return len(outputs) > 1 and bool(np.ptp(volts) > TINY or np.ptp(returns) > 0)


def cut_off_hits(search: Search, known_a: Callable[[str], float]) -> Iterator[tuple[int, Hit, Search]]:
    """What is above ``known_a`` (A by part id): branch, hit, and the search as it stands with a part open."""
    for cut in _cuts(search):
        yield from cut.hits(known_a)


def cut_off_programmes(search: Search, known_a: Callable[[str], float]) -> Iterator[tuple[int, float, Programme]]:
    """What may come above ``known_a`` (A by part id) so: branch, its own current in A, and the programme of the
    most that loads add to it.
    """
    for cut in _cuts(search):
        known = np.array([known_a(search.name(k)) for k in search.asked.tolist()])
        for query in cut.queries(known * (1.0 + SAME) + TINY) if cut.feeds else ():
            k = int(search.asked[query.row])
            yield k, float(search.own_along_a(k, query.sign)), cut.programme(query)


def _cuts(search: Search) -> Iterator[_Cut]:
    """The cuts of a variant behind which loads could feed something."""
    variant, piece = search.variant, search.variant.piece
    branches = piece.branches
    if variant.dead >= 0 or not voltages_differ(piece):
        return
    closed = variant.closed
    found = variant.keep_copper(
        "bridges", lambda: find_blocks(len(piece.node_ids), branches.a, branches.b, closed).bridge
    )
    bridge = closed & found
    bridge &= np.abs(variant.flows.own_a) <= TINY  # else a part that holds its current lies beside it
    source = np.arange(len(branches.ids)) >= branches.edge_count
    acts = (np.isfinite(piece.held_a) & (source | ~piece.holds)) | branches.diode
    at = np.flatnonzero(bridge & acts & (np.abs(search.loaded.load_branch).max(axis=1, initial=0.0) > 0.5))
    if not len(at):
        return  # nothing is cut off that loads could feed
    bodies, sides = search.geometry.bodies, search.geometry.mated
    every_node = bool(bodies or sides) and all(len(body) <= MOST_WIRES for body in bodies)
    if bodies and not every_node:
        search.cut_short.add("MOST_WIRES")
    places = find_places(search.geometry, variant, every_node=every_node)
    if not places.listed:
        return
    response = search.loaded.response_at(places)
    through = search.through(response)[search.asked]
    for k in at.tolist():
        yield _Cut(search, places, response, through, k)


@dataclass(frozen=True, slots=True)
class _Query:
    """A part, by its row among those asked for, and a fault at a place or on its ``end``; ``above``: a bound."""

    above: float
    row: int
    place: int
    sign: float
    end: OwnEnd | None = None


@dataclass(frozen=True)
class _Cut:
    """A search with branch ``at`` open; ``through`` is the response of what is asked for, ``every`` are all places.
    P are those between the two sides of the cut, L the loads.
    """

    search: Search
    every: Places
    response: Response
    through: FloatArray
    at: int

    @cached_property
    def places(self) -> IntArray:
        """Places whose two ends are on either side of the cut."""
        return np.flatnonzero(np.abs(self.response.branch[self.at]) > 0.5)

    @cached_property
    def per_load(self) -> FloatArray:
        """(P, L) fault current per ampere of each load: nothing is left in the open part."""
        through = np.round(self.response.branch[self.at, self.places])
        found: FloatArray = -through[:, None] * np.round(self.search.loaded.load_branch[self.at])[None, :]
        return found

    @cached_property
    def open_v(self) -> FloatArray:
        """(P, L) voltage of every load while none draws, with the fault a short circuit."""
        own = self.search.loaded.load_open_v[None, :]
        found: FloatArray = own + self.per_load * self.response.open_v[self.places][:, None]
        return found

    @cached_property
    def most_a(self) -> FloatArray:
        """(P, L) the most that each load can draw."""
        loaded = self.search.loaded
        with np.errstate(divide="ignore", invalid="ignore"):
            copper = highest_voltage_v(self.search.variant.piece) / np.diag(loaded.load_pair)
            power = np.where(loaded.minimum > 0.0, loaded.demand / loaded.minimum, np.nan_to_num(copper))
            ohmic = self.open_v / loaded.demand
        power = np.minimum(np.maximum(power, loaded.case_a), UNBOUNDED_A)
        most = np.where(loaded.kind == POWER, power, loaded.demand)[None, :]
        most = np.where((loaded.kind == RESISTANCE)[None, :], np.minimum(ohmic, UNBOUNDED_A), most)
        least_v = np.where(loaded.kind == POWER, loaded.minimum, 0.0) * (1.0 - SAME) + TINY
        found: FloatArray = np.where(self.open_v > least_v, most, 0.0)
        return found

    @property
    def feeds(self) -> bool:
        """Whether a fault at any place draws something through loads."""
        return bool((np.abs(self.per_load) * self.most_a > TINY).any())

    def hits(self, known_a: Callable[[str], float]) -> Iterator[tuple[int, Hit, Search]]:
        """The worst of every part that is above what is known of it."""
        if not self.feeds:
            return
        search = self.search
        waiting: dict[int, list[_Query]] = {}
        known = np.array([known_a(search.name(k)) for k in search.asked.tolist()])
        for query in self.queries(known * (1.0 + SAME) + TINY):
            waiting.setdefault(query.row, []).append(query)
        for row, queries in sorted(waiting.items()):
            best, found = float(known[row]), None
            for query in sorted(queries, key=lambda q: -q.above):
                if query.above <= best * (1.0 + SAME) + TINY:
                    break
                (drawn,) = solve_programmes([self.programme(query)])
                if drawn is None:
                    continue
                own_a = search.own_along_a(search.asked[row], query.sign)
                value = float(own_a + self._gain(query) @ drawn)
                if value > best * (1.0 + SAME) + TINY:
                    best, found = value, (query, drawn)
            if found is not None:
                yield self._made(best, *found)

    def queries(self, floor: FloatArray) -> Iterator[_Query]:
        """What may lie above ``floor``, in A by row."""
        search, most = self.search, self.most_a
        own = np.maximum(*(search.own_along_a(search.asked, sign) for sign in (1.0, -1.0)))
        load = search.load_branch[search.asked]
        through = self.through[:, self.places]
        # Loads and fault apart first: that needs no array over parts, places and loads.
        fault_a = (np.abs(self.per_load) * most).sum(axis=1)
        top = most.max(axis=0)
        beside = np.maximum(np.maximum(load, 0.0) @ top, np.maximum(-load, 0.0) @ top) + own
        row, place = np.nonzero(beside[:, None] + np.abs(through) * fault_a > floor[:, None])
        ends = self._ends()
        row = np.concatenate([row, np.array([n for n, _, _ in ends], dtype=np.int64)])
        place = np.concatenate([place, np.array([c for _, c, _ in ends], dtype=np.int64)])
        end = np.concatenate([np.full(len(row) - len(ends), -1), np.arange(len(ends))])
        share = through[row, place]
        share[end >= 0] += [_beyond(each) for _, _, each in ends]
        for start in range(0, len(row), PAIRS_TOGETHER):
            some = np.arange(start, min(start + PAIRS_TOGETHER, len(row)))
            for sign in (1.0, -1.0):
                for q, above in self._bounded(floor, sign, row, place, share, some):
                    at = None if end[q] < 0 else ends[int(end[q])][2]
                    yield _Query(above, int(row[q]), int(place[q]), sign, at)

    def _bounded(
        self, floor: FloatArray, sign: float, row: IntArray, place: IntArray, share: FloatArray, some: IntArray
    ) -> Iterator[tuple[int, float]]:
        """Of some queries those whose bound is above the floor: every load that adds draws its most, or what one
        row leaves of that, by weak duality.
        """
        search, most, per_load = self.search, self.most_a, self.per_load
        own, load = search.own_along_a(search.asked, sign), sign * search.load_branch[search.asked]
        gain = load[row[some]] + sign * share[some, None] * per_load[place[some]]
        above = own[row[some]] + (np.maximum(gain, 0.0) * most[place[some]]).sum(axis=1)
        per_fault, limit = self.response.rows[:, self.places], search.variant.rows.limit
        for r in np.flatnonzero(np.isfinite(limit)).tolist():
            kept = above > floor[row[some]]
            some, gain, above = some[kept], gain[kept], above[kept]
            here = np.flatnonzero(np.abs(per_fault[r, place[some]]) > TINY)
            at = place[some[here]]
            used = search.loaded.load_rows[r] + per_fault[r, at, None] * per_load[at]
            both = (used > TINY) & (gain[here] > TINY) & (per_load[at] != 0.0) & (most[at] > TINY)
            price = np.where(both, gain[here] / np.where(both, used, 1.0), 0.0).max(axis=1, initial=0.0)
            left = (np.maximum(gain[here] - price[:, None] * used, 0.0) * most[at]).sum(axis=1)
            above[here] = np.minimum(above[here], own[row[some[here]]] + price * limit[r] + left)
        kept = above > floor[row[some]]
        yield from zip(some[kept].tolist(), above[kept].tolist(), strict=True)

    def _ends(self) -> list[tuple[int, int, OwnEnd]]:
        """Conductors in loops that are asked for and have a place at an end, with its row and the place."""
        row_of = {k: n for n, k in enumerate(self.search.asked.tolist())}
        place_of = {n: c for c, n in enumerate(self.places.tolist())}
        in_loop = self.search.variant.piece.in_loop
        return [
            (row_of[end.branch], place_of[end.place], end)
            for end in self.every.own
            if end.branch in row_of and end.place in place_of and in_loop[end.branch]
        ]

    def _gain(self, query: _Query) -> FloatArray:
        """(L,) what each load adds to the part."""
        search = self.search
        branch = int(search.asked[query.row])
        through = float(self.through[query.row, self.places[query.place]])
        if query.end is not None:
            through += _beyond(query.end)
        found: FloatArray = query.sign * (search.load_branch[branch] + through * self.per_load[query.place])
        return found

    def programme(self, query: _Query) -> Programme:
        """The linear programme over the loads: nothing opens, and what is ohmic draws by its voltage."""
        loaded, response, place = self.search.loaded, self.response, int(self.places[query.place])
        x, most = self.per_load[query.place], self.most_a[query.place]
        rows = [loaded.load_rows + response.rows[:, place][:, None] * x[None, :]]
        limit = [self.search.variant.rows.limit]
        ohmic = np.flatnonzero((loaded.kind == RESISTANCE) & (most > TINY))
        if len(ohmic):
            fall = loaded.load_pair + response.at_load[place][:, None] * x[None, :]
            fall += x[:, None] * (response.loop_ohm[place] * x + response.fall[place])[None, :]
            rows.append(fall[ohmic] + np.diag(loaded.demand)[ohmic])
            limit.append(self.open_v[query.place, ohmic])
        return Programme(self._gain(query), np.concatenate(rows), np.concatenate(limit), most)

    def _made(self, value: float, query: _Query, drawn: FloatArray) -> tuple[int, Hit, Search]:
        """The hit, with a search that names the open part and has no voltage left across the fault."""
        search, response, place = self.search, self.response, int(self.places[query.place])
        variant, piece = search.variant, search.variant.piece
        fault_a = float(self.per_load[query.place] @ drawn)
        behind = np.round(variant.flows.flow[self.at]) != 0.0
        listed = self.every.listed[place]
        left_v = response.open_v[place] - response.loop_ohm[place] * fault_a - response.fall[place] @ drawn
        own_v = variant.flows.own_v + np.where(behind, -left_v if behind[listed.high.a] else left_v, 0.0)
        opened = piece.opened
        if not piece.branches.diode[self.at]:  # one that blocks has not opened
            opened = (*opened, piece.branches.ids[self.at])
        standing = Search(
            search.geometry,
            replace(
                variant, piece=replace(piece, opened=opened), flows=replace(variant.flows, own_v=own_v), key=None
            ),
        )
        if query.end is not None:
            k = query.end.branch
            point = Point(int(piece.branches.a[k]), int(piece.branches.b[k]), query.end.share, k)
            listed = replace(listed, high=point) if query.end.at_high else replace(listed, low=point)
            listed = named(listed, query.end, variant)
        if fault_a < 0.0:
            listed = replace(listed, high=listed.low, low=listed.high)
        extent = 1.0 if query.end is None else 0.0
        return int(search.asked[query.row]), Hit(value, extent, listed, abs(fault_a), drawn, 0.0, True), standing


def _beyond(end: OwnEnd) -> float:
    """What the vanishing rest of a conductor, from a fault on it to its end, carries of an ampere of the fault."""
    return 1.0 if (end.share <= 0.0) == end.at_high else -1.0
