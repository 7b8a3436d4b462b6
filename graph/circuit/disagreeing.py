"""Whether outputs of other voltages are joined through 0 Ω, so that no current satisfies them."""

from __future__ import annotations

import numpy as np

from loadloom.graph.circuit.linear_circuit import Circuit
from loadloom.graph.circuit.unit_flows import Branches


def outputs_disagree(nodes: int, branches: Branches) -> bool:
    """Whether voltages in a loop of 0 Ω without a diode do not add up to zero; a diode of any drop may block.

    All currents of such copper rest on the placeholder that ``solve`` gives these outputs.
    """
    b = branches
    ends = b.a[b.edge_count :]
    blocked_ohm = np.where(b.diode, np.inf, b.resistance_ohm)
    return bool(Circuit(nodes, b.a, b.b, blocked_ohm, b.emf_v, ends).conflict.any())
