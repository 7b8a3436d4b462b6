"""Switches that join outputs and need not be closed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import networkx as nx

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.sizing.judging import OF_CONDUCTORS, checked, errors

JOINING = ("back-feed", "outputs-joined")
"""The rules that a switch left closed can be to blame for."""

MENDED_LATER = frozenset(OF_CONDUCTORS) - {"voltage-low"}
"""Rules whose findings may come up with a switch open: sizes and devices answer for them afterwards."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A closed switch that is proposed to be open, with what that mends."""

    id: str
    mends: tuple[str, ...]
    reason: str


def find_openings(
    facts: Facts, gather: Callable[[Harness], Facts], together: Sequence[frozenset[str]] = ()
) -> tuple[tuple[Opening, ...], Facts]:
    """Switches on a path from one output to another whose opening mends a finding of joined outputs and raises no
    error that sizes and devices don't answer for: every load stays fed. With them the facts of the harness so.

    ``together``: sets of ids that share a field of the drawing.
    """
    found: list[Opening] = []
    if not facts.faults.joined:
        return (), facts
    before = checked(facts, JOINING)
    done: set[str] = set()
    closed = {switch.id for switch in facts.harness.switches if switch.fitted}
    for name in _between_outputs(facts.harness):
        if name in done:
            continue
        alike = next((sorted(names & closed) for names in together if name in names), [name])
        done.update(alike)
        trial = gather(with_open(facts.harness, alike))
        after = checked(trial, JOINING)
        gone = {_words(f) for f in before} - {_words(f) for f in after}
        new = {rule for rule, _ in errors(trial) - errors(facts)}
        if gone and new <= MENDED_LATER:
            rules = tuple(sorted({rule for rule, _, _ in gone}))
            reason = "it joins outputs; with it open every load stays fed"
            found += [Opening(each, rules, reason) for each in alike]
            facts, before = trial, after
    return tuple(found), facts


def with_open(harness: Harness, names: Iterable[str]) -> Harness:
    """The harness with these switches open in every arrangement."""
    chosen = set(names)
    switches = tuple(
        replace(
            s,
            fitted=False,
            by_word={w: {k: v for k, v in values.items() if k != "fitted"} for w, values in s.by_word.items()},
        )
        if s.id in chosen
        else s
        for s in harness.switches
    )
    return replace(harness, switches=switches)


def _words(finding: Finding) -> tuple[str, str, bool]:
    """What tells a finding apart: outputs that stay joined through diodes are no longer fed backwards."""
    return finding.rule, finding.subject.id, "none can be fed backwards" in finding.message


def _between_outputs(harness: Harness) -> list[str]:
    """Closed switches in a ring with more than one output, or beside a part that is."""
    g: nx.Graph = nx.Graph()
    outputs = {o.id: o for o in harness.outputs if o.fitted}
    for part in harness.two_ended:
        if part.fitted:
            g.add_edge(part.node_a, part.node_b)
    for output in outputs.values():
        g.add_edge(output.node_plus, output.node_minus)
    found = []
    for block in nx.biconnected_components(g):
        inside = [o for o in outputs.values() if {o.node_plus, o.node_minus} <= block]
        if len(inside) > 1:
            found += [s.id for s in harness.switches if s.fitted and {s.node_a, s.node_b} <= block]
    return found
