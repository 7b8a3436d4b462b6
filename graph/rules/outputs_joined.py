"""Outputs are joined by copper on both sides: small differences between them decide which carries the load.

Formula: a loop of conductors through more than one output. Where a diode in each lead keeps any of them from being
fed backwards, the finding says so and stays: their sharing and the faults that they feed together remain. Where one
that is off leaves another device or output more than it is certain to carry, the finding says that as well: they
share, and are no reserve for each other.

Source: common practice, no published source.

Passes: two outputs, each with loads of its own and a common return.

Fails: two outputs whose plus leads meet on one load.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.figures import figures
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of

RULE = Rule("outputs-joined", Severity.WARNING, "Outputs joined in parallel")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every group of joined outputs."""
    said: set[tuple[str, ...]] = set()
    back_fed = {answer.back_fed_by for answer in facts.faults.back_feeds}
    for case_id, group in facts.faults.joined:
        if group in said:
            continue
        said.add(group)
        ends = [(o.node_plus, o.node_minus) for o in facts.harness.outputs if o.id in group]
        # Two on the very same joints have no copper between them that the fault search would answer for.
        blocked = not back_fed.intersection(group) and len(set(ends)) == len(ends)
        volts = [f"{o.id} {o.voltage_v:.4g} V" for o in facts.harness.outputs if o.id in group and o.voltage_v]
        yield RULE.finding(
            facts.harness.by_id[group[0]].subject,
            f"Outputs {all_of(group)} are joined ({', '.join(volts)}): their voltages and leads decide how they "
            "share a load, and a fault can draw on all of them. "
            + ("None can be fed backwards." if blocked else "One that fails can be fed backwards by the others.")
            + _with_one_off(facts, group),
            "Keep the outputs apart, or accept this finding with the reason why they share."
            if blocked
            else "Keep the outputs apart. Where they are made to share, put a part that blocks reverse current "
            "into each lead and accept this finding with the reason.",
            case=case_id,
        )


def _with_one_off(facts: Facts, group: tuple[str, ...]) -> str:
    """What the others do not carry for sure with one of the outputs off: setting ranges count with all of them."""
    found = [each for each in facts.may_open if each.off in group]
    if not found:
        return ""
    worst = max(found, key=lambda each: each.by)
    more = f" (and {len(found) - 1} more such)" if len(found) > 1 else ""
    return (
        f" With {worst.off} off {worst.part} has to carry {figures(worst.current_a)} A and is certain to carry "
        f"{figures(worst.carries_a)} A{more}: it may open, and the others do not stand in for {worst.off}. Setting "
        "ranges count with all of them on."
    )
