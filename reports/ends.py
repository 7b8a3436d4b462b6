"""Joints as a person finds them: connector.pin or a terminal, a splice, or so many wires, and the net's name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import Results

MOST_NAMED = 2
"""Terminals on one net that its name names; more are counted."""


def ends(results: Results) -> Mapping[str, tuple[str, str]]:
    """Both ends of every conductor, by its id. One joint has one name, whichever conductor ends at it."""
    named = joints(results)
    return {row.id: (named[row.from_id], named[row.to_id]) for row in results.conductors}


def joints(results: Results) -> Mapping[str, str]:
    """What every joint is called, by its id.

    A joint that bears the name of a terminal (``@FU1.1``) is that terminal. One that bears the name of the end of a
    conductor is called by its splice or by what else lands there; where only conductors meet, it is a joint of so
    many wires. A net that the drawing names is named behind its terminals.
    """
    contacts: dict[str, list[str]] = defaultdict(list)
    parts: dict[str, list[str]] = defaultdict(list)
    wires: dict[str, set[str]] = defaultdict(set)
    are_contacts = {row.id for row in results.contacts}
    conductors = {row.id for row in results.conductors}
    owners = conductors | {row.cable for row in results.conductors if row.cable}
    poles = {row.id for row in results.outputs} | {row.id for row in results.loads}
    splices = {row.node: row.id for row in results.splices if row.node}
    nodes: set[str] = set(splices)
    for part, a, b in (*results.links, *((row.id, row.from_id, row.to_id) for row in results.conductors)):
        nodes |= {a, b}
        for node, pole in ((a, "+"), (b, "−")):
            if part in conductors:
                wires[node].add(part)
            elif part in are_contacts:
                contacts[node].append(part)
            else:
                parts[node].append(f"{part} {pole}" if part in poles else part)

    def name(node: str) -> str:
        plain = node.removeprefix("@")
        if node.startswith("@") and plain.rpartition(".")[0] not in owners:
            return plain
        found = sorted(contacts.get(node) or parts.get(node, []), key=natural_key)
        if node in splices:
            found = [f"splice {splices[node]}"]
        if node.startswith("@"):
            count = len(wires[node])
            bare = f"joint {plain}, {count} wires" if count > 1 else f"open end {plain}"
            return found[0] if found else bare
        if not found or "/" not in node:
            return plain
        more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
        return f"{', '.join(found[:MOST_NAMED])}{more} ({plain})"

    return {node: name(node) for node in nodes}


def subject_said(subject: str, named: Mapping[str, str]) -> str:
    """What a finding is about, for people: a joint (``@BT1.1``) as ``terminal BT1.1``, or by the name it has.

    ``named``: the names of ``joints``. The results file keeps the id, by which a finding is accepted.
    """
    if not subject.startswith("@"):
        return subject
    plain = subject.removeprefix("@")
    name = named.get(subject, plain)
    return f"terminal {plain}" if name == plain else name


@dataclass(frozen=True, slots=True)
class Joined:
    """Parts that the drawing joins without a wire between them, and the conductors that end at the same joint."""

    joint: str
    parts: tuple[str, ...]
    conductors: tuple[str, ...]


def joined_directly(results: Results) -> tuple[Joined, ...]:
    """Joints at which two parts or more meet without a wire: of no resistance in the solve, and of no rating.

    The contacts of one connector count as one part.
    """
    conductors = {row.id for row in results.conductors}
    connectors = {row.id: row.connector for row in results.contacts}
    poles = {row.id for row in results.outputs} | {row.id for row in results.loads}
    parts: dict[str, dict[str, str]] = defaultdict(dict)
    wires: dict[str, dict[str, None]] = defaultdict(dict)
    for part, a, b in results.links:
        for node, pole in ((a, "+"), (b, "−")):
            if part in conductors:
                wires[node][part] = None
            else:
                said = f"{part} {pole}" if part in poles else part
                parts[node].setdefault(connectors.get(part, said), said)
    named = joints(results)
    found = [
        Joined(
            subject_said(node, named),
            tuple(sorted(there.values(), key=natural_key)),
            tuple(sorted(wires.get(node, ()), key=natural_key)),
        )
        for node, there in parts.items()
        if len(there) > 1
    ]
    return tuple(sorted(found, key=lambda joined: natural_key(joined.joint)))
