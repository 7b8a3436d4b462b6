"""How many paths side by side the contacts of a connector need: for the load, with uneven contacts, with one open.

Total current I of the set, n ways, allowed current a(n) of one contact (it falls with the loaded positions):
for the load I/n ≤ a(n); with one open I/(n−1) ≤ a(n); uneven, one way new (R1) beside n−1 aged ones (R2),
I·(1/R1)/(1/R1 + (n−1)/R2) ≤ a(n).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loadloom.graph.circuit.network import Ageing
from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Band, Contact
from loadloom.graph.ratings.contact_rating import contact_type_of, rate_contact

MOST_PATHS = 64


@dataclass(frozen=True, slots=True)
class Paths:
    """Contacts of one connector that share a current. Paths are None where no number up to 64 does.

    ``one_open`` counts only where there are, or have to be, several paths: with one way, its opening is a load
    without supply.
    """

    contacts: tuple[str, ...]
    case: str
    total_a: float
    allowed_a: float | None
    for_load: int | None
    uneven: int | None
    one_open: int | None
    needed: int | None
    note: str

    @property
    def drawn(self) -> int:
        """How many there are."""
        return len(self.contacts)


def find_paths(facts: Facts) -> tuple[Paths, ...]:
    """The sets of contacts of every connector, in the order of the harness; without those that carry nothing."""
    by_id = {c.id: c for c in facts.harness.contacts}
    sets: dict[tuple[str, object], list[str]] = {}
    for contact in facts.harness.contacts:
        sets.setdefault((contact.connector, _set_of(facts, contact.id)), []).append(contact.id)
    found = []
    for names in sets.values():
        contacts = [by_id[name] for name in names]
        totals = {
            case.id: sum(facts.currents[n].continuous_a[case.id] for n in names if n in facts.currents)
            for case in facts.cases
        }
        if not totals:
            continue
        case, total_a = max(totals.items(), key=lambda item: item[1])
        if total_a > 1e-6:
            found.append(_paths(facts, contacts, case, total_a))
    return tuple(found)


def _set_of(facts: Facts, name: str) -> object:
    """The set of paths side by side that a contact stands in; itself where it stands alone."""
    for each in facts.spread.values():
        for spread in each:
            k = spread.solution.network.edge_index[name]
            if spread.paths[k] > 1:
                return int(spread.set_number[k])
    return name


def _paths(facts: Facts, contacts: list[Contact], case: str, total_a: float) -> Paths:
    rated = [facts.ratings[c.id].allowed_a for c in contacts]
    weakest = int(np.argmin([-1.0 if a is None else a for a in rated]))
    contact = contacts[weakest]
    names = tuple(c.id for c in contacts)
    if rated[weakest] is None:
        return Paths(names, case, total_a, None, None, None, None, None, "its allowed current is not determined")

    def allowed(n: int) -> float | None:
        positions = max(1, facts.loaded_positions.get(contact.connector, len(contacts)) + n - len(contacts))
        ambient_c = facts.settings.ambient(contact.zone).max_c
        return rate_contact(contact, positions, ambient_c, facts.settings).allowed_a

    new_ohm, aged_ohm = _path_ohm(facts, contacts, case)

    def uneven(n: int) -> float:
        if n == 1 or new_ohm <= 0.0:
            return total_a
        return total_a * (1.0 / new_ohm) / (1.0 / new_ohm + (n - 1) / aged_ohm)

    for_load = _least(allowed, lambda n: total_a / n)
    several = len(contacts) > 1 or (for_load is None or for_load > 1)
    for_uneven = _least(allowed, uneven)
    one_open = _least(allowed, lambda n: total_a / (n - 1) if n > 1 else np.inf) if several else 1
    all_of_them = (for_load, for_uneven, one_open)
    needed = None if None in all_of_them else max(n for n in all_of_them if n is not None)
    note = (
        "" if needed is not None else f"no number of paths up to {MOST_PATHS} does, by what the contact type states"
    )
    return Paths(names, case, total_a, rated[weakest], for_load, for_uneven, one_open, needed, note)


def _least(allowed: Callable[[int], float | None], current: Callable[[int], float]) -> int | None:
    for n in range(1, MOST_PATHS + 1):
        limit = allowed(n)
        if limit is not None and current(n) <= limit * (1.0 + 1e-9):
            return n
    return None


def _path_ohm(facts: Facts, contacts: list[Contact], case: str) -> tuple[float, float]:
    """Resistance of one way with all its contacts new, and with all aged, in Ω: least new, greatest aged."""
    spread = next(iter(facts.spread.get(case, ())), None)
    new, aged = [], []
    for contact in contacts:
        parts = [contact.id]
        if spread is not None:
            k = spread.solution.network.edge_index[contact.id]
            if spread.paths[k] > 1:
                same = np.flatnonzero((spread.set_number == spread.set_number[k]) & (spread.path == spread.path[k]))
                parts = [spread.solution.network.edge_ids[j] for j in same.tolist()]
        new.append(sum(_ohm(facts, name, case, Ageing.NEW) for name in parts))
        aged.append(sum(_ohm(facts, name, case, Ageing.AGED) for name in parts))
    return min(new), max(aged)


def _ohm(facts: Facts, name: str, case: str, ageing: Ageing) -> float:
    part = facts.harness.by_id[name]
    if isinstance(part, Contact):
        band: Band | None = part.resistance_ohm
        if band is None:
            kind = contact_type_of(part.contact_type, facts.settings)
            band = kind.resistance_ohm if kind and kind.resistance_ohm else facts.settings.contact_resistance_ohm
        return band.lower if ageing is Ageing.NEW else band.upper
    network = facts.continuous[case][0].network
    return float(network.edge_resistance_ohm[network.edge_index[name]])
