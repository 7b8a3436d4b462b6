"""The search of one variant: at its nodes first, then on stretches, anywhere between the ends of conductors.

First a bound for all stretches at once. Those that it leaves open are looked at where their rows cross, and what
is still open then by one programme for each.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.along_conductor import shares_in_loop, shares_on_bridges
from loadloom.graph.faults.budgets import BOUNDS_TOGETHER, STRETCHES_TOGETHER
from loadloom.graph.faults.piece import POWER
from loadloom.graph.faults.places import Places, find_places
from loadloom.graph.faults.response import LoadedVariant, Response
from loadloom.graph.faults.stretches import Stretch, find_stretches
from loadloom.graph.faults.sustained_fault import Hit, Search
from loadloom.graph.faults.tolerances import TINY, WORTH


class Asked(NamedTuple):
    """A branch whose bound, in A, leaves it open what a fault on a stretch does to it in the direction ``sign``;
    ``gains`` (corners,) are its currents in that direction per ampere at each corner.
    """

    bound_a: float
    branch: int
    sign: float
    stretch: Stretch
    gains: FloatArray


def run_search(search: Search) -> dict[int, Hit]:
    """Search every place of a variant, between the ends of conductors as well; the best hit by branch."""
    places = search.places = find_places(search.geometry, search.variant)
    if not places.listed:
        return search.best  # No place, no more than the loads draw, which the piece as it is says.
    search.without_fault()
    search.search(places)
    for branch, above in _search_stretches(search).items():
        # Where the fault's own voltage binds between the ends, the programme lies above every point: it counts.
        if above > search.value_a(branch) * (1.0 + WORTH):
            nothing = Hit(0.0, 1.0, None, 0.0, np.zeros(len(search.loaded.plus)), 0.0)
            search.best[branch] = replace(search.best.get(branch, nothing), value_a=above, between_ends=True)
    return search.best


def _search_stretches(search: Search) -> dict[int, float]:
    """Search anywhere on a stretch, as far as that can be worse than what is known; by branch the greatest answer
    of a stretch's programme, which is never below the true sustained fault current.
    """
    stretches = find_stretches(search.geometry, search.variant, search.places)
    if not stretches:
        return {}
    response = search.loaded.response_at(search.places)
    _search_bridges(search, response, [s for s in stretches if not s.looped])
    every = search.through(response)
    asked = list(open_stretches(search, response, every, [s for s in stretches if s.looped]))
    if not asked:
        return {}
    along = tuple(dict.fromkeys(q.stretch for q in asked if min(q.stretch.high, q.stretch.low) < 0))
    _search_shares(search, _shares_by_all(search.loaded, response, along))
    asked = sorted((q for q in asked if q.stretch.varies), key=lambda q: -q.bound_a)
    above: dict[int, float] = {}
    for start in range(0, len(asked), STRETCHES_TOGETHER):
        batch = [q for q in asked[start : start + STRETCHES_TOGETHER] if q.bound_a > _floor_a(search, q.branch)]
        _solve(search, response, batch, above)
    # With what loads draw beside the best that was found for a conductor.
    loaded = [(s, search.best[s.conductor].loads_a) for s in along if s.conductor in search.best]
    _search_shares(
        search,
        ((s, shares_in_loop(search.loaded, s, response, drawn)) for s, drawn in loaded if (drawn > TINY).any()),
    )
    return above


def _floor_a(search: Search, branch: int) -> float:
    """What a bound must exceed to be worth solving."""
    return search.value_a(branch) * (1.0 + WORTH) + TINY


def _search_bridges(search: Search, response: Response, bridges: list[Stretch]) -> None:
    if not bridges:
        return
    ends = np.array([s.corners for s in bridges], dtype=np.int64)
    limit = search.variant.rows.limit
    shares = shares_on_bridges(response.rows[:, ends], limit, response.loop_ohm[ends], response.open_v[ends])
    inside = np.flatnonzero(np.isfinite(shares)).tolist()
    _search_shares(search, ((bridges[n], {float(shares[n])}) for n in inside))


def _shares_by_all(
    loaded: LoadedVariant, response: Response, stretches: Iterable[Stretch]
) -> Iterator[tuple[Stretch, set[float]]]:
    """Shares with no load, and with every load."""
    none = np.zeros(len(loaded.plus))
    for stretch in stretches:
        # With a constant-power load's most depending on the place, the greater of the two ends'.
        everything = response.most_a[list(stretch.corners)].max(axis=0)
        found = shares_in_loop(loaded, stretch, response, none)
        if everything.any():
            found |= shares_in_loop(loaded, stretch, response, everything)
        yield stretch, found


def _search_shares(search: Search, shares: Iterable[tuple[Stretch, set[float]]]) -> None:
    """Search the places at these shares of their conductors."""
    found = Places()
    for stretch, some in shares:
        for share in sorted(some):
            stretch.add_place((share, share), search.geometry, search.places, found)
    if found.listed:
        search.search(found)


def open_stretches(
    search: Search, response: Response, every: FloatArray, stretches: list[Stretch]
) -> Iterator[Asked]:
    """Every branch for which a stretch's bound exceeds what is known, in either direction; ``every``: all currents
    per ampere at every place.

    A bound by weak duality, with the row that is best without loads; where that does not settle it, by every row.
    """
    floor_a = np.full(len(every), np.inf)
    floor_a[search.asked] = [_floor_a(search, k) for k in search.asked.tolist()]
    limit = search.variant.rows.limit
    for count in {len(s.corners) for s in stretches}:
        alike = [s for s in stretches if len(s.corners) == count]
        step = max(1, BOUNDS_TOGETHER // ((len(limit) + 1) * count * (len(search.asked) + 2 * count)))
        for start in range(0, len(alike), step):
            yield from _open_of(search, response, every, alike[start : start + step], floor_a)


def _open_of(
    search: Search, response: Response, every: FloatArray, stretches: list[Stretch], floor_a: FloatArray
) -> Iterator[Asked]:
    corners = np.array([s.corners for s in stretches], dtype=np.int64)
    of, branch, gains = _gains(search, response, stretches, corners, every)
    # Either direction; where a fault adds to neither, it is left to the search at nodes.
    of, branch, sign = np.tile(of, 2), np.tile(branch, 2), np.repeat([1.0, -1.0], len(of))
    gains = np.concatenate([gains, -gains])
    adds = (gains > TINY).any(axis=1)
    of, branch, sign, gains = of[adds], branch[adds], sign[adds], gains[adds]
    bounds = RowBounds(search, response, corners, of, branch, sign, gains)
    bound = bounds.at(bounds.alone.argmin(axis=1), np.arange(len(of)))
    for r in range(bounds.alone.shape[1]):
        some = np.flatnonzero((bound > floor_a[branch]) & np.isfinite(bounds.worth[:, r]))
        if len(some):
            bound[some] = np.minimum(bound[some], bounds.at(np.full(len(some), r), some))
    for n in np.flatnonzero(bound > floor_a[branch]).tolist():
        yield Asked(float(bound[n]), int(branch[n]), float(sign[n]), stretches[int(of[n])], gains[n])


class RowBounds:
    """By weak duality, the most that a fault on a stretch, with any loads, makes of a branch under one of the R
    rows, or the voltage, which counts as the last.

    Of S stretches with their ``corners`` (S, C), Q queries: stretch ``of``, ``branch``, ``sign`` and ``gains``
    (Q, C). ``worth`` (Q, R + 1): what a unit of the room of each row is worth to the branch, inf where the row
    bounds nothing; ``alone``: what all of it is worth without loads.
    """

    def __init__(
        self,
        search: Search,
        response: Response,
        corners: IntArray,
        of: IntArray,
        branch: IntArray,
        sign: FloatArray,
        gains: FloatArray,
    ) -> None:
        self._loaded, self._of = search.loaded, of
        limit = search.variant.rows.limit
        rows = np.concatenate([response.rows[:, corners], response.loop_ohm[None, corners]]).transpose(1, 0, 2)
        self._room = np.column_stack(
            [np.broadcast_to(limit, (len(corners), len(limit))), response.open_v[corners].max(axis=1)]
        )
        self._fall = response.fall[corners].min(axis=1)
        # Between the ends a fault may take more than at either, and constant power draw more with it.
        power, most_a = self._loaded.kind == POWER, response.most_a[corners].max(axis=1)
        self._most_a = np.where(power, self._loaded.most_anywhere_a, most_a)
        per_fault = rows[of]
        with np.errstate(divide="ignore", invalid="ignore"):
            price = np.where(per_fault > TINY, gains[:, None, :] / per_fault, np.inf)
            worth = np.where(gains[:, None, :] > TINY, price, 0.0).max(axis=2)
            # A row that a fault eases at one of the corners bounds nothing, unless it takes as much from the part.
            eased = (per_fault < -TINY) & (worth[:, :, None] * per_fault < gains[:, None, :] - TINY)
            worth[eased.any(axis=2)] = np.inf
            self.alone: FloatArray = np.where(np.isfinite(worth), worth * self._room[of], np.inf)
        self.worth: FloatArray = worth
        self._base, self._helps = search.own_along_a(branch, sign), sign[:, None] * search.load_branch[branch]

    def at(self, row: IntArray, some: IntArray) -> FloatArray:
        """The bounds in A of some queries by one row each."""
        dear, of, per_load = self.worth[some, row], self._of[some], self._loaded.load_rows
        taken = self._fall[of]
        if len(per_load):
            taken = np.where((row == len(per_load))[:, None], taken, per_load[np.minimum(row, len(per_load) - 1)])
        with np.errstate(invalid="ignore"):
            left = np.maximum(self._helps[some] - dear[:, None] * taken, 0.0)
            left = np.where(left > 0.0, left * self._most_a[of], 0.0)
            above = self._base[some] + dear * self._room[of, row] + left.sum(axis=1)
        found: FloatArray = np.where(np.isfinite(dear) & np.isfinite(above), above, np.inf)
        return found


def settled_by_row(search: Search, response: Response, asked: Sequence[Asked]) -> BoolArray:
    """(Q, R + 1) whether each row by itself, the voltage last, keeps what a stretch asks for from being worse than
    what is known.
    """
    found = np.zeros((len(asked), len(search.variant.rows.limit) + 1), dtype=np.bool_)
    floor_a = np.array([_floor_a(search, q.branch) for q in asked])
    for count in {len(q.gains) for q in asked}:
        alike = [n for n, q in enumerate(asked) if len(q.gains) == count]
        for start in range(0, len(alike), step := max(1, BOUNDS_TOGETHER // (found.shape[1] * count))):
            some = np.array(alike[start : start + step])
            here = [asked[n] for n in some.tolist()]
            every = np.arange(len(here))
            bounds = RowBounds(
                *(search, response, np.array([q.stretch.corners for q in here]), every),
                *(np.array(each) for each in zip(*((q.branch, q.sign, q.gains) for q in here), strict=True)),
            )
            for r in range(found.shape[1]):
                found[some, r] = bounds.at(np.full(len(here), r), every) <= floor_a[some]
    return found


def _gains(
    search: Search, response: Response, stretches: list[Stretch], corners: IntArray, every: FloatArray
) -> tuple[IntArray, IntArray, FloatArray]:
    """(Q,) stretch and branch, (Q, corners) current per ampere at each corner: of every part and cut, and of the
    near and far part of the conductors that the stretch lies on.
    """
    asked = search.asked
    gains = every[asked][:, corners].transpose(1, 0, 2).copy()
    row_of = {k: n for n, k in enumerate(asked.tolist())}
    own: list[tuple[int, int, FloatArray]] = []
    for n, stretch in enumerate(stretches):
        for k, at_first, sign in stretch.along:
            first = sign * np.array([1.0 if yes else 0.0 for yes in at_first])
            if k in row_of:
                for each in response.currents.each_mixture(k, corners[n]):
                    own += [(n, k, each + first), (n, k, each + first - sign)]
            for cut, weight in search.cut_ends(k):
                # Of the conductor, the part between the fault and the splice counts.
                gains[n, row_of[cut]] += weight * (first - sign if weight > 0.0 else first)
    of = np.repeat(np.arange(len(stretches)), len(asked))
    branch = np.tile(asked, len(stretches))
    every_gain = gains.reshape(len(of), corners.shape[1])
    if not own:
        return of, branch, every_gain
    return (
        np.concatenate([of, [n for n, _, _ in own]]),
        np.concatenate([branch, [k for _, k, _ in own]]),
        np.concatenate([every_gain, [gain for _, _, gain in own]]),
    )


def _solve(search: Search, response: Response, batch: list[Asked], above: dict[int, float]) -> None:
    """The programmes of stretches, and the point of each answer as a place, searched like any other."""
    programmes = [stretch_programme(search, response, each) for each in batch]
    found = Places()
    for (_, k, sign, stretch, gains), answer in zip(batch, solve_programmes(programmes), strict=True):
        if answer is None:
            continue
        drawn = answer[: len(stretch.corners)]
        value = float(gains @ drawn) + float(search.own_along_a(k, sign))
        value += sign * float(search.load_branch[k] @ answer[len(stretch.corners) :])
        if drawn.sum() > TINY and value > _floor_a(search, k):
            stretch.add_drawn(drawn, search.geometry, search.places, found)
            above[k] = max(above.get(k, 0.0), value)
    if found.listed:
        search.search(found)


def stretch_programme(search: Search, response: Response, asked: Asked) -> Programme:
    """The programme of one stretch, never below the answer at any of its points.

    A current drawn at a point between two ends is drawn partly at each. There is one fault current for each corner,
    and a voltage row that lies above the true one: the loop resistance between the ends is never below the line
    between them.
    """
    corners = list(asked.stretch.corners)
    helps = asked.sign * search.load_branch[asked.branch]
    parts = [search.loaded.programme(response, c, 0.0, helps, at_any_place=True) for c in corners]
    most = np.max([p.most[1:] for p in parts], axis=0)
    # All rows but the voltage's are the same at every corner, up to the fault's own column.
    short = len(search.variant.rows.limit)
    rows = np.column_stack([*(p.rows[:, 0] for p in parts), parts[0].rows[:, 1:]])
    rows[short, len(corners) :] = np.min([p.rows[short, 1:] for p in parts], axis=0)
    right = parts[0].limit.copy()
    right[short] = max(p.limit[short] for p in parts)
    most = np.concatenate([np.full(len(corners), np.inf), most])
    return Programme(np.concatenate([asked.gains, helps]), rows, right, most)
