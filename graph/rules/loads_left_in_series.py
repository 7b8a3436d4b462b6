"""One open conductor or contact leaves loads in series between two voltages.

Formula: the voltages between which the joint that nothing holds any more may come to lie, at the loads' other ends
with no load drawn; told from 1 V the wrong way round, or above what the load is fed with and ``Maximum voltage``.
How far it goes hangs on what the loads draw at voltages that nobody states. Left out where the settings leave out
single open circuits.

Source: Kirchhoff's laws, as of the lost neutral of any textbook on installations; 1 V: common practice, no
published source.

Passes: a load of 12 V and one of 5 V, each with a return of its own, or with two returns side by side.

Fails: both on one return wire: if it opens, the load of 5 V gets up to 7 V the wrong way round.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of, some_of
from loadloom.graph.open_circuits.in_series import InSeries

RULE = Rule("loads-left-in-series", Severity.WARNING, "Loads in series between two voltages with one open circuit")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every set of conductors and contacts of which any leaves the same loads in series."""
    for found in facts.left_in_series:
        yield _finding(facts, found)


def _finding(facts: Facts, found: InSeries) -> Finding:
    volts = [f"{name} up to {figures(v)} V the wrong way round" for name, v in found.reversed_v]
    volts += [f"{name} up to {figures(v)} V" for name, v in found.raised_v]
    opened = found.opened[0] if len(found.opened) == 1 else f"one of {some_of(list(found.opened), 5)}"
    return RULE.finding(
        facts.harness.by_id[found.opened[0]].subject,
        f"If {opened} opens, {some_of(list(found.loads), 5)} are left in series between two voltages, and nothing "
        f"holds their joint: {all_of(volts)}.",
        "Give each voltage a return of its own, or lay a second conductor and contact beside "
        f"{found.opened[0]}; or state that the loads bear it (Maximum voltage, or an accepted finding).",
        value=max(v for _, v in (*found.reversed_v, *found.raised_v)),
        unit="V",
    )
