"""A sense lead is over its allowed current when the main lead of its output opens.

Formula: current of what the main lead fed, in the worst case of the loads, and no more than what a device in the
sense lead or the output itself passes without opening, against the allowed current of each conductor, contact
and switch of the lead. Inside the unit the sense terminal counts as joined to the terminal beside it.

Source: common practice, no published source: a sense lead is fused or dimensioned for it, or the unit limits what
its sense terminal passes.

Passes: a sense wire allowed 3 A behind a fuse of 1 A (it holds at most 1.35 A).

Fails: the same wire without a fuse, at a load of 8 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures, floored
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("sense-overload", Severity.ERROR, "Sense lead over its allowed current when the main lead opens")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every part of every sense lead against what it carries in place of the main lead."""
    told: set[str] = set()
    for found in sorted(facts.sense_leads, key=lambda each: -each.current_a):
        for name in found.lead.parts:
            rating = facts.ratings.get(name)
            if name in told or rating is None or rating.allowed_a is None:
                continue
            if exceeds(found.current_a, rating.allowed_a):
                told.add(name)
                yield RULE.finding(
                    facts.harness.by_id[name].subject,
                    f"{name} leads to the sense terminal of {found.lead.output} and would carry "
                    f"{figures(found.current_a)} A if {found.lead.main} opened, more than its allowed "
                    f"{figures(rating.allowed_a)} A.",
                    "Put a fuse into the sense lead where it joins the main lead, one that is certain to open "
                    f"above {figures(floored(rating.allowed_a))} A, or make the sense lead thicker.",
                    case=found.case,
                    value=found.current_a,
                    limit=rating.allowed_a,
                    unit="A",
                    source=rating.source,
                )
