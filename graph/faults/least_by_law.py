"""The least that a device must hold by Kirchhoff's current law alone, whatever has opened, blocks or holds.

For pieces of which not every state can be tried. All that acts in loops passes anything up to what it lets through,
whatever the voltages; so no state of the piece asks for less than this. A range that ends there is safe, and may be
narrower than it need be.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import partial

import numpy as np

from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.least_held import Candidate, Ends, HeldLimits, Through, same, take_candidates
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.state_bound import MOST_A, StateBound
from loadloom.graph.faults.tolerances import PAST, TINY


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
        self.may_come = self._that_may_come(geometry)

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
        lifted = [self._lifted(each, at) for each in self.may_come]
        take_candidates(through, ends, self.limits.band_a, lambda banded: lifted)
