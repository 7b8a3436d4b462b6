"""Which wires are crimped into which contacts, and whether the contacts take them.

Several wires in one contact count by the sum of their sections: a crimp closes on all the metal that is in it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from loadloom.graph.model.elements import Conductor, Contact, TwoEnded
from loadloom.graph.model.harness import Harness

ROUNDING = 1e-6
"""Share by which a gauge's area and a range that is stated in another system may differ and still be one size."""

MOST_SHARED_OUT = 12
"""Wires that are shared out over several contacts in every way; of more only the most even way is tried."""

Range = tuple[float, float] | None
"""Least and greatest section in mm² that a contact takes; None = not stated."""


@dataclass(frozen=True, slots=True)
class Crimp:
    """Wires that end at one joint, and the contacts of one connector that they are crimped into there.

    ``perhaps``: a part that is no splice has a terminal there as well, so that some may end at that instead.
    """

    contacts: tuple[Contact, ...]
    wires: tuple[Conductor, ...]
    perhaps: bool = False

    @property
    def shared(self) -> bool:
        """Whether some contact has to take several wires."""
        return len(self.wires) > len(self.contacts)


def crimps_of(harness: Harness, word: str | None = None) -> Iterator[Crimp]:
    """Every crimp in the harness as it is in an arrangement (None = as drawn); parts that are not fitted left out.

    Where something else has a terminal at the joint (a device, a load, an output, a splice), several wires may end
    there instead: then each is taken to have a contact to itself, and but for a splice all together as ``perhaps``.
    """
    contacts, wires = _at_joints(harness, word)
    terminals, spliced = _terminals(harness), {splice.node for splice in harness.splices}
    for node, here in contacts.items():
        ending = wires.get(node, [])
        if not ending or len({contact.connector for contact in here}) > 1:
            continue  # a joint of several connectors is a bus: no wire is crimped there
        if node in terminals:
            yield from (Crimp(tuple(here), (wire,)) for wire in ending)
            if node not in spliced and len(ending) > len(here):
                yield Crimp(tuple(here), tuple(ending), perhaps=True)
        else:
            yield Crimp(tuple(here), tuple(ending))


def bus_joints(
    harness: Harness, word: str | None = None
) -> Iterator[tuple[tuple[Contact, ...], tuple[Conductor, ...]]]:
    """Joints at which contacts of several connectors and wires meet: each is a bus, no wire is crimped there."""
    contacts, wires = _at_joints(harness, word)
    for node, here in contacts.items():
        if node in wires and len({contact.connector for contact in here}) > 1:
            yield tuple(here), tuple(wires[node])


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
    """Whether a crimp range (least, greatest) takes a conductor of this area, or several of this sum."""
    least, most = range_mm2
    return least * (1.0 - ROUNDING) <= area_mm2 <= most * (1.0 + ROUNDING)


def can_share(areas_mm2: Iterable[float], ranges: Sequence[Range]) -> bool:
    """Whether wires can be shared out over contacts so that each takes the sum of what is in it.

    A contact without a range takes anything, and none stays empty. Of more than ``MOST_SHARED_OUT`` wires only
    the way is tried that puts the thickest left into the contact with the most room.
    """
    areas = sorted(areas_mm2, reverse=True)
    every_way = len(areas) <= MOST_SHARED_OUT

    def share(k: int, sums: tuple[float, ...]) -> bool:
        if k == len(areas):
            return all(total > 0.0 and (limits is None or takes(limits, total)) for limits, total in room(sums))
        order = sorted(range(len(sums)), key=lambda n: sums[n] - _most(ranges[n]))
        seen = set()
        for n in order if every_way else order[:1]:
            total = sums[n] + areas[k]
            if (sums[n], ranges[n]) in seen or total > _most(ranges[n]) * (1.0 + ROUNDING):
                continue
            seen.add((sums[n], ranges[n]))
            if share(k + 1, (*sums[:n], total, *sums[n + 1 :])):
                return True
        return False

    def room(sums: tuple[float, ...]) -> Iterable[tuple[Range, float]]:
        return zip(ranges, sums, strict=True)

    return share(0, (0.0,) * len(ranges))


def _most(limits: Range) -> float:
    return float("inf") if limits is None else limits[1]


def _at_joints(harness: Harness, word: str | None) -> tuple[dict[str, list[Contact]], dict[str, list[Conductor]]]:
    """Fitted contacts, and fitted wires that can be crimped, by the joints they end at in an arrangement."""
    contacts: dict[str, list[Contact]] = {}
    for drawn in harness.contacts:
        contact = drawn.under(word)
        if contact.fitted:
            for node in dict.fromkeys((contact.node_a, contact.node_b)):
                contacts.setdefault(node, []).append(contact)
    wires: dict[str, list[Conductor]] = {}
    for conductor in harness.conductors:
        wire = conductor.under(word)
        if wire.fitted and wire.track is None:  # a track is soldered
            for node in dict.fromkeys((wire.node_a, wire.node_b)):
                wires.setdefault(node, []).append(wire)
    return contacts, wires


def _terminals(harness: Harness) -> set[str]:
    """Joints at which a part that is neither conductor nor contact has a terminal."""
    found = {node for part in (*harness.devices, *harness.switches, *harness.diodes) for node in _ends(part)}
    found |= {node for load in harness.loads for node in (load.node_plus, load.node_minus)}
    found |= {node for output in harness.outputs for node in (output.node_plus, output.node_minus)}
    return found | {splice.node for splice in harness.splices}


def _ends(part: TwoEnded) -> tuple[str, str]:
    return part.node_a, part.node_b
