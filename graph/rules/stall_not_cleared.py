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

from loadloom.graph.facts.facts import Facts
from loadloom.graph.judging.overload import exceeds
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
            f"Use a device that opens within {duration(stall.stands_s)} at that current{_such(stall)}, or a motor "
            "with a protection of its own (then leave Stalled time out).",
            target=_target(stall),
            case=stall.case,
            value=stall.slowest_s,
            limit=stall.stands_s,
            unit="s",
        )


def _such(stall: Stall) -> str:
    """The greatest ratings of devices before the motor that would do."""
    said = [f"a {name} rated at most {figures(floored(a))} A" for name, a in stall.opens_at_a.items()]
    return f" ({' or '.join(said)} does)" if said else ""


def _target(stall: Stall) -> Target | None:
    if len(stall.opens_at_a) != 1:
        return None
    ((name, rating_a),) = stall.opens_at_a.items()
    return Target(name, Quantity.SETTING, End.AT_MOST, floored(rating_a))


def _gravity(stall: Stall) -> float:
    return float("inf") if stall.slowest_s is None else stall.slowest_s
