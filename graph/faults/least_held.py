"""The least that a device must hold for a part to come above a limit: the fault search with goal and row exchanged.

Within one state all currents are linear in the fault current x and the load currents y. The device's current is
made the least under which some x and y still bring the part to its limit while all other rows hold. The highest
setting that protects the part is where the device holds that current. No setting has to be tried.

First for all places at once: a bound by weak duality, and above it what the device holds in states that can be
reached: the fault alone, and all loads on that add to the part. Where both meet no programme is needed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from loadloom.graph.circuit.network import BoolArray, FloatArray, IntArray
from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.piece import POWER, Variant
from loadloom.graph.faults.sustained_fault import Queries, Search
from loadloom.graph.faults.tolerances import NOTHING_A, PAST, SAME, TINY


def never_opening(variant: Variant, device: int) -> Variant:
    """A variant in which branch ``device`` passes any current."""
    rows = variant.rows
    limit = np.where(rows.device == device, np.inf, rows.limit)
    return replace(variant, rows=replace(rows, limit=limit))


def least_held(
    search: Search,
    device: int,
    limit_a: Mapping[str, float],
    known: Mapping[str, float],
    *,
    each: bool = False,
    some: Some | None = None,
) -> dict[str, float]:
    """What branch ``device`` holds in A in a fault that brings a part to its limit, by part that can come there.

    ``search`` is of a variant in which the device never opens, its places found. ``limit_a``: the limits of the
    parts that are asked for. ``known``: what other states need, in A. The least is found of the part that needs
    least, and with ``each`` of every part; of the others some current that does, no less than their least. At most
    ``NOTHING_A`` stands for nothing. ``some``: the queries that are asked, None: all.
    """
    queries = search.queries(search.places)
    if queries is None:
        return {}
    queries = some.of(queries) if some is not None else queries
    asked = [k for k in search.asked.tolist() if search.name(k) in limit_a]
    queries = _only(queries, np.isin(queries.branch, asked))
    if not len(queries.place):
        return {}
    names = [search.name(k) for k in queries.branch.tolist()]
    limits = np.array([limit_a.get(name, math.inf) for name in names])
    need = limits * (1.0 + PAST) - queries.base
    reached, above, fault, drawn, _ = search.bounds(
        queries.response, queries.place, queries.gain, queries.base, queries.helps
    )
    open_ones = np.isfinite(need) & (above - queries.base >= need)
    doubtful = np.flatnonzero(open_ones & (reached - queries.base < need))
    for _, stays in _staying(search, _only(queries, doubtful), need[doubtful]):
        open_ones[doubtful[stays]] = False
    if not open_ones.any():
        return {}
    bound = np.where(open_ones, _bound(search, queries, device, need), math.inf)
    holding = np.where(reached - queries.base >= need, _through(search, queries, device, fault, drawn), math.inf)
    holding = np.minimum(holding, _by_fault_alone(search, queries, device, need, limits - queries.base))
    found: dict[str, float] = {}
    for q in np.flatnonzero(open_ones & np.isfinite(holding)).tolist():
        found[names[q]] = min(found.get(names[q], math.inf), float(holding[q]))
    best: dict[str, int] = {}
    order = [q for q in np.argsort(bound, kind="stable").tolist() if math.isfinite(bound[q])]
    size = 16
    while order:
        values = (min(a, known.get(name, math.inf)) for name, a in found.items())
        least = math.inf if each else min((a for a in values if a > NOTHING_A), default=math.inf)

        def settled(name: str, least: float = least) -> float:
            """The bound in A from which on nothing more is asked of a part."""
            mine = min(found.get(name, math.inf), known.get(name, math.inf))
            return math.inf if math.isinf(mine) else -math.inf if mine <= NOTHING_A else min(mine, least)

        order = [q for q in order if bound[q] < settled(names[q]) * (1.0 - SAME)]
        batch, order = order[:size], order[size:]
        programmes = [_programme(search, queries, device, q, float(need[q])) for q in batch]
        for q, answer in zip(batch, solve_programmes(programmes), strict=True):
            held_a = _held(answer, float(need[q]))
            if held_a < found.get(names[q], math.inf):
                found[names[q]], best[names[q]] = held_a, q
        size *= 2
    at_limit = [_programme(search, queries, device, q, float(limits[q] - queries.base[q])) for q in best.values()]
    for name, answer in zip(best, solve_programmes(at_limit), strict=True):
        found[name] = min(found[name], _held(answer, float(limits[best[name]])))
    return found


@dataclass(frozen=True)
class Some:
    """Some of the queries of a search: those in ``asked`` (Q,), of ``place`` and ``branch`` (Q,)."""

    place: IntArray
    branch: IntArray
    asked: BoolArray

    def of(self, queries: Queries) -> Queries:
        """The same ones of other queries; all of these where they are not the same to choose from."""
        alike = np.array_equal(queries.place, self.place) and np.array_equal(queries.branch, self.branch)
        return _only(queries, self.asked) if alike else queries


def over_without(
    search: Search, devices: Iterable[int], limit_a: Mapping[str, float]
) -> Iterator[tuple[set[str], Some | None]]:
    """For each of some devices that are closed in a state: the parts that come above their limits in it by faults
    and loads of which nothing runs through the device; and the queries that hang on the device, None for all.

    Where loads draw by their power or pulse, what they draw hangs on what devices hold: all hangs on the device.
    """
    queries, piece = search.queries(search.places), search.variant.piece
    if queries is None or piece.pulses or bool((piece.loads.kind == POWER).any()):
        yield from ((set[str](), None) for _ in devices)
        return
    names = np.array([search.name(k) for k in queries.branch.tolist()])
    limits = np.array([limit_a.get(name, math.inf) for name in names.tolist()])
    need = limits * (1.0 + PAST) - queries.base
    by_place = (queries.response, queries.place, queries.gain, queries.base, queries.helps)
    over = search.bounds(*by_place)[0] - queries.base >= need
    # By which device's row it is known that a part stays below its limit: none, one, or others as well.
    none, others = -3, -2
    settled = np.full(len(need), none)
    for r, stays in _staying(search, queries, need):
        device = int(search.variant.rows.device[r]) if r < len(search.variant.rows.device) else -1
        first = np.where(settled == none, device if device >= 0 else others, settled)
        settled = np.where(stays, np.where(first == device, first, others), settled)
    adds = (queries.helps > TINY).astype(np.float64)
    for k in devices:
        runs = np.abs(queries.response.branch[k, queries.place]) > TINY
        runs |= adds @ (np.abs(search.loaded.load_branch[k]) > TINY) > 0.0
        runs |= abs(float(search.variant.flows.own_a[k])) > TINY
        asked = np.isfinite(limits) & np.where(over, runs, (settled == none) | (settled == k))
        yield set(names[over & ~runs].tolist()), Some(queries.place, queries.branch, asked)


def _only(queries: Queries, some: BoolArray | IntArray) -> Queries:
    """Some of the queries."""
    kept = {name: getattr(queries, name)[some] for name in ("place", "branch", "gain", "base", "helps", "extent")}
    return replace(queries, own_end=[], **kept)


def _staying(search: Search, queries: Queries, need: FloatArray) -> Iterator[tuple[int, BoolArray]]:
    """By row, and last by the voltage: the queries (Q,) in which the part surely stays below ``need``, by weak
    duality with that row alone.
    """
    limit, response, loads = search.variant.rows.limit, queries.response, search.loaded.load_rows
    place, most_a = queries.place, queries.response.most_a[queries.place]
    for r in range(len(limit) + 1):
        per_fault = response.rows[r, place] if r < len(limit) else response.loop_ohm[place]
        room = limit[r] if r < len(limit) else response.open_v[place]
        taken = loads[r][None, :] if r < len(limit) else response.fall[place]
        bounds = per_fault > TINY
        price = np.where(bounds, queries.gain / np.where(bounds, per_fault, 1.0), 0.0)
        with np.errstate(invalid="ignore"):
            adds = (np.maximum(queries.helps - price[:, None] * taken, 0.0) * most_a).sum(axis=1)
            yield r, bounds & (price * room + adds < need)


def _through(search: Search, queries: Queries, device: int, fault_a: FloatArray, loads_a: FloatArray) -> FloatArray:
    """(Q,) what the device holds in A with these fault currents (Q,) and load currents (Q, L)."""
    amps = search.variant.flows.own_a[device] + queries.response.branch[device, queries.place] * fault_a
    amps = amps + loads_a @ search.loaded.load_branch[device]
    found: FloatArray = np.abs(amps) if search.variant.piece.reverse_too[device] else np.maximum(amps, 0.0)
    return found


def _by_fault_alone(
    search: Search, queries: Queries, device: int, need: FloatArray, at_limit: FloatArray
) -> FloatArray:
    """(Q,) what the device holds in A where the fault alone brings the part to its limit; inf where it does not.

    ``need``: what the fault has to add in A to bring the part past it.
    """
    limit, response, place = search.variant.rows.limit, queries.response, queries.place
    fault_a = np.where(np.isfinite(need), need / queries.gain, -1.0)
    holds = (response.rows[:, place] * fault_a <= limit[:, None] + TINY * (1.0 + np.abs(limit[:, None]))).all(
        axis=0
    )
    holds &= (limit >= -TINY).all() & (response.loop_ohm[place] * fault_a <= response.open_v[place])
    fault_a = np.maximum(at_limit / queries.gain, 0.0)
    fault_a = np.where(np.isfinite(fault_a), fault_a, 0.0)
    nothing = np.zeros((len(need), len(search.loaded.plus)))
    held = _through(search, queries, device, fault_a, nothing)
    return np.where(holds & np.isfinite(need) & (need >= 0.0), held, math.inf)


def _bound(search: Search, queries: Queries, device: int, need: FloatArray) -> FloatArray:
    """(Q,) no more than the device's current can be, by weak duality with the price of the fault current alone."""
    flows, most = search.variant.flows, queries.response.most_a[queries.place]
    bound = np.zeros(len(need))
    for sign in (1.0, -1.0) if search.variant.piece.reverse_too[device] else (1.0,):
        per_fault = sign * queries.response.branch[device, queries.place]
        per_load = sign * search.loaded.load_branch[device]
        price = np.where((per_fault > TINY) & (need > 0.0), per_fault / queries.gain, 0.0)
        eased = np.minimum(per_load[None, :] - price[:, None] * queries.helps, 0.0)
        least = sign * flows.own_a[device] + price * np.where(price > 0.0, need, 0.0) + (eased * most).sum(axis=1)
        bound = np.maximum(bound, np.where(per_fault < -TINY, 0.0, least))
    return bound


SHORT_COSTS = 1e5
"""What an ampere counts that a part comes short of its limit, in amperes of the device: more than any share."""


def _programme(search: Search, queries: Queries, device: int, q: int, need_a: float) -> Programme:
    """The programme of one query. Two more variables: the least that the device holds, in place of its own rows,
    and what the part comes short, so that there is a state in any event.
    """
    place, helps = int(queries.place[q]), queries.helps[q]
    full = search.loaded.programme(queries.response, place, 0.0, np.zeros(len(helps)))
    kept = np.ones(len(full.limit), dtype=np.bool_)
    kept[: len(search.variant.rows.device)] = search.variant.rows.device != device
    through = np.concatenate([[queries.response.branch[device, place]], search.loaded.load_branch[device]])
    own = float(search.variant.flows.own_a[device])
    both = bool(search.variant.piece.reverse_too[device])
    rows = np.concatenate(
        [
            np.column_stack([full.rows[kept], np.zeros((np.count_nonzero(kept), 2))]),
            np.concatenate([[-queries.gain[q]], -helps, [0.0, -1.0]])[None],
            np.concatenate([through, [-1.0, 0.0]])[None],
            *([np.concatenate([-through, [-1.0, 0.0]])[None]] if both else []),
        ]
    )
    limit = np.concatenate([full.limit[kept], [-need_a, -own], [own] if both else []])
    gain = np.zeros(len(full.gain) + 2)
    gain[-2:] = -1.0, -SHORT_COSTS
    most = np.concatenate([full.most, [np.inf, np.inf]])
    return Programme(gain, rows, limit, most, possible=bool((full.limit[kept] >= 0.0).all()))


def _held(answer: FloatArray | None, limit_a: float) -> float:
    """What the device holds in A in the answer of a programme; inf where the part comes short of its limit."""
    if answer is None or float(answer[-1]) > SAME * max(abs(limit_a), TINY):
        return math.inf
    return float(answer[-2])
