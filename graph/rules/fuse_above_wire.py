"""A fuse, breaker or resettable device is rated above what the thinnest part that it guards may carry.

Formula: rating × factor > allowed current, for the conductors and contacts that no nearer device guards; the factor
is their share of the device's current (1 in a tree).

Source: IEC 60364-4-43 433.1, In ≤ Iz (from memory).

Passes: a fuse of 10 A before a wire with `Rating` 12 A.

Fails: a fuse of 10 A before a wire with `Rating` 6 A.
"""

from collections.abc import Iterator

from loadloom.graph.elements import Device, DeviceKind
from loadloom.graph.facts import Facts
from loadloom.graph.figures import figures
from loadloom.graph.findings import Finding, Rule, Severity
from loadloom.graph.overload import exceeds

RULE = Rule("fuse-above-wire", Severity.WARNING, "Device rated above what it guards")


def check(facts: Facts) -> Iterator[Finding]:
    """For every device the part that is furthest below its rating."""
    for drawn in facts.harness.devices:
        if drawn.kind is DeviceKind.LIMITER:
            continue
        worst: tuple[float, str, float, float, str, int] | None = None
        for there in facts.protection.arrangements:
            device = there.parts.get(drawn.id)
            nominal_a = device.setting_a if isinstance(device, Device) else None
            if nominal_a is None:
                continue
            over = []
            for name, factor in there.guarded.get(drawn.id, {}).items():
                rating = facts.ratings.get(name)
                if rating is not None and rating.allowed_a and exceeds(nominal_a * factor, rating.allowed_a):
                    over.append((nominal_a * factor / rating.allowed_a, name, rating.allowed_a, nominal_a))
            if over:
                found = (*max(over), there.case, len(over))
                worst = found if worst is None or found > worst else worst
        if worst is not None:
            _, name, allowed_a, nominal_a, case, count = worst
            others = f", and {count - 1} more" if count > 1 else ""
            yield RULE.finding(
                drawn.subject,
                f"{drawn.kind.value.capitalize()} {drawn.id} of {figures(nominal_a)} A guards {name}, which is "
                f"allowed {figures(allowed_a)} A{others}.",
                f"Use at most {figures(allowed_a)} A, or a thicker {name}.",
                case=case,
                value=nominal_a,
                limit=allowed_a,
                unit="A",
                source="IEC 60364-4-43 433.1 (value from memory)",
            )
