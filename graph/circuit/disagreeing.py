"""Whether outputs of other voltages are joined through 0 Ω, so that no current satisfies them."""

from __future__ import annotations

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.unit_flows import Branches


def outputs_disagree(nodes: int, branches: Branches) -> bool:
    """Whether voltages in a loop of 0 Ω do not add up to zero; not where a diode may block one of them.

    All currents of such copper rest on the placeholder that ``solve`` gives these outputs.
    """
    b = branches
    ends = b.a[b.edge_count :]
    conflict = Circuit(nodes, b.a, b.b, b.resistance_ohm, b.emf_v, ends).conflict
    return bool(conflict.any()) and not bool(conflict[b.diode].any())
