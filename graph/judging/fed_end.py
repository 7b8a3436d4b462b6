"""From which end a conductor or contact is fed, and what stands there: where a device has to sit to protect it."""

from __future__ import annotations

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Conductor, Contact, Device, TwoEnded
from loadloom.graph.model.naming import natural_key
from loadloom.graph.model.results import FaultRow
from loadloom.graph.structure.topology import part_role

MIDDLE = 0.5


def fed_end(facts: Facts, part: TwoEnded, fault: FaultRow | None) -> str | None:
    """The joint at which a fault's current comes into a part, or leaves a return; None where that is not told.

    An end that is joined to no output without the part is not it. Where both ends are, as between a battery and its
    charger, a fault on the part itself tells: one at its beginning is fed from its end.
    """
    ends = (part.node_a, part.node_b)
    reached = [here for here, far in (ends, ends[::-1]) if facts.output_sides.reached_without(far, here)]
    if len(reached) == 1:
        return reached[0]
    name, _, share = (fault.at if fault is not None else "").rpartition(":")
    if name != part.id or float(share) == MIDDLE:
        return None
    return part.node_b if float(share) < MIDDLE else part.node_a


def end_words(facts: Facts, part: TwoEnded, joint: str) -> str:
    """What stands at an end of a part, as a person finds it: a terminal, a contact, a net, or the next part."""
    plain = joint.removeprefix("@")
    owner = facts.harness.by_id.get(plain.rpartition(".")[0])
    if not joint.startswith("@") or not (owner is None or isinstance(owner, Conductor)):
        return plain
    there = sorted((e for e in facts.output_sides.ends(joint) if e.id != part.id), key=lambda e: natural_key(e.id))
    contact = next((each.id for each in there if isinstance(each, Contact)), None)
    return contact or (f"the joint with {there[0].id}" if there else plain)


def where_to_guard(facts: Facts, part: TwoEnded, fault: FaultRow | None) -> str:
    """Where a device of its own has to sit: ``at CH4.2, the end from which W3 is fed``."""
    if not isinstance(part, Conductor):
        return f"in line with {part.id}"
    joint = fed_end(facts, part, fault)
    if joint is None:
        return f"at each end of {part.id}, since it is fed from both"
    where = end_words(facts, part, joint)
    if part_role(facts.harness, facts.topology, part) == "return":
        return f"at {where}, the end of {part.id} towards the supply"
    return f"at {where}, the end from which {part.id} is fed"


def in_line(facts: Facts, part: TwoEnded, joint: str) -> tuple[str, ...]:
    """The devices, and the output if one is reached, in one line with an end of a part, no branch between."""
    found: list[str] = []
    harness = facts.harness
    tapped = {node for load in harness.loads for node in (load.node_plus, load.node_minus)}
    tapped |= {bond.node for bond in harness.chassis}
    here, last = joint, part
    seen = {here}
    while here not in tapped:
        on = [each for each in facts.output_sides.ends(here) if each.id != last.id]
        outputs = [output.id for output in harness.outputs if here in (output.node_plus, output.node_minus)]
        if outputs:
            return (*found, *(outputs if len(outputs) == 1 and not on else ()))
        if len(on) != 1:
            break
        last = on[0]
        here = last.node_b if last.node_a == here else last.node_a
        if isinstance(last, Device):
            found.append(last.id)
        if here in seen:
            break
        seen.add(here)
    return tuple(found)
