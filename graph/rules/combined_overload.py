"""Several overloads at once can bring a shared conductor or contact above its allowed current.

Formula: combined overload current / allowed current > 1 where the sustained fault current of one fault is within
it; the combined overload current is the most with every device and output staying just below tripping. It is a
bound on the safe side where the overloads would have to share one voltage, as behind outputs in series.

Source: common practice, no published source; published rule books for electric vehicles ask that a common
conductor is sized for the sum of the individual trips.

Passes: a return with ``Rating`` 90 A shared by six paths whose limiters each hold 14.5 A.

Fails: the same return with ``Rating`` 40 A.
"""

import math
from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.fault_words import made_up_words
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures, raised
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("combined-overload", Severity.WARNING, "Several overloads on a shared conductor")


def check(facts: Facts) -> Iterator[Finding]:
    """Compare the combined overload current of every part that one fault does not overload."""
    for part in (*facts.harness.conductors, *facts.harness.contacts):
        answer = facts.faults.parts.get(part.id)
        if answer is None or answer.protected is False or answer.in_band or answer.sustained_fault_a is None:
            continue
        if (
            answer.combined_overload_a is None
            or answer.allowed_a is None
            or not exceeds(answer.combined_overload_a, answer.allowed_a)
        ):
            continue
        if answer.combined_overload_a <= answer.sustained_fault_a * 1.001:
            continue  # what one fault does is said by other rules
        bounded = math.isfinite(answer.combined_overload_a)
        if bounded:
            times = figures(answer.combined_overload_a / answer.allowed_a)
            most = (
                f"up to {figures(answer.combined_overload_a)} A, {times} times its allowed "
                f"{figures(answer.allowed_a)} A, while every device stays just below tripping"
            )
            if answer.combined_overload_of:
                most += f": {made_up_words(answer.combined_overload_of)}"
            remedy = (
                f"Use one that is allowed {figures(raised(answer.combined_overload_a))} A, give each path a "
                "return or feed of its own, or lower the settings of the devices that share it."
            )
        else:
            most = f"a current that nothing stated limits; it is allowed {figures(answer.allowed_a)} A"
            remedy = (
                f"Put a device into {part.id}, or state at which current the outputs and devices of the paths that "
                "share it trip."
            )
        yield RULE.finding(
            part.subject,
            f"{part.id} is shared by several paths. One fault can hold {figures(answer.sustained_fault_a)} A on "
            f"it; several overloads at once can hold {most}.",
            remedy,
            case=answer.combined_overload_case,
            value=answer.combined_overload_a if bounded else None,
            limit=answer.allowed_a,
            unit="A",
        )
