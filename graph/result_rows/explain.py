"""One part as a person would write it by hand.

First from a table's row to its allowed current, then from a source's voltage and the resistances of the loop to its
sustained fault current. The lines are made from the numbers of the analysis, with so many figures that what stands
before an equals sign gives what stands behind it. The loop is written as a sum only where that sum gives the fault
current that the search found; where parallel paths, loads or other outputs take part, it says that a network was
solved.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loadloom.graph.facts.facts import Facts
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.heat.conductors import unit_resistances
from loadloom.graph.judging.fault_words import made_up_words
from loadloom.graph.model.elements import Conductor, Contact
from loadloom.graph.model.figures import figures
from loadloom.graph.model.naming import place_said
from loadloom.graph.model.results import FaultRow, Rating
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.resistance import UnitResistance, temperature_factor
from loadloom.graph.ratings.status_words import checked_words
from loadloom.graph.structure.guards import Arrangement
from loadloom.graph.structure.paths import Paths

RESULT, TERM = 4, 6
"""Significant figures of a result, and of what it is made from."""

AGREES = 1e-3
"""Share within which the sum of the loop must give the search's fault current to be written as its derivation."""

NAMED = 12
"""Resistances that a line names; the rest stands as one sum."""

_ALONG = re.compile(r"(.+):([01](?:\.[0-9]+)?(?:e-?[0-9]+)?)", re.DOTALL)
"""A place along a conductor, ``W7:0.25``."""

Term = tuple[str, float]
"""A part or group by name, with its resistance in Ω."""


class Explainer:
    """Explains parts of one analysis."""

    def __init__(self, facts: Facts) -> None:
        self._facts = facts
        self._places = {there.word: _PlaceIndex(there) for there in facts.protection.copper}

    def lines(self, part: Conductor | Contact) -> tuple[str, ...]:
        """The lines for one conductor or contact."""
        facts = self._facts
        return (
            *_allowed(facts, part),
            *_load(facts, part),
            *_resistance(facts, part),
            *_sustained(facts, self._places, part),
        )


def _allowed(facts: Facts, part: Conductor | Contact) -> Iterator[str]:
    rating = facts.ratings.get(part.id)
    what = _what(part)
    if rating is None or rating.allowed_a is None:
        why = rating.missing if rating is not None and rating.missing else "nothing states it"
        yield f"Allowed current of {part.id}{what}: not determined, {why}."
        return
    yield f"Allowed current of {part.id}{what}, by {rating.basis}:"
    if rating.base_a is not None:
        checked = checked_words(rating.status, check_edition=rating.check_edition)
        yield f"  {_fine(rating.base_a)} A: {rating.source}{f' ({checked})' if checked else ''}"
    for factor in rating.factors:
        yield f"  × {_fine(factor.factor)} {factor.kind}: {factor.reason} ({tables.marked(factor.source)})"
    product = _product(rating)
    if product is not None and rating.factors:
        yield f"  = {figures(product, RESULT)} A"
    for cap in rating.caps:
        yield f"  at most {figures(cap.limit_a, RESULT)} A: {cap.reason} ({tables.marked(cap.source)})"
    yield f"  allowed: {figures(rating.allowed_a, RESULT)} A{', an estimate' if rating.estimate else ''}"


def _what(part: Conductor | Contact) -> str:
    if isinstance(part, Conductor):
        words = (
            str(part.gauge) if part.gauge else None,
            part.insulation,
            part.lies_in and f"bundle {part.lies_in}",
        )
    else:
        words = (part.contact_type, None, None)
    told = ", ".join(word for word in words if word)
    return f" ({told})" if told else ""


def _product(rating: Rating) -> float | None:
    if rating.base_a is None:
        return None
    product = rating.base_a
    for factor in rating.factors:
        product *= factor.factor
    return product


def _load(facts: Facts, part: Conductor | Contact) -> Iterator[str]:
    currents, rating = facts.currents.get(part.id), facts.ratings.get(part.id)
    if currents is None:
        return
    case, continuous_a = currents.worst_continuous
    allowed = rating.allowed_a if rating is not None else None
    used = f", {figures(100 * continuous_a / allowed)} % of {figures(allowed)} A" if allowed else ""
    yield f"Load: {figures(continuous_a)} A continuously in case {case}{used}."


def _resistance(facts: Facts, part: Conductor | Contact) -> Iterator[str]:
    if not isinstance(part, Conductor):
        return
    if part.resistance_ohm is not None:
        band = part.resistance_ohm
        upper = "" if band.lower == band.upper else f" to {_milliohm(band.upper)}"
        yield f"Resistance of {part.id}: {_milliohm(band.lower)}{upper}, as stated."
        return
    if part.length_m is None or part.gauge is None:
        yield f"Resistance of {part.id}: a placeholder, since its gauge or length is not known."
        return
    unit, tolerance = unit_resistances(part, facts.settings), facts.settings.length_tolerance
    yield f"Resistance of {part.id} at 20 °C, {figures(part.length_m, RESULT)} m one way:"
    ends = (
        ("least, for fault currents", unit.least, 1.0 - tolerance),
        ("greatest, for voltage drop", unit.greatest, 1.0 + tolerance),
    )
    for name, end, share in ends if unit.least != unit.greatest or tolerance else (("all of it", unit.least, 1.0),):
        ohm = end.r20_ohm_per_m
        metres = f"{_milliohm(ohm)}/m × {_fine(part.length_m)} m" + (f" × {_fine(share)}" if share != 1.0 else "")
        whole = _milliohm(ohm * part.length_m * share, RESULT)
        yield f"  {name}: {metres} = {whole} ({end.what}: {tables.marked(end.source)})"
    yield from _cold(facts, part, unit.least, part.length_m * (1.0 - tolerance))


def _cold(facts: Facts, part: Conductor, unit: UnitResistance, length_m: float) -> Iterator[str]:
    """The least resistance at the temperature that a fault's loop is counted with."""
    stated_c, where = facts.settings.conductor_temperature_c, "as stated for all conductors"
    least_c = stated_c if stated_c is not None else facts.settings.ambient(part.zone).min_c
    if stated_c is None:
        where = "the least ambient, for fault currents"
    factor = temperature_factor(least_c, unit.alpha20_per_k)
    if factor != 1.0:
        ohm = unit.r20_ohm_per_m * length_m
        yield (
            f"  at {figures(least_c)} °C, {where}: {_milliohm(ohm)} × {_fine(factor)} = "
            f"{_milliohm(ohm * factor, RESULT)}"
        )


def _sustained(facts: Facts, places: Mapping[str | None, _PlaceIndex], part: Conductor | Contact) -> Iterator[str]:
    found = facts.faults.parts.get(part.id)
    if found is None or found.sustained_fault_a is None or found.fault is None:
        why = found.note if found is not None and found.note else "the fault search gives none"
        yield f"Sustained fault current of {part.id}: not determined, {why}."
        return
    fault = found.fault
    yield (
        f"Sustained fault current of {part.id}, case {found.case}: a fault from {place_said(fault.at)} to "
        f"{place_said(fault.to)}"
        f"{', after ' + ', '.join(fault.opened) + ' opened' if fault.opened else ''}:"
    )
    loop = _loop(facts, places, found, fault)
    if loop is not None and fault.fault_current_a is not None and fault.fault_resistance_ohm is not None:
        yield from _written(loop, fault)
    else:
        yield (
            f"  parallel paths, loads or several outputs take part, so a network is solved: "
            f"{figures(fault.fault_current_a)} A through a fault of {figures(fault.fault_resistance_ohm)} Ω"
        )
    if found.held_by is not None and found.held_a is not None:
        yield f"  {found.held_by} lets {figures(found.held_a)} A pass continuously and stays just below tripping"
    elif found.held_by is None:
        yield "  nothing opens: the resistance of the loop alone holds the current down"
    if fault.fault_current_a and abs(found.sustained_fault_a / fault.fault_current_a - 1) > AGREES:
        also = ", and loads that pulse count with an even current of the same heat" if found.cycle else ""
        yield f"  of it {part.id} carries {figures(found.sustained_fault_a)} A; the rest comes another way{also}"
    allowed = facts.ratings[part.id].allowed_a if part.id in facts.ratings else None
    word = "at most" if not found.exact else "sustained fault current:"
    yield f"  {word} {figures(found.sustained_fault_a)} A{_against(found.sustained_fault_a, allowed)}"
    if found.combined_overload_of and found.combined_overload_a is not None:
        yield (
            f"Combined overload current of {part.id}, case {found.combined_overload_case}: "
            f"{figures(found.combined_overload_a)} A{_against(found.combined_overload_a, allowed)}"
        )
        yield f"  {made_up_words(found.combined_overload_of)}"


def _against(current_a: float, allowed_a: float | None) -> str:
    if allowed_a is None:
        return ""
    if current_a <= allowed_a * (1 + 1e-9):
        return f", no more than the allowed {figures(allowed_a)} A"
    return f", above the allowed {figures(allowed_a)} A"


# --- the loop of a fault ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Loop:
    """A source by name with its highest voltage in V, and the resistances of the loop in Ω, out and back."""

    source: str
    voltage_v: float
    terms: tuple[Term, ...]

    @property
    def ohm(self) -> float:
        """All of the loop without the fault."""
        return sum(ohm for _, ohm in self.terms)


def _written(loop: _Loop, fault: FaultRow) -> Iterator[str]:
    assert fault.fault_resistance_ohm is not None
    shown, rest = loop.terms[:NAMED], loop.terms[NAMED:]
    texts = [f"{name} {_milliohm(ohm)}" for name, ohm in shown]
    texts += [f"{len(rest)} more {_milliohm(sum(ohm for _, ohm in rest))}"] if rest else []
    volts, by_sum_a = f"{_fine(loop.voltage_v)} V", loop.voltage_v / (loop.ohm + fault.fault_resistance_ohm)
    yield f"  source {loop.source}: {volts} at the highest"
    yield f"  loop, at the least ambient and with new contacts: {' + '.join(texts) or '0 Ω'}"
    yield f"  = {_milliohm(loop.ohm)} in the loop"
    if loop.ohm > 0:
        short_a = loop.voltage_v / loop.ohm
        yield f"  a short circuit there: {volts} / {_milliohm(loop.ohm)} = {figures(short_a, RESULT)} A"
    yield (
        f"  with a fault of {_fine(fault.fault_resistance_ohm)} Ω: {volts} / ({_milliohm(loop.ohm)} + "
        f"{_fine(fault.fault_resistance_ohm)} Ω) = {figures(by_sum_a, RESULT)} A"
    )


def _loop(
    facts: Facts, places: Mapping[str | None, _PlaceIndex], found: PartFault, fault: FaultRow
) -> _Loop | None:
    """The loop whose sum gives the fault's current, where one output feeds it by single paths."""
    arrangement = next((c.arrangement for c in facts.cases if c.id == found.case), None)
    index = places.get(arrangement)
    current_a, fault_ohm = fault.fault_current_a, fault.fault_resistance_ohm
    if index is None or fault.opened or not current_a or fault_ohm is None:
        return None
    at, to = found.exact_place or (fault.at, fault.to)
    for view in index.there.outputs:
        source: Term = (view.output.id, view.output.resistance_ohm)
        for out in _ways_to(view.feed, index, at):
            for back in _ways_to(view.back, index, to):
                terms = tuple(term for term in (source, *out, *reversed(back)) if term[1] > 0)
                loop = _Loop(view.output.id, view.voltage_v, terms)
                if abs(loop.voltage_v / (loop.ohm + fault_ohm) / current_a - 1) <= AGREES:
                    return loop
    return None


def _ways_to(paths: Paths, index: _PlaceIndex, place: str) -> Iterator[tuple[Term, ...]]:
    """The resistances from an output's terminal to a place, for every node that the place can mean."""
    for node, beyond in index.nodes(place):
        if paths.reaches(node):
            yield (*_terms(paths, index.there, node), *beyond)


def _terms(paths: Paths, there: Arrangement, node: int) -> tuple[Term, ...]:
    found: list[Term] = []
    for block in paths.path(node):
        names = [there.branches.ids[k] for k in block.branches]
        if block.is_bridge:
            found.append((names[0], float(there.branches.ohm[block.branches[0]])))
        else:
            across_ohm = float(paths.ohm[node] - paths.ohm[block.entry])
            found.append((f"{' ∥ '.join(names[:3])}{' …' if len(names) > 3 else ''}", across_ohm))
        node = block.entry
    return tuple(reversed(found))


class _PlaceIndex:
    """Where the places of an arrangement are in its network."""

    def __init__(self, there: Arrangement) -> None:
        self.there = there
        self._loads = {load: (plus, minus) for load, plus, minus in there.loads}
        self._branch = {name: k for k, name in enumerate(there.branches.ids)}

    def nodes(self, place: str) -> Iterator[tuple[int, tuple[Term, ...]]]:
        """The nodes that a place's id can mean, each with what lies between the node and the place."""
        joint = self.there.network.node_index.get(place)
        if joint is not None:
            yield joint, ()
        for node in self._loads.get(place, ()):
            yield node, ()
        along = _ALONG.fullmatch(place)
        for branch in (along[1],) if along else place.split("|"):
            if (k := self._branch.get(branch)) is None:
                continue
            a, b = int(self.there.branches.a[k]), int(self.there.branches.b[k])
            ohm, share = float(self.there.branches.ohm[k]), float(along[2]) if along else 0.0
            yield a, ((place, share * ohm),) if along else ()
            yield b, ((place, (1.0 - share) * ohm),) if along else ()


def _milliohm(ohm: float, significant: int = TERM) -> str:
    return f"{figures(ohm, significant)} Ω" if ohm >= 1.0 else f"{figures(1e3 * ohm, significant)} mΩ"


def _fine(value: float) -> str:
    return figures(value, TERM)
