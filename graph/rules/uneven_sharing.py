"""Parallel paths do not share the current equally: one of them takes far more than its share.

Formula: current / (current of the set / number of paths) > ``uneven_sharing`` of the settings, as solved at mean
contact resistances; or the current of a path with new contacts and wires at their least resistance, while all
others' are aged and at their greatest (length tolerance, and the band of a size whose make is not stated; in a ring
or mesh the worst mixture of these), is over its allowed current, or that of a switch, diode or splice in it, or
over what a device in it is certain to carry, though it passes as solved. The latter is an error where every
contact's range is stated, and a warning where it rests on the range that stands in for an unstated one, and for a
splice in a ring or mesh, of which a bound is told. Diodes on the same two joints
share by differences of their drops that nobody states, and the warmer one takes more: an error where one alone is
not allowed what all of them carry, or what a fault can hold on all of them.

Source: common practice, no published source.

Passes: two 16 AWG wires of 1.0 m in parallel between the same splices, 20 A: 10.0 A each.

Fails: the same with wires of 0.5 m and 1.0 m: 13.3 A and 6.67 A, 1.33 times the equal share. Two fuses of 10 A side
by side for 18 A, each behind a contact of 1 to 10 mΩ on a short wire: one may have to carry 14 A.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.uneven_splices import most_through_splice
from loadloom.graph.model.elements import Device, Diode, TwoEnded
from loadloom.graph.model.figures import NOISE, figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of
from loadloom.graph.open_circuits.contact_spread import Spread

RULE = Rule("uneven-sharing", Severity.WARNING, "Parallel paths share unevenly")

REMEDY = "Make the paths alike in length, gauge and contacts, or rate each for the most that it can carry."

PATHS = (
    "if the contacts of its path are new and its wires have their least resistance, while those of all other paths "
    "are aged and at their greatest"
)

MESH = (
    "if in the ring or mesh that it is part of the contacts and wires on some ways are new and at their least "
    "resistance, and those on the others aged and at their greatest"
)


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each set of parallel paths in the case where it is worst, and one for each part at risk."""
    yield from _unequal_sets(facts)
    yield from _at_risk(facts)
    yield from _splices_at_risk(facts)
    yield from _diodes_side_by_side(facts)


def _unequal_sets(facts: Facts) -> Iterator[Finding]:
    worst: dict[frozenset[str], tuple[float, str, float, float, int, str]] = {}
    for case_id, each in facts.spread.items():
        for spread in each:
            for members in _sets(facts, spread):
                name, current, equal = _most(spread, members)
                ratio = current / equal if equal > 0 else 0.0
                key = frozenset(members)
                if key not in worst or ratio > worst[key][0] * (1.0 + NOISE):
                    paths = int(spread.paths[spread.solution.network.edge_index[name]])
                    worst[key] = (ratio, name, current, equal, paths, case_id)
    for ratio, name, current, equal, paths, case_id in worst.values():
        if not exceeds(ratio, facts.settings.uneven_sharing):
            continue
        yield RULE.finding(
            facts.harness.by_id[name].subject,
            f"{name} carries {figures(current)} A, {figures(ratio)} times the equal share of "
            f"{figures(equal)} A among "
            f"{paths} paths in parallel.",
            REMEDY,
            case=case_id,
            value=ratio,
            limit=facts.settings.uneven_sharing,
            unit="1",
        )


def _at_risk(facts: Facts) -> Iterator[Finding]:
    harness = facts.harness
    parts = (*harness.conductors, *harness.contacts, *harness.switches, *harness.diodes, *harness.devices)
    for part in parts:
        allowed_a, currents = _allowed_a(facts, part), facts.currents.get(part.id)
        if allowed_a is None or currents is None or exceeds(currents.worst_continuous[1], allowed_a):
            continue
        most, case, meshed = 0.0, "", False
        for case_id, each in facts.spread.items():
            for spread in each:
                edge = spread.solution.network.edge_index[part.id]
                uneven = float(spread.uneven_a[edge])
                if np.isfinite(uneven) and uneven > most * (1.0 + NOISE):
                    most, case, meshed = uneven, case_id, not spread.paths[edge]
        if not exceeds(most, allowed_a):
            continue
        over = f"{figures(most / allowed_a)} times its allowed {figures(allowed_a)} A"
        if isinstance(part, Device):
            over = f"more than the {figures(allowed_a)} A that it is certain to carry"
        rating = facts.ratings.get(part.id)
        finding = RULE.finding(
            part.subject,
            f"{part.id} would carry {figures(most)} A, {over}, {MESH if meshed else PATHS}.",
            REMEDY,
            case=case,
            value=most,
            limit=allowed_a,
            unit="A",
            source=rating.source if rating is not None else None,
        )
        yield replace(finding, severity=Severity.ERROR) if _stated(facts) else finding


def _splices_at_risk(facts: Facts) -> Iterator[Finding]:
    for splice in facts.harness.splices:
        rating, currents = facts.ratings.get(splice.id), facts.currents.get(splice.id)
        allowed_a = rating.allowed_a if rating is not None else None
        if allowed_a is None or currents is None or exceeds(currents.worst_continuous[1], allowed_a):
            continue
        most, case, reached = 0.0, "", True
        for case_id, each in facts.spread.items():
            for spread in each:
                here_a, exact = most_through_splice(spread, splice.node)
                if here_a > most * (1.0 + NOISE):
                    most, case, reached = here_a, case_id, exact
        if not exceeds(most, allowed_a):
            continue
        at_most = "" if reached else "at most "
        finding = RULE.finding(
            splice.subject,
            f"Splice {splice.id} would pass {at_most}{figures(most)} A, {figures(most / allowed_a)} times its "
            f"allowed {figures(allowed_a)} A, {PATHS if reached else MESH}.",
            REMEDY,
            case=case,
            value=most,
            limit=allowed_a,
            unit="A",
        )
        yield replace(finding, severity=Severity.ERROR) if reached and _stated(facts) else finding


def _diodes_side_by_side(facts: Facts) -> Iterator[Finding]:
    beside: dict[tuple[str, str], list[Diode]] = {}
    for diode in facts.harness.diodes:
        if diode.fitted:
            beside.setdefault((diode.node_a, diode.node_b), []).append(diode)
    for diodes in beside.values():
        if len(diodes) < 2:
            continue
        names = [diode.id for diode in diodes]
        carried_a = sum(c.worst_continuous[1] for n in names if (c := facts.currents.get(n)) is not None)
        each_a = [facts.faults.parts[n].sustained_fault_a or 0.0 for n in names if n in facts.faults.parts]
        for diode in diodes:
            allowed_a = _allowed_a(facts, diode)
            if allowed_a is None:
                continue
            # What one alone is too weak for is told of it as of any part that nothing protects.
            held_a = 0.0 if exceeds(max(each_a, default=0.0), allowed_a) else sum(each_a)
            if not exceeds(max(carried_a, held_a), allowed_a):
                continue
            by_load = exceeds(carried_a, allowed_a)
            most_a, what = (carried_a, "carry") if by_load else (held_a, "can be made to carry")
            finding = RULE.finding(
                diode.subject,
                f"{all_of(names)} lie side by side and {what} {figures(most_a)} A together: nothing makes them "
                f"share it, and {diode.id} alone is allowed {figures(allowed_a)} A.",
                "Use one diode that is allowed all of it, or draw diodes that are matched in one case as one part "
                "with their joint rating.",
                value=most_a,
                limit=allowed_a,
                unit="A",
            )
            yield replace(finding, severity=Severity.ERROR)


def _allowed_a(facts: Facts, part: TwoEnded) -> float | None:
    """What a part may carry in A; of a device what it is certain to carry, the least over the arrangements."""
    if not isinstance(part, Device):
        rating = facts.ratings.get(part.id)
        return rating.allowed_a if rating is not None else None
    limits = [there.thresholds[part.id] for there in facts.protection.arrangements if part.id in there.thresholds]
    carried_a = [one.non_tripping_a for one in limits if one.non_tripping_a and not one.assumed]
    return min(carried_a, default=None)


def _stated(facts: Facts) -> bool:
    """Whether no contact rests on the range that stands in for one that is not stated."""
    types = facts.settings.contact_types
    return all(
        contact.resistance_ohm is not None
        or ((kind := types.get(contact.contact_type or "")) is not None and kind.resistance_ohm is not None)
        for contact in facts.harness.contacts
    )


def _sets(facts: Facts, spread: Spread) -> Iterator[list[str]]:
    """Conductors of each set of paths side by side; contacts where a set has no conductor."""
    names = spread.solution.network.edge_ids
    wires = {c.id for c in facts.harness.conductors}
    contacts = {c.id for c in facts.harness.contacts}
    by_set: dict[int, list[str]] = {}
    for k in np.flatnonzero(spread.paths > 0).tolist():
        by_set.setdefault(int(spread.set_number[k]), []).append(names[k])
    for members in by_set.values():
        chosen = [x for x in members if x in wires] or [x for x in members if x in contacts]
        if chosen:
            yield chosen


def _most(spread: Spread, members: list[str]) -> tuple[str, float, float]:
    """The member with the greatest current, that current and the equal share, in A."""
    index = spread.solution.network.edge_index
    currents = {name: abs(spread.solution.current_a(name)) for name in members}
    name = max(members, key=lambda x: currents[x])
    return name, currents[name], spread.equal_a(index[name]) or 0.0
