"""Nothing could be judged, since a source, a load, a conductor or a current is missing.

A verdict on nothing is never a pass. The finding names the first thing that is missing. A piece of the drawing that
no source reaches has a finding of its own.

Formula: at least one output that is fitted and has a voltage, one load that takes a current, and one conductor
that carries some of it; every conductor in a piece of the drawing with a source, save spare cores and contacts,
and conductors on the chassis.

Source: common practice, no published source.

Passes: an output, a wire to a load and a wire back.

Fails: an empty sheet; a drawing of connectors alone; one whose only output is not fitted; an output with a load on
its terminals and no wire between; two wires that are joined to each other alone.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.nothing_judged import first_lack, islands_without_source
from loadloom.graph.model.findings import Finding, Rule, Severity, Subject
from loadloom.graph.model.naming import all_of

RULE = Rule("nothing-judged", Severity.WARNING, "Nothing was judged", incomplete=True)

WHOLE = "harness"
"""Id of the subject where the finding is about the whole drawing."""


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for the whole harness, or else one for each piece that no source reaches."""
    lack = first_lack(facts)
    if lack is not None:
        yield RULE.finding(
            Subject(WHOLE),
            f"Nothing was judged: {lack}.",
            "Draw the source, the load and the conductors between them, and give their symbols a role.",
        )
        return
    for parts in islands_without_source(facts.harness):
        names = all_of([part.id for part in parts])
        yield RULE.finding(
            parts[0].subject,
            f"No output reaches {names}, so {'it was' if len(parts) == 1 else 'they were'} not judged.",
            "Draw what feeds them, or give parts that carry no power the role ignore.",
        )
