"""The search of stretches: faults anywhere between the ends of conductors, by one programme for each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

import numpy as np

from loadloom.graph.faults.piece import TINY, Variant
from loadloom.graph.faults.places import PieceGeometry, Places
from loadloom.graph.faults.response import LoadedVariant, Response
from loadloom.graph.faults.stretches import Stretch
from loadloom.graph.solving.network import FloatArray, IntArray
from loadloom.graph.solving.programmes import Programme, solve_programmes

STRETCHES_TOGETHER = 200
WORTH = 1e-6
"""Share by which a stretch's bound must exceed what is known to be worth solving."""


class Search(Protocol):
    """What a search shows to this part of it; see ``sustained_fault.Search``."""

    geometry: PieceGeometry
    variant: Variant
    loaded: LoadedVariant
    asked: IntArray
    own_a: FloatArray
    load_branch: FloatArray
    places: Places
    above: dict[int, float]

    def value_a(self, branch: int) -> float:
        """The best found so far for a branch in A, 0 for none."""

    def through(self, response: Response) -> FloatArray:
        """(B + V, P) currents of branches and cuts per ampere of fault at each place."""

    def cut_ends(self, conductor: int) -> Iterator[tuple[int, float]]:
        """The cuts that a conductor is in, numbered behind the branches, with its sign in them."""

    def search(self, places: Places) -> None:
        """Search more places."""


def search_stretches(search: Search, stretches: list[Stretch]) -> None:
    """Faults anywhere on a stretch: first a bound, then the programme, then its point as a place.

    A current drawn at a point between two ends is drawn partly at each. The stretch's programme has one
    fault current for each of its corners and a voltage row that lies above the true one (the loop
    resistance between the ends is never below the line between them), so its answer is never below any
    point's; the answer's own point is then searched like any other place.
    """
    if not stretches:
        return
    response = search.loaded.response_at(search.places)
    limit = search.variant.rows.limit
    asked: list[tuple[float, int, float, Stretch, FloatArray]] = []
    every = search.through(response)
    floor = np.full(len(every), np.inf)
    floor[search.asked] = _floor(search, search.asked)
    for stretch in stretches:
        corners = list(stretch.corners)
        rows = np.concatenate([response.rows[:, corners], response.loop_ohm[None, corners]])
        room = np.concatenate([limit, [response.open_v[corners].max()]])
        taken = np.concatenate([search.loaded.load_rows, response.fall[corners].min(axis=0)[None]])
        most = response.most_a[corners].max(axis=0)
        branch, gains = _stretch_gains(search, stretch, response, every)
        for sign in (1.0, -1.0):
            bound = _stretch_bound(
                sign * gains,
                rows,
                room,
                sign * search.own_a[branch],
                sign * search.load_branch[branch],
                taken,
                most,
                floor[branch],
            )
            for n in np.flatnonzero(bound > floor[branch]).tolist():
                asked.append((float(bound[n]), int(branch[n]), sign, stretch, gains[n]))
    asked.sort(key=lambda item: -item[0])
    for start in range(0, len(asked), STRETCHES_TOGETHER):
        batch = [q for q in asked[start : start + STRETCHES_TOGETHER] if q[0] > _floor(search, np.array([q[1]]))[0]]
        _solve_stretches(search, response, batch)


def _floor(search: Search, branch: IntArray) -> FloatArray:
    """What a bound must exceed to be worth solving."""
    best = np.array([search.value_a(k) for k in branch.tolist()])
    return best * (1.0 + WORTH) + TINY


def _stretch_gains(
    search: Search, stretch: Stretch, response: Response, every: FloatArray
) -> tuple[IntArray, FloatArray]:
    """Branches and their currents per ampere at each corner, (Q, corners): every part and cut, and near and far
    part of the conductors that the stretch lies on. ``every``: all currents per ampere at every place.
    """
    corners = list(stretch.corners)
    branch = [*search.asked.tolist()]
    gains = [every[search.asked][:, corners]]
    row_of = {k: n for n, k in enumerate(branch)}
    for k, at_first, sign in stretch.along:
        first = sign * np.array([1.0 if yes else 0.0 for yes in at_first])
        gains += [
            (response.branch[k, corners] + first)[None],
            (response.branch[k, corners] + first - sign)[None],
        ]
        branch += [k, k]
        for cut, weight in search.cut_ends(k):
            # Of the conductor, the part between the fault and the splice counts.
            gains[0][row_of[cut]] += weight * (first - sign if weight > 0.0 else first)
    numbers, found = np.array(branch, dtype=np.int64), np.concatenate(gains)
    if search.geometry.only is None:
        return numbers, found
    wanted = np.isin(numbers, search.asked)
    return numbers[wanted], found[wanted]


def _solve_stretches(
    search: Search, response: Response, batch: list[tuple[float, int, float, Stretch, FloatArray]]
) -> None:
    programmes = []
    for _, k, sign, stretch, gains in batch:
        corners = list(stretch.corners)
        helps = sign * search.load_branch[k]
        parts = [search.loaded.programme(response, c, 0.0, helps, at_any_place=True) for c in corners]
        most = np.max([p.most[1:] for p in parts], axis=0)
        # All rows but the voltage's are the same at every corner, up to the fault's own column.
        short = len(search.variant.rows.limit)
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
    found = Places()
    for (_, k, sign, stretch, gains), answer in zip(batch, solve_programmes(programmes), strict=True):
        if answer is None:
            continue
        drawn = answer[: len(stretch.corners)]
        value = sign * float(search.own_a[k] + gains @ drawn)
        value += sign * float(search.load_branch[k] @ answer[len(stretch.corners) :])
        if drawn.sum() > TINY and value > _floor(search, np.array([k]))[0]:
            stretch.place_of(drawn, search.geometry, search.places, found)
            search.above[k] = max(search.above.get(k, 0.0), value)
    if found.listed:
        search.search(found)


def _stretch_bound(
    gains: FloatArray,
    rows: FloatArray,
    room: FloatArray,
    base: FloatArray,
    helps: FloatArray,
    taken: FloatArray,
    most: FloatArray,
    floor: FloatArray,
) -> FloatArray:
    """(Q,) by weak duality with one row at a time, the least over all rows, or over some of them where that is no
    more than ``floor``.
    """
    adds = (gains > TINY).any(axis=1)
    # Nothing that a fault could add to: left to the search at nodes.
    bound = np.where(adds, np.inf, -np.inf)
    usable = np.flatnonzero(rows.max(axis=1) > TINY)
    with np.errstate(divide="ignore", invalid="ignore"):

        def by(row: IntArray, some: IntArray) -> FloatArray:
            """The bounds of some parts by one row each, (Q,), or by one row for all."""
            price = np.where(gains[some] > TINY, gains[some] / np.where(rows[row] > TINY, rows[row], 0.0), 0.0)
            worth = price.max(axis=1)
            left = np.maximum(helps[some] - worth[:, None] * taken[row], 0.0) * most
            above = base[some] + worth * room[row] + left.sum(axis=1)
            return np.where(np.isfinite(worth) & np.isfinite(above), above, np.inf)

        # The row that is best without loads first: it mostly says enough.
        price = gains[None] / np.where(rows > TINY, rows, 0.0)[usable, None, :]
        worth = np.where(gains[None] > TINY, price, 0.0).max(axis=2)
        alone = np.where(np.isfinite(worth), worth * room[usable, None], np.inf)
        if len(usable):
            every = np.flatnonzero(adds)
            bound[every] = by(usable[alone.argmin(axis=0)][every], every)
        for r in usable.tolist():
            some = np.flatnonzero(bound > floor)
            if not len(some):
                break
            bound[some] = np.fmin(bound[some], by(np.full(len(some), r), some))
    return bound
