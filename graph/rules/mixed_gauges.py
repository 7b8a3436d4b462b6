"""Conductors in parallel are of different gauge.

Formula: in a set of parallel paths between two joints, the gauges of one path differ from those of another.

Source: NEC (NFPA 70) 310.10(G) asks conductors in parallel to be of the same length, material and size; value
from memory.

Passes: six wires of 18 AWG from one connector to the other.

Fails: five wires of 18 AWG and one of 16 AWG between the same two joints.
"""

from collections.abc import Iterator

import numpy as np

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding, Rule, Severity

RULE = Rule("mixed-gauges", Severity.WARNING, "Different gauges in parallel")


def check(facts: Facts) -> Iterator[Finding]:
    """One finding for each set of parallel paths with more than one gauge."""
    gauges = {c.id: c.gauge for c in facts.harness.conductors}
    seen: set[frozenset[str]] = set()
    for case_id, each in facts.spread.items():
        for spread in each:
            names = spread.solution.network.edge_ids
            sets: dict[int, dict[int, list[str]]] = {}
            for k in np.flatnonzero(spread.paths > 0).tolist():
                if names[k] in gauges:
                    paths = sets.setdefault(int(spread.set_number[k]), {})
                    paths.setdefault(int(spread.path[k]), []).append(names[k])
            for paths in sets.values():
                members = [name for path in paths.values() for name in path]
                kinds = {tuple(sorted(str(gauges[name]) for name in path)) for path in paths.values()}
                if any(gauges[name] is None for name in members) or len(kinds) < 2:
                    continue
                if frozenset(members) in seen:
                    continue
                seen.add(frozenset(members))
                listed = ", ".join(f"{name} {gauges[name]}" for name in sorted(members, key=list(gauges).index))
                thinnest = min(members, key=lambda name: _area_mm2(facts, name))
                yield RULE.finding(
                    facts.harness.by_id[thinnest].subject,
                    f"Conductors in parallel differ in gauge: {listed}.",
                    "Use one gauge for all conductors of a parallel set.",
                    case=case_id,
                )


def _area_mm2(facts: Facts, name: str) -> float:
    gauge = next(c.gauge for c in facts.harness.conductors if c.id == name)
    return gauge.area_mm2 if gauge else np.inf
