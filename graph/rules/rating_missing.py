"""A part states no rating or setting, or none follows from what it states, so that its current can't be judged.

Formula: none.

Source: common practice, no published source.

Passes: a fuse with ``Rating`` = ``10 A``; a limiter with ``Trip`` = ``12 A``; a limiter with ``Trip`` =
``none``, which is not active; a contact with ``Contact rating`` = ``9 A``, or of a contact type that states one.

Fails: a fuse, breaker, switch, diode or splice without ``Rating``; a limiter without ``Trip``; a resettable
fuse without ``Hold``; an output without ``Limit``; a converter without ``Input minimum`` or
``Input maximum``; a contact with neither ``Contact rating`` nor a known
``Contact``; a wire of a size or an insulation class that the rating basis does not cover.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, Contact
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.material import is_copper
from loadloom.graph.ratings.insulation import insulation_of

RULE = Rule("rating-missing", Severity.WARNING, "Part without a rating", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """Every conductor and contact without an allowed current; those of devices are told where they are read."""
    parts: tuple[Conductor | Contact, ...] = (*facts.harness.conductors, *facts.harness.contacts)
    for part in parts:
        rating = facts.ratings.get(part.id)
        if rating is None or rating.missing is None or _told(part, facts):
            continue
        if isinstance(part, Contact):
            noun = "Contact"
            remedy = "State the field Contact rating, such as 5 A, or name a contact type that covers it."
        else:
            noun = "Conductor"
            remedy = "Use a size and an insulation that the basis covers, choose another basis, or state Rating."
        yield RULE.finding(part.subject, f"{noun} {part.id} has no allowed current: {rating.missing}.", remedy)


def _told(part: Conductor | Contact, facts: Facts) -> bool:
    """Whether another finding already says why: one on the field, the gauge, the insulation or the material."""
    if part.placeholders & {"own_rating_a", "gauge"}:
        return True
    if not isinstance(part, Conductor) or part.own_rating_a is not None:
        return False
    told_otherwise = part.gauge is None or not is_copper(part.material)
    return told_otherwise or insulation_of(part, facts.settings).problem == facts.ratings[part.id].missing
