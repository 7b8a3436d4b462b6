"""Combined overload current: the most on each conductor and contact with several overloads at once, every device
just not opening.

Every place at which the sustained fault current search tries one fault draws at the same time. Each draw is at most
its own short circuit, each device and output passes at most what it can hold or what a short circuit behind it
gives, whichever is less. A demand that adds nothing to the part counts too where it takes load off a device, so
that the others can draw more through it. That is a linear programme. Between two feeds an overload counts in either
direction, with up to the highest voltage of all: others can turn it round.

No part carries more than all outputs pass together. Where outputs are joined, Kirchhoff's current law bounds a part
once more (``across_most_a``): a state in which outputs hold their current and push against the part's flow is not
taken to be without that push.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.circuit.unit_flows import BoolArray
from loadloom.graph.faults.any_place import between_paths_out, every_place, highest_voltage_v, most_of_outputs_a
from loadloom.graph.faults.piece import Piece
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.faults.tolerances import ALMOST_DOUBLE, MADE_UP, SAME, TINY


@dataclass(frozen=True)
class Demands:
    """K demands of one part: ``gain`` (K,) on the part, ``rows`` (R, K) on what may open, ``most_a`` (K,).

    ``acting`` (R,): the branch of the device or output of each row, or -1. ``against_a``: what flows by itself
    against the part's current (0 or less), as where an output that holds its current feeds another one.
    """

    gain: FloatArray
    rows: FloatArray
    limit: FloatArray
    most_a: FloatArray
    acting: IntArray
    against_a: float = 0.0

    @property
    def bound_a(self) -> float:
        """No less than the part carries in A, by weak duality: what the demands draw at most, or what one row lets
        through with all that it bounds paid for at the price of the dearest.
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            price = np.where(self.rows > TINY, self.gain / self.rows, 0.0).max(axis=1, initial=0.0)
            price *= 1.0 + ALMOST_DOUBLE  # so that rounding leaves nothing of the dearest
            worth = self.gain - price[:, None] * self.rows
            beyond = np.where(worth > 0.0, worth * self.most_a, 0.0).sum(axis=1)
            by_row = np.where(price > 0.0, price * self.limit + beyond, np.inf)
            drawn = np.where(self.gain > 0.0, self.gain * self.most_a, 0.0).sum()
        return float(np.append(by_row, drawn).min()) + self.against_a


def combined_overloads(search: Search, known_a: Callable[[str], float] = lambda name: 0.0) -> dict[int, float]:
    """Combined overload current in A of every part of a searched variant, by branch; at least its sustained fault
    current. ``known_a``: what is known of a part by id from other states; nothing is solved that can't exceed it.
    """
    found = {k: hit.value_a for k, hit in search.best.items()}
    if search.variant.dead >= 0 or not search.places.listed:
        return found
    parts: dict[bytes, list[int]] = {}
    programmes: list[Programme] = []
    against_a: list[float] = []
    for k, demands in _demands(search):
        if demands.bound_a <= known_a(search.name(k)) * (1.0 + SAME):
            continue
        # Alike for parts in series.
        key = demands.gain.round(9).tobytes() + demands.rows.round(9).tobytes() + demands.most_a.tobytes()
        key += np.float64(demands.against_a).tobytes()
        if key not in parts:
            programmes.append(Programme(demands.gain, demands.rows, demands.limit, demands.most_a))
            against_a.append(demands.against_a)
        parts.setdefault(key, []).append(k)
    answers = solve_programmes(programmes)
    for some, programme, against, answer in zip(parts.values(), programmes, against_a, answers, strict=True):
        if answer is not None:
            value = float(programme.gain @ answer) + against
        elif len(search.variant.piece.sources) == 1 and (programme.limit >= 0.0).all():
            # Nothing drawn is an answer: there is none only where nothing bounds it. Of joined outputs without
            # resistance one may turn round what another gives at a place where it can't: of those nothing is said.
            value = math.inf
        else:
            continue
        found |= {k: max(found.get(k, 0.0), value) for k in some}
    if len(search.variant.piece.sources) > 1:
        together_a = most_of_outputs_a(search.variant.piece)
        for k, value in found.items():
            least_a = search.value_a(k)
            if value > least_a + TINY:
                found[k] = max(least_a, min(value, across_most_a(search.variant.piece, k), together_a))
    return found


def across_most_a(piece: Piece, branch: int) -> float:
    """The most in A that Kirchhoff's current law lets a branch carry, whatever is drawn; inf where it says nothing.

    Said of a branch that is the only copper between two sides of the feed, or of the return, where every
    output feeds that one feed from that one return. Faults and loads only take from the feed, so what
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


def made_up(search: Search, branch: int, value_a: float) -> tuple[tuple[str, float], ...]:
    """How a part's combined overload current of ``value_a`` A is made up: what flows in it of the circuits behind
    each device or output, in A by its id, the greatest first; the id is empty for what copper alone holds down.

    Of several states that come to the same one is told. Nothing is told where the parts do not come to the value
    (a bound lies below or above their sum), where one of them takes off from it, or where more flows behind a
    device than it holds (another source feeds that circuit as well).
    """
    ids = search.variant.piece.branches.ids
    parts: dict[str, float] = {}
    for _, demands in _demands(search, branch):
        (answer,) = solve_programmes([Programme(demands.gain, demands.rows, demands.limit, demands.most_a)])
        if answer is None:
            continue
        adding = demands.gain * answer
        if abs(float(adding.sum()) + demands.against_a - value_a) > MADE_UP * value_a or (adding < -TINY).any():
            continue
        size = (demands.rows > TINY).sum(axis=1)
        for n, amount in enumerate(adding.tolist()):
            over = np.flatnonzero((demands.rows[:, n] > TINY) & np.isfinite(demands.limit) & (demands.acting >= 0))
            # A demand at its own short circuit is held down by its copper, whatever device lies in its path.
            alone = not len(over) or answer[n] >= demands.most_a[n] * (1.0 - MADE_UP)
            held = "" if alone else ids[demands.acting[over[size[over].argmin()]]]
            if amount > TINY:
                parts[held] = parts.get(held, 0.0) + amount
        break
    held_a = {name: float(search.variant.piece.held_a[ids.index(name)]) for name in parts if name}
    if any(parts[name] > most_a * (1.0 + MADE_UP) for name, most_a in held_a.items()):
        return ()
    return tuple(sorted(parts.items(), key=lambda item: -item[1]))


def _demands(search: Search, only: int | None = None) -> list[tuple[int, Demands]]:
    """The demands of every part, or of one, those that are alike to all devices as one."""
    places = search.places
    crossing = len(search.geometry.terminals) > 1
    if crossing:
        places = every_place(search.geometry, search.variant)
    response = search.loaded.response_at(places)
    branch, per_row, open_v, loop_ohm = response.branch, response.rows, response.open_v, response.loop_ohm
    if crossing:
        # Another overload can turn a voltage between two feeds round, or raise one, up to the highest of all.
        turned = np.where(open_v < 0.0, -1.0, 1.0)
        branch, per_row = branch * turned, per_row * turned
        either = np.flatnonzero(between_paths_out(search.geometry, places.listed))
        branch = np.concatenate([branch, -branch[:, either]], axis=1)
        per_row = np.concatenate([per_row, -per_row[:, either]], axis=1)
        loop_ohm = np.concatenate([loop_ohm, loop_ohm[either]])
        open_v = np.full(len(loop_ohm), highest_voltage_v(search.variant.piece))
    with np.errstate(divide="ignore", invalid="ignore"):
        short = np.where(loop_ohm > TINY, open_v / loop_ohm, np.inf)
    device = search.variant.rows.device
    counts = np.ones(len(device), dtype=np.bool_) if _needs_relief(search) else device >= 0
    rows = per_row[counts]
    limit = search.variant.rows.limit[counts]
    with np.errstate(invalid="ignore"):
        behind = np.where(rows > TINY, rows * short[None, :], 0.0).max(axis=1, initial=0.0)
    limit = np.minimum(limit, np.maximum(behind, 0.0))
    # A demand that the short alone bounds still passes its output: the rows of outputs without a trip.
    sources = list(search.variant.piece.sources)
    through = branch[sources]
    with np.errstate(invalid="ignore"):
        top = np.where(np.abs(through) > TINY, np.abs(through) * short[None, :], 0.0).max(axis=1, initial=0.0)
    finite = np.isfinite(top)
    rows = np.concatenate([rows, through[finite]])
    limit = np.concatenate([limit, top[finite]])
    acting = np.concatenate([device[counts], np.array(sources, dtype=np.int64)[finite]])

    own: dict[int, dict[int, tuple[float, float]]] = {}
    for end in places.own:
        k, n = end.branch, end.place
        near, far = response.on_end(end)
        mine = own.setdefault(k, {})
        mine[n] = (near * turned[n], far * turned[n]) if crossing else (near, far)
        if crossing and n in either:
            mine[len(places.listed) + int(np.searchsorted(either, n))] = (-mine[n][0], -mine[n][1])
    found = []
    keys = np.round(rows, 9) + 0.0
    for k in search.parts.tolist() if only is None else [only]:
        for sign in (1.0, -1.0):
            gain = sign * branch[k]
            for n, parts in own.get(k, {}).items():
                gain[n] = max(sign * part for part in parts)  # of an overload on it, the part that carries more
            chosen = np.flatnonzero(_that_count(gain, rows, limit))
            if len(chosen):
                own_a = float(search.own_along_a(k, sign))
                found.append((k, _merge(gain, rows, keys, limit, acting, short, chosen, own_a)))
    return found


def _needs_relief(search: Search) -> bool:
    """Whether the variant's state is one that only an overload brings about: something is exceeded without."""
    return bool((search.variant.rows.limit < -TINY).any())


def _that_count(gain: FloatArray, rows: FloatArray, limit: FloatArray) -> BoolArray:
    """(K,) demands that add to a part, and those that relieve a device which holds others down, at any remove."""
    chosen: BoolArray = gain > TINY
    left = np.isfinite(limit)
    while chosen.any():
        binding = left & ((rows[:, chosen] > TINY).any(axis=1) | (limit < -TINY))
        if not binding.any():
            break
        left &= ~binding
        chosen = chosen | (rows[binding] < -TINY).any(axis=0)
    return chosen


def _merge(
    gain: FloatArray,
    rows: FloatArray,
    keys: FloatArray,
    limit: FloatArray,
    acting: IntArray,
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
            acting,
        )
    return Demands(np.array(gains), rows[:, first], limit, np.array(most), acting, min(own_a, 0.0))
