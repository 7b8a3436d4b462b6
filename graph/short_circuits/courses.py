"""Every course that short circuits may take, over every order in which devices may open.

A state is what is open; others follow from it by what may open first in it. States are found by how much is open,
then judged from the last one back: a short ends as the worst of the ends that its first state may come to.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray, Network, without
from loadloom.graph.circuit.uneven_ways import NO_WAYS, UnevenWays
from loadloom.graph.model.elements import Behaviour, Device, Output
from loadloom.graph.short_circuits.clearing import Clearing, Flow, Held, Retry
from loadloom.graph.short_circuits.opened_copper import DEAD_S, OpenedCopper, ShortedTables, exchanged
from loadloom.graph.short_circuits.opening_times import NEGLIGIBLE_A, NextOpened, OpeningTimes
from loadloom.graph.short_circuits.shorted_copper import ShortedCopper

MOST_BESIDE = 144
"""States with as many parts open that one short is followed through: all of nine leads side by side."""

FEW_BESIDE = 12
"""So many where there are more: those nearest to being held."""


@dataclass(frozen=True)
class Shorts:
    """S shorts, each from one node to another, and the tables of the copper with each."""

    ends: tuple[tuple[int, int], ...]
    tables: ShortedTables


class JoinedCopper:
    """One piece of copper with its P devices and outputs, in the order of its branches.

    ``held_a``: what limiters and outputs hold without opening, by id. ``uneven``: loops of copper whose ways may be
    unlike; what a part of them carries is told at the worst of their bands.
    """

    def __init__(
        self,
        piece: Network,
        parts: Mapping[str, Device | Output],
        times: OpeningTimes,
        held_a: Mapping[str, float],
        uneven: UnevenWays = NO_WAYS,
    ) -> None:
        self.piece, self.parts, self.held_a = piece, tuple(parts.values()), held_a
        self.uneven = uneven
        self.opened = OpenedCopper(piece, parts)
        self.times = times
        names = self.opened.names
        self.branch = np.array([self.opened.place[name] for name in parts], dtype=np.int64)
        column = np.full(len(names), -1)
        column[self.opened.at] = np.arange(len(self.opened.at))
        self.column = column[self.branch]
        self.again = np.array([part.behaviour is Behaviour.HICCUP for part in self.parts], dtype=np.bool_)
        self.limits, self.unlimited = self.opened.limits(held_a), self.opened.limits({})
        self.ohm = np.where(np.isfinite(piece.edge_resistance_ohm), piece.edge_resistance_ohm, 0.0)
        self._states: dict[tuple[bytes, bool], ShortedCopper] = {}

    def named(self, names: Sequence[str]) -> BoolArray:
        """(P,) which parts have one of these ids."""
        return np.array([part.id in names for part in self.parts], dtype=np.bool_)

    def currents_a(
        self,
        shorts: Shorts,
        short: IntArray,
        out: BoolArray,
        swapped: BoolArray,
        table: FloatArray | None,
        *,
        limited: bool = True,
    ) -> tuple[FloatArray, dict[int, tuple[str, ...]]]:
        """Currents (N, B + 1) of all branches and the short with these parts (N, P) out, and by number of a state
        what holds its current in it. ``short`` (N,) of each, ``swapped`` and ``table`` as in their tables; states
        of which these do not tell are solved by themselves. ``limited``: devices and outputs hold what they hold
        without opening.
        """
        edges = len(self.piece.edge_ids)
        opened = shorts.tables.currents_a(short, swapped, self.limits if limited else self.unlimited, table)
        current_a = opened.current_a
        held = np.flatnonzero(opened.settled & opened.at_end.any(axis=1)).tolist()
        holding = {row: self.opened.holding(opened.at_end[row]) for row in held}
        for row in np.flatnonzero(~opened.settled).tolist():
            state = self._by_itself(out[row], limited)
            drawn = state.drawn(*shorts.ends[short[row]])
            current_a[row] = 0.0
            current_a[row, :edges] = drawn.edge_a
            current_a[row, [self.opened.place[name] for name in state.network.source_ids]] = drawn.source_a
            current_a[row, -1] = drawn.short_a
            holding[row] = drawn.holding
        return current_a, holding

    def shorted(self, ends: Sequence[tuple[int, int]]) -> Shorts:
        """The copper with each of these shorts."""
        return Shorts(tuple(ends), self.opened.shorted(ends))

    def from_whole(self, shorts: Shorts, short: IntArray, opened: BoolArray) -> tuple[FloatArray, BoolArray]:
        """Tables of the copper with a short (N,) and parts (N, P) opened, and which branches are exchanged (N, K)
        in them.
        """
        table = shorts.tables.table[short]
        swapped = np.zeros(table.shape[:2], dtype=np.bool_)
        for part in np.flatnonzero(opened.any(axis=0)).tolist():
            rows = np.flatnonzero(opened[:, part])
            _open(table, swapped, rows, np.full(len(opened), self.column[part]))
        return table, swapped

    def _by_itself(self, out: BoolArray, limited: bool) -> ShortedCopper:
        """The copper with these parts open, to be solved by itself."""
        key = out.tobytes(), limited
        if key not in self._states:
            names = sorted(part.id for part, gone in zip(self.parts, out.tolist(), strict=True) if gone)
            self._states[key] = ShortedCopper(without(self.piece, names), self.held_a if limited else {})
        return self._states[key]


def _open(table: FloatArray, swapped: BoolArray, rows: IntArray, column: IntArray) -> None:
    """Open one branch in each of these rows, in place; one that lies in no loop carries nothing as it is."""
    if not len(rows) or not table.shape[1]:
        return
    at = column[rows]
    live = (at >= 0) & (table[rows, at, at] > DEAD_S) & ~swapped[rows, at]
    rows, at = rows[live], at[live]
    table[rows] = exchanged(table[rows], at)
    swapped[rows, at] = True


class _Rows:
    """One array to which rows are added bit by bit."""

    def __init__(self, like: npt.NDArray[Any]) -> None:
        self._all, self._count = like[:0], 0

    def add(self, more: npt.NDArray[Any]) -> None:
        end = self._count + len(more)
        if end > len(self._all):
            wider = np.empty((2 * end, *more.shape[1:]), dtype=more.dtype)
            wider[: self._count] = self.rows
            self._all = wider
        self._all[self._count : end] = more
        self._count = end

    @property
    def rows(self) -> npt.NDArray[Any]:
        return self._all[: self._count]


@dataclass
class _Waiting:
    """States of a ``short`` (N,) that are to be entered: what has ``opened``, ``out`` (N, P) with what that leaves
    in no loop, and which try ``again``; from which ``parent`` (-1 - k: the k-th first state) by which ``part``.
    ``first``: in it, what is certain to open first opened each time; ``ratio``: its greatest current as a share of
    what is held.
    """

    short: IntArray
    opened: BoolArray
    out: BoolArray
    again: BoolArray
    parent: IntArray
    part: IntArray
    first: BoolArray
    ratio: FloatArray


class Courses:
    """The courses of S shorts in one copper with each of the sets ``off`` of parts (F, P) out from the first.

    ``first`` (S, F) are the numbers of the states that they begin in.
    """

    def __init__(self, copper: JoinedCopper, ends: Sequence[tuple[int, int]], off: BoolArray) -> None:
        self.copper, self.shorts = copper, copper.shorted(ends)
        self.edges = len(copper.piece.edge_ids)
        self.first = np.zeros((len(ends), len(off)), dtype=np.int64)
        self.holding: dict[int, tuple[str, ...]] = {}
        self._known: dict[int, Held] = {}
        self.levels: list[slice] = []
        self._explore(off)
        self._judge()

    # --- finding the states ---------------------------------------------------------------------------------------

    def _explore(self, off: BoolArray) -> None:
        count = len(self.shorts.ends)
        short, off = np.repeat(np.arange(count), len(off)), np.tile(off, (count, 1))
        table, swapped = self.copper.from_whole(self.shorts, short, off)
        self._short = _Rows(short)
        self._table, self._swapped, self._opened = _Rows(table), _Rows(swapped), _Rows(off)
        self._out, self._again, self._child = _Rows(off), _Rows(off), _Rows(off.astype(np.int64))
        self._amps = _Rows(np.zeros((0, len(self.copper.opened.names) + 1)))
        self._certain, self._within = _Rows(np.zeros(0, dtype=np.int64)), _Rows(np.zeros(0))
        self._sure, self._whole = _Rows(np.zeros(0, dtype=np.bool_)), _Rows(np.zeros(0, dtype=np.bool_))
        start = -1 - np.arange(len(off))
        out = self._closed_off(short, off, table, swapped)
        waiting: dict[int, list[_Waiting]] = defaultdict(list)
        more = _Waiting(short, off, out, np.zeros_like(off), start, start, start < 0, np.zeros(len(off)))
        beside = np.full(count, MOST_BESIDE)
        while True:
            size = more.out.sum(axis=1)
            for open_parts in np.unique(size).tolist():
                waiting[open_parts].append(_Waiting(*(each[size == open_parts] for each in vars(more).values())))
            if not waiting:
                return
            here = waiting.pop(min(waiting))
            one = _Waiting(*(np.concatenate(each) for each in zip(*(vars(w).values() for w in here), strict=True)))
            more = self._enter(one, beside)

    def _enter(self, here: _Waiting, beside: IntArray) -> _Waiting:
        """Take states in, each once, and give those that follow. ``beside`` (S,) is how many of a short may be
        beside each other, which is less once there were more.
        """
        # What a limit that tries again feeds meanwhile hangs on which devices have opened, not on what they leave.
        tries = here.opened & np.asarray(here.again.any(axis=1))[:, None]
        keys = np.packbits(np.concatenate([here.out, here.again, tries], axis=1), axis=1)
        keys = np.concatenate([here.short.astype(">u4")[:, None].view(np.uint8), keys], axis=1)
        keys = np.ascontiguousarray(keys).view(f"V{keys.shape[1]}")[:, 0]
        _, one, which = np.unique(keys, return_index=True, return_inverse=True)
        first = np.bincount(which, here.first) > 0
        kept = self._kept(here.short[one], here.ratio[one], first, beside)
        begin = len(self._out.rows)
        number = np.full(len(one), -1)
        number[kept] = begin + np.arange(len(kept))
        state, begins = number[which], here.parent < 0
        self.first.reshape(-1)[-1 - here.parent[begins]] = state[begins]
        self._child.rows[here.parent[~begins], here.part[~begins]] = state[~begins]
        self._whole.rows[here.parent[state < 0]] = False
        one = one[kept]
        short, opened, out, again = here.short[one], here.opened[one], here.out[one], here.again[one]
        parent = here.parent[one]
        table, swapped = self.copper.from_whole(self.shorts, short, opened & (parent < 0)[:, None])
        rows = np.flatnonzero(parent >= 0)
        if len(rows):
            table[rows], swapped[rows] = self._table.rows[parent[rows]], self._swapped.rows[parent[rows]]
            _open(table, swapped, rows, self.copper.column[np.where(parent < 0, 0, here.part[one])])
        current_a, holding = self.copper.currents_a(self.shorts, short, out, swapped, table)
        self.holding |= {begin + row: names for row, names in holding.items()}
        parts_a = self._parts_a(current_a)
        uncertain = self._uncertain(short, opened, again, parts_a) if again.any() else None
        # Where the short takes nothing any more it is over.
        over = np.abs(current_a[:, -1:]) <= NEGLIGIBLE_A
        following = self.copper.times.at(np.where(out | over, 0.0, parts_a), uncertain)
        for name, each in (
            (self._short, short),
            (self._table, table),
            (self._swapped, swapped),
            (self._opened, opened),
            (self._out, out),
            (self._again, again),
            (self._child, np.full(out.shape, -1)),
            (self._whole, np.ones(len(out), np.bool_)),
            (self._amps, current_a),
            (self._certain, following.certain),
            (self._within, following.within_s),
            (self._sure, first[kept]),
        ):
            name.add(each)
        self.levels.append(slice(begin, begin + len(out)))
        return self._that_follow(begin, following)

    def _kept(self, short: IntArray, ratio: FloatArray, first: BoolArray, beside: IntArray) -> IntArray:
        """Positions of the states (N,) that are followed; ``beside`` is lessened where there are more."""
        counts = np.bincount(short, minlength=len(beside))
        too_many = counts > beside
        beside[too_many] = FEW_BESIDE
        order = np.lexsort((ratio, short))
        rank = np.empty(len(short), dtype=np.int64)
        rank[order] = np.arange(len(short)) - (np.cumsum(counts) - counts)[short[order]]
        return np.flatnonzero(~too_many[short] | first | (rank < beside[short]))

    def _that_follow(self, begin: int, following: NextOpened) -> _Waiting:
        row, part = np.nonzero(following.first)
        state, each = begin + row, np.arange(len(row))
        opened, again, short = self._opened.rows[state], self._again.rows[state], self._short.rows[state]
        opened[each, part] = True
        again[each, part] = self.copper.again[part]
        out, ratio = self._out.rows[state] | opened, np.zeros(len(row))
        told = np.flatnonzero(self.shorts.tables.known[short])
        if len(told):
            at, column = self.copper.column[part[told]], self.copper.column
            table = self._table.rows
            fall = table[state[told], :, at] / table[state[told], at, at][:, None]
            across = table[state[told], at]
            left = np.diagonal(table[begin:], axis1=1, axis2=2)[row[told]] - fall * across[:, :-1]
            out[told] |= (left <= DEAD_S)[:, column] & (column >= 0)
            amps = np.abs(table[begin:, :, -1][row[told]] - fall * across[:, -1:])[:, column]
            limit = np.where(self.copper.times.opens, self.copper.times.held_a, np.inf)
            with np.errstate(divide="ignore", invalid="ignore"):
                nearest = np.where(out[told], 0.0, amps) / limit
            ratio[told] = np.nan_to_num(nearest, nan=np.inf).max(axis=1)
        first = (following.certain[row] == part) & self._sure.rows[state]
        return _Waiting(short, opened, out, again, state, part, first, ratio)

    # --- currents -------------------------------------------------------------------------------------------------

    def _closed_off(self, short: IntArray, opened: BoolArray, table: FloatArray, swapped: BoolArray) -> BoolArray:
        """What is open or in no loop any more (N, P)."""
        column = self.copper.column
        dead = (np.diagonal(table, axis1=1, axis2=2) <= DEAD_S) & ~swapped
        dead &= self.shorts.tables.known[short][:, None]
        closed: BoolArray = opened | (dead[:, column] & (column >= 0))
        return closed

    def _parts_a(self, current_a: FloatArray) -> FloatArray:
        """Currents (N, P) through devices and out of outputs; an output that takes current gives none."""
        through = current_a[:, self.copper.branch]
        outputs = self.copper.branch >= self.edges
        return np.where(outputs, np.maximum(through, 0.0), np.abs(through))

    def _meanwhile(self, short: IntArray, opened: BoolArray, again: BoolArray) -> FloatArray:
        """Currents (N, B + 1) while the limits that try again do so."""
        opened = opened & ~again
        table, swapped = self.copper.from_whole(self.shorts, short, opened)
        return self.copper.currents_a(self.shorts, short, opened, swapped, table)[0]

    def _uncertain(self, short: IntArray, opened: BoolArray, again: BoolArray, parts_a: FloatArray) -> BoolArray:
        """Devices (N, P) certain to open only while a limit that tries again is off, and that need more than its
        pause.
        """
        off_s = np.array([part.retry_off_s or 0.0 for part in self.copper.parts])
        pause_s = np.where(again, off_s, np.inf).min(axis=1)
        beside_a = self._parts_a(self._meanwhile(short, opened, again))
        late = self.copper.times.at(parts_a).slowest_s > pause_s[:, None]
        uncertain: BoolArray = (
            late & (beside_a <= self.copper.times.held_a) & np.asarray(again.any(axis=1))[:, None]
        )
        return uncertain

    # --- judging them ---------------------------------------------------------------------------------------------

    def _judge(self) -> None:
        self.current_a = self._amps.rows
        self.own_a = self._own_a(self.current_a)
        shape = self.own_a.shape
        self.time_s, self.i2t_a2s = np.zeros(shape), np.zeros(shape)
        self.last, self.held = np.full(shape, -1), np.full(shape, -1)
        self.retry, self.retry_a = np.full(shape, -1), np.full(shape, -1.0)
        # The gravest of two states that are held: what nothing limits before what a limit holds, then the current.
        capped = np.array([self._capped_by(k) is not None for k in range(shape[0])])
        heat_w = (self.current_a[:, : self.edges] ** 2) @ self.copper.ohm
        short_a = np.abs(self.current_a[:, -1])
        self.by_gravity = np.lexsort((heat_w, _figures(short_a), ~capped))
        rank = np.empty(shape[0], dtype=np.int64)
        rank[self.by_gravity] = np.arange(shape[0])
        for here in reversed(self.levels):
            # What flows on while the short takes nothing, as between outputs of unequal voltage, is not its own.
            flowing = (self.own_a[here] > NEGLIGIBLE_A) & (short_a[here] > NEGLIGIBLE_A)[:, None]
            certain = self._certain.rows[here]
            self.held[here] = np.where((certain < 0)[:, None] & flowing, rank[here][:, None], -1)
            if self._again.rows[here].any():
                self._retried(here, flowing)
            rows = np.flatnonzero(certain >= 0)
            if len(rows):
                self._worst_of(here.start + rows, flowing[rows])

    def _worst_of(self, states: IntArray, flowing: BoolArray) -> None:
        """Where something opens next: the worst of what follows."""
        child = self._child.rows[states]
        most = max(1, int((child >= 0).sum(axis=1).max()))
        part = np.argsort(child < 0, axis=1, kind="stable")[:, :most]
        child = np.take_along_axis(child, part, axis=1)
        some, each = (child >= 0)[:, :, None], np.arange(flowing.shape[1])
        after_s = np.where(some, self.time_s[child], -1.0)
        worst = after_s.argmax(axis=1)
        slowest_s = np.maximum(after_s.max(axis=1), 0.0)
        slowest = np.take_along_axis(child, worst, axis=1)
        within_s, certain = self._within.rows[states][:, None], self._certain.rows[states][:, None]
        time_s = np.where(self._whole.rows[states][:, None], within_s + slowest_s, np.inf)
        self.time_s[states] = np.where(flowing, time_s, 0.0)
        own_a = np.where(flowing, self.own_a[states], 1.0)
        i2t = own_a**2 * within_s + np.where(some, self.i2t_a2s[child], 0.0).max(axis=1)
        self.i2t_a2s[states] = np.where(flowing, i2t, 0.0)
        last = np.where(slowest >= 0, self.last[slowest, each], -1)
        then = np.where(slowest_s == 0.0, certain, np.take_along_axis(part, worst, axis=1))
        self.last[states] = np.where(flowing, np.where(last >= 0, last, then), -1)
        self.held[states] = np.where(flowing, np.where(some, self.held[child], -1).max(axis=1), -1)
        if self.copper.again.any():
            retry_a = np.where(some, self.retry_a[child], -1.0)
            best = np.take_along_axis(child, retry_a.argmax(axis=1), axis=1)
            self.retry_a[states] = np.where(flowing, retry_a.max(axis=1), self.retry_a[states])
            self.retry[states] = np.where(flowing, self.retry[best, each], self.retry[states])

    def _retried(self, here: slice, flowing: BoolArray) -> None:
        """What the parts in which nothing flows any more carry while opened limits try again."""
        rows = self._short.rows[here], self._opened.rows[here], self._again.rows[here]
        own_a = _figures(self._own_a(self._meanwhile(*rows)))
        for row in np.flatnonzero(self._again.rows[here].any(axis=1)).tolist():
            state, ended = here.start + row, ~flowing[row]
            self.retry_a[state] = np.where(ended, own_a[row] * self._retry(state, 1.0).gravity_a, -1.0)
            self.retry[state] = np.where(ended, state, -1)

    def _retry(self, state: int, own_a: float | None, column: int = 0) -> Retry:
        """Of the limits that try again in a state; ``own_a`` None: what the part of this column carries then."""
        parts, tries = self.copper.parts, self._again.rows[state]
        current_a = self._meanwhile(self._short.rows[[state]], self._opened.rows[[state]], tries[None])
        again = sorted(np.flatnonzero(tries).tolist(), key=lambda k: parts[k].id)
        if own_a is None:
            own_a = float(self._own_a(current_a)[0, column])
            own_a = own_a if own_a > NEGLIGIBLE_A else 0.0
        return Retry.of([parts[k] for k in again], own_a, float(self._parts_a(current_a)[0, again[0]]))

    # --- what a part is told --------------------------------------------------------------------------------------

    def flows(
        self, short: int, edge: int | None, sets_off: Sequence[tuple[str, ...]], *, at_source_end: bool
    ) -> list[Flow]:
        """A short as the part of an edge sees it, once for every set that is off and leaves it a current; where
        none does, the first. None: nothing flows in it.
        """
        column = (self.edges if edge is None else edge) + (self.edges + 1) * at_source_end
        first = self.first[short]
        some = np.flatnonzero(self.own_a[first, column] > NEGLIGIBLE_A).tolist() or [0]
        return [self._flow(int(first[k]), column, sets_off[k]) for k in some]

    def _flow(self, state: int, column: int, outputs_off: tuple[str, ...]) -> Flow:
        held, last = int(self.held[state, column]), int(self.last[state, column])
        time_s, retry = float(self.time_s[state, column]), int(self.retry[state, column])
        ends = held < 0 and last >= 0
        return Flow(
            current_a=abs(float(self.current_a[state, -1])),
            own_a=float(self.own_a[state, column]),
            clearing=Clearing(self.copper.parts[last], time_s) if ends else None,
            held=self._held(int(self.by_gravity[held])) if held >= 0 else None,
            own_i2t_a2s=float(self.i2t_a2s[state, column]) if held < 0 and math.isfinite(time_s) else None,
            retry=self._retry(retry, None, column) if retry >= 0 else None,
            outputs_off=outputs_off,
        )

    def _own_a(self, current_a: FloatArray) -> FloatArray:
        """What parts carry (N, 2 · (E + 1)) at the worst of their loops' bands: each edge and one in which nothing
        flows, then the same with the short just behind their source end.
        """
        through = np.zeros((len(current_a), self.edges + 1))
        through[:, : self.edges] = np.abs(current_a[:, : self.edges])
        least = through.copy()
        for loop in self.copper.uneven.loops:
            own = current_a[:, loop.branches].T
            low, high = loop.ends(loop.into @ own)
            low, high = np.minimum(low, own).T, np.maximum(high, own).T
            through[:, loop.branches] = np.maximum(-low, high)
            least[:, loop.branches] = np.maximum(np.maximum(low, -high), 0.0)
        rest = np.maximum(np.abs(current_a[:, -1:]) - least, through)
        return np.concatenate([through, rest], axis=1)

    def _capped_by(self, state: int) -> str | None:
        return next((name for name in self.holding.get(state, ()) if name in self.copper.held_a), None)

    def _held(self, state: int) -> Held:
        if state not in self._known:
            copper, current_a = self.copper, self.current_a[state]
            amps = self._parts_a(current_a[None])[0].tolist()
            edge_a = current_a[: self.edges]
            self._known[state] = Held(
                current_a=abs(float(current_a[-1])),
                heat_w=float(np.sum(edge_a**2 * copper.ohm)),
                devices=tuple(
                    (part, a)
                    for part, a, out in zip(copper.parts, amps, self._out.rows[state].tolist(), strict=True)
                    if not out and (a > 0.0 or isinstance(part, Device))
                ),
                capped_by=self._capped_by(state),
                carried_a=dict(zip(copper.piece.edge_ids, self.own_a[state, : self.edges].tolist(), strict=True)),
            )
        return self._known[state]


def _figures(value: FloatArray) -> FloatArray:
    """Values to nine figures, so that rounding makes no difference between equal ones; negligible ones are 0."""
    scale = 10.0 ** (8.0 - np.floor(np.log10(np.maximum(value, NEGLIGIBLE_A))))
    rounded: FloatArray = np.where(value > NEGLIGIBLE_A, np.round(value * scale) / scale, 0.0)
    return rounded
