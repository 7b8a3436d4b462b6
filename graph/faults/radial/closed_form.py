"""Let-through and exposure of a radial piece in closed form, in time that grows with its size and no faster.

On the way out, a fault can stand directly behind every part, against the return terminal; so a bridge's
let-through is the least T on its way from the output, at most the dead short there, whatever the loads draw. In a
block, one point takes the most of a part's share of that (``tree``, ``path_out``). On the return a
fault has to come from somewhere: from the places that land behind the part, each bounded by the devices on its own
way, with the loads that land there too drawing beside it (``returns``, ``return_parts``).

What is exact and what is a bound: every number has one below it that a state with everything holding reaches;
where the two meet the number is exact, else it is a bound on the safe side (``Radial.exact``). They can differ
where loads of constant power or resistance draw beside a fault (taken at the most they could ever draw), where
copper and not a device holds a fault down while other loads draw on the same return, inside meshes, where a fault
can land inside a set of parallel returns, and around devices in loops and in returns.
"""

from __future__ import annotations

from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.across_outputs import answer_across_outputs
from loadloom.graph.faults.radial.device_bounds import bound_around_devices
from loadloom.graph.faults.radial.lands_on_return import Landing, find_landing
from loadloom.graph.faults.radial.limits import RadialLimits
from loadloom.graph.faults.radial.loads_beside import LoadsBeside
from loadloom.graph.faults.radial.meshes import answer_mesh
from loadloom.graph.faults.radial.part_answers import PartAnswers
from loadloom.graph.faults.radial.path_out import answer_way_out
from loadloom.graph.faults.radial.return_parts import answer_returns


class Radial(PartAnswers):
    """The answer for a radial piece, with what lands on its return and the loads beside each fault."""

    def __init__(self, geometry: PieceGeometry) -> None:
        super().__init__(geometry)
        limits = RadialLimits(self.piece)
        answer_way_out(self, limits)
        self.landing: Landing | None = find_landing(self.piece, limits)
        answer_returns(self, limits, self.landing)
        for block in self.piece.tree.dense:
            answer_mesh(self, limits, self.landing, block)
        answer_across_outputs(self, limits)
        bound_around_devices(self)
        self.loads_beside = LoadsBeside(self, self.landing)
