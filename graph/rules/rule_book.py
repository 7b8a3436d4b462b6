"""A clause of a rule book that the settings have chosen is not kept.

Formula: by clause, for example: length of a tap that is allowed less than the device before it > 150 mm; device >
value of the table for the wire size behind it; distance of the first device from the source > limit.

Source: the clause and edition that the finding cites.

Passes: with `rules` = `["student-racing-ev"]`, a 22 AWG tap of 100 mm behind a 20 A fuse, then a fuse of its own.

Fails: the same tap with its fuse 200 mm behind the splice, or 300 mm long with no fuse.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.clause_checks import judge
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.rule_books import chosen_clauses

RULE = Rule("rule-book", Severity.ERROR, "Clause of a chosen rule book")


def check(facts: Facts) -> Iterator[Finding]:
    """Judge every clause of the chosen rule books."""
    yield from clause_findings(facts, RULE, exempt=False)


def clause_findings(facts: Facts, rule: Rule, *, exempt: bool) -> Iterator[Finding]:
    """What the chosen clauses say: breaches, or what they exempt; each cites its clause."""
    for clause in chosen_clauses(facts.settings):
        for found in judge(facts, clause):
            if found.exempt is exempt:
                # Two books can ask the same: the message says whose clause it is.
                named = clause.rule_set in found.message
                message = found.message if named else f"{found.message.removesuffix('.')} ({clause.rule_set})."
                yield rule.finding(
                    found.subject,
                    message,
                    found.remedy,
                    case=found.case,
                    value=found.value,
                    limit=found.limit,
                    unit=found.unit,
                    source=clause.citation,
                )
