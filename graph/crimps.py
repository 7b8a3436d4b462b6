"""Which contacts a wire is crimped into, and whether they take it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from loadloom.graph.elements import Conductor, Contact
from loadloom.graph.harness import Harness

ROUNDING = 1e-6
"""Share by which a gauge's area and a range that is stated in another system may differ and still be one size."""


def crimped(harness: Harness, wires: Iterable[Conductor]) -> Iterator[Contact]:
    """The contacts that wires are crimped into: those at their ends, but for a joint of several connectors, which
    is a bus: no wire is crimped into contacts of more than one.
    """
    nodes = {node for wire in wires for node in (wire.node_a, wire.node_b)}
    at: dict[str, set[str]] = {}
    for contact in harness.contacts:
        for node in nodes & {contact.node_a, contact.node_b}:
            at.setdefault(node, set()).add(contact.connector)
    single = {node for node, names in at.items() if len(names) == 1}
    return (c for c in harness.contacts if single & {c.node_a, c.node_b})


def takes(range_mm2: tuple[float, float], area_mm2: float) -> bool:
    """Whether a crimp range (least, greatest) takes a conductor of this area."""
    least, most = range_mm2
    return least * (1.0 - ROUNDING) <= area_mm2 <= most * (1.0 + ROUNDING)
