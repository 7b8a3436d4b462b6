"""An output senses at a distance, and what follows from that is not determined.

Formula: none. It does not state ``Sense limit``, the most that it adds for the drop on its leads: the voltage at
its terminals is then not known. Or it states one, and no sense terminal is joined to anything. Or a sense terminal
is not joined to the copper of the terminal beside it: the output measures nothing there and may go to its highest
voltage.

Source: common practice, no published source.

Passes: an output with ``Sense limit`` = ``0.5 V`` whose sense leads end at the plus and the minus of its load.

Fails: the same without ``Sense limit``; ``S+`` joined to the copper of the minus terminal.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule(
    "sense-not-determined",
    Severity.WARNING,
    "What remote sense does to the voltage is not determined",
    incomplete=True,
)


def check(facts: Facts) -> Iterator[Finding]:
    """Name every sensing output without a limit, and every sense terminal that measures nothing."""
    lost: dict[tuple[str, bool], str] = {}
    for word in dict.fromkeys(case.arrangement for case in facts.cases):
        for lead in facts.leads_by_word[word]:
            if lead.tap is None:
                where = f" in the arrangement {word}" if word else ""
                lost.setdefault((lead.output, lead.plus), where)
    for output in facts.harness.outputs:
        if output.fitted and output.senses and any(o.sense_limit_v is None for o in output.variants()):
            yield RULE.finding(
                output.subject,
                f"{output.id} senses at a distance and does not state how much it adds for the drop on its leads.",
                "State Sense limit, from the data sheet, such as 0.5 V.",
            )
        if output.fitted and not output.senses and any(o.sense_limit_v for o in output.variants()):
            yield RULE.finding(
                output.subject,
                f"{output.id} states a Sense limit, and none of its sense terminals is joined to anything.",
                "Join S+ and S- to where the voltage is to be held, or remove Sense limit.",
            )
    for (name, plus), where in lost.items():
        yield RULE.finding(
            facts.harness.by_id[name].subject,
            f"{'S+' if plus else 'S-'} of {name} is not joined to the copper of its "
            f"{'plus' if plus else 'minus'} terminal{where}: it measures nothing there.",
            "Join it to where the voltage is to be held, or to the terminal beside it.",
        )
