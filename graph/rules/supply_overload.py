"""A supply has to give more power than it may at its inside temperature.

Formula: power of all its outputs together / (``Supply power`` × share of ``Power derating`` × shares of
``Mounting derating``) > 1.

Source: the unit's own data on the drawing.

Passes: 400 W from a unit of 500 W at 40 °C inside.

Fails: 400 W from a unit of 500 W that gives 70 % at 50 °C, in 50 °C: 114 %.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity, Subject
from loadloom.graph.model.results import SupplyRow

RULE = Rule("supply-overload", Severity.ERROR, "Supply over its power")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare every unit's power with what it may give."""
    subjects = {o.supply: o.subject for o in reversed(facts.harness.outputs) if o.supply is not None}
    for row in facts.supplies:
        if row.power_w is None or row.allowed_w is None or not exceeds(row.power_w, row.allowed_w):
            continue
        where = subjects.get(row.id, Subject(row.id))
        yield RULE.finding(
            Subject(row.id, where.reference, None, None, where.sheet_path, where.uuid, where.file, where.line),
            f"Supply {row.id} has to give {quantity(row.power_w, 'W')}{_share(row.power_w, row.allowed_w)} the "
            f"{quantity(row.allowed_w, 'W')} that it may give{_chain(row)}.",
            "Move loads to another unit, cool it, or use a larger one.",
            case=row.case,
            value=row.power_w,
            limit=row.allowed_w,
            unit="W",
        )


def _chain(row: SupplyRow) -> str:
    """The nameplate and what derates it, in brackets; empty where nothing does."""
    if row.nameplate_w is None or not row.factors:
        return ""
    links = "".join(f" × {figures(100 * factor.factor)} % ({factor.reason})" for factor in row.factors)
    return f" ({quantity(row.nameplate_w, 'W')}{links})"


def _share(power_w: float, allowed_w: float) -> str:
    return f", {figures(100 * power_w / allowed_w)} % of" if allowed_w > 0 else ", more than"
