"""What a fault can hold on splices, switches and diodes, from what it can hold on the conductors beside them.

The fault search answers for conductors and contacts. Through a splice runs at least what runs through the whole of
one conductor that ends at it; through a part that alone joins some copper to the outputs, at least what runs in any
conductor of that copper. Both are lower bounds, so that a finding holds; a part without one is not judged here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import networkx as nx

from loadloom.graph.elements import Diode, Splice, Switch
from loadloom.graph.facts import Facts
from loadloom.graph.fault_answer import PartFault
from loadloom.graph.fault_words import fault_words, holder_words
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule
from loadloom.graph.overload import exceeds


@dataclass(frozen=True, slots=True)
class Beyond:
    """The most that is known to run through a splice, switch or diode for good, by the conductor that shows it."""

    part: Splice | Switch | Diode
    allowed_a: float
    shown_by: PartFault
    let_through_a: float


def splices(facts: Facts) -> Iterator[Beyond]:
    """Splices with a rating, and the most that is known to run through each."""
    for splice in facts.harness.splices:
        ends = [e.id for e in facts.harness.two_ended if e.fitted and splice.node in (e.node_a, e.node_b)]
        yield from _most(facts, splice, (a for name in ends if (a := facts.faults.parts.get(name)) and a.whole))


def switches(facts: Facts) -> Iterator[Beyond]:
    """Switches and diodes with a rating that alone join some copper to the outputs."""
    harness = facts.harness
    parts: tuple[Switch | Diode, ...] = (*harness.switches, *harness.diodes)
    rated = [p for p in parts if p.fitted and facts.ratings[p.id].allowed_a is not None]
    if not rated:
        return
    copper: nx.MultiGraph = nx.MultiGraph()
    for element in harness.two_ended:
        if element.fitted:
            copper.add_edge(element.node_a, element.node_b, key=element.id)
    poles = {node for o in harness.outputs if o.fitted for node in (o.node_plus, o.node_minus)}
    for part in rated:
        copper.remove_edge(part.node_a, part.node_b, part.id)
        sides = [set(nx.single_source_shortest_path_length(copper, n)) for n in (part.node_a, part.node_b)]
        copper.add_edge(part.node_a, part.node_b, key=part.id)
        behind = [side for side in sides if not side & poles]
        if part.node_a in sides[1] or not behind:
            continue
        names = {name for side in behind for *_, name in copper.edges(side, keys=True)}
        answers = (facts.faults.parts.get(name) for name in sorted(names))
        yield from _most(facts, part, (a for a in answers if a is not None))


def unprotected(rule: Rule, found: Iterable[Beyond], noun: str, band: float) -> Iterator[Finding]:
    """Findings for parts through which more can run for good than they are allowed, the overload band excepted."""
    for beyond in found:
        shown, allowed_a = beyond.shown_by, beyond.allowed_a
        most_a = beyond.let_through_a
        banded = (
            shown.at_rating_a is not None
            and not exceeds(shown.at_rating_a, allowed_a)
            and not exceeds(most_a, band * allowed_a)
        )
        if not exceeds(most_a, allowed_a) or banded or shown.fault is None:
            continue
        yield rule.finding(
            beyond.part.subject,
            f"{noun} {beyond.part.id} can be made to carry {figures(most_a)} A for good with {shown.id}, "
            f"{figures(most_a / allowed_a)} times its allowed {figures(allowed_a)} A: {fault_words(shown.fault)}, "
            f"and {holder_words(shown)}.",
            f"Put a device that holds no more than {figures(allowed_a)} A before it, or use one that is allowed "
            f"{figures(most_a)} A.",
            case=shown.case,
            value=most_a,
            limit=allowed_a,
            unit="A",
        )


def _most(facts: Facts, part: Splice | Switch | Diode, answers: Iterable[PartFault]) -> Iterator[Beyond]:
    allowed_a = facts.ratings[part.id].allowed_a
    known = [(a.let_through_a, a) for a in answers if a.let_through_a is not None]
    if allowed_a is None or not known:
        return
    most_a, shown = max(known, key=lambda pair: pair[0])
    yield Beyond(part, allowed_a, shown, most_a)
