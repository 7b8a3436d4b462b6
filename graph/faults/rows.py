"""The faults that the search found as rows, each state once, with its sentence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from loadloom.graph.faults.described import described
from loadloom.graph.faults.hit_state import HitState, state_at
from loadloom.graph.faults.places import Place
from loadloom.graph.faults.radial.radial_rows import Key, RadialFound, RadialRows
from loadloom.graph.faults.sustained_fault import Hit, Search
from loadloom.graph.faults.tolerances import TINY
from loadloom.graph.faults.worst_faults import FoundHit
from loadloom.graph.model.results import FaultRow, Rating


def fault_id(number: int) -> str:
    """What a fault row is called: no reference of a fuse, as ``F1`` would be."""
    return f"fault {number}"


class RowMaker:
    """Makes fault rows, the same state once."""

    def __init__(self, ratings: Mapping[str, Rating]) -> None:
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
            self.rows[key] = self._radial.make(key, fault_id(len(self.rows) + 1))
        return self.rows[key]

    def row(self, found: FoundHit) -> FaultRow | None:
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

    def _make(self, found: FoundHit, place: Place) -> FaultRow:
        hit, search = found.hit, found.search
        state = state_at(search, place, hit.fault_a, hit.loads_a)
        if hit.fed_by_loads:
            state = replace(state, fault_v=0.0)  # but for rounding
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
            id=fault_id(len(self.rows) + 1),
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
        # Right at an output's terminals no part but the one that the fault lies on carries anything.
        name, current_a = search.name(found.branch), hit.value_a
        if worst is not None:
            name, current_a = search.variant.piece.branches.ids[worst], float(state.parts[worst])
        rating = self.ratings.get(name)
        allowed = rating.allowed_a if rating else None
        band = None
        if worst is not None and allowed is not None:
            band = _band(search, place, hit, state, worst, allowed)
        row = replace(row, worst=name, worst_current_a=current_a, worst_allowed_a=allowed, resistance_band_ohm=band)
        drawing = int(np.count_nonzero(hit.loads_a > TINY))
        return replace(row, description=described(row, drawing, fed_by_loads=hit.fed_by_loads))


def _band(
    search: Search, place: Place, hit: Hit, state: HitState, worst: int, allowed: float
) -> tuple[float, float] | None:
    """Fault resistances at which nothing opens and the worst part is above its allowed current, loads as found, as
    far as the state that was found goes: with less current a diode may block, or an output hold its current no
    more.
    """
    gain = abs(state.per_fault[worst])
    if hit.fed_by_loads or gain <= TINY or state.parts[worst] <= allowed:
        return None
    least_a = hit.fault_a - (float(state.parts[worst]) - allowed) / gain
    if least_a <= TINY:
        return None  # The loads alone are above the allowed current: any fault resistance will do.
    response, rows = search.loaded.response([place]), search.variant.rows
    per_fault = response.rows[:, 0]
    beside = rows.per_node_draw(per_fault, search.loaded.load_rows, 0.0, hit.loads_a)
    eased = per_fault < -TINY
    ends_a = (beside - rows.limit)[eased] / -per_fault[eased]
    least_a = min(max(least_a, float(ends_a.max(initial=0.0))), hit.fault_a)
    lowest = max(state.open_v / hit.fault_a - state.loop_ohm, 0.0)
    highest = state.open_v / least_a - state.loop_ohm
    return (float(lowest), float(highest))
