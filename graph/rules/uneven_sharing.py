"""Parallel paths do not share the current equally: one of them takes far more than its share.

Formula: current / (current of the set / number of paths) > ``uneven_sharing`` of the settings, as solved at mean
contact resistances; or the current of a path with new contacts and wires at their least resistance, while all
others' are aged and at their greatest (length tolerance, and the band of a size whose make is not stated), is over
its allowed current, though it passes as solved. The latter is an error where every contact's range is stated, and a
warning where it rests on the range that stands in for an unstated one.

Source: common practice, no published source.

Passes: two 16 AWG wires of 1.0 m in parallel between the same splices, 20 A: 10.0 A each.

Fails: the same with wires of 0.5 m and 1.0 m: 13.3 A and 6.67 A, 1.33 times the equal share.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.open_circuits.contact_spread import Spread

RULE = Rule("uneven-sharing", Severity.WARNING, "Parallel paths share unevenly")

REMEDY = "Make the paths alike in length, gauge and contacts, or rate each for the most that it can carry."


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each set of parallel paths in the case where it is worst, and one for each part at risk."""
    yield from _unequal_sets(facts)
    yield from _at_risk(facts)


def _unequal_sets(facts: Facts) -> Iterator[Finding]:
    worst: dict[frozenset[str], tuple[float, str, float, float, int, str]] = {}
    for case_id, each in facts.spread.items():
        for spread in each:
            for members in _sets(facts, spread):
                name, current, equal = _most(spread, members)
                ratio = current / equal if equal > 0 else 0.0
                key = frozenset(members)
                if key not in worst or ratio > worst[key][0] * (1 + 1e-9):
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
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        rating, currents = facts.ratings.get(part.id), facts.currents.get(part.id)
        if rating is None or rating.allowed_a is None or currents is None:
            continue
        if exceeds(currents.worst_continuous[1], rating.allowed_a):
            continue
        most, case = 0.0, ""
        for case_id, each in facts.spread.items():
            for spread in each:
                uneven = float(spread.uneven_a[spread.solution.network.edge_index[part.id]])
                if np.isfinite(uneven) and uneven > most * (1 + 1e-9):
                    most, case = uneven, case_id
        if not exceeds(most, rating.allowed_a):
            continue
        finding = RULE.finding(
            part.subject,
            f"{part.id} would carry {figures(most)} A, {figures(most / rating.allowed_a)} times its allowed "
            f"{figures(rating.allowed_a)} A, if the contacts of its path are new and its wires have their least "
            "resistance, while those of all other paths are aged and at their greatest.",
            REMEDY,
            case=case,
            value=most,
            limit=rating.allowed_a,
            unit="A",
            source=rating.source,
        )
        yield replace(finding, severity=Severity.ERROR) if _stated(facts) else finding


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
