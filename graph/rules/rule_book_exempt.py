"""A part that a clause of a chosen rule book exempts or does not cover: listed, so that it is seen.

Formula: by clause, for example: length of a thinner tap ≤ 150 mm. The exemption is from the clause alone; what can
flow in the part is judged as ever.

Source: the clause and edition that the finding cites.

Passes: a branch of the trunk's gauge.

Fails: with `rules` = `["student-racing-ev"]`, a 22 AWG tap of 120 mm on a 14 AWG trunk with no fuse of its own.
"""

from collections.abc import Iterator

from loadloom.graph.facts import Facts
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.rule_sets import chosen_clauses
from loadloom.graph.rule_sets.checks import judge

RULE = Rule("rule-book-exempt", Severity.NOTE, "Exempt from a clause of a rule book", "justify")


def check(facts: Facts) -> Iterator[Finding]:
    """List what the clauses of the chosen rule books let pass by exemption."""
    for clause in chosen_clauses(facts.settings):
        for found in judge(facts, clause):
            if found.exempt:
                yield RULE.finding(
                    found.subject,
                    found.message,
                    found.remedy,
                    case=found.case,
                    value=found.value,
                    limit=found.limit,
                    unit=found.unit,
                    source=clause.citation,
                )
