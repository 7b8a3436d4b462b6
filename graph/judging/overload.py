"""Compare a continuous current with what a part is allowed: the one comparison behind all overload rules."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from loadloom.graph.facts.facts import Currents, Facts
from loadloom.graph.judging.trips import tripping_cases
from loadloom.graph.model.elements import Conductor, Contact, Element
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule
from loadloom.graph.structure.topology import part_role

TOLERANCE = 1e-9
"""Share by which a current may exceed its limit through rounding alone."""


def exceeds(value: float, limit: float | None) -> bool:
    """Whether a value is over its limit by more than rounding."""
    return limit is not None and value > limit * (1.0 + TOLERANCE)


def worst_case(currents: Currents, tripping: frozenset[str]) -> tuple[str, float]:
    """Case and current in A of the greatest continuous current; of equal ones a case in which nothing trips."""
    _, most_a = currents.worst_continuous
    equal = [name for name, current_a in currents.continuous_a.items() if not exceeds(most_a, current_a)]
    return next((name for name in equal if name not in tripping), equal[0]), most_a


def own_overloads(facts: Facts, rule: Rule, parts: Iterable[Element], doing: str, remedy: str) -> Iterator[Finding]:
    """Findings for parts that are held against their own rating; ``doing`` says what the current does in one."""
    for part in parts:
        allowed_a = facts.ratings[part.id].allowed_a
        if allowed_a is None:
            continue
        currents = facts.currents[part.id]
        case, current_a = currents.worst_continuous
        if exceeds(current_a, allowed_a):
            yield rule.finding(
                part.subject,
                f"{doing.format(part.id)} {figures(current_a)} A{currents.continuous_words(case)}, "
                f"{figures(current_a / allowed_a)} times its allowed {figures(allowed_a)} A.",
                remedy,
                case=case,
                value=current_a,
                limit=allowed_a,
                unit="A",
                why=_why(part.id, current_a, allowed_a),
            )


def overloads(
    facts: Facts, rule: Rule, parts: Iterable[Conductor | Contact], *, on_return: bool, noun: str, remedy: str
) -> Iterator[Finding]:
    """Findings for parts whose worst continuous current is over the allowed one, in the feed or in the return."""
    tripping = tripping_cases(facts)
    for part in parts:
        rating = facts.ratings.get(part.id)
        currents = facts.currents.get(part.id)
        if rating is None or currents is None or rating.allowed_a is None:
            continue
        case, current_a = worst_case(currents, tripping)
        if not exceeds(current_a, rating.allowed_a):
            continue
        if (part_role(facts.harness, facts.topology, part) == "return") is not on_return:
            continue
        yield rule.finding(
            part.subject,
            f"{noun} {part.id} carries {figures(current_a)} A{currents.continuous_words(case)}, "
            f"{figures(current_a / rating.allowed_a)} "
            "times its allowed "
            f"{figures(rating.allowed_a)} A ({rating.basis}).",
            remedy,
            case=case,
            value=current_a,
            limit=rating.allowed_a,
            unit="A",
            source=rating.source,
            why=_why(part.id, current_a, rating.allowed_a),
        )


def _why(part: str, current_a: float, allowed_a: float) -> str:
    return f"The loads draw {figures(current_a)} A through {part}, which is allowed {figures(allowed_a)} A."
