"""The ends of a conductor as a person finds them: connector.pin or a terminal, with the net's name beside it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from loadloom.graph.naming import natural_key
from loadloom.graph.results import Results

MOST_NAMED = 2
"""Terminals on one net that its end names; more are counted."""


def ends(results: Results) -> Mapping[str, tuple[str, str]]:
    """Both ends of every conductor, by its id.

    A joint that bears the name of a terminal (``@FU1.1``) is that terminal, unless it is one of another conductor:
    then what else lands there is named. A net that the drawing names is named behind its terminals.
    """
    contacts: dict[str, list[str]] = defaultdict(list)
    parts: dict[str, list[str]] = defaultdict(list)
    are_contacts = {row.id for row in results.contacts}
    conductors = {row.id for row in results.conductors}
    owners = conductors | {row.cable for row in results.conductors if row.cable}
    poles = {row.id for row in results.outputs} | {row.id for row in results.loads}
    for part, a, b in results.links:
        if part in conductors:
            continue
        for node, pole in ((a, "+"), (b, "−")):
            if part in are_contacts:
                contacts[node].append(part)
            else:
                parts[node].append(f"{part} {pole}" if part in poles else part)

    def name(node: str) -> str:
        plain = node.removeprefix("@")
        if node.startswith("@") and plain.rpartition(".")[0] not in owners:
            return plain
        found = sorted(contacts.get(node) or parts.get(node, []), key=natural_key)
        if not found or "/" not in node:
            return found[0] if found and node.startswith("@") else plain
        more = f" and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
        return f"{', '.join(found[:MOST_NAMED])}{more} ({plain})"

    return {row.id: (name(row.from_id), name(row.to_id)) for row in results.conductors}
