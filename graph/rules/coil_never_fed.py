"""The coil of a contactor is fed through the contactor's own contacts alone, so that it can never pull in.

Formula: with all contactors open and switches worked by hand closed, whatever is fed pulls in, until nothing more
does; the coils that are left.

Source: Kirchhoff's laws; a contactor that is off has its contacts open.

Every current is found with contactors as drawn, so that what lies behind this one is judged as if it had pulled
in. The coil of a contactor that holds itself has a start button, or another way past its contact, which has to
be drawn.

Passes: a coil between the plus before the contactor and the minus; one behind its own contact with a switch
beside the contact, drawn with ``State`` = ``open``.

Fails: a coil on the load side of its own contact; two contactors, each with its coil behind the other's contact.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.nothing_judged import has_source
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of
from loadloom.graph.structure.coils import COIL, coils_never_fed

RULE = Rule("coil-never-fed", Severity.ERROR, "Contactor can't pull in")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each coil; a coil with no path at all is a load that is not fed."""
    if not has_source(facts.harness):
        return
    never = coils_never_fed(facts.harness)
    names = [coil.id.removesuffix(COIL) for coil in never]
    for coil, name in zip(never, names, strict=True):
        if not facts.topology.fed_by(coil.node_plus, coil.node_minus):
            continue
        yield RULE.finding(
            coil.subject,
            f"{name} can't pull in: its coil is fed only through contacts that are open until {all_of(names)} "
            f"{'has' if len(names) == 1 else 'have'} pulled in.",
            "Feed the coil from before the contact, or draw what closes it first, such as a start button.",
        )
