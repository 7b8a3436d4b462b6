"""The least that a device must hold by Kirchhoff's current law alone, whatever has opened, blocks or holds.

For pieces of which not every state can be tried. All that acts in loops passes anything up to what it lets through,
whatever the voltages; so no state of the piece asks for less than this. A range that ends there is safe, and may be
narrower than it need be.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.least_held import (
    SHORT_COSTS,
    Candidate,
    Ends,
    HeldLimits,
    Through,
    same,
    take_candidates,
)
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.state_bound import MOST_A, StateBound
from loadloom.graph.faults.tolerances import PAST, SAME, TINY


class LeastByLaw:
    """The programmes of one piece, for some of its devices, as positions of branches. Variables: what the parts
    that act in loops pass, counted from their most backwards, draws at the places, currents of the loads.
    """

    def __init__(self, geometry: PieceGeometry, devices: IntArray, limits: HeldLimits) -> None:
        piece, self.limits = geometry.piece, limits
        # What a fault draws at a place at the most hangs on no setting.
        lifted = np.where(np.isin(np.arange(len(piece.held_a)), devices), MOST_A, piece.held_a)
        self.bound = StateBound(replace(geometry, piece=replace(piece, held_a=lifted, token=object())))
        self.piece, bound = piece, self.bound
        acting, most_a = bound.acting, bound.most_a
        back = piece.reverse_too[acting] & np.isfinite(piece.held_a[acting])
        self.down = np.where(back, np.minimum(piece.held_a[acting], most_a), most_a)
        self.up = np.minimum(piece.held_a[acting], most_a)
        rows, limit = bound.rows.per_node @ bound.drawn, bound.rows.limit.copy()
        outside = np.isin(bound.rows.device, devices)
        limit[outside] -= MOST_A - piece.held_a[bound.rows.device[outside]]
        self.rows, self.limit, self.device = rows, np.maximum(limit, 0.0), bound.rows.device
        bodies = int(bound.body.max(initial=-1)) + 1
        member = np.zeros((bodies, len(bound.body)))
        member[bound.body, np.arange(len(bound.body))] = 1.0
        self.law = member @ bound.drawn
        self.asked = [g for g, k in enumerate(acting.tolist()) if k in devices]
        self.may_come = self._that_may_come(geometry)
        self._known: dict[tuple[int, float], tuple[set[int], set[int]]] = {}

    def _that_may_come(self, geometry: PieceGeometry) -> list[Candidate]:
        """Parts that can come above their limits whatever the devices hold."""
        asked = []
        for k in geometry.parts:
            name = self.piece.branches.ids[k]
            for own_a, gain in self.bound.part_gains(k) if name in self.limits.limit_a else ():
                asked.append((name, own_a, gain))
        made = [(name, *self._programme(own_a, gain)) for name, own_a, gain in asked]
        found = []
        for name, own_a, programme in made:
            limit_a, band_a = self.limits.limit_a[name], self.limits.band_a.get(name, np.inf)
            kept = self._kept_in_band(name, band_a, programme.gain)
            by = (partial(same, programme), partial(same, kept))
            found.append(Candidate(0.0, name, own_a, limit_a, band_a, *by))
        rows = len(self.limit)
        free = [self._lifted(each, range(len(self.up))) for each in found]
        programmes = [each.base() for each in free]
        programmes = [replace(p, rows=p.rows[rows:], limit=p.limit[rows:]) for p in programmes]
        most_a = (
            np.inf if most is None else each.own_a + float(p.gain @ most)
            for each, p, most in zip(free, programmes, solve_programmes(programmes), strict=True)
        )
        return [each for each, a in zip(found, most_a, strict=True) if a >= each.limit_a * (1.0 + PAST)]

    def _lifted(self, each: Candidate, acting: Iterable[int]) -> Candidate:
        """The same where some of the parts that act, by their numbers, let anything through either way."""
        programme, own_a, top = each.base(), each.own_a, each.base().most.copy()
        limit = programme.limit
        for g in acting:
            more_a = self.bound.most_a - self.down[g]
            limit = limit + programme.rows[:, g] * more_a
            own_a -= float(programme.gain[g]) * more_a
            top[g] = 2.0 * self.bound.most_a
        return replace(each, own_a=own_a, base=partial(same, replace(programme, limit=limit, most=top)))

    def _kept_in_band(self, name: str, band_a: float, gain: FloatArray) -> bool:
        """Whether a part stays in its band whoever holds a fault there: all that can are devices that feed it, and
        the copper lets through more than the end of its band, whatever has opened.
        """
        branches = self.piece.branches
        holders = (branches.ids[k] for k in np.flatnonzero(np.isfinite(self.piece.held_a)).tolist())
        least_v = float(np.abs(branches.emf_v[list(self.piece.sources)]).min())
        adds = gain[gain > TINY]
        copper_a = float(adds.min(initial=1.0)) * least_v / max(float(branches.resistance_ohm.sum()), TINY)
        return copper_a > band_a and all(self.limits.feeds(each, name) for each in holders)

    def _programme(self, own_a: float, gain: FloatArray) -> tuple[float, Programme]:
        """What a part carries by itself, and the programme of the most that is added to it."""
        bound, count = self.bound, len(self.up)
        groups = bound.alike(gain)
        first = np.array([group[0] for group in groups], dtype=np.int64)
        top = np.array([bound.most_at[group].max() for group in groups])
        used = np.concatenate([np.arange(count), bound.place_at + first, np.arange(bound.load_at, bound.body_at)])
        start = np.zeros(bound.count)
        start[:count] = -self.down
        one = np.zeros(len(used))
        one[count : count + len(first)] = 1.0 / np.maximum(top, TINY)
        law, begin = self.law[:, used], self.law @ start
        programme = Programme(
            gain[used],
            np.concatenate([self.rows[:, used], law, -law, one[None]]),
            np.concatenate([self.limit - self.rows @ start, -begin, begin, [1.0]]),
            np.concatenate([self.up + self.down, top, bound.load_most]),
            possible=True,  # nothing may flow at all
        )
        return own_a + float(gain @ start), programme

    def take(self, device: int, ends: Ends) -> None:
        """Take into ``ends`` what a device holds at least for the parts that come to their limits."""
        at = np.flatnonzero(self.bound.acting == device).tolist()
        both, kept = bool(self.piece.reverse_too[device]), self.device != device
        if at:
            through = Through(-1, at[0], -self.bound.most_a, both, kept)
        elif kept.all():
            return
        else:
            row = int(np.flatnonzero(~kept)[0])
            own_a = float(self.bound.flows.own_a[device] - self.rows[row, : len(self.down)] @ self.down)
            through = Through(row, 0, own_a, both, kept)
        lifted = []
        for n, each in enumerate(self.may_come):
            known = partial(self._known_a, n, at[0]) if at else each.known_a
            lifted.append(replace(self._lifted(each, at), known_a=known))
        take_candidates(through, ends, self.limits.band_a, lambda banded: lifted)

    def _known_a(self, number: int, acting: int, top_a: float) -> float | None:
        """What is known of the current in A of a part that acts, where a candidate comes to ``top_a``; None where
        a programme of its own has to say it.
        """
        if (number, top_a) not in self._known:
            self._find_known(number, top_a)
        nothing, never = self._known[number, top_a]
        return 0.0 if acting in nothing else math.inf if acting in never else None

    def _find_known(self, number: int, top_a: float) -> None:
        """Find of all candidates that may come to as much, for all parts that act at once: which need pass nothing,
        since there is a state without them in which all others stay within their limits; and which can't bring the
        candidate there, since all of them together without limits do not.
        """
        some = [n for n, each in enumerate(self.may_come) if top_a in (each.limit_a, each.band_a)]
        some = [n for n in some if (n, top_a) not in self._known]
        drawn = [self.may_come[n] for n in some]
        nothing = self._needed(drawn, [], top_a)
        beyond = [n for n, needed in enumerate(nothing) if needed is None]
        lifted = [self._lifted(drawn[n], self.asked) for n in beyond]
        needed = dict(zip(beyond, self._needed(lifted, self.asked, top_a), strict=True))
        others = {n: [g for g in self.asked if g not in (needed[n] or ())] for n in beyond}
        free = {n: self._lifted(drawn[n], others[n]) for n in beyond}
        programmes = [self._within_rows(free[n].base(), others[n]) for n in beyond]
        most_a = {
            n: math.inf if most is None else free[n].own_a + float(p.gain @ most)
            for n, p, most in zip(beyond, programmes, solve_programmes(programmes), strict=True)
        }
        for n, each in enumerate(some):
            if n in most_a:
                need_a = top_a * (1.0 + PAST) - free[n].own_a
                short = most_a[n] < top_a * (1.0 + PAST) - SAME * max(abs(need_a), TINY)
                self._known[each, top_a] = set(), set(others[n]) if short else set()
            else:
                self._known[each, top_a] = set(self.asked) - (nothing[n] or set()), set()

    def _within_rows(self, programme: Programme, lifted: Sequence[int]) -> Programme:
        """A programme without the rows of parts that act and are lifted."""
        kept = np.ones(len(programme.limit), dtype=np.bool_)
        kept[: len(self.device)] = ~np.isin(self.device, self.bound.acting[lifted])
        return replace(programme, rows=programme.rows[kept], limit=programme.limit[kept])

    def _needed(
        self, candidates: Sequence[Candidate], lifted: Sequence[int], top_a: float
    ) -> list[set[int] | None]:
        """Of the parts that act and are asked for, a few that are enough to bring each candidate to ``top_a``:
        those that pass anything, and of the ``lifted`` ones those that pass more than their limits. None: all of
        them are not enough.

        Two more kinds of variables: what each passes beyond that, of which the sum is made the least, and what the
        candidate comes short.
        """
        needs = [top_a * (1.0 + PAST) - each.own_a for each in candidates]
        programmes, count = [], len(self.asked)
        for each, need in zip(candidates, needs, strict=True):
            base = self._within_rows(each.base(), lifted)
            size = len(base.gain)
            ahead = np.zeros((count, size))
            ahead[np.arange(count), self.asked] = 1.0
            least_a, most_a = self._from_a(lifted)
            slack, none = -np.eye(count), np.zeros((count, 1))
            rows = np.concatenate(
                [
                    np.column_stack([base.rows, np.zeros((len(base.limit), count + 1))]),
                    np.column_stack([ahead, slack, none]),
                    np.column_stack([-ahead, slack, none]),
                    np.concatenate([-base.gain, np.zeros(count), [-1.0]])[None],
                ]
            )
            limit = np.concatenate([base.limit, most_a, -least_a, [-need]])
            gain = np.concatenate([np.zeros(size), np.full(count, -1.0), [-SHORT_COSTS]])
            most = np.concatenate([base.most, np.full(count + 1, np.inf)])
            programmes.append(Programme(gain, rows, limit, most, possible=True))
        found: list[set[int] | None] = []
        for answer, need in zip(solve_programmes(programmes), needs, strict=True):
            if answer is None or float(answer[-1]) > SAME * max(abs(need), TINY):
                found.append(None)
            else:
                found.append(
                    {g for g, a in zip(self.asked, answer[-1 - count : -1].tolist(), strict=True) if a > TINY}
                )
        return found

    def _from_a(self, lifted: Sequence[int]) -> tuple[FloatArray, FloatArray]:
        """Between which values of its variable each part that is asked for counts as not needed: with no current,
        or within its limits where it is lifted.
        """
        down, up = self.down[self.asked], self.up[self.asked]
        is_lifted = np.isin(self.asked, list(lifted))
        nothing = np.where(is_lifted, self.bound.most_a, down)
        return np.where(is_lifted, nothing - down, nothing), np.where(is_lifted, nothing + up, nothing)
