"""The least that a device must hold for a part to come above a limit: the fault search with goal and row exchanged.

Within one state all currents are linear in the fault current x and the load currents y. The device's current is
made the least under which some x and y still bring the part to its limit while all other rows hold. The highest
setting that protects the part is where the device holds that current. No setting has to be tried.

First for all places at once: a bound by weak duality, and above it what the device holds in states that can be
reached: the fault alone, and all loads on that add to the part. Where both meet no programme is needed. Then the
stretches between the ends of conductors in loops, and what loads feed past an open part, each by a programme that
asks for no more than any single point of it does. Where pulses count, they count as a sum: no less than they make.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.cut_off import cut_off_programmes
from loadloom.graph.faults.piece import CURRENT, POWER, Variant, variant_of
from loadloom.graph.faults.places import PieceGeometry, find_places
from loadloom.graph.faults.response import Response
from loadloom.graph.faults.stretch_search import Asked, open_stretches, settled_by_row, stretch_programme
from loadloom.graph.faults.stretches import find_stretches
from loadloom.graph.faults.sustained_fault import Queries, Search
from loadloom.graph.faults.tolerances import NOTHING_A, PAST, SAME, TINY

SHORT_COSTS = 1e5
"""What an ampere counts that a part comes short of its limit, in amperes of the device: more than any share."""

MOST_HELD_A = 1e4
"""A part that holds its current is not looked at with more than this in A."""

Same = TypeVar("Same")

AT_FIRST = 16
"""Programmes that are solved before what they found is taken into account; then twice as many each time."""


@dataclass
class Ends:
    """Of one device in one arrangement: the least current in A that it holds where a part comes to its limit, by
    part, and by conductor where it comes to the end of its overload band, or to what another one holds in it.
    ``by_band``: whether the band is for this device. ``left_out``: parts that are not asked for.
    """

    by_band: bool
    held_a: dict[str, float] = field(default_factory=dict)
    banded_a: dict[str, float] = field(default_factory=dict)
    left_out: set[str] = field(default_factory=set)
    pulsed: set[str] = field(default_factory=set)
    """Parts of which pulses count as a sum: what the device holds may be less than it need be."""
    by_itself: dict[str, tuple[float, float]] = field(default_factory=dict)
    """By conductor: what the device holds in A at both ends of the band in a fault that it alone holds."""
    by_others: dict[str, set[tuple[float, float]]] = field(default_factory=dict)
    """By conductor: currents in its band at which the copper holds a fault, or a device that does not feed it, with
    the least that this device then holds, in A."""

    def by_others_a(self, name: str, limit_a: float, band_a: float) -> float:
        """What the device holds in A where the worst fault on a conductor within its band is no more one that the
        device holds itself; inf where to no other a fault comes so soon.
        """
        least, most = self.by_itself.get(name, (math.inf, math.inf))
        per_amp = (most - least) / (band_a - limit_a) if math.isfinite(least) else 0.0
        return min(
            (
                soonest
                for at_a, soonest in self.by_others.get(name, ())
                if least + per_amp * (at_a - limit_a) > soonest * (1.0 + SAME)
            ),
            default=math.inf,
        )

    def is_banded(self, name: str, bands: Mapping[str, float]) -> bool:
        """Whether the band of a part counts: where it is for the device, or others keep the part in it alone."""
        return name in bands and (self.by_band or self.held_a.get(name, math.inf) <= NOTHING_A)

    def most_a(self, bands: Mapping[str, float]) -> float:
        """Where a part comes to its end in A: more than this the device need not be looked at with."""
        plain = [a for name, a in self.held_a.items() if not self.is_banded(name, bands)]
        return min((a for a in (*plain, *self.banded_a.values()) if a > NOTHING_A), default=math.inf)


@dataclass(frozen=True)
class HeldLimits:
    """What is asked for: by part its limit in A, for conductors the end of the overload band in A, what slow pulses
    of loads count in a part besides, in A, and whether what passes a device goes on to a part, so that the band
    counts where that device holds a fault.
    """

    limit_a: Mapping[str, float]
    band_a: Mapping[str, float]
    slow_a: Callable[[Search, int], float]
    feeds: Callable[[str, str], bool]


class HeldState:
    """One state of a piece, in which some ``devices`` are closed, as positions of branches."""

    def __init__(self, search: Search, devices: Sequence[int], limits: HeldLimits) -> None:
        self._drawn, self._devices, self._limits = search, devices, limits
        piece = search.variant.piece
        # What loads draw by their power, and what is made of pulses, hangs on what devices hold.
        self._each_anew = piece.pulses or bool((piece.loads.kind == POWER).any())

    @cached_property
    def _together(self) -> _Queried:
        """The queries of all devices together, with the rows of none of them."""
        return _Queried(_lifted(self._drawn, never_opening(self._drawn.variant, self._devices)), self._limits)

    @cached_property
    def _settled(self) -> tuple[BoolArray, BoolArray]:
        """(Q, R + 1) of those queries, and stretches, which row of all devices keeps the part from its limit."""
        queried, drawn = self._together, self._drawn
        queries, stretches, drawn.known_a = queried.queries, queried.stretches, queried.search.known_a
        nothing: BoolArray = np.zeros((0, len(drawn.variant.rows.limit) + 1), dtype=np.bool_)
        return (
            nothing if queries is None else _settled_by_row(drawn, queries, queried.need_a(queries)),
            settled_by_row(drawn, queried.response, stretches) if stretches else nothing,
        )

    def take(self, device: int, ends: Ends) -> None:
        """Take into ``ends`` what a device holds at least for the parts that come to their limits in this state."""
        if self._each_anew:
            search = Search(self._drawn.geometry, never_opening(self._drawn.variant, [device]))
            search.places = self._drawn.places
            # With no device's limit on them pulses make parts no less warm: a bound for each device.
            queried = _Queried(search, self._limits, self._together)
            ends.pulsed |= queried.pulsed
        elif self._together.is_idle:
            return
        else:
            lifted = _lifted(self._together.search, never_opening(self._drawn.variant, [device]))
            queried = self._together.of(lifted, *self._settled)
        variant = queried.search.variant
        rows = variant.rows.device
        own_a, both = float(variant.flows.own_a[device]), bool(variant.piece.reverse_too[device])
        through = Through(int(np.flatnonzero(rows == device)[0]), 0, own_a, both, rows != device)
        _take(queried, through, ends)


def take_holding(geometry: PieceGeometry, variant: Variant, device: int, limits: HeldLimits, ends: Ends) -> None:
    """The same for a device that holds its current in a state: that current is drawn on its one side and given on
    the other, as by a load.
    """
    piece, branches = variant.piece, variant.piece.branches
    back = variant.flows.own_a < 0.0
    plus, minus = (branches.b, branches.a) if back[device] else (branches.a, branches.b)
    ends_of = {"ids": branches.ids[device], "plus": plus[device], "minus": minus[device]}
    values = {"kind": CURRENT, "demand": MOST_HELD_A, "minimum_v": 0.0, "case_a": 0.0, "on_s": np.inf}
    loads = piece.loads
    more = {
        name: np.append(getattr(loads, name), {**ends_of, **values}.get(name, 1.0))
        for name in ("plus", "minus", "kind", "demand", "minimum_v", "case_a", "peak", "rest", "share", "on_s")
    }
    drawn_by = replace(loads, ids=(*loads.ids, branches.ids[device]), **more)
    held_a = np.where(np.arange(len(branches.ids)) == device, 0.0, piece.held_a)
    as_load = replace(piece, loads=drawn_by, held_a=held_a, token=object())
    held = (k for k in np.flatnonzero(piece.holds & ~variant.closed).tolist() if k != variant.dead)
    holding = tuple(~k if back[k] else k for k in held)
    blocked = tuple(np.flatnonzero(branches.diode & ~variant.closed).tolist())
    made = variant_of(as_load, variant.dead, blocked, holding)
    if made is None:
        return
    search = Search(replace(geometry, piece=as_load), made)
    at = int(np.flatnonzero(search.loaded.load_at == len(loads.ids))[0])
    # What it holds runs through it, and leaves less voltage across it.
    search.loaded.load_even[device, at] = -1.0 if back[device] else 1.0
    search.loaded.load_rows[made.rows.device == device, at] += branches.resistance_ohm[device]
    search.places = find_places(search.geometry, made)
    through = Through(-1, at - len(search.loaded.plus), 0.0, False, np.ones(len(made.rows.device), dtype=np.bool_))
    _take(_Queried(search, limits), through, ends)


@dataclass(frozen=True)
class Through:
    """Where a device's current is read in a programme: its first ``row``, else the variable ``column``, and what it
    is with all variables 0, ``own_a``. ``both``: it opens on reverse current as well. ``kept`` (R,): of the first
    rows those of all others.
    """

    row: int
    column: int
    own_a: float
    both: bool
    kept: BoolArray

    def programme(self, base: Programme, need_a: float) -> Programme:
        """The least current of the device with which a programme's gain comes to ``need_a``. Two more variables:
        that current, in place of the device's own rows, and what the gain comes short, so that there is a state in
        any event.
        """
        through = base.rows[self.row] if self.row >= 0 else np.zeros(len(base.gain))
        if self.row < 0:
            through[self.column] = 1.0
        kept = np.ones(len(base.limit), dtype=np.bool_)
        kept[: len(self.kept)] = self.kept
        rows = np.concatenate(
            [
                np.column_stack([base.rows[kept], np.zeros((np.count_nonzero(kept), 2))]),
                np.concatenate([-base.gain, [0.0, -1.0]])[None],
                np.concatenate([through, [-1.0, 0.0]])[None],
                *([np.concatenate([-through, [-1.0, 0.0]])[None]] if self.both else []),
            ]
        )
        limit = np.concatenate([base.limit[kept], [-need_a, -self.own_a], [self.own_a] if self.both else []])
        gain = np.concatenate([np.zeros(len(base.gain)), [-1.0, -SHORT_COSTS]])
        most = np.concatenate([base.most, [np.inf, np.inf]])
        return Programme(gain, rows, limit, most, possible=base.possible or bool((base.limit[kept] >= 0.0).all()))

    def held_a(self, queried: _Queried, queries: Queries, fault_a: FloatArray, loads_a: FloatArray) -> FloatArray:
        """(Q,) what the device holds in A with these fault currents (Q,) and load currents (Q, L)."""
        if self.row < 0:
            return loads_a[:, self.column]
        search = queried.search
        amps = self.own_a + loads_a @ search.loaded.load_rows[self.row]
        amps = amps + queries.response.rows[self.row, queries.place] * fault_a
        found: FloatArray = np.abs(amps) if self.both else np.maximum(amps, 0.0)
        return found

    def least_a(self, queried: _Queried, queries: Queries, need: FloatArray) -> FloatArray:
        """(Q,) no more than the device's current can be, by weak duality; inf: the part does not come there."""
        search, most_a = queried.search, queries.response.most_a[queries.place]
        bound = np.zeros(len(need))
        if self.row < 0:
            others = np.arange(most_a.shape[1]) != most_a.shape[1] + self.column
            for _, bounds, price, room, taken in _by_row(search, queries):
                worth = queries.helps - price[:, None] * taken
                adds = (np.maximum(worth, 0.0) * most_a)[:, others].sum(axis=1)
                short, per_amp = need - price * room - adds, worth[:, self.column]
                with np.errstate(divide="ignore", invalid="ignore"):
                    least = np.where(per_amp > TINY, short / per_amp, np.inf)
                bound = np.maximum(bound, np.where(bounds & (short > 0.0), least, 0.0))
            return bound
        for sign in (1.0, -1.0) if self.both else (1.0,):
            per_fault = sign * queries.response.rows[self.row, queries.place]
            per_load = sign * search.loaded.load_rows[self.row]
            price = np.where((per_fault > TINY) & (need > 0.0), per_fault / queries.gain, 0.0)
            eased = np.minimum(per_load[None, :] - price[:, None] * queries.helps, 0.0)
            least = sign * self.own_a + price * np.where(price > 0.0, need, 0.0) + (eased * most_a).sum(axis=1)
            bound = np.maximum(bound, np.where(per_fault < -TINY, 0.0, least))
        return bound

    def least_on_a(self, queried: _Queried, need: FloatArray) -> FloatArray:
        """(Q,) the same for a fault anywhere on each stretch."""
        bound = np.zeros(len(need))
        if self.row < 0 or not len(need):
            return bound
        loaded, (corners, gains, helps, most_a) = queried.search.loaded, queried.on_stretches
        adds = gains > TINY
        for sign in (1.0, -1.0) if self.both else (1.0,):
            per_fault = sign * queried.response.rows[self.row, corners]
            price = np.where(adds, per_fault / np.where(adds, gains, 1.0), np.inf).min(axis=1)
            price = np.where(np.isfinite(price), price, 0.0)
            eased = np.minimum(sign * loaded.load_rows[self.row] - price[:, None] * helps, 0.0) * most_a
            least = sign * self.own_a + price * need + eased.sum(axis=1)
            bound = np.maximum(bound, np.where((per_fault < -TINY).any(axis=1), 0.0, least))
        return np.where(need > 0.0, bound, 0.0)


class _Queried:
    """The queries of a search, with the limits of their parts. By branch and cut (B + V,): ``names``, ``limit`` and
    ``band`` and ``slow_a`` in A, limits inf where it is not asked for, what slow pulses count besides taken off.
    """

    names: npt.NDArray[np.object_]
    limit: FloatArray
    band: FloatArray
    slow_a: FloatArray

    def __init__(self, search: Search, limits: HeldLimits, like: _Queried | None = None) -> None:
        """``like``: the same of another search for the same parts, with as much of slow pulses."""
        self.search, self.limits = search, limits
        self._fed: dict[str, BoolArray] = {} if like is None else like._fed
        """By part, whether what passes the device of each row goes on to it."""
        self._least: dict[str, float] = {} if like is None else like._least
        search.known_a = self._least.__getitem__
        if like is not None:
            self.names, self.limit, self.band, self.slow_a = like.names, like.limit, like.band, like.slow_a
            return
        ids, asked = (*search.variant.piece.branches.ids, *search.cuts.listed), search.asked.tolist()
        count = int(search.asked.max(initial=-1)) + 1
        self.names = np.full(count, "", dtype=object)
        self.limit, self.band = np.full(count, np.inf), np.full(count, np.inf)
        for k in asked:
            self.names[k] = name = ids[k]
            if name in limits.limit_a:
                self.limit[k], self.band[k] = limits.limit_a[name], limits.band_a.get(name, math.inf)
        self.slow_a = self._slow_a()
        self.limit, self.band = self.limit - self.slow_a, self.band - self.slow_a
        for k, limit_a in zip(asked, self.limit[asked].tolist(), strict=True):
            self._least[ids[k]] = min(limit_a, self._least.get(ids[k], math.inf))

    @cached_property
    def queries(self) -> Queries | None:
        """Single places at which a part may come above its limit."""
        queries = self.search.queries(self.search.places)
        if queries is None:
            return None
        need = self.need_a(queries)
        may = np.flatnonzero(np.isfinite(need) & ~_settled_by_row(self.search, queries, need).any(axis=1))
        return _only(queries, may) if len(may) else None

    def _slow_a(self) -> FloatArray:
        """(B + V,) what slow pulses count in a part besides, in A."""
        found: FloatArray = np.zeros(len(self.limit))
        for k in np.flatnonzero(np.isfinite(self.limit) & self._pulsing[: len(self.limit)]).tolist():
            found[k] = self.limits.slow_a(self.search, k)
        return found

    @cached_property
    def _pulsing(self) -> BoolArray:
        """(B + V,) branches and cuts with a share in what pulses."""
        search = self.search
        found: BoolArray = np.abs(search.load_branch[:, search.loaded.share < 1.0]).max(axis=1, initial=0.0) > TINY
        return found

    @property
    def pulsed(self) -> set[str]:
        """Parts with a share in what pulses."""
        return {str(self.names[k]) for k in self.search.asked.tolist() if self._pulsing[k]}

    def of(self, search: Search, settled: BoolArray, stretches_settled: BoolArray) -> _Queried:
        """Those queries and stretches that the rows of another search leave, by what each row settles."""
        found = copy(self)
        found.search = search
        search.known_a = self._least.__getitem__
        kept = np.append(np.isfinite(search.variant.rows.limit), True)
        if self.queries is not None:
            may = np.flatnonzero(~settled[:, kept].any(axis=1))
            found.queries = _only(self.queries, may) if len(may) else None
        left = np.flatnonzero(~stretches_settled[:, kept].any(axis=1)).tolist()
        vars(found)["stretches"] = [self.stretches[n] for n in left]
        vars(found)["on_stretches"] = tuple(each[left] for each in self.on_stretches)
        return found

    @property
    def is_idle(self) -> bool:
        """Whether no part comes above its limit."""
        return self.queries is None and not self.stretches and not self.cut_off

    def need_a(self, queries: Queries) -> FloatArray:
        """(Q,) what has to be added in A to bring the part of each query past its limit."""
        found: FloatArray = self.limit[queries.branch] * (1.0 + PAST) - queries.base
        return found

    @cached_property
    def response(self) -> Response:
        """How all answers to a fault at each place."""
        return self.search.loaded.response_at(self.search.places)

    def kept_in_band(
        self, place: IntArray, gain: FloatArray, branch: IntArray, base: FloatArray | float
    ) -> BoolArray:
        """(Q,) whether the part stays in its band where another than the device in question holds the fault: all
        that can are devices that feed it, and the copper lets through more than the end of its band.
        """
        response, rows, ids = self.response, self.search.variant.rows, self.search.variant.piece.branches.ids
        holds = response.rows[:, place] > TINY
        names, fed = self.names[branch].tolist(), self._fed
        for name in set(names) - fed.keys():
            every = (k >= 0 and self.limits.feeds(ids[k], name) for k in rows.device.tolist())
            fed[name] = np.fromiter(every, dtype=np.bool_, count=len(rows.device))
        feeds = np.array([fed[name] for name in names], dtype=np.bool_).reshape(len(names), -1).T
        loop_ohm = np.maximum(response.loop_ohm[place], TINY)
        by_copper_a = base + gain * response.open_v[place] / loop_ohm
        found: BoolArray = (~holds | feeds).all(axis=0) & (by_copper_a > self.band[branch])
        return found

    def stays_in_band(self, asked: Asked) -> bool:
        """The same for a fault anywhere on a stretch."""
        corners, k = np.array(asked.stretch.corners, dtype=np.int64), asked.branch
        own_a = float(self.search.own_along_a(k, asked.sign))
        return bool(self.kept_in_band(corners, asked.gains, np.full(len(corners), k), own_a).all())

    @cached_property
    def stretches(self) -> list[Asked]:
        """Faults on stretches in loops that may bring a part above its limit."""
        search = self.search
        looped = [s for s in find_stretches(search.geometry, search.variant, search.places) if s.looped]
        if not looped:
            return []
        asked = open_stretches(search, self.response, search.through(self.response), looped)
        return [each for each in asked if math.isfinite(self.limit[each.branch])]

    @cached_property
    def on_stretches(self) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
        """Of each stretch that is asked for: its corners, of which the last is named again where there are fewer
        than four, and the part's currents per ampere there (S, 4); what each load adds to the part per ampere, and
        the most that it draws (S, L).
        """
        search, every = self.search, self.stretches
        place = np.array([[min(n, len(q.gains) - 1) for n in range(4)] for q in every], dtype=np.int64)
        place = place.reshape(-1, 4)
        corners = [[q.stretch.corners[n] for n in at] for q, at in zip(every, place.tolist(), strict=True)]
        gains = [q.gains[at] for q, at in zip(every, place, strict=True)]
        sign, branch = np.array([q.sign for q in every]), np.array([q.branch for q in every], dtype=np.int64)
        at = np.array(corners, dtype=np.int64).reshape(-1, 4)
        most_a = self.response.most_a[at].max(axis=1)
        return at, np.array(gains).reshape(-1, 4), sign[:, None] * search.load_branch[branch], most_a

    @cached_property
    def cut_off(self) -> list[tuple[int, float, Programme]]:
        """What loads feed past an open part that may bring a part above its limit."""
        return list(cut_off_programmes(self.search, self._least.__getitem__))


def _by_row(
    search: Search, queries: Queries
) -> Iterator[tuple[int, BoolArray, FloatArray, FloatArray, FloatArray]]:
    """By row, and last by the voltage: its number, the queries (Q,) that it bounds, what an ampere or volt of its
    room is worth to the part, that room, and what loads take of it, (1, L) or (Q, L).
    """
    limit, response, place = search.variant.rows.limit, queries.response, queries.place
    for r in range(len(limit) + 1):
        if r < len(limit):
            per_fault, taken = response.rows[r, place], search.loaded.load_rows[r][None, :]
            room = np.broadcast_to(limit[r], place.shape)
        else:
            per_fault, taken, room = response.loop_ohm[place], response.fall[place], response.open_v[place]
        bounds = (per_fault > TINY) & np.isfinite(room)
        if bounds.any():
            price = np.where(bounds, queries.gain / np.where(bounds, per_fault, 1.0), 0.0)
            yield r, bounds, price, np.where(bounds, room, 0.0), taken


def _settled_by_row(search: Search, queries: Queries, need: FloatArray) -> BoolArray:
    """(Q, R + 1) whether each row by itself, the voltage last, keeps fault and loads from adding ``need`` (Q,) in A
    to the part, by weak duality.
    """
    found = np.zeros((len(need), len(search.variant.rows.limit) + 1), dtype=np.bool_)
    most_a = queries.response.most_a[queries.place]
    for r, bounds, price, room, taken in _by_row(search, queries):
        adds = (np.maximum(queries.helps - price[:, None] * taken, 0.0) * most_a).sum(axis=1)
        found[:, r] = bounds & (price * room + adds < need)
    return found


def never_opening(variant: Variant, devices: Iterable[int]) -> Variant:
    """A variant in which the branches ``devices`` pass any current."""
    rows = variant.rows
    limit = np.where(np.isin(rows.device, list(devices)), np.inf, rows.limit)
    return replace(variant, rows=replace(rows, limit=limit))


def _lifted(search: Search, variant: Variant) -> Search:
    """A search of the same state with devices that never open, where what loads draw hangs on none of them."""
    found = copy(search)
    found.variant = variant
    found.loaded = copy(search.loaded)
    found.loaded.variant = found.variant
    found.best = {}
    return found


def _only(queries: Queries, some: BoolArray | IntArray) -> Queries:
    """Some of the queries."""
    kept = {name: getattr(queries, name)[some] for name in ("place", "branch", "gain", "base", "helps", "extent")}
    return replace(queries, own_end=[], **kept)


@dataclass(frozen=True)
class Candidate:
    """A programme that may bring a part to its limit. ``bound_a``: the device's current is no less; ``own_a`` what
    the part carries by itself; ``base`` makes the programme of what adds to it. ``limit_a`` and ``band_a`` as in
    ``HeldLimits``. ``in_band`` says whether another device that holds it within its band keeps it there.
    ``known_a`` gives by the current that the part comes to what the device then holds, None where a programme has
    to say it.
    """

    bound_a: float
    name: str
    own_a: float
    limit_a: float
    band_a: float
    base: Callable[[], Programme]
    in_band: Callable[[], bool]
    known_a: Callable[[float], float | None] = lambda top_a: None


def _take(queried: _Queried, through: Through, ends: Ends) -> None:
    """Take what a device holds at least in one state."""
    take_candidates(
        through, ends, queried.limits.band_a, lambda banded: _candidates(queried, through, ends, banded=banded)
    )


def take_candidates(
    through: Through, ends: Ends, bands: Mapping[str, float], made: Callable[[bool], list[Candidate]]
) -> None:
    """Take the least where parts come to their limits and, ``True`` asked of ``made``, to the ends of their bands:
    where the band is for the device these first, since they say what need not be asked for any more.
    """
    if ends.by_band:
        _settle(made(True), through, ends, bands, banded=True)
    _settle(made(False), through, ends, bands, banded=False)
    if not ends.by_band and any(ends.is_banded(name, bands) for name in ends.held_a):
        _settle(made(True), through, ends, bands, banded=True)


def _candidates(queried: _Queried, through: Through, ends: Ends, *, banded: bool) -> list[Candidate]:
    found = _at_places(queried, through, ends, banded=banded)
    owns = [float(queried.search.own_along_a(asked.branch, asked.sign)) for asked in queried.stretches]
    need = [
        float(queried.limit[asked.branch]) - own_a for asked, own_a in zip(queried.stretches, owns, strict=True)
    ]
    bounds = through.least_on_a(queried, np.array(need)).tolist()
    for asked, own_a, bound_a in zip(queried.stretches, owns, bounds, strict=True):
        k, limit_a = asked.branch, float(queried.limit[asked.branch])
        base = partial(stretch_programme, queried.search, queried.response, asked)
        kept = partial(queried.stays_in_band, asked)
        found.append(Candidate(bound_a, queried.names[k], own_a, limit_a, float(queried.band[k]), base, kept))
    for k, own_a, programme in queried.cut_off:
        base, limits = partial(same, programme), (float(queried.limit[k]), float(queried.band[k]))
        found.append(Candidate(0.0, queried.names[k], own_a, *limits, base, partial(same, False)))
    return found


def _settle(
    candidates: list[Candidate], through: Through, ends: Ends, bands: Mapping[str, float], *, banded: bool
) -> None:
    """Solve candidates, those of the least bound first, until none can ask for less than is known."""
    found = ends.banded_a if banded else ends.held_a

    def is_open(each: Candidate, cap_a: float) -> bool:
        if each.name in ends.left_out or (banded and not ends.is_banded(each.name, bands)):
            return False
        known_a = found.get(each.name, math.inf)
        return known_a > NOTHING_A and each.bound_a < min(known_a, cap_a) * (1.0 - SAME)

    waiting = sorted(candidates, key=lambda each: each.bound_a)
    size = AT_FIRST
    while waiting:
        cap_a = ends.most_a(bands)
        waiting = [each for each in waiting if is_open(each, cap_a)]
        batch, waiting = waiting[:size], waiting[size:]
        for each, held_a in zip(batch, _solved(through, batch, banded=banded), strict=True):
            if held_a < found.get(each.name, math.inf):
                found[each.name] = held_a
        size *= 2


def same(value: Same) -> Same:
    """What was given: for what is known and what is found when it is asked for alike."""
    return value


def _solved(through: Through, batch: Sequence[Candidate], *, banded: bool) -> list[float]:
    """What the device holds at least in A; inf where the part does not come past its limit.

    What the copper holds in the band, or a device that does not feed the part, counts from where it is over its
    limit.
    """
    found = [math.inf] * len(batch)
    for by_band in (True, False) if banded else (False,):
        left = [n for n, held_a in enumerate(found) if math.isinf(held_a)]
        left = [n for n in left if by_band or not (banded and batch[n].in_band())]
        top_a = {n: batch[n].band_a if by_band else batch[n].limit_a for n in left}
        known_a = {n: batch[n].known_a(top_a[n]) for n in left}
        found = [found[n] if (known := known_a.get(n)) is None else known for n in range(len(batch))]
        left = [n for n in left if known_a[n] is None]
        bases = {n: batch[n].base() for n in left}
        held: list[float] = []
        # Past its limit there has to be a state; what the device holds is asked for right at it.
        for past in (PAST, 0.0):
            needs = [top_a[n] * (1.0 + past) - batch[n].own_a for n in left]
            programmes = [through.programme(bases[n], need) for n, need in zip(left, needs, strict=True)]
            held = [_held(*each) for each in zip(solve_programmes(programmes), needs, strict=True)]
            left = [n for n, held_a in zip(left, held, strict=True) if math.isfinite(held_a)]
            held = [held_a for held_a in held if math.isfinite(held_a)]
        for n, held_a in zip(left, held, strict=True):
            found[n] = held_a
    return found


def _held(answer: FloatArray | None, need_a: float) -> float:
    """What the device holds in A in the answer of a programme; inf where the part comes short of its limit."""
    if answer is None or float(answer[-1]) > SAME * max(abs(need_a), TINY):
        return math.inf
    return float(answer[-2])


def _at_places(queried: _Queried, through: Through, ends: Ends, *, banded: bool) -> list[Candidate]:
    """The candidates at single places. What is known without a programme is taken at once."""
    found = ends.banded_a if banded else ends.held_a
    queries, search, bands = queried.queries, queried.search, queried.limits.band_a
    if queries is None:
        return []
    names = queried.names[queries.branch]
    wanted = {n: n not in ends.left_out and (not banded or ends.is_banded(n, bands)) for n in set(names.tolist())}
    queries = _only(queries, np.array([wanted[n] for n in names.tolist()], dtype=np.bool_))
    if not len(queries.place):
        return []
    names, limit, band = queried.names[queries.branch], queried.limit[queries.branch], queried.band[queries.branch]
    reached, above, fault, drawn, _ = search.bounds(
        queries.response, queries.place, queries.gain, queries.base, queries.helps
    )
    kept = np.zeros(len(limit), dtype=np.bool_)
    if banded:
        kept = queried.kept_in_band(queries.place, queries.gain, queries.branch, queries.base)
        kept |= _note_band(queried, through, queries, ends, reached, above, kept)
    top = np.where(kept | (above >= band * (1.0 + PAST)), band, limit) if banded else limit
    need = top * (1.0 + PAST) - queries.base
    at_limit = top - queries.base
    comes = reached - queries.base >= need
    holding = np.where(comes, through.held_a(queried, queries, fault, drawn), math.inf)
    if through.row >= 0:
        holding = np.minimum(holding, _by_fault_alone(queried, through, queries, need, at_limit))
    bound = np.where(above - queries.base >= need, through.least_a(queried, queries, at_limit), math.inf)
    if banded:  # what holds it within its band may not keep it there: then it counts from its limit on
        sure = comes | kept | (top < band)
        bound = np.where(sure, bound, through.least_a(queried, queries, limit - queries.base))
        holding = np.where(sure, holding, math.inf)
    for n in np.flatnonzero(np.isfinite(holding)).tolist():
        found[names[n]] = min(found.get(names[n], math.inf), float(holding[n]))
    cap_a = ends.most_a(bands)
    known = np.array([min(found.get(name, math.inf), cap_a) for name in names.tolist()])
    return [
        Candidate(
            float(bound[n]),
            names[n],
            float(queries.base[n]),
            float(limit[n]),
            float(band[n]) if top[n] >= band[n] else float(limit[n]),
            partial(
                search.loaded.programme,
                queries.response,
                int(queries.place[n]),
                float(queries.gain[n]),
                queries.helps[n],
            ),
            partial(same, bool(kept[n])),
        )
        for n in np.flatnonzero(bound < known * (1.0 - SAME)).tolist()
    ]


def _note_band(
    queried: _Queried,
    through: Through,
    queries: Queries,
    ends: Ends,
    reached: FloatArray,
    above: FloatArray,
    kept: BoolArray,
) -> BoolArray:
    """(Q,) queries whose part stays below the end of its band whatever the device holds, by what another one holds
    or the copper; all of them, and what the device holds where the fault is its own doing, are noted in ``ends``.
    """
    found = np.zeros(len(reached), dtype=np.bool_)
    if through.row < 0:
        return found
    names, limit, band = queried.names[queries.branch], queried.limit[queries.branch], queried.band[queries.branch]
    found = (above < band) & (reached > limit) & ~kept
    soonest = through.least_a(queried, queries, reached - queries.base)
    for q in np.flatnonzero(found).tolist():
        ends.by_others.setdefault(names[q], set()).add((float(above[q]), float(soonest[q])))
    at_band = _by_fault_alone(queried, through, queries, band - queries.base, band - queries.base)
    at_limit = _by_fault_alone(queried, through, queries, limit - queries.base, limit - queries.base)
    for q in np.flatnonzero(np.isfinite(at_band) & np.isfinite(at_limit)).tolist():
        held = (float(at_limit[q]), float(at_band[q]))
        known = ends.by_itself.get(names[q])
        if known is None or held < known:
            ends.by_itself[names[q]] = held
    return found


def _by_fault_alone(
    queried: _Queried, through: Through, queries: Queries, need: FloatArray, at_limit: FloatArray
) -> FloatArray:
    """(Q,) what the device holds in A where the fault alone brings the part to its limit; inf where it does not.

    ``need``: what the fault has to add in A to bring the part past it.
    """
    limit, response, place = queried.search.variant.rows.limit, queries.response, queries.place
    fault_a = np.where(np.isfinite(need), need / queries.gain, -1.0)
    holds = (response.rows[:, place] * fault_a <= limit[:, None] + TINY * (1.0 + np.abs(limit[:, None]))).all(
        axis=0
    )
    holds &= (limit >= -TINY).all() & (response.loop_ohm[place] * fault_a <= response.open_v[place])
    fault_a = np.maximum(at_limit / queries.gain, 0.0)
    fault_a = np.where(np.isfinite(fault_a), fault_a, 0.0)
    nothing = np.zeros((len(need), len(queried.search.loaded.plus)))
    held = through.held_a(queried, queries, fault_a, nothing)
    return np.where(holds & np.isfinite(need) & (need >= 0.0), held, math.inf)
