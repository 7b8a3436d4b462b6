"""How much power a supply may give where it stands is not determined: it gets warmer than its derating says.

Formula: inside temperature > last point of ``Power derating``. Nothing is extrapolated: most units switch off then.

Source: the unit's own data on the drawing.

Passes: ``Power derating`` = ``40 °C: 100 %; 60 °C: 60 %`` in a zone of at most 55 °C.

Fails: the same in a zone of 65 °C, whatever the unit has to give.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity, Subject

RULE = Rule("supply-not-determined", Severity.WARNING, "Supply beyond its derating", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each unit whose derating ends below the temperature that it gets; unreadable fields are told
    where they are read.
    """
    subjects = {o.supply: o.subject for o in reversed(facts.harness.outputs) if o.supply is not None}
    unread = {supply.name for supply in facts.harness.supplies if supply.placeholders}
    for row in facts.supplies:
        if row.missing is None or row.id in unread:
            continue
        where = subjects.get(row.id, Subject(row.id))
        yield RULE.finding(
            Subject(row.id, where.reference, None, None, where.sheet_path, where.uuid, where.file, where.line),
            f"How much power supply {row.id} may give is not determined: {row.missing}.",
            "Cool it, or state a point of its Power derating at that temperature (0 % where it switches off).",
            case=row.case,
        )
