"""A fuse, breaker or resettable device is rated above what the thinnest part that it guards may carry.

Formula: rating × factor > allowed current, for the conductors and contacts that no nearer device guards; the factor
is their share of the device's current (1 in a tree).

Source: IEC 60364-4-43 433.1, In ≤ Iz (from memory).

Passes: a fuse of 10 A before a wire with `Rating` 12 A.

Fails: a fuse of 10 A before a wire with `Rating` 6 A.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Device, DeviceKind
from loadloom.graph.model.figures import figures, floored
from loadloom.graph.model.findings import End, Finding, Quantity, Rule, Severity, Target
from loadloom.graph.model.naming import some_of

RULE = Rule("fuse-above-wire", Severity.WARNING, "Device rated above what it guards")

ALL_OF_IT = 0.9995
"""From this share on a part carries all of its device's current, to three digits."""


def check(facts: Facts) -> Iterator[Finding]:
    """For every device the part that is furthest below its rating."""
    for drawn in facts.harness.devices:
        if drawn.kind is DeviceKind.LIMITER:
            continue
        worst: tuple[float, float, str, str, dict[str, tuple[float, float, float]]] | None = None
        for there in facts.protection.arrangements:
            device = there.parts.get(drawn.id)
            nominal_a = device.setting_a if isinstance(device, Device) else None
            if nominal_a is None:
                continue
            over = {}
            for name, factor in there.guarded.get(drawn.id, {}).items():
                rating = facts.ratings.get(name)
                if rating is not None and rating.allowed_a and exceeds(nominal_a * factor, rating.allowed_a):
                    over[name] = (nominal_a * factor / rating.allowed_a, rating.allowed_a, factor)
            if over:
                name = max(over, key=lambda each: (over[each], each))
                found = (over[name][0], nominal_a, there.case, name, over)
                worst = found if worst is None or found[:4] > worst[:4] else worst
        if worst is not None:
            _, nominal_a, case, name, over = worst
            _, allowed_a, factor = over[name]
            most_a = min(allowed_a / factor for _, allowed_a, factor in over.values())
            setting_range = facts.protection.setting_ranges.get(drawn.id)
            if setting_range is not None and setting_range.high is not None and setting_range.is_open is not False:
                most_a = min(most_a, setting_range.high.setting_a)
            share = f" and carries {figures(100.0 * factor)} % of its current" if factor < ALL_OF_IT else ""
            others = [f"{other} ({figures(over[other][1])} A)" for other in over if other != name]
            also = f" It is also rated above {some_of(others, len(others))}." if others else ""
            yield RULE.finding(
                drawn.subject,
                f"{drawn.kind.value.capitalize()} {drawn.id} of {figures(nominal_a)} A guards {name}, which is "
                f"allowed {figures(allowed_a)} A{share}.{also}",
                f"Use a device of at most {figures(floored(most_a))} A, or thicker conductors and larger contacts "
                f"behind {drawn.id}.",
                target=Target(drawn.id, Quantity.SETTING, End.AT_MOST, floored(most_a)),
                case=case,
                value=nominal_a,
                limit=allowed_a,
                unit="A",
                source="IEC 60364-4-43 433.1 (value from memory)",
            )
