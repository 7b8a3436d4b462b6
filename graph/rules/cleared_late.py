"""A short circuit holds more than the allowed current on a part for more than 5 s before a slow device clears it.

Formula: short-circuit current > allowed current, and slowest clearing time > 5 s over every order of opening.
Only where nothing says how warm the part becomes: of a contact, of a conductor whose section or insulation is not
known. Else ``damage-before-clearing`` judges it, or ``device-not-determined`` where gates alone give the time.

Source: IEC 60364-4-43 434.5.2 (value of the 5 s limit from memory).

Passes: a wire behind a limiter with ``Delay`` = ``10 ms``.

Fails: a contact behind a fuse by its gates only, which leave it 120 s at twice its rating.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.late_clearing import late_stress
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import duration, figures, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of, natural_key
from loadloom.graph.short_circuits.short_circuits import ADIABATIC_LIMIT_S, Short

RULE = Rule("cleared-late", Severity.WARNING, "Short circuit cleared late")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each device that clears late, on the part that is most over its allowed current."""
    worst: dict[str, tuple[float, Short, float]] = {}
    parts: dict[str, set[str]] = {}
    for short in facts.protection.short_circuits.every:
        row, rating = short.row, facts.ratings.get(short.part)
        if row.cleared_by is None or row.slowest_s is None or rating is None or not rating.allowed_a:
            continue
        if not math.isfinite(row.slowest_s) or not exceeds(row.slowest_s, ADIABATIC_LIMIT_S):
            continue
        late_a = max((a for a, s in short.cleared if exceeds(s, ADIABATIC_LIMIT_S)), default=short.own_greatest_a)
        if not exceeds(late_a, rating.allowed_a) or late_stress(facts, short) is not None:
            continue
        parts.setdefault(row.cleared_by, set()).add(short.part)
        times = late_a / rating.allowed_a
        if row.cleared_by not in worst or times > worst[row.cleared_by][0]:
            worst[row.cleared_by] = (times, short, rating.allowed_a)
    for device, (times, short, allowed_a) in worst.items():
        others = sorted(parts[device] - {short.part}, key=natural_key)
        more = f" The same holds for {all_of(others)}." if others else ""
        yield RULE.finding(
            facts.harness.by_id[device].subject,
            f"{device} may take {duration(short.row.slowest_s)} to clear a short circuit of up to "
            f"{quantity(times * allowed_a, 'A')} on {short.part}, {figures(times)} times its allowed "
            f"{figures(allowed_a)} A.{more}",
            "Use a device that clears within 5 s, state its curve with times in the settings, or use a thicker "
            "conductor.",
            case=short.row.case,
            value=short.row.slowest_s,
            limit=ADIABATIC_LIMIT_S,
            unit="s",
            source="IEC 60364-4-43 434.5.2 (value from memory)",
        )
