"""A short circuit is never cleared: no device opens, or the one that does retries with too much heat.

Formula: least short-circuit current = lowest voltage / (loop resistance, hot, contacts aged + internal resistance);
it is never cleared where no device on the path is certain to open at it. Heat in the loop = current² × resistance
of the loop outside the output. A limit that holds a constant current is a finding only where a part of the loop
is not allowed to carry that; a retrying limit where the effective value of its bursts is more than the conductor
or contact is allowed: of a unit's own limit at its upper trip, of a separate limiter at the short-circuit current.

Source: Ohm's law; thresholds as named on the devices' rows. The rule itself is common practice, no published
source.

Passes: 1.5 m of 22 AWG out and back on 12 V behind a limiter of 10 A: 75 A flow and the limiter opens.

Fails: 15 m of the same: the loop of 1.59 Ω holds the short at 7.5 A and heats with 90 W.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.short_words import with_off
from loadloom.graph.model.elements import Conductor, Element
from loadloom.graph.model.figures import NOISE, figures, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of
from loadloom.graph.short_circuits.short_circuits import Short

RULE = Rule("fault-never-cleared", Severity.ERROR, "Short that nothing clears")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each place of a short that is held; the conductor that ends there is its subject."""
    places: set[frozenset[str]] = set()
    retried: set[str] = set()
    # The worst of each conductor first, so that it is the one that is reported.
    short_circuits = facts.protection.short_circuits
    for short in (*short_circuits.conductors, *short_circuits.every):
        part = facts.harness.by_id[short.part]
        if short.held is None:
            found = list(_retried(facts, part, short)) if short.part not in retried else []
            retried |= {short.part} if found else set()
            yield from found
            continue
        if not isinstance(part, Conductor):
            continue
        # Between two points at one potential, as two returns that are joined, nothing flows: that is no fault.
        if short.held_a is not None and short.held_a <= NOISE:
            continue
        place = frozenset((short.row.at, short.row.to))
        if place in places or (short.capped_by is not None and not _over_allowed(facts, short)):
            continue
        places.add(place)
        yield _held(facts, part, short)


def _held(facts: Facts, conductor: Conductor, short: Short) -> Finding:
    row = short.row
    held_a = short.held_a
    amperes = quantity(held_a, "A") if held_a is not None else "a current that nothing stated limits"
    heat = f" with {quantity(row.loop_heat_w, 'W')}" if row.loop_heat_w is not None else ""
    ohm = ""
    if held_a and row.loop_heat_w is not None:
        ohm = f" through {figures(row.loop_heat_w / held_a**2)} Ω"
    if short.capped_by is not None:
        why = f"{short.capped_by} limits the current to this and does not open"
        remedy = (
            f"Put a device that is certain to open below {amperes} on the path, or use parts that carry it "
            "continuously."
            if held_a is not None
            else "Put a device that opens on the path, or use parts that carry the current continuously."
        )
    elif short.held_by is not None:
        threshold_a = next(
            a.thresholds[short.held_by].held_a
            for a in facts.protection.arrangements
            if short.held_by in a.thresholds and a.case == row.case
        )
        why = f"{short.held_by} is certain to open only above {figures(threshold_a)} A"
        remedy = (
            f"Set or choose {short.held_by} lower, or use thicker or shorter conductors, so that the short "
            f"circuit draws clearly more than {short.held_by} needs to open."
        )
    else:
        why = "there is no device on the path"
        remedy = "Put a device that opens at this current at the source end of the path."
    heated = f" It heats the loop of {all_of(short.loop)}{heat}." if short.loop else ""
    return RULE.finding(
        conductor.subject,
        f"A short circuit from {row.at} to {row.to}, through {conductor.id}, draws {amperes}{ohm}"
        f"{with_off(row)} and is never cleared: {why}.{heated}",
        remedy,
        case=row.case,
        value=held_a,
        unit="A",
    )


def _over_allowed(facts: Facts, short: Short) -> bool:
    """Whether what is held is more than some part of the loop may carry; unrated parts don't say."""
    assert short.held is not None
    carried = short.held.carried_a or dict.fromkeys(short.loop, short.held.current_a)
    ratings = ((amperes, facts.ratings.get(name)) for name, amperes in carried.items())
    return any(rating is not None and exceeds(amperes, rating.allowed_a) for amperes, rating in ratings)


def _retried(facts: Facts, part: Element, short: Short) -> Iterator[Finding]:
    rating, retry = facts.ratings.get(part.id), short.retry
    if retry is None or retry.rms_a is None or rating is None or not exceeds(retry.rms_a, rating.allowed_a):
        return
    yield RULE.finding(
        part.subject,
        f"{retry.device} retries into a short circuit through {part.id}: its bursts of "
        f"{figures(retry.burst_a)} A have an effective value of {figures(retry.rms_a)} A, over the "
        f"allowed {figures(rating.allowed_a)} A.",
        f"Make the pause of {retry.device} longer, or use a limit that stays off.",
        case=short.row.case,
        value=retry.rms_a,
        limit=rating.allowed_a,
        unit="A",
    )
