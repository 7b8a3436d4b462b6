"""Contactors that can never pull in: what feeds their coils passes through their own contacts alone.

All contactors begin open. One closes as soon as its coil has a feed and a return through what is closed by
then, and so may those whose coils it feeds, converters included. A switch worked by hand counts as closed, also
where it is drawn open: a start button beside a contact that holds its own coil.
"""

from __future__ import annotations

from dataclasses import replace

from loadloom.graph.model.elements import Load
from loadloom.graph.model.harness import Harness
from loadloom.graph.structure.topology import Topology, topology

COIL = ".COIL"
"""The end of the id of a load that is a contactor's coil; what stands before it is the contactor."""


def coils_never_fed(harness: Harness) -> tuple[Load, ...]:
    """The coils that no order of closing ever feeds."""
    coils = {load.id.removesuffix(COIL): load for load in harness.loads if load.fitted and load.id.endswith(COIL)}
    inputs = {load.id: load for load in harness.loads}
    converters = {converter.output_id: inputs[converter.load_id] for converter in harness.converters}
    while coils:
        copper = topology(
            replace(
                harness,
                switches=tuple(s for s in harness.switches if s.part not in coils),
                outputs=tuple(o for o in harness.outputs if o.id not in converters),
            )
        )
        waiting = (len(coils), len(converters))
        coils = {name: coil for name, coil in coils.items() if not _is_fed(coil, copper)}
        converters = {name: load for name, load in converters.items() if not _is_fed(load, copper)}
        if (len(coils), len(converters)) == waiting:
            break
    return tuple(coils.values())


def _is_fed(load: Load, copper: Topology) -> bool:
    """Whichever way round it is drawn: a coil works both ways, and of a load the polarity is told elsewhere."""
    ends = (load.node_plus, load.node_minus)
    return bool(copper.fed_by(*ends) or copper.fed_by(*ends[::-1]))
