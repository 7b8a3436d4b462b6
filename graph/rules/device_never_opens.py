"""A device can never open, since what stands before it, or the loop itself, never passes enough current.

Formula: the lesser of (the most that devices and outputs before it pass continuously, the greatest short-circuit
current just behind it) ≤ the device's non-tripping current. Each of several devices in parallel may go on passing
its own tripping current after the others have opened, so that together they pass at most the sum.

Source: the thresholds of the devices, each with its source on its row; the comparison is common practice, no
published source.

Passes: a fuse of 5 A behind an output whose own trip is 7.5 A.

Fails: a fuse of 10 A behind the same output: the output shuts down first, and protects what the fuse seems to.
"""

from collections.abc import Iterator

from loadloom.graph.devices.device_bands import curve_source
from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("device-never-opens", Severity.ERROR, "Device can never open")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold every acting device against the most that can come through it, in every arrangement."""
    seen: set[str] = set()
    for there in facts.protection.arrangements:
        for name, most_a in there.limits_a.items():
            limits = there.thresholds[name]
            if name in seen or limits.non_tripping_a is None or not limits.opens:
                continue
            limiting, subject = there.limited_by[name], there.parts[name].subject
            by = " and ".join(limiting)
            short = facts.protection.short_circuits.prospective.get(name)
            assumed = " (assumed)" if any(there.thresholds[d].assumed for d in limiting) else ""
            passes = "passes" if len(limiting) == 1 else "together pass"
            how = f"{by} before it {passes} at most {figures(most_a)} A{assumed} continuously"
            if short is not None and short.current_a < most_a:
                most_a, how = (
                    short.current_a,
                    f"a short circuit just behind it draws at most {figures(short.current_a)} A",
                )
            if exceeds(most_a, limits.non_tripping_a):
                continue
            seen.add(name)
            yield RULE.finding(
                subject,
                f"{name} carries {figures(limits.non_tripping_a)} A without opening, but {how}: {name} can never "
                "open and protects nothing.",
                f"Use a device that is certain to open below {figures(most_a)} A, or rely on {by} and size what "
                f"lies behind {name} for {figures(most_a)} A.",
                case=there.case,
                value=most_a,
                limit=limits.non_tripping_a,
                unit="A",
                source=curve_source(there.parts[name], facts.settings),
            )
