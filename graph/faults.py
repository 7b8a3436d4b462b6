"""What one fault, or several overloads, can make every conductor and contact carry without anything opening.

A device that has opened makes another arrangement of the harness; the search answers for the harness as it
stands, every device whole. Loads never help to open one (see ``let_through``). A current in the reverse
direction is not credited with making an output act. Diodes and parts that hold a constant current are tried in
every state (``fault_piece.variants``).

Small pieces are searched by linear programmes; large ones that are fed radially have a closed form whose time
grows with their size (``radial_faults``), exact or a bound that says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from loadloom.graph.case_loading import CaseLoading
from loadloom.graph.devices import Threshold
from loadloom.graph.elements import Conductor, Device, Output
from loadloom.graph.exposure import exposures
from loadloom.graph.fault_piece import (
    POWER,
    RESISTANCE,
    TINY,
    Piece,
    PieceLoads,
    piece_loads,
    pieces_of,
    variants,
)
from loadloom.graph.fault_places import PieceGeometry, Place, Point
from loadloom.graph.fault_power import fault_powers
from loadloom.graph.fault_state import FaultState, solve_fault
from loadloom.graph.harness import Harness
from loadloom.graph.let_through import SAME, Hit, Search
from loadloom.graph.naming import natural_key
from loadloom.graph.network import CHASSIS_NODE, FloatArray, Network
from loadloom.graph.radial_answers import (
    POWERS_EVERYWHERE,
    WHOLE,
    Key,
    RadialFound,
    RadialRows,
    covering,
    radial_powers,
    where,
)
from loadloom.graph.radial_faults import Radial
from loadloom.graph.radial_piece import RadialPiece
from loadloom.graph.results import FaultPowerRow, FaultRow, Rating
from loadloom.graph.settings import AnalysisSettings, Case

Tell = Callable[[str], None]
LARGEST_PIECE = 4000
"""Joints and contact sides of one galvanic piece that the search takes; its arrays grow with the square of this."""

RADIAL_FROM = 400
"""Joints and contact sides from which a piece that is fed radially is answered in closed form."""

COPPER = "no device: the resistance of the copper holds a fault's current down"
NO_FAULT = "no fault adds to what the loads draw in it"
BOUND = "a bound on the safe side: what draws beside the fault counts with the most that it could ever draw"

BACK_FEED_A = 1e-3
"""Less fault current than this inside an output is rounding."""

ThresholdsByCase = Mapping[str, Mapping[str, Threshold]]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFault:
    """What the fault search says about one conductor or contact.

    ``let_through_a`` None: it can't be said (an output that may feed it has no readable voltage). ``protected``
    None: nothing to hold it against, or only an assumed trip keeps it within its allowed current.
    ``protected_by``: devices and outputs of which each alone keeps it within its allowed current, nearest first.
    ``at_rating_a``: the let-through if the device that holds it passed its printed rating instead of what it
    can hold. ``held_a`` is what that device can hold, ``held_to_protect_a`` the most it may hold so that the part
    stays within its allowed current (None where no such device or setting is). ``heat_w_per_m``: a conductor's
    heat at its let-through, cold. ``held_by`` is the device just about not to open, None where copper alone holds
    the current down. ``exact_place`` and ``loads_a`` (by load id, those
    that draw) say with ``fault`` all that is needed to set up the state again: shares along conductors are not
    rounded there. ``exact`` false: the let-through is a bound on the safe side, not known to be reached.
    """

    id: str
    let_through_a: float | None
    case: str | None
    fault: FaultRow | None
    whole: bool = True
    exposure_a: float | None = None
    exposure_case: str | None = None
    allowed_a: float | None = None
    protected: bool | None = None
    protected_by: tuple[str, ...] = ()
    note: str = ""
    held_by: str | None = None
    at_rating_a: float | None = None
    held_a: float | None = None
    held_to_protect_a: float | None = None
    in_band: bool = False
    clears_within_s: float | None = None
    heat_w_per_m: float | None = None
    back_fed_by: str | None = None
    exact_place: tuple[str, str] | None = None
    loads_a: Sequence[tuple[str, float]] = ()
    exact: bool = True


@dataclass(frozen=True)
class FaultAnswer:
    """The answer of the fault search.

    ``parts`` is by conductor and contact id, the worst of all cases; ``by_arrangement`` the same by arrangement
    word (None = as drawn). ``faults`` are the rows that the parts refer to, in order of their ids; ``back_feeds``
    what each output shorted inside makes each part carry (parts on which the fault adds anything). ``joined``
    are groups of outputs that hang together by copper on both sides, by case.
    """

    parts: Mapping[str, PartFault]
    by_arrangement: Mapping[str | None, Mapping[str, PartFault]]
    faults: tuple[FaultRow, ...]
    powers: tuple[FaultPowerRow, ...]
    back_feeds: tuple[PartFault, ...] = ()
    joined: tuple[tuple[str, tuple[str, ...]], ...] = ()
    assumptions: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Found:
    """A hit with where it came from."""

    hit: Hit
    search: Search
    branch: int
    case: Case

    def better_than(self, other: _Found | None) -> bool:
        if other is None or self.hit.value_a > other.hit.value_a * (1.0 + SAME) + TINY:
            return True
        same = self.hit.value_a >= other.hit.value_a * (1.0 - SAME) - TINY
        return same and self.hit.rank() < other.hit.rank()


@dataclass
class _Worst:
    """The worst found so far in the cases of one arrangement, by part id."""

    hits: dict[str, _Found] = field(default_factory=dict)
    back: dict[tuple[str, str], _Found] = field(default_factory=dict)
    exposure: dict[str, tuple[float, str]] = field(default_factory=dict)
    cover: dict[str, tuple[str, ...]] = field(default_factory=dict)
    powers: dict[str, FaultPowerRow] = field(default_factory=dict)
    joined: dict[tuple[str, ...], str] = field(default_factory=dict)
    too_large: set[str] = field(default_factory=set)
    radial: dict[str, RadialFound] = field(default_factory=dict)
    radials: list[Radial] = field(default_factory=list)

    def value_a(self, name: str) -> float:
        """The let-through found so far of a part, 0 for none."""
        hit, radial = self.hits.get(name), self.radial.get(name)
        return max(hit.hit.value_a if hit else 0.0, radial.value_a if radial else 0.0)

    def raise_to(self, steady_a: Mapping[str, float]) -> None:
        """Let no part's let-through be below what a case carries in it for good, in A by part id."""
        for name, least_a in steady_a.items():
            if least_a <= self.value_a(name) * (1.0 + SAME):
                continue
            if name in self.hits:
                found = self.hits[name]
                self.hits[name] = replace(found, hit=replace(found.hit, value_a=least_a))
            elif name in self.radial:
                self.radial[name] = self.radial[name]._replace(value_a=least_a)


def search_faults(
    harness: Harness,
    settings: AnalysisSettings,
    cases: Sequence[Case],
    networks: Mapping[str, Sequence[Network]],
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    progress: Tell | None = None,
    loading: Mapping[str, CaseLoading] | None = None,
) -> FaultAnswer:
    """Search every place of fault in every case.

    ``networks[case.id]``: networks at the corner ``GREATEST_FAULT``, with the chassis as a joint and, where
    there is one, without it; the worse counts. ``thresholds[case.id]``: of every device and output by id, as
    they are in the case's arrangement. ``ratings`` by conductor and contact id. Cases that differ in nothing
    that matters, and cases whose loads are all smaller than another's, are searched once. ``loading`` by case id:
    what the case itself does; no answer is below what the case carries for good.
    """
    of_case = loading or {}
    tell = progress or (lambda text: None)
    worst: dict[str | None, _Worst] = {}
    firm: dict[str | None, dict[str, float]] = {}
    for case, network, loads in _distinct(harness, cases, networks, thresholds, of_case):
        tell(f"searching faults: {case.id}")
        mine = thresholds[case.id]
        _search_network(harness, case, network, mine, loads, ratings, worst.setdefault(case.arrangement, _Worst()))
        if _rests_on_assumed(mine, ratings, worst[case.arrangement], settings.overload_band):
            without = {k: replace(t, held_a=math.inf, opens=False) if t.assumed else t for k, t in mine.items()}
            apart = _Worst()
            _search_network(harness, case, network, without, loads, ratings, apart, short=True)
            known = firm.setdefault(case.arrangement, {})
            for part in (*apart.hits, *apart.radial):
                known[part] = max(known.get(part, 0.0), apart.value_a(part))
    for case in cases:
        if case.id in of_case and case.arrangement in worst:
            worst[case.arrangement].raise_to(of_case[case.id].steady_a)
    return _answer(harness, settings, cases, thresholds, ratings, worst, firm)


def _rests_on_assumed(
    thresholds: Mapping[str, Threshold], ratings: Mapping[str, Rating], worst: _Worst, band: float
) -> bool:
    """Whether any part that is within its allowed current, or its band, may be so by an assumed trip alone."""
    if not any(t.assumed and math.isfinite(t.held_a) for t in thresholds.values()):
        return False
    if worst.radial:
        return True
    for name, found in worst.hits.items():
        rating = ratings.get(name)
        if rating is None or rating.allowed_a is None or found.hit.value_a > band * rating.allowed_a * (1.0 + SAME):
            continue
        if all(thresholds[d].assumed for d in worst.cover.get(name, ())):
            return True
    return False


def _distinct(
    harness: Harness,
    cases: Sequence[Case],
    networks: Mapping[str, Sequence[Network]],
    thresholds: ThresholdsByCase,
    loading: Mapping[str, CaseLoading],
) -> list[tuple[Case, Network, PieceLoads]]:
    """Networks that can differ in their answer: none that equals another or draws less everywhere."""
    kept: dict[tuple[object, ...], list[tuple[Case, Network, PieceLoads]]] = {}
    for case in cases:
        for network in networks.get(case.id, ()):
            key = (
                case.arrangement,
                network.edge_ids,
                network.edge_resistance_ohm.tobytes(),
                network.source_ids,
                network.source_voltage_v.tobytes(),
                network.source_resistance_ohm.tobytes(),
                tuple(sorted((k, t.held_a, t.opens, t.assumed) for k, t in thresholds[case.id].items())),
            )
            loads = piece_loads(network, harness, loading.get(case.id, CaseLoading()).least_v)
            group = kept.setdefault(key, [])
            if any(_covers(other, loads) for _, _, other in group):
                continue
            group[:] = [entry for entry in group if not _covers(loads, entry[2])]
            group.append((case, network, loads))
    return [entry for group in kept.values() for entry in group]


def _covers(great: PieceLoads, small: PieceLoads) -> bool:
    """Whether every load of ``small`` can draw at least as much in ``great``."""
    place = {name: k for k, name in enumerate(great.ids)}
    for k, name in enumerate(small.ids):
        n = place.get(name)
        if n is None:
            if small.kind[k] != RESISTANCE and small.demand[k] <= 0.0:
                continue
            return False
        if great.kind[n] != small.kind[k]:
            return False
        if small.kind[k] == RESISTANCE:
            if great.demand[n] > small.demand[k]:
                return False
        elif great.demand[n] < small.demand[k] or great.case_a[n] < small.case_a[k]:
            return False
        if small.kind[k] == POWER and great.minimum_v[n] > small.minimum_v[k]:
            return False
    return True


def _search_network(
    harness: Harness,
    case: Case,
    network: Network,
    thresholds: Mapping[str, Threshold],
    loads: PieceLoads,
    ratings: Mapping[str, Rating],
    worst: _Worst,
    *,
    short: bool = False,
) -> None:
    """Search one network; ``short`` leaves out all but the let-through."""
    for piece in pieces_of(network, thresholds, loads):
        geometry = PieceGeometry(harness, piece)
        radial = _radial(geometry)
        if radial is not None:
            _take_radial(radial, case, worst, short=short)
            continue
        if len(piece.node_ids) > LARGEST_PIECE:
            worst.too_large.update(piece.branches.ids)
            continue
        names = piece.branches.ids
        for variant in variants(piece):
            search = Search(geometry, variant)
            for branch, hit in search.run().items():
                found = _Found(hit, search, branch, case)
                if found.better_than(worst.hits.get(names[branch])):
                    worst.hits[names[branch]] = found
                back = (names[branch], names[variant.dead] if variant.dead >= 0 else "")
                fed = variant.dead >= 0 and hit.fault_a > BACK_FEED_A
                if fed and found.better_than(worst.back.get(back)):
                    worst.back[back] = found
            if short or variant.dead >= 0:
                continue
            for branch, value in exposures(search).items():
                if value > worst.exposure.get(names[branch], (-1.0, ""))[0] * (1.0 + SAME):
                    worst.exposure[names[branch]] = (value, case.id)
            for at, row in fault_powers(search, case.id).items():
                known = worst.powers.get(at)
                if known is None or row.power_w > known.power_w * (1.0 + SAME):
                    worst.powers[at] = row
            if not variant.name:
                _note_cover(search, ratings, worst)
        group = tuple(names[s] for s in piece.sources if piece.in_loop[s])
        if len(group) > 1:
            worst.joined.setdefault(group, case.id)


def _radial(geometry: PieceGeometry) -> Radial | None:
    """The closed form of a large radial piece; None where the search does better, or where it does not suit."""
    piece = geometry.piece
    count = len(piece.node_ids)
    if count < RADIAL_FROM or not RadialPiece.fits(piece):
        return None
    radial = Radial(geometry)
    tree = radial.piece
    rough = tree.coarse or len(tree.in_return) or len(tree.in_loop_acting) or len(tree.cross_ties.high)
    return None if rough and count <= LARGEST_PIECE else radial


def _take_radial(radial: Radial, case: Case, worst: _Worst, *, short: bool) -> None:
    names = radial.columns.id
    known = worst.radial
    for part, (name, value) in enumerate(zip(names, radial.let_a.tolist(), strict=True)):
        before = known.get(name)
        if before is None or value > before.value_a * (1.0 + SAME):
            known[name] = RadialFound(radial, part, case, value)
    if short:
        return
    worst.radials.append(radial)
    for name, value in zip(names, radial.columns.exposure_a, strict=True):
        if value > worst.exposure.get(name, (-1.0, ""))[0] * (1.0 + SAME):
            worst.exposure[name] = (value, case.id)
    for at, row in radial_powers(radial, case.id).items():
        held = worst.powers.get(at)
        if held is None or row.power_w > held.power_w * (1.0 + SAME):
            worst.powers[at] = row


# --- which devices protect a part -----------------------------------------------------------------------------


def _note_cover(search: Search, ratings: Mapping[str, Rating], worst: _Worst) -> None:
    """Devices and outputs each of which alone keeps a part within its allowed current, nearest first."""
    piece = search.variant.piece
    acting = np.flatnonzero(np.isfinite(piece.held_a))
    if not len(acting) or not search.places.listed:
        return
    response = search.loaded.response(search.places.listed)
    gain = np.abs(response.branch[search.parts])
    row_of = {k: n for n, k in enumerate(search.parts.tolist())}
    for end in search.places.own:
        through, sign = response.branch[end.branch, end.place], 1.0 if end.at_high else -1.0
        own = max(abs(through + sign * (1.0 - end.share)), abs(through - sign * end.share))
        row = row_of[end.branch]
        gain[row, end.place] = max(gain[row, end.place], own)
    a, b = piece.branches.a, piece.branches.b
    count = len(piece.node_ids)
    links = coo_array((np.ones(len(a)), (a, b)), shape=(count, count)).tocsr()
    hops = dijkstra(links, directed=False, unweighted=True, indices=b[acting])
    most = response.most_a.min(axis=0, initial=np.inf) if len(search.loaded.plus) else np.zeros(0)
    base = np.abs(search.variant.flows.own_a[search.parts])
    bound = np.full((len(acting), len(search.parts)), np.inf)
    for n, d in enumerate(acting.tolist()):
        through = np.abs(response.branch[d])
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(gain > TINY, gain / np.where(through > TINY, through, 0.0)[None, :], 0.0).max(axis=1)
        share = np.where(np.isfinite(share), share, np.inf)
        left = np.abs(search.loaded.load_branch[search.parts]) - np.minimum(share, 1e12)[:, None] * np.abs(
            search.loaded.load_branch[d]
        )
        bound[n] = base + share * piece.held_a[d] + np.maximum(left, 0.0) @ most
    for n, k in enumerate(search.parts.tolist()):
        name = piece.branches.ids[k]
        rating = ratings.get(name)
        if rating is None or rating.allowed_a is None:
            continue
        good = np.flatnonzero(bound[:, n] <= rating.allowed_a * (1.0 + SAME)).tolist()
        distance = np.minimum(hops[:, a[k]], hops[:, b[k]])
        good.sort(key=lambda i: (distance[i], natural_key(piece.branches.ids[int(acting[i])])))
        ids = tuple(piece.branches.ids[int(acting[i])] for i in good)
        known = worst.cover.get(name)
        worst.cover[name] = ids if known is None else tuple(x for x in known if x in ids)


# --- rows -----------------------------------------------------------------------------------------------------


class _RowMaker:
    """Makes fault rows, the same state once."""

    def __init__(self, harness: Harness, ratings: Mapping[str, Rating]) -> None:
        self.harness = harness
        self.ratings = ratings
        self.rows: dict[tuple[object, ...], FaultRow] = {}
        self._radial = RadialRows(ratings)

    def note(self, found: Iterable[RadialFound]) -> None:
        """Take answers of the closed form into account before any of their rows is made."""
        for each in found:
            self._radial.note(each)

    def radial_row(self, key: Key | None) -> FaultRow | None:
        """The fault row of an answer of the closed form; None where no fault adds to the loads' current."""
        if key is None:
            return None
        if key not in self.rows:
            self.rows[key] = self._radial.make(key, f"F{len(self.rows) + 1}")
        return self.rows[key]

    def row(self, found: _Found) -> FaultRow | None:
        """The fault row of a hit; None where no fault adds to the loads' current."""
        hit, search = found.hit, found.search
        if hit.place is None:
            return None
        variant = search.variant
        key = (
            found.case.id,
            variant.name,
            variant.piece.opened,
            hit.place,
            round(hit.fault_a, 9),
            hit.loads_a.round(9).tobytes(),
        )
        if key not in self.rows:
            self.rows[key] = self._make(found, hit.place)
        return self.rows[key]

    def _make(self, found: _Found, place: Place) -> FaultRow:
        hit, search = found.hit, found.search
        state = state_at(search, place, hit.fault_a, hit.loads_a)
        worst, ratio = None, (-1.0, -1.0)
        for k in search.parts.tolist():
            name = search.variant.piece.branches.ids[k]
            rating = self.ratings.get(name)
            allowed = rating.allowed_a if rating else None
            current = float(state.parts[k])
            rank = (current / allowed if allowed else 0.0, current)
            if rank > ratio and current > TINY:
                worst, ratio = k, rank
        row = FaultRow(
            id=f"F{len(self.rows) + 1}",
            kind=place.kind,
            case=found.case.id,
            at=place.at,
            to=place.to,
            fault_current_a=hit.fault_a,
            fault_resistance_ohm=state.fault_v / hit.fault_a if hit.fault_a > TINY else None,
            fault_power_w=state.fault_v * hit.fault_a,
            held_by=state.held_by,
            worst=None,
            worst_current_a=None,
            worst_allowed_a=None,
            opened=search.variant.piece.opened,
        )
        if worst is None:
            return row
        name = search.variant.piece.branches.ids[worst]
        rating = self.ratings.get(name)
        allowed = rating.allowed_a if rating else None
        band = _band(search, place, hit, state, worst, allowed) if allowed is not None else None
        return replace(
            row,
            worst=name,
            worst_current_a=float(state.parts[worst]),
            worst_allowed_a=allowed,
            resistance_band_ohm=band,
            description=_description(found, row, state, name, float(state.parts[worst]), allowed),
        )


@dataclass(frozen=True)
class _State:
    """A linear state: magnitudes by branch (on a conductor with the fault, its greater part)."""

    parts: FloatArray
    fault_v: float
    held_by: str | None
    per_fault: FloatArray
    loop_ohm: float
    open_v: float


def state_at(search: Search, place: Place, fault_a: float, loads_a: FloatArray) -> _State:
    """The linear state with a fault current and load currents in A."""
    response = search.loaded.response([place])
    flows, piece = search.variant.flows, search.variant.piece
    fixed = flows.own_a + search.loaded.load_branch @ loads_a
    per_fault = response.branch[:, 0].copy()
    signed = fixed + per_fault * fault_a
    for point, sign in ((place.high, 1.0), (place.low, -1.0)):
        k = point.branch
        if k >= 0:
            near, far = per_fault[k] + sign * (1.0 - point.share), per_fault[k] - sign * point.share
            per_fault[k] = max(near, far, key=lambda g: abs(fixed[k] + g * fault_a))
            signed[k] = fixed[k] + per_fault[k] * fault_a
    open_v = float(response.open_v[0] - response.fall[0] @ loads_a)
    loop = float(response.loop_ohm[0])
    rows = search.variant.rows
    with np.errstate(divide="ignore", invalid="ignore"):
        used = rows.per_node_draw(response.rows[:, 0], search.loaded.load_rows, fault_a, loads_a)
    slack = rows.limit - used
    tight = np.flatnonzero(
        (slack <= 1e-6 * np.maximum(np.abs(rows.limit), 1e-3)) & (rows.device >= 0) & (response.rows[:, 0] > TINY)
    )
    held_by = None
    if len(tight):
        # Of several that are all about to act, the one of the least current: it is nearest to the fault.
        device = min(rows.device[tight].tolist(), key=lambda d: (piece.held_a[d], piece.branches.ids[d]))
        held_by = piece.branches.ids[device]
    return _State(np.abs(signed), max(open_v - loop * fault_a, 0.0), held_by, per_fault, loop, open_v)


def _band(
    search: Search, place: Place, hit: Hit, state: _State, worst: int, allowed: float
) -> tuple[float, float] | None:
    """Fault resistances at which nothing opens and the worst part is above its allowed current, loads as found."""
    gain = abs(state.per_fault[worst])
    if gain <= TINY or state.parts[worst] <= allowed:
        return None
    least_a = hit.fault_a - (float(state.parts[worst]) - allowed) / gain
    if least_a <= TINY:
        return None  # The loads alone are above the allowed current: any fault resistance will do.
    lowest = max(state.open_v / hit.fault_a - state.loop_ohm, 0.0)
    highest = state.open_v / least_a - state.loop_ohm
    return (float(lowest), float(highest))


def _description(
    found: _Found, row: FaultRow, state: _State, worst: str, current: float, allowed: float | None
) -> str:
    what = {
        "load": f"in place of load {row.at}",
        "contacts": f"between contacts {row.at}",
        "chassis": f"from {row.at} to the chassis",
        "pinch": f"from {row.at} to the return terminal {row.to}",
        "wires": f"from {row.at} onto {row.to}",
        "source": f"inside output {row.at}",
    }[row.kind]
    ohm = "a dead short" if not row.fault_resistance_ohm else f"{row.fault_resistance_ohm:.3g} Ω"
    holder = f"{row.held_by} just does not open" if row.held_by else "nothing but the copper holds the current down"
    loads = int(np.count_nonzero(found.hit.loads_a > TINY))
    with_loads = f", {loads} load{'s' if loads != 1 else ''} drawing" if loads else ", all other loads off"
    against = f" of {allowed:.3g} A allowed" if allowed is not None else ""
    after = f" with {', '.join(row.opened)} open already" if row.opened else ""
    return (
        f"A fault of {ohm} {what}{after} takes {row.fault_current_a:.3g} A and {row.fault_power_w:.3g} W"
        f"{with_loads}; {holder}; {worst} carries {current:.3g} A{against}."
    )


# --- the answer -----------------------------------------------------------------------------------------------


def _answer(
    harness: Harness,
    settings: AnalysisSettings,
    cases: Sequence[Case],
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    worst: Mapping[str | None, _Worst],
    firm: Mapping[str | None, Mapping[str, float]],
) -> FaultAnswer:
    maker = _RowMaker(harness, ratings)
    unreadable = any(o.fitted and o.voltage_v is None for o in harness.outputs)
    order = sorted((p.id for p in (*harness.conductors, *harness.contacts)), key=natural_key)
    by_arrangement: dict[str | None, dict[str, PartFault]] = {}
    for found in worst.values():
        maker.note(found.radial.values())
    for arrangement, found in worst.items():
        mine = by_arrangement.setdefault(arrangement, {})
        for name in order:
            mine[name] = _part(
                harness, settings, thresholds, ratings, maker, name, found, firm.get(arrangement, {}), unreadable
            )
    parts = {name: _worst_of([each[name] for each in by_arrangement.values()]) for name in order if by_arrangement}
    back: dict[tuple[str, str | None], PartFault] = {}
    for found in worst.values():
        for (name, _), hit in found.back.items():
            key = (name, _dead(hit))
            if key not in back or hit.hit.value_a > (back[key].let_through_a or 0.0):
                back[key] = _back_fed(maker, ratings, name, hit)
    powers: dict[str, FaultPowerRow] = {}
    joined: dict[tuple[str, ...], str] = {}
    for found in worst.values():
        for at, row in found.powers.items():
            if at not in powers or row.power_w > powers[at].power_w:
                powers[at] = row
        for group, case_id in found.joined.items():
            joined.setdefault(group, case_id)
    return FaultAnswer(
        parts=parts,
        by_arrangement=by_arrangement,
        faults=tuple(maker.rows.values()),
        powers=tuple(powers[at] for at in sorted(powers, key=natural_key)),
        back_feeds=tuple(back[key] for key in sorted(back, key=lambda k: (natural_key(k[0]), k[1] or ""))),
        joined=tuple((case_id, group) for group, case_id in joined.items()),
        assumptions=_assumptions(harness, cases, worst.values()),
    )


def _worst_of(answers: list[PartFault]) -> PartFault:
    """The worst over arrangements: the greatest let-through; protected only if it is in each."""
    if len(answers) == 1:
        return answers[0]
    top = max(answers, key=lambda a: -1.0 if a.let_through_a is None else a.let_through_a)
    exposed = max(answers, key=lambda a: -1.0 if a.exposure_a is None else a.exposure_a)
    verdicts = {a.protected for a in answers}
    protected = False if False in verdicts else None if None in verdicts else True
    note = next((a.note for a in answers if a.protected is protected and a.note), top.note)
    unbanded = [a for a in answers if a.protected is True and a.in_band]
    return replace(
        top,
        exposure_a=exposed.exposure_a,
        exposure_case=exposed.exposure_case,
        protected=protected,
        note=note,
        in_band=top.in_band or bool(unbanded),
    )


def _part(
    harness: Harness,
    settings: AnalysisSettings,
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    maker: _RowMaker,
    name: str,
    worst: _Worst,
    firm: Mapping[str, float],
    unreadable: bool,
) -> PartFault:
    rating = ratings.get(name)
    allowed = rating.allowed_a if rating else None
    found = worst.hits.get(name)
    radial = worst.radial.get(name)
    if radial is not None and (found is None or radial.value_a >= found.hit.value_a):
        return _radial_part(harness, settings, thresholds, ratings, maker, radial, worst, firm)
    if found is None:
        unknown = unreadable or name in worst.too_large
        note = "an output has no readable voltage" if unreadable else "no output is joined to it"
        if name in worst.too_large:
            note = f"not searched: it hangs together with more than {LARGEST_PIECE} joints and contact sides"
        nothing = None if unknown else 0.0
        good = True if allowed is not None and not unknown else None
        return PartFault(
            id=name,
            let_through_a=nothing,
            case=None,
            fault=None,
            allowed_a=allowed,
            protected=good,
            note=note,
            exposure_a=nothing,
        )
    hit, value = found.hit, max(found.hit.value_a, 0.0)
    row = maker.row(found)
    exposure, exposure_case = worst.exposure.get(name, (value, found.case.id))
    if exposure < value:
        exposure, exposure_case = value, found.case.id
    answer = PartFault(
        id=name,
        let_through_a=value,
        case=found.case.id,
        fault=row,
        whole=hit.extent >= 1.0 - 1e-6,
        exposure_a=exposure,
        exposure_case=exposure_case,
        allowed_a=allowed,
        held_by=row.held_by if row else None,
        protected_by=worst.cover.get(name, ()),
        heat_w_per_m=_heat_w_per_m(harness, found, name, value),
        back_fed_by=_dead(found),
        exact_place=_exact(found),
        loads_a=_drawing(found),
    )
    answer = _with_rating(harness, thresholds, answer, found)
    return _judged(settings, answer, firm.get(name))


def _radial_part(
    harness: Harness,
    settings: AnalysisSettings,
    thresholds: ThresholdsByCase,
    ratings: Mapping[str, Rating],
    maker: _RowMaker,
    found: RadialFound,
    worst: _Worst,
    firm: Mapping[str, float],
) -> PartFault:
    name, p, known = found.id, found.part, found.radial.columns
    rating = ratings.get(name)
    allowed = rating.allowed_a if rating else None
    row = maker.radial_row(found.key)
    value = found.value_a
    exposure, exposure_case = worst.exposure.get(name, (value, found.case.id))
    held_by = found.held_by if row else None
    ratio = found.device_share / known.gain[p] if known.gain[p] > TINY else math.inf
    held = _Held()
    if held_by is not None:
        held = _held(harness, thresholds, held_by, value, allowed, found.case, ratio)
    cover = _radial_cover(worst, name, allowed) if allowed is not None else ()
    note = "" if known.exact[p] else BOUND
    verdict = _verdict(
        settings, value, allowed, held.at_rating_a, held_by, cover, note, row is not None, firm.get(name)
    )
    return PartFault(
        id=name,
        let_through_a=value,
        case=found.case.id,
        fault=row,
        whole=known.extent[p] >= WHOLE,
        exposure_a=max(exposure, value),
        exposure_case=exposure_case if exposure >= value else found.case.id,
        allowed_a=allowed,
        protected=verdict.protected,
        protected_by=verdict.protected_by,
        note=verdict.note,
        held_by=held_by,
        at_rating_a=held.at_rating_a,
        held_a=held.held_a,
        held_to_protect_a=held.held_to_protect_a,
        in_band=verdict.in_band,
        clears_within_s=held.clears_within_s,
        heat_w_per_m=_heat_of(harness, name, value, known.ohm[p]),
        exact_place=where(found).exact if row else None,
        loads_a=found.loads_a if row else (),
        exact=known.exact[p],
    )


def _radial_cover(worst: _Worst, name: str, allowed: float) -> tuple[str, ...]:
    """Devices that protect a part in every network of the arrangement."""
    found: tuple[str, ...] | None = None
    for radial in worst.radials:
        part = radial.row_of.get(name)
        if part is not None:
            here = covering(RadialFound(radial, part, worst.radial[name].case, 0.0), allowed)
            found = here if found is None else tuple(x for x in found if x in here)
    return found or ()


def _exact(found: _Found) -> tuple[str, str] | None:
    place = found.hit.place
    if place is None:
        return None
    ids = found.search.variant.piece.branches.ids
    at, to = (
        name if point.branch < 0 else f"{ids[point.branch]}:{point.share:.12f}"
        for point, name in ((place.high, place.at), (place.low, place.to))
    )
    return at, to


def _drawing(found: _Found) -> tuple[tuple[str, float], ...]:
    search = found.search
    ids = [search.variant.piece.loads.ids[k] for k in search.loaded.load_at.tolist()]
    return tuple((name, float(a)) for name, a in zip(ids, found.hit.loads_a, strict=True) if a > TINY)


def _dead(found: _Found) -> str | None:
    dead = found.search.variant.dead
    return found.search.variant.piece.branches.ids[dead] if dead >= 0 else None


def _heat_w_per_m(harness: Harness, found: _Found, name: str, value: float) -> float | None:
    return _heat_of(harness, name, value, float(found.search.variant.piece.branches.resistance_ohm[found.branch]))


def _heat_of(harness: Harness, name: str, value: float, ohm: float) -> float | None:
    part = harness.by_id[name]
    if not isinstance(part, Conductor) or not part.length_m:
        return None
    return float(value**2 * ohm / part.length_m)


class _Held(NamedTuple):
    """What is known of a part by the device that holds its let-through; see ``PartFault``."""

    at_rating_a: float | None = None
    held_a: float | None = None
    held_to_protect_a: float | None = None
    clears_within_s: float | None = None


def _with_rating(harness: Harness, thresholds: ThresholdsByCase, answer: PartFault, found: _Found) -> PartFault:
    """Add what would flow if the holding device passed its printed rating, and how long it may take to act."""
    if answer.held_by is None or answer.let_through_a is None or found.hit.place is None:
        return answer
    state = state_at(found.search, found.hit.place, found.hit.fault_a, found.hit.loads_a)
    through = abs(float(state.per_fault[found.search.variant.piece.branch_index[answer.held_by]]))
    ratio = through / found.hit.per_fault_a if found.hit.per_fault_a > TINY else math.inf
    held = _held(harness, thresholds, answer.held_by, answer.let_through_a, answer.allowed_a, found.case, ratio)
    return replace(answer, **held._asdict())


def _held(
    harness: Harness,
    thresholds: ThresholdsByCase,
    held_by: str,
    value: float,
    allowed: float | None,
    case: Case,
    ratio: float,
) -> _Held:
    """``ratio``: the device's current per ampere in the part, of the fault."""
    element = harness.by_id[held_by].under(case.arrangement)
    held = thresholds[case.id][held_by]
    rating = element.setting_a if isinstance(element, Device) else None
    if isinstance(element, Output):
        rating = element.limit_a
    at_rating = None
    if rating is not None and ratio > TINY:
        at_rating = value - max(held.held_a - rating, 0.0) / ratio
    enough = None
    if allowed is not None and math.isfinite(ratio):
        enough = held.held_a - max(value - allowed, 0.0) * ratio
    return _Held(
        at_rating, held.held_a, enough if enough is not None and enough > 0.0 else None, held.clears_within_s
    )


class _Verdict(NamedTuple):
    """Whether a part is protected; see ``PartFault``."""

    protected: bool | None
    in_band: bool
    protected_by: tuple[str, ...]
    note: str


def _judged(settings: AnalysisSettings, answer: PartFault, firm_a: float | None) -> PartFault:
    """Say whether the part is protected. ``firm_a``: its let-through without assumed trips."""
    verdict = _verdict(
        settings,
        answer.let_through_a,
        answer.allowed_a,
        answer.at_rating_a,
        answer.held_by,
        answer.protected_by,
        answer.note,
        answer.fault is not None,
        firm_a,
    )
    return replace(answer, **verdict._asdict())


def _verdict(
    settings: AnalysisSettings,
    value: float | None,
    allowed: float | None,
    at_rating_a: float | None,
    held_by: str | None,
    cover: tuple[str, ...],
    note: str,
    has_fault: bool,
    firm_a: float | None,
) -> _Verdict:
    if allowed is None or value is None:
        return _Verdict(None, False, cover, "allowed current unknown")
    within = value <= allowed * (1.0 + SAME)
    banded = (
        not within
        and at_rating_a is not None
        and at_rating_a <= allowed * (1.0 + SAME)
        and value <= settings.overload_band * allowed * (1.0 + SAME)
    )
    if not within and not banded:
        return _Verdict(False, False, cover, note)
    if firm_a is not None and firm_a > value * (1.0 + SAME) and firm_a > allowed * (1.0 + SAME):
        return _Verdict(None, banded, cover, "only an assumed trip keeps it within its allowed current")
    if not cover:
        # Nothing alone keeps it there at every place: what limits its let-through is named.
        cover = (held_by,) if held_by is not None else ()
        note = note if cover else (note or (COPPER if has_fault else NO_FAULT))
    return _Verdict(True, banded, cover, note)


def _back_fed(maker: _RowMaker, ratings: Mapping[str, Rating], name: str, found: _Found) -> PartFault:
    rating = ratings.get(name)
    row = maker.row(found)
    return PartFault(
        id=name,
        let_through_a=found.hit.value_a,
        case=found.case.id,
        fault=row,
        allowed_a=rating.allowed_a if rating else None,
        held_by=row.held_by if row else None,
        back_fed_by=_dead(found),
    )


def _assumptions(harness: Harness, cases: Sequence[Case], worst: Iterable[_Worst]) -> tuple[str, ...]:
    said = []
    found = list(worst)
    if any(each.too_large for each in found):
        said.append(
            f"Faults are not searched where more than {LARGEST_PIECE} joints and contact sides hang together and "
            "outputs or diodes feed them from several sides."
        )
    parts = [each for every in found for each in every.radial.values()]
    if parts:
        bounds = sum(1 for each in parts if not each.radial.exact[each.part])
        said.append(
            f"Faults of {len(parts)} conductors and contacts are answered in closed form; for {bounds} of them the "
            "let-through is a bound on the safe side, and exposure may be one."
        )
    if any(len(r.piece.tree.node_chain) > POWERS_EVERYWHERE for every in found for r in every.radials):
        said.append("The power of a fault is given at the loads only: the harness is large.")
    loads = [load.under(case.state) for case in cases for load in harness.loads]
    power = [load for load in loads if load.demand_kind.value == "power"]
    if any(load.minimum_v for load in power):
        said.append(
            "In the fault search a load of constant power draws up to its power at the lowest voltage that a fault "
            "leaves at it, and nothing below its minimum voltage, or that of the case where it is lower."
        )
    if any(not load.minimum_v for load in power):
        said.append(
            "In the fault search a load of constant power with no minimum voltage draws whatever current gives its "
            "power at the lowest voltage that a fault leaves at it."
        )
    if any(load.duration_s is not None for load in loads):
        said.append(
            "In the fault search a load in a state with a duration counts with its root mean square, and at least "
            "with its current outside that state."
        )
    return tuple(said)


# --- one given fault ------------------------------------------------------------------------------------------


def fault_at(
    harness: Harness,
    network: Network,
    thresholds: Mapping[str, Threshold],
    at: str,
    to: str,
    resistance_ohm: float,
    loads_a: Mapping[str, float] | None = None,
) -> FaultState:
    """The state with one fault of a given resistance, solved as a circuit; loads draw ``loads_a`` (default 0).

    ``at`` and ``to`` are places as in ``FaultRow``: ``W7:0.25``, a load, ``X1.3|X1.4``, a joint, ``chassis``.
    Raises KeyError for a place that is not there, ValueError where no output reaches both.
    """
    loads = piece_loads(network, harness)
    for piece in pieces_of(network, thresholds, loads):
        try:
            high, low = _points(harness, piece, at, to)
        except KeyError:
            continue
        drawn = np.array([(loads_a or {}).get(name, 0.0) for name in piece.loads.ids])
        return solve_fault(piece, Place(high, low, "pinch", at, to), resistance_ohm, drawn)
    raise ValueError(f"no output reaches both {at} and {to}")


def _points(harness: Harness, piece: Piece, at: str, to: str) -> tuple[Point, Point]:
    nodes = piece.node_index
    for load in harness.loads:
        if load.id == at:
            return Point.at_node(nodes[load.node_plus]), Point.at_node(nodes[load.node_minus])
    for output in harness.outputs:
        if output.id == at:
            return Point.at_node(nodes[output.node_plus]), Point.at_node(nodes[output.node_minus])
    if "|" in at:
        first, second = at.split("|")
        contacts = {c.id: c for c in harness.contacts}
        return Point.at_node(nodes[contacts[first].node_b]), Point.at_node(nodes[contacts[second].node_b])
    return _point(piece, at), _point(piece, to)


def _point(piece: Piece, name: str) -> Point:
    if name in piece.node_index:
        return Point.at_node(piece.node_index[name])
    if name == CHASSIS_NODE:
        raise KeyError(name)
    branch, _, share = name.rpartition(":")
    k = piece.branch_index[branch]
    return Point(int(piece.branches.a[k]), int(piece.branches.b[k]), float(share), k)
