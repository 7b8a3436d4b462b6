"""The closed form's answer as rows: which fault, where, what holds it, and which devices protect a part."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from loadloom.graph.circuit.network import CHASSIS_NODE
from loadloom.graph.faults.budgets import POWERS_EVERYWHERE
from loadloom.graph.faults.described import described
from loadloom.graph.faults.power import power_row
from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.faults.radial.loads_beside import Beside
from loadloom.graph.faults.radial.radial_piece import CHASSIS, CONTACTS, LOAD, Ties
from loadloom.graph.faults.tolerances import MET, SAME, TINY, WHOLE
from loadloom.graph.model.results import FaultPowerRow, FaultRow, Rating
from loadloom.graph.model.settings import Case

Key = tuple[object, ...]


class RadialFound(NamedTuple):
    """The worst of one part: position ``part`` in ``radial.parts``, in a case."""

    radial: Radial
    part: int
    case: Case
    value_a: float

    @property
    def id(self) -> str:
        """The part's id."""
        return self.radial.ids[self.part]

    @property
    def held_by(self) -> str | None:
        """The device that just holds, None where copper does."""
        k = int(self.radial.held_by[self.part])
        return self.radial.piece.piece.branches.ids[k] if k >= 0 else None

    @property
    def key(self) -> Key | None:
        """Parts with the same key lie on the same fault; None where no fault adds to what the loads draw."""
        radial, p = self.radial, self.part
        tie, fault = int(radial.tie[p]), float(radial.fault_a[p])
        if fault <= TINY or (tie < 0 and not radial.feed[p]):
            return None
        place: Key = ("pinch", int(radial.parts[p]), float(radial.share[p]))
        if tie >= 0:
            # At the end of a conductor that lies on the fault itself, it is named by that conductor.
            own = int(radial.parts[p]) if radial.extent[p] < WHOLE else -1
            place = ("between outputs" if radial.cross[p] else "to the return", tie, own)
        return (self.case.id, id(radial), place, round(fault, 9), int(radial.beside[p]), int(radial.spared[p]))

    @property
    def loads_a(self) -> Beside | tuple[tuple[str, float], ...]:
        """Loads that draw beside the fault."""
        return Beside(self.radial.loads_beside, self.part) if self.radial.beside[self.part] >= 0 else ()

    @property
    def device_share(self) -> float:
        """The holding device's current per ampere of the fault: below 1 in ways side by side."""
        piece = self.radial.piece
        if not len(piece.in_loop_acting):
            return 1.0
        k = int(self.radial.held_by[self.part])
        if k < 0 or k >= len(piece.tree.label) or not piece.tree.plain[k]:
            return 1.0
        return float(piece.device_share[piece.tree.exit[piece.tree.label[k]]])


class _Where(NamedTuple):
    """A place of fault: names, voltage without the fault and loop resistance, and its two nodes."""

    kind: str
    at: str
    to: str
    exact: tuple[str, str]
    volts: float
    ohm: float
    high: int
    low: int


def where(found: RadialFound) -> _Where:
    """The place of a part's worst fault."""
    radial, p = found.radial, found.part
    piece = radial.piece
    tie = int(radial.tie[p])
    if tie >= 0:
        there = _tie(radial, piece.cross_ties if radial.cross[p] else piece.ties, tie)
        if radial.extent[p] >= WHOLE or not radial.is_conductor[p]:
            return there
        k = int(radial.parts[p])
        share = 0.0 if int(piece.piece.branches.a[k]) == there.low else 1.0
        name = piece.piece.branches.ids[k]
        at = piece.name(there.high) if there.kind == LOAD else there.at
        kind = "wires" if there.kind == LOAD else there.kind
        return there._replace(kind=kind, at=at, to=f"{name}:{share:.2f}", exact=(at, f"{name}:{share:.12f}"))
    branches = piece.piece.branches
    k, share = int(radial.parts[p]), float(radial.share[p])
    near, far = int(radial.near[p]), int(radial.far[p])
    to = piece.piece.node_ids[piece.minus]
    ohm = float(piece.ohm[near] + share * (piece.ohm[far] - piece.ohm[near]))
    if radial.is_conductor[p]:
        from_a = share if int(branches.a[k]) == near else 1.0 - share
        at, exact = f"{branches.ids[k]}:{from_a:.2f}", f"{branches.ids[k]}:{from_a:.12f}"
    else:
        at = exact = piece.name(far if share > 0.5 else near)
    return _Where("pinch", at, to, (exact, to), float(piece.volts[far]), ohm, far, piece.minus)


def _tie(radial: Radial, ties: Ties, tie: int) -> _Where:
    piece = radial.piece
    high, low, kind = int(ties.high[tie]), int(ties.low[tie]), ties.kind[tie]
    what = ties.what[tie]
    if kind == LOAD:
        at, to = str(what[0]), str(what[1])
    elif kind == CONTACTS:
        at, to = f"{what[0]}|{what[1]}", str(what[1])
    elif kind == CHASSIS:
        at, to = piece.name(high), CHASSIS_NODE
    else:
        at, to = piece.name(high), f"{what[0]}:{float(what[1]):.2f}"
    volts = float(piece.volts[high] - piece.volts[low])
    return _Where(kind, at, to, (at, to), volts, float(piece.ohm[high] + piece.ohm[low]), high, low)


class RadialRows:
    """Fault rows of the closed form, one for each fault; ``note`` every part first, so that the worst is known."""

    def __init__(self, ratings: Mapping[str, Rating]) -> None:
        self.ratings = ratings
        self._worst: dict[Key, tuple[tuple[float, float], RadialFound]] = {}

    def _allowed(self, found: RadialFound) -> float | None:
        rating = self.ratings.get(found.id)
        return rating.allowed_a if rating else None

    def note(self, found: RadialFound) -> None:
        """Take a part into account."""
        key = found.key
        if key is None:
            return
        allowed = self._allowed(found)
        rank = (found.value_a / allowed if allowed else 0.0, found.value_a)
        known = self._worst.get(key)
        if known is None or rank > known[0]:
            self._worst[key] = (rank, found)

    def make(self, key: Key, name: str) -> FaultRow:
        """The row of a fault under the id ``name``."""
        found = self._worst[key][1]
        radial, p = found.radial, found.part
        place = where(found)
        fault = float(radial.fault_a[p])
        loads = len(radial.loads_beside.of(p))
        fall = radial.loads_beside.fall_v(p, place.high, place.low) if loads else 0.0
        fault_v = max(place.volts - fall - place.ohm * fault, 0.0)
        if fault_v <= MET * place.volts:
            fault_v = 0.0
        allowed = self._allowed(found)
        band = None
        gain = float(radial.gain[p])
        if allowed is not None and found.value_a > allowed and gain > 0.0:
            least = fault - (found.value_a - allowed) / gain
            if least > TINY:
                band = (fault_v / fault, max((place.volts - fall) / least - place.ohm, 0.0))
        row = FaultRow(
            id=name,
            kind=place.kind,
            case=found.case.id,
            at=place.at,
            to=place.to,
            fault_current_a=fault,
            fault_resistance_ohm=fault_v / fault,
            fault_power_w=fault_v * fault,
            held_by=found.held_by,
            worst=found.id,
            worst_current_a=found.value_a,
            worst_allowed_a=allowed,
            resistance_band_ohm=band,
            opened=radial.piece.piece.opened,
        )
        return replace(row, description=described(row, loads, exact=bool(radial.exact[p])))


def covering(found: RadialFound, allowed_a: float) -> tuple[str, ...]:
    """Devices and outputs each of which alone keeps a part within its allowed current in A, nearest first."""
    radial, p = found.radial, found.part
    piece = radial.piece
    most = allowed_a * (1.0 + SAME) / max(float(radial.greatest_share[p]), 1e-12)
    ids = piece.piece.branches.ids
    names: list[str] = []
    if radial.cross[p]:
        return ()
    if radial.feed[p]:
        entry = (
            int(radial.far[p])
            if piece.tree.bridge[radial.parts[p]]
            else int(radial.piece.tree.parent[radial.far[p]])
        )
        region = int(piece.region[entry])
    else:
        region = _common_region(radial, p)
        for node in piece.return_devices(int(radial.near[p])):
            if piece.own_held_a[node] <= most:
                names.append(ids[int(piece.bridge_of[node])])
    while region >= 0:
        if piece.own_a[region] <= most:
            names.append(ids[int(piece.device[region])])
        region = int(piece.above[region])
    return tuple(names)


def on_way(found: RadialFound) -> tuple[tuple[str, ...], float]:
    """The devices and outputs that a part's worst fault draws through, and the part's current per ampere of it; of
    a return that loads alone fill those that all of its current runs through.
    """
    radial, p = found.radial, found.part
    piece = radial.piece
    ids = piece.piece.branches.ids
    if radial.tie[p] < 0 and not radial.feed[p]:
        names, regions, gain = [], [_common_region(radial, p)], float(radial.greatest_share[p])
    else:
        there = where(found)
        names = [ids[int(piece.bridge_of[node])] for node in piece.return_devices(there.low)]
        regions, gain = [int(piece.region[end]) for end in (there.high, there.low)], float(radial.gain[p])
    for region in regions:
        while region >= 0:
            names.append(ids[int(piece.device[region])])
            region = int(piece.above[region])
    return tuple(names), gain


def _common_region(radial: Radial, part: int) -> int:
    """The region that holds all that lands behind a part of the return, -1 if only outputs together do."""
    piece, landing = radial.piece, radial.landing
    if landing is None:
        return -1
    tree = piece.tree
    k = int(radial.parts[part])
    cls = int(landing.classes.of[radial.far[part] if tree.bridge[k] else tree.node_count + tree.label[k]])
    if cls < 0:
        return -1
    return int(landing.returns.common_region[cls])


def radial_powers(radial: Radial, case: str) -> dict[str, FaultPowerRow]:
    """The most power of one fault at each place, all loads off, by place; see ``fault_power``."""
    piece, ties = radial.piece, radial.piece.ties
    ids = piece.piece.branches.ids
    nodes = np.flatnonzero(piece.is_feed)
    if len(nodes) > POWERS_EVERYWHERE:
        nodes = nodes[:0]
    some = np.flatnonzero(np.array([kind in (LOAD, CHASSIS) for kind in ties.kind], dtype=np.bool_))
    high = np.concatenate([ties.high[some], nodes])
    low = np.concatenate([ties.low[some], np.full(len(nodes), piece.minus)])
    volts, ohm = piece.volts[high] - piece.volts[low], piece.ohm[high] + piece.ohm[low]
    holding = np.minimum(piece.held_a[high], piece.held_a[low])
    with np.errstate(divide="ignore"):
        matched = np.where(ohm > TINY, volts / (2.0 * ohm), np.inf)
    current = np.minimum(holding, matched)
    power = np.where(
        np.isfinite(current), current * (volts - ohm * np.where(np.isfinite(current), current, 0.0)), -1.0
    )
    names = [_tie(radial, ties, n).at for n in some.tolist()] + [piece.name(n) for n in nodes.tolist()]
    by_device = holding <= matched * (1.0 + MET)
    device = piece.device[piece.least_region[piece.region[high]]]
    found: dict[str, FaultPowerRow] = {}
    for n, (name, watts) in enumerate(zip(names, power.tolist(), strict=True)):
        if watts < 0.0:
            continue
        known = found.get(name)
        if known is None or watts > known.power_w:
            held_by = ids[int(device[n])] if by_device[n] and piece.held_a[low[n]] > holding[n] else None
            found[name] = power_row(name, case, watts, held_by)
    return found
