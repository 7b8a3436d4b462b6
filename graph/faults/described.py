"""A fault in one sentence."""

from __future__ import annotations

from loadloom.graph.circuit.network import CHASSIS_NODE
from loadloom.graph.model.figures import figures, quantity
from loadloom.graph.model.naming import place_said
from loadloom.graph.model.results import FaultRow


def described(row: FaultRow, drawing: int, *, exact: bool = True, fed_by_loads: bool = False) -> str:
    """The sentence of a fault, with ``drawing`` loads beside it, which feed it where it is ``fed_by_loads``.
    ``exact`` false: its worst part carries at most what is said.
    """
    at, to = place_said(row.at), place_said(row.to)
    what = {
        "load": f"in place of load {at}",
        "contacts": f"between contacts {at}",
        "chassis": f"from {to if row.at == CHASSIS_NODE else at} to the chassis",
        "pinch": f"from {at} to {to}",
        "wires": f"from {at} onto {to}",
        "source": f"inside output {at}",
    }[row.kind]
    fault = f"A fault of {figures(row.fault_resistance_ohm)} Ω" if row.fault_resistance_ohm else "A short circuit"
    holder = "only the resistance of the copper limits the current"
    if row.held_by:
        holder = f"{row.held_by} stays just below tripping"
    if fed_by_loads:
        holder = "loads feed it, and nothing opens"
    with_loads = f", {drawing} load{'s' if drawing != 1 else ''} drawing" if drawing else ", all other loads off"
    against = f" of {quantity(row.worst_allowed_a, 'A')} allowed" if row.worst_allowed_a is not None else ""
    after = f" with {', '.join(row.opened)} open already" if row.opened else ""
    at_most = "" if exact else "at most "
    return (
        f"{fault} {what}{after} takes {quantity(row.fault_current_a, 'A')} and {quantity(row.fault_power_w, 'W')}"
        f"{with_loads}; {holder}; {row.worst} carries {at_most}{quantity(row.worst_current_a, 'A')}{against}."
    )
