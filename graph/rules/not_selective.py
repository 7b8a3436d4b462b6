"""Two devices in series, of which the one nearer to the output may open for a fault behind the other.

Formula: non-tripping current of the upstream device < tripping current of the downstream one: in an overload
between the two the upstream device may open while the other does not. Or, where both times are stated: at the
greatest short-circuit current behind the downstream device, fastest opening upstream ≤ slowest opening downstream.
Times that no curve states are not determined; nor pairs with the same loads behind them, nor devices on the path
from one of several joined outputs only, since nothing else loses supply with those.

Source: the curves named on the devices' rows; the rule itself is common practice, no published source.

Passes: a fuse of 20 A before a fuse of 5 A, both by UL 248-14 gates (20 A against 6.75 A).

Fails: a fuse of 10 A before a fuse of 8 A (10 A against 10.8 A).
"""

import math
from collections.abc import Iterator

from loadloom.graph.devices.device_bands import opening_time_s
from loadloom.graph.facts.facts import Facts
from loadloom.graph.facts.protection import Protected, Series
from loadloom.graph.judging.overload import exceeds
from loadloom.graph.model.elements import Output
from loadloom.graph.model.figures import duration, figures, quantity
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("not-selective", Severity.WARNING, "Device before it may open first")


def check(facts: Facts) -> Iterator[Finding]:
    """Look at every pair of acting devices in series, once, in the first arrangement in which it fails."""
    seen: set[tuple[str, str]] = set()
    for there in facts.protection.arrangements:
        for pair in there.series:
            key = (pair.upstream.id, pair.downstream.id)
            how = None if key in seen else _why(facts, there, pair)
            if how is None:
                continue
            seen.add(key)
            yield RULE.finding(
                pair.downstream.subject,
                f"{pair.upstream.id} is not selective with {pair.downstream.id} behind it: {how[0]}.",
                f"Choose {pair.downstream.id} lower or faster, or {pair.upstream.id} higher or slower.",
                case=pair.case,
                value=how[1],
                limit=how[2],
                unit=how[3],
            )


def _why(facts: Facts, there: Protected, pair: Series) -> tuple[str, float, float, str] | None:
    if not pair.always or pair.loses == 0:
        return None  # nothing else loses supply with it
    above, below = there.thresholds[pair.upstream.id], there.thresholds[pair.downstream.id]
    if above.assumed or below.assumed or not (above.opens and below.opens) or above.non_tripping_a is None:
        return None
    if not exceeds(there.limits_a.get(pair.downstream.id, math.inf), below.non_tripping_a or 0.0):
        return None  # it can't open at all, as device-never-opens says
    if exceeds(below.held_a, above.non_tripping_a):
        text = (
            f"{pair.upstream.id} may open above {figures(above.non_tripping_a)} A, but {pair.downstream.id} is "
            f"certain to open only above {figures(below.held_a)} A"
        )
        return text, below.held_a, above.non_tripping_a, "A"
    short = facts.protection.short_circuits.prospective.get(pair.downstream.id)
    if short is None or math.isinf(short.current_a):
        return None
    if isinstance(pair.upstream, Output) and pair.upstream.delay_s is None:
        return None
    fastest = opening_time_s(pair.upstream, short.current_a, facts.settings)[0]
    slowest = opening_time_s(pair.downstream, short.current_a, facts.settings)[1]
    if not fastest or slowest is None or math.isinf(slowest) or fastest > slowest:
        return None
    text = (
        f"in a short circuit of {quantity(short.current_a, 'A')} {pair.upstream.id} may open after "
        f"{duration(fastest)}, while {pair.downstream.id} may take {duration(slowest)}"
    )
    return text, slowest, fastest, "s"
