"""A fault holds more than the allowed current on a part for more than 5 s before a slow device clears it.

Formula: short-circuit current > allowed current, and slowest clearing time > 5 s over every order of opening;
or the current of a fault of some resistance, just below the fast step of an electronic limit, and the Delay of
its slow step. Only where nothing says how warm the part becomes: of a contact, of a conductor whose section or
insulation is not known. Else ``damage-before-clearing`` judges it, or ``device-not-determined`` where gates
alone give the time.

Source: IEC 60364-4-43 434.5.2 (value of the 5 s limit from memory).

Passes: a wire behind a limiter with ``Delay`` = ``10 ms``.

Fails: a contact behind a fuse by its gates only, which leave it 120 s at twice its rating; one of 15 A behind a
limiter of 12 A with a ``Delay`` of 20 s and a ``Fast trip`` of 200 A.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.late_clearing import late_stress
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.judging.slow_overloads import SlowOverload, slow_overloads
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
        yield _finding(
            facts,
            device,
            f"clear a short circuit of up to {quantity(times * allowed_a, 'A')}",
            short.row.slowest_s or 0.0,
            (short.part, times, allowed_a),
            parts[device],
            short.row.case,
        )
    yield from _slow(facts, frozenset(worst))


def _slow(facts: Facts, told: frozenset[str]) -> Iterator[Finding]:
    """The same for faults of some resistance; a device of which a short circuit was told is left out."""
    worst: dict[str, tuple[float, SlowOverload]] = {}
    parts: dict[str, set[str]] = {}
    for slow in slow_overloads(facts):
        if not math.isnan(slow.over) or math.isinf(slow.duration_s) or slow.opens in told:
            continue
        if not exceeds(slow.duration_s, ADIABATIC_LIMIT_S):
            continue
        times = slow.current_a / (facts.ratings[slow.part].allowed_a or math.inf)
        parts.setdefault(slow.opens, set()).add(slow.part)
        if slow.opens not in worst or times > worst[slow.opens][0]:
            worst[slow.opens] = (times, slow)
    for device, (times, slow) in worst.items():
        yield _finding(
            facts,
            device,
            f"open at the {quantity(slow.current_a, 'A')} that a fault of some resistance can hold",
            slow.duration_s,
            (slow.part, times, slow.current_a / times),
            parts[device],
            slow.case,
        )


def _finding(
    facts: Facts,
    device: str,
    does: str,
    late_s: float,
    most: tuple[str, float, float],
    parts: set[str],
    case: str | None,
) -> Finding:
    """``most``: the part that is most over, how many times, and its allowed current in A."""
    part, times, allowed_a = most
    others = sorted(parts - {part}, key=natural_key)
    more = f" The same holds for {all_of(others)}." if others else ""
    return RULE.finding(
        facts.harness.by_id[device].subject,
        f"{device} may take {duration(late_s)} to {does} on {part}, {figures(times)} times its allowed "
        f"{figures(allowed_a)} A.{more}",
        "Use a device that clears within 5 s, state its curve with times in the settings, or use a thicker "
        "conductor.",
        case=case,
        value=late_s,
        limit=ADIABATIC_LIMIT_S,
        unit="s",
        source="IEC 60364-4-43 434.5.2 (value from memory)",
    )
