"""A load gets no current, or can't be fed what it asks for.

Formula: no way of copper from an output's plus terminal to the load and back to the same output's minus
terminal; or no solution of the network in which the load gets its power (voltage collapse); or outputs that
hold their current and give less than is asked.

Source: Kirchhoff's laws.

Passes: a load between an output's plus and minus.

Fails: a load behind an open switch; a load of 100 W behind 1 Ω from 12 V, which can pass 36 W at most.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity

RULE = Rule("load-unfed", Severity.ERROR, "Load not fed", "must fix")


def check(facts: Facts) -> Iterator[Finding]:
    """Report, for every load, the first case in which it is not fed, or not in full."""
    for load in facts.harness.loads:
        if not load.fitted:
            continue
        for case in facts.cases:
            solutions = facts.loaded[case.id]
            if any(load.id in s.unfed for s in solutions):
                yield RULE.finding(
                    load.subject,
                    f"Load {load.id} gets no current: no output has a way out to it and a way back from it, or "
                    "the outputs that do can't give what is asked.",
                    "Draw the missing way, close the switch, or move load to another output.",
                    case=case.id,
                    value=0.0,
                    unit="A",
                )
                break
            if any(load.id in s.collapsed for s in solutions):
                yield RULE.finding(
                    load.subject,
                    f"Load {load.id} can't be fed: the voltage at it collapses before it gets its power.",
                    "Shorten the way, use thicker conductors, or feed it at a higher voltage.",
                    case=case.id,
                )
                break
