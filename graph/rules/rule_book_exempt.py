"""A part that a clause of a chosen rule book exempts or does not cover: listed, so that it is seen.

Formula: by clause, for example: length of a tap that is allowed less than the device before it ≤ 150 mm. The
exemption is from the clause alone; what can flow in the part is judged all the same.

Source: the clause and edition that the finding cites.

Passes: a branch that is allowed the current at which the device before it opens.

Fails: with `rules` = `["student-racing-ev"]`, a 22 AWG tap of 120 mm behind a 20 A fuse with no fuse of its own.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.rules.rule_book import clause_findings

RULE = Rule("rule-book-exempt", Severity.NOTE, "Exempt from a clause of a rule book")


def check(facts: Facts) -> Iterator[Finding]:
    """List what the clauses of the chosen rule books exempt."""
    yield from clause_findings(facts, RULE, exempt=True)
