"""What the answer of the fault search rests on: one sentence each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from loadloom.graph.faults.budgets import LARGEST_PIECE, POWERS_EVERYWHERE, SAID
from loadloom.graph.faults.worst_faults import WorstFaults
from loadloom.graph.model.elements import DeviceKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.naming import all_of
from loadloom.graph.model.settings import Case


def fault_assumptions(harness: Harness, cases: Sequence[Case], worst: Iterable[WorstFaults]) -> tuple[str, ...]:
    """The sentences for what was found in all arrangements."""
    said = []
    found = list(worst)
    if any(each.too_large for each in found):
        said.append(
            f"Faults are not searched where more than {LARGEST_PIECE} joints and contact sides are connected and "
            "outputs or diodes feed them from several sides."
        )
    bounded = {name for each in found for name in each.bounded}
    if bounded:
        said.append(
            f"For {len(bounded)} conductors and contacts the sustained fault current is a bound on the safe side: "
            "the loops hold more devices, diodes or parts that hold their current than every state is tried of."
        )
    said += [SAID[name] for name in sorted({name for each in found for name in each.cut_short})]
    parts = [each for every in found for each in every.radial.values()]
    if parts:
        bounds = sum(1 for each in parts if not each.radial.exact[each.part])
        said.append(
            f"Faults of {len(parts)} conductors and contacts are answered in closed form; for {bounds} of them the "
            "sustained fault current is a bound on the safe side, and combined overload current may be one."
        )
    if any(len(r.piece.tree.node_chain) > POWERS_EVERYWHERE for every in found for r in every.radials):
        said.append("The power of a fault is given at the loads only: the harness is large.")
    either_way = {name for each in found for name in each.either_way}
    limiters = [d.id for d in harness.devices if d.id in either_way and d.kind is DeviceKind.LIMITER and d.active]
    if limiters:
        said.append(
            f"{all_of(limiters)}: faults can drive a current from the load side back to the source side. It is "
            "taken to act on that as on a current forwards. Many electronic limiters do not: their data sheet must "
            "say it, or a fuse belongs in series (fuses, breakers and resettable fuses act either way)."
        )
    loads = [load.under(case.state) for case in cases for load in harness.loads]
    power = [load for load in loads if load.demand_kind.value == "power"]
    if any(load.minimum_v for load in power):
        said.append(
            "In the fault search a load of constant power draws up to its power at the lowest voltage that a fault "
            "leaves at it, and nothing below its minimum voltage, or that of the case where it is lower."
        )
    if any(not load.minimum_v for load in power):
        said.append(
            "In the fault search a load of constant power with no minimum voltage draws whatever current gives its "
            "power at the lowest voltage that a fault leaves at it."
        )
    if any(load.duration_s is not None for load in loads):
        said.append(
            "In the fault search a load in a state with a duration counts with its root mean square, and at least "
            "with its current outside that state."
        )
    return tuple(said)


def outputs_disagree(outputs: Sequence[str]) -> str:
    """What is said of the outputs of copper in which some disagree through 0 Ω."""
    return (
        f"{all_of(outputs)} feed copper in which outputs of other voltages are joined through 0 Ω: what it carries "
        "rests on placeholders. What other resistances and voltages within their bands put on a part is not sought "
        "there, and its devices have no setting range."
    )


def shared_in_meshes(parts: int) -> str:
    """What is said of so many parts of meshes of copper whose resistances have a band."""
    return (
        f"{parts} conductors, contacts and switches lie in meshes of copper. They are held against a fault with "
        "some "
        "of the ways at their least and the others at their greatest resistance; another mixture may put more "
        "on one."
    )
