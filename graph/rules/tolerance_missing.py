"""What the voltage of a source may be is not stated, and something hangs on it.

A battery states one voltage, not the range from empty to full. Or an output that is joined with others states no
``Tolerance``: a few tenths of a volt decide which of them carries the load and which feeds a fault first, and they
count as exactly at their voltages. Other outputs without ``Tolerance`` are told among the assumptions.

Formula: none.

Source: common practice, no published source: the voltage of a battery follows its state of charge; loads of
constant power draw the most from an empty one, and faults from a full one. Two outputs of 24 V ± 2 % behind leads
of 10 mΩ each are up to 0.96 V apart, which drives 48 A through their leads, or leaves all of the load to one.

Passes: a battery with ``Voltage`` = ``21…29.2 V``; two joined outputs with ``Tolerance`` = ``2 %``.

Fails: a battery with ``Voltage`` = ``24 V``; two outputs that share a load, of which one states no ``Tolerance``.
"""

from collections.abc import Iterator

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity
from loadloom.graph.model.naming import all_of

RULE = Rule("tolerance-missing", Severity.WARNING, "Source without the range of its voltage", incomplete=True)


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for every group of joined outputs some of which state no tolerance."""
    outputs = {o.id: o for o in facts.harness.outputs}
    said: set[str] = set()
    for case_id, group in facts.faults.joined:
        # What a string of solar cells gives is a current; of a battery it is told where it is read.
        there = [outputs[name] for name in group if name in outputs and name not in said]
        bare = [o.id for o in there if o.tolerance is None and o.battery is None and o.solar is None]
        if not bare:
            continue
        said.update(bare)
        yield RULE.finding(
            outputs[bare[0]].subject,
            f"{all_of(list(group))} are joined, and no Tolerance is stated for {all_of(bare)}: how they share a "
            "load or a fault hangs on differences of their voltages that nobody has stated.",
            "State Tolerance of each, as its data sheet has it; 0 % where they are matched.",
            case=case_id,
        )
