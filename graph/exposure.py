"""Exposure: the most on each conductor and contact with several overloads at once, every device just not opening.

Every place at which the let-through search tries one fault draws at the same time. Each draw is at most its own
dead short, each device and output passes at most what it can hold or what a dead short behind it gives, whichever
is less. That is a linear programme; where the devices that matter lie inside one another, as in a tree, its
answer is closed: recursively the lesser of the device's own current and the sum behind it.

Where outputs are joined, Kirchhoff's current law bounds a part once more (``across_most_a``): a state in which
outputs hold their current and push against the part's flow is not taken to be without that push.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loadloom.graph.fault_piece import TINY, Piece, hang_together
from loadloom.graph.let_through import Search
from loadloom.graph.network import FloatArray, IntArray
from loadloom.graph.programmes import Programme, solve_programmes

ALIKE = 1e-8
"""Factors of a row count as equal within this."""


@dataclass(frozen=True)
class Demands:
    """K demands of one part: ``gain`` (K,) on the part, ``rows`` (R, K) on what may open, ``most_a`` (K,)."""

    gain: FloatArray
    rows: FloatArray
    limit: FloatArray
    most_a: FloatArray


def exposures(search: Search, *, closed_form: bool = True) -> dict[int, float]:
    """Exposure in A of every part of a searched variant, by branch; at least its let-through.

    ``closed_form`` false takes the linear programme everywhere (for checking one against the other).
    """
    found = {k: hit.value_a for k, hit in search.best.items()}
    if search.variant.dead >= 0 or (search.variant.rows.limit < -TINY).any() or not search.places.listed:
        return found
    open_ones: list[tuple[int, Demands]] = []
    closed: dict[bytes, float | None] = {}
    for k, demands in _demands(search):
        key = (
            demands.gain.round(9).tobytes() + demands.rows.round(9).tobytes() + demands.most_a.tobytes()
        )  # alike for parts in series
        if closed_form and key not in closed:
            closed[key] = laminar_most(demands)
        value = closed[key] if closed_form else None
        if value is None:
            open_ones.append((k, demands))
        else:
            found[k] = max(found.get(k, 0.0), value)
    programmes = [Programme(d.gain, d.rows, d.limit, d.most_a) for _, d in open_ones]
    for (k, demands), answer in zip(open_ones, solve_programmes(programmes), strict=True):
        if answer is not None:
            found[k] = max(found.get(k, 0.0), float(demands.gain @ answer))
    if len(search.variant.piece.sources) > 1:
        for k, value in found.items():
            least_a = search.value_a(k)
            if value > least_a + TINY:
                found[k] = max(least_a, min(value, across_most_a(search.variant.piece, k)))
    return found


def across_most_a(piece: Piece, branch: int) -> float:
    """The most in A that Kirchhoff's current law lets a branch carry, whatever is drawn; inf where it says nothing.

    Said of a branch that is the only copper between two sides of the way out, or of the return, where every
    output feeds that one way out from that one return. Faults and loads only take from the way out, so what
    crosses to one side is at most what the outputs of the other side pass; on the return alike, by the outputs to
    which it flows.
    """
    branches = piece.branches
    outputs = np.array(piece.sources, dtype=np.int64)
    plus, minus = branches.b[outputs], branches.a[outputs]
    out, back = np.unique(piece.island[plus]), np.unique(piece.island[minus])
    # With a third island, or both in one, something could flow in where this counts on a draw.
    if len(out) != 1 or len(back) != 1 or out[0] == back[0] or len(np.unique(piece.island)) != 2:
        return float("inf")
    copper = np.arange(len(branches.ids)) < branches.edge_count
    if branch >= branches.edge_count:
        return float("inf")
    copper[branch] = False
    side = hang_together(len(piece.node_ids), branches.a[copper], branches.b[copper])
    near, far = side[branches.a[branch]], side[branches.b[branch]]
    if near == far:
        return float("inf")
    terminal = side[plus if piece.island[branches.a[branch]] == out[0] else minus]
    held = piece.held_a[outputs]
    return max(float(held[terminal == near].sum()), float(held[terminal == far].sum()))


def _demands(search: Search) -> list[tuple[int, Demands]]:
    """The demands of every part, those that are alike to all devices as one."""
    response = search.loaded.response(search.places.listed)
    with np.errstate(divide="ignore", invalid="ignore"):
        short = np.where(response.loop_ohm > TINY, response.open_v / response.loop_ohm, np.inf)
    device = search.variant.rows.device
    rows = response.rows[device >= 0]
    limit = search.variant.rows.limit[device >= 0]
    with np.errstate(invalid="ignore"):
        behind = np.where(rows > TINY, rows * short[None, :], 0.0).max(axis=1, initial=0.0)
    limit = np.minimum(limit, np.maximum(behind, 0.0))
    # A demand that the short alone bounds still passes its output: the rows of outputs without a trip.
    sources = list(search.variant.piece.sources)
    through = response.branch[sources]
    with np.errstate(invalid="ignore"):
        top = np.where(np.abs(through) > TINY, np.abs(through) * short[None, :], 0.0).max(axis=1, initial=0.0)
    finite = np.isfinite(top)
    rows = np.concatenate([rows, through[finite]])
    limit = np.concatenate([limit, top[finite]])

    own: dict[int, dict[int, float]] = {}
    for end in search.places.own:
        k, n = end.branch, end.place
        sign = 1.0 if end.at_high else -1.0
        near = response.branch[k, n] + sign * (1.0 - end.share)
        far = response.branch[k, n] - sign * end.share
        own.setdefault(k, {})[n] = max(near, far, key=abs)
    found = []
    keys = np.round(rows, 9) + 0.0
    for k in search.parts.tolist():
        gain = response.branch[k].copy()
        for n, value in own.get(k, {}).items():
            gain[n] = value
        own_a = float(search.variant.flows.own_a[k])
        for sign in (1.0, -1.0):
            chosen = np.flatnonzero(sign * gain > TINY)
            if len(chosen):
                found.append((k, _merge(sign * gain, rows, keys, limit, short, chosen, sign * own_a)))
    return found


def _merge(
    gain: FloatArray,
    rows: FloatArray,
    keys: FloatArray,
    limit: FloatArray,
    short: FloatArray,
    chosen: IntArray,
    own_a: float,
) -> Demands:
    """Demands that load all devices alike become one, with the greatest gain and the sum of their shorts."""
    groups: dict[bytes, list[int]] = {}
    for n in chosen.tolist():
        groups.setdefault(keys[:, n].tobytes(), []).append(n)
    first = [members[0] for members in groups.values()]
    # The current that flows by itself counts as a demand that is always on.
    gains = [max(gain[n] for n in members) for members in groups.values()]
    most = [sum(short[n] for n in members) for members in groups.values()]
    if own_a > TINY:
        return Demands(
            np.array([*gains, own_a]),
            np.column_stack([rows[:, first], np.zeros(len(rows))]),
            limit,
            np.array([*most, 1.0]),
        )
    return Demands(np.array(gains), rows[:, first], limit, np.array(most))


def laminar_most(demands: Demands) -> float | None:
    """The closed form: None where rows are no plain sums or overlap without one lying inside the other.

    Each row that sums a set of demands with one factor bounds that set; sets lie inside one another as the
    branches of a tree do. From the innermost out, the most of a set is the lesser of its bound and the sum of
    what lies in it.
    """
    if not _all_alike(demands.gain):
        return None
    sets: list[tuple[frozenset[int], float]] = []
    matters = np.isfinite(demands.limit) & (demands.rows > TINY).any(axis=1)
    for row, limit in zip(demands.rows[matters], demands.limit[matters].tolist(), strict=True):
        inside_row = np.flatnonzero(np.abs(row) > TINY)
        factors = row[inside_row]
        if not _all_alike(factors) or factors[0] < 0.0:
            return None
        sets.append((frozenset(inside_row.tolist()), limit / float(factors[0])))
    sets.sort(key=lambda item: len(item[0]))
    # What stands for each set so far, by one of its members: (all members, the most of it).
    tops: dict[frozenset[int], float] = {frozenset([n]): float(m) for n, m in enumerate(demands.most_a)}
    for members, limit in sets:
        inside = [top for top in tops if top & members]
        if any(not top <= members for top in inside):
            return None
        total = sum(tops.pop(top) for top in inside)
        tops[members] = min(limit, total)
    return float(demands.gain[0] * sum(tops.values()))


def _all_alike(values: FloatArray) -> bool:
    return bool((np.abs(values - values[0]) <= ALIKE * (1.0 + abs(values[0]))).all())
