"""A motor that stands still is not switched off before it is damaged.

Formula: slowest opening of what is certain to open at the stalled current > ``Stalled time``, or nothing is certain
to. The stalled current is least at the lowest voltage through the most resistance, where the motor is a resistance
of its stated voltage over its stalled current.

Source: the load's own ``Stalled current`` and ``Stalled time``; opening times by the device's band. The rule itself
is common practice, no published source.

Passes: ``Stalled current`` = ``40 A``, ``Stalled time`` = ``200 s`` behind a fuse of 10 A by UL 248-14, which opens
within 120 s at 20 A.

Fails: the same with ``Stalled time`` = ``20 s``, or behind a fuse of 40 A.
"""

from collections.abc import Iterator
from math import isfinite

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Device, DeviceKind
from loadloom.graph.model.figures import duration, figures, floored
from loadloom.graph.model.findings import End, Finding, Quantity, Rule, Severity, Target
from loadloom.graph.short_circuits.stalls import Stall

RULE = Rule("stall-not-cleared", Severity.ERROR, "Stalled motor not switched off in time")


def check(facts: Facts) -> Iterator[Finding]:
    """Hold the slowest opening against how long each motor withstands a stall, in its worst case."""
    worst: dict[str, Stall] = {}
    for stall in facts.protection.stalls:
        late = stall.slowest_s is None or exceeds(stall.slowest_s, stall.stands_s)
        if stall.stands_s is None or not late:
            continue
        known = worst.get(stall.load)
        if known is None or _gravity(stall) > _gravity(known):
            worst[stall.load] = stall
    for stall in worst.values():
        by = " and ".join(stall.cleared_by)
        if stall.slowest_s is None:
            how = "nothing is certain to open"
        elif stall.slowest_s == float("inf"):
            how = f"{by} is certain to open, but how late is not stated"
        else:
            how = f"{by} may take {duration(stall.slowest_s)} to open"
        yield RULE.finding(
            facts.harness.by_id[stall.load].subject,
            f"{stall.load} withstands a stall for at most {duration(stall.stands_s)}, and {how} at its least "
            f"stalled current of {figures(stall.least_a)} A.",
            f"Use a device that opens within {duration(stall.stands_s)} at that current{_such(facts, stall)}, or a "
            "motor with a protection of its own (then leave Stalled time out).",
            target=_target(facts, stall),
            case=stall.case,
            value=stall.slowest_s,
            limit=stall.stands_s,
            unit="s",
        )


def _such(facts: Facts, stall: Stall) -> str:
    """The greatest settings of devices before the motor that would do."""
    said = []
    for name, most_a in _lower(facts, stall).items():
        part = facts.harness.by_id[name]
        chosen = isinstance(part, Device) and part.kind is not DeviceKind.LIMITER
        noun = f"a {name} rated at most" if chosen else f"{name} set to at most"
        said.append(f"{noun} {figures(floored(most_a))} A")
    return f" ({' or '.join(said)} does)" if said else ""


def _lower(facts: Facts, stall: Stall) -> dict[str, float]:
    """The greatest settings in A at which a stall that is not ended in time would be, by device that rides through
    its loads with it.
    """
    ranges = facts.protection.setting_ranges
    lows = {name: low.setting_a for name, known in ranges.items() if (low := known.low) is not None}
    ends = {name: most_a for name, (_, most_a) in stall.in_time_a.items() if isfinite(most_a)}
    return {name: most_a for name, most_a in ends.items() if lows.get(name, 0.0) <= most_a}


def _target(facts: Facts, stall: Stall) -> Target | None:
    if len(lower := _lower(facts, stall)) != 1:
        return None
    ((name, setting_a),) = lower.items()
    return Target(name, Quantity.SETTING, End.AT_MOST, floored(setting_a))


def _gravity(stall: Stall) -> float:
    return float("inf") if stall.slowest_s is None else stall.slowest_s
