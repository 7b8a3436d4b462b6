"""Which devices satisfy the overload band of a conductor (IEC 60364-4-43 433.1).

A conductor may carry somewhat more than it is allowed where a device is rated for no more than that, In ≤ Iz, and
is certain to open at no more than 1.45 times that, I2 ≤ 1.45·Iz (value from memory). Two ways lead there:

* in series, **any one** device that carries the conductor's whole current and satisfies both by itself, whichever
  device holds the worst fault;
* by feeds in parallel, the devices that **together** cut the conductor off, with their sums: ΣIn ≤ Iz and
  ΣI2 ≤ 1.45·Iz. Sought as the least cut with the greater of both shares as capacity (a device counts with its worse
  share, the safe side).

What a device does not see it does not protect: the holder of the worst fault has to be one of these devices, or to
feed the conductor through them. A part that limits without ever opening counts with all that it gives continuously.
The band speaks of insulated conductors only, so contacts, splices, switches and diodes have none.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import networkx as nx

from loadloom.graph.devices import Threshold
from loadloom.graph.elements import Conductor, Device, Diode
from loadloom.graph.faults.sustained_fault import SAME
from loadloom.graph.harness import Harness

SOURCE, DRAIN, CHASSIS = "«source»", "«drain»", "«chassis»"

NEAR = 1e-6
"""Share within which a device stands at its limit in a worst fault that names another one as the holder."""

NONE: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class _Link:
    """A way for current from one joint to another, with the part that it is of and the device that can cut it."""

    start: str
    end: str
    part: str
    device: str = ""
    is_load: bool = False


@dataclass(frozen=True, slots=True)
class BandCover:
    """Devices that satisfy the band: their summed ratings as the conductor sees them, and the slowest in s."""

    devices: tuple[str, ...]
    at_rating_a: float
    tripping_within_s: float | None


@dataclass(frozen=True, slots=True)
class WorstFault:
    """What is known of a conductor's worst fault: its current in A, the device that holds it, what that device
    holds in A, and that device's current per ampere in the conductor.
    """

    value_a: float
    held_by: str
    held_a: float
    ratio: float


class BandCovers:
    """The devices of one arrangement and how they feed the conductors."""

    def __init__(self, harness: Harness, word: str | None, thresholds: Mapping[str, Threshold]) -> None:
        self._parts = {e.id: e for e in (part.under(word) for part in harness.two_ended) if e.fitted}
        self._outputs = {o.id: o for o in (output.under(word) for output in harness.outputs) if o.fitted}
        self._loads = [load for load in harness.loads if load.fitted]
        self._bonds = [bond.node for bond in harness.chassis]
        acting = {name: t for name, t in thresholds.items() if math.isfinite(t.held_a) and not t.assumed}
        self._rated = {
            name: rated_a for name in acting if (rated_a := self._rating_a(name, acting[name])) is not None
        }
        self._limits = acting

    def cover(self, name: str, allowed_a: float, band: float, worst: WorstFault) -> BandCover | None:
        """The devices that satisfy the band of a conductor; None where none do."""
        conductor = self._parts.get(name)
        if not isinstance(conductor, Conductor) or worst.value_a > band * allowed_a * (1.0 + SAME):
            return None
        if worst.held_by not in self._rated:
            return None
        ways = list(self._ways(conductor))
        through_holder = self._feeds(worst.held_by, conductor)
        for device in sorted(self._rated, key=lambda d: d != worst.held_by):
            rated_a, tripping_a = self._rated[device], self._limits[device].held_a
            if through_holder or device == worst.held_by:
                # Both carry the same current, of which the conductor may have a share only.
                rated_a = worst.value_a - (worst.held_a - rated_a) / worst.ratio
                tripping_a = worst.value_a + (tripping_a - worst.held_a) / worst.ratio
            elif not math.isclose(worst.value_a, tripping_a, rel_tol=NEAR):
                continue  # the worst fault reaches the conductor past this device
            enough = rated_a <= allowed_a * (1.0 + SAME) and tripping_a <= band * allowed_a * (1.0 + SAME)
            if enough and self._carries_all(device, ways, conductor):
                return BandCover((device,), max(rated_a, 0.0), self._limits[device].tripping_within_s)
        return self._together(ways, conductor, allowed_a, band, worst)

    def _rating_a(self, name: str, limits: Threshold) -> float | None:
        if not limits.opens:
            return limits.held_a
        if name in self._outputs:
            return self._outputs[name].limit_a
        device = self._parts.get(name)
        return device.setting_a if isinstance(device, Device) else None

    def _carries_all(self, device: str, ways: list[str], conductor: Conductor) -> bool:
        """Whether a device carries all of a conductor's current."""
        out = frozenset((device,))
        return bool(ways) and not any(entry in self._reached(SOURCE, conductor.id, out) for entry in ways)

    def _together(
        self, ways: list[str], conductor: Conductor, allowed_a: float, band: float, worst: WorstFault
    ) -> BandCover | None:
        found: BandCover | None = None
        for entry in ways:
            graph: nx.DiGraph = nx.DiGraph()
            graph.add_nodes_from((SOURCE, entry))
            for link in self._links:
                if link.part == conductor.id:
                    continue
                if link.device in self._rated:
                    share = max(self._rated[link.device], self._limits[link.device].held_a / band) / allowed_a
                    graph.add_edge(link.start, link.end, device=link.device, capacity=share)
                else:
                    graph.add_edge(link.start, link.end)
            try:
                flow, (near, _) = nx.minimum_cut(graph, SOURCE, entry)
            except nx.NetworkXUnbounded:
                return None
            cut = tuple(
                dict.fromkeys(
                    data["device"]
                    for a, b, data in graph.edges(data=True)
                    if a in near and b not in near and "device" in data
                )
            )
            if flow > 1.0 + SAME or worst.held_by not in cut:
                return None
            slowest = [self._limits[device].tripping_within_s for device in cut]
            within_s = None if None in slowest else max(s for s in slowest if s is not None)
            here = BandCover(cut, sum(self._rated[device] for device in cut), within_s)
            if found is None or here.at_rating_a > found.at_rating_a:
                found = here
        return found

    def _ways(self, conductor: Conductor) -> Iterator[str]:
        """Each end of the conductor at which current can enter to leave by the other: there is a feed to the one
        without the conductor, and a return or a load or fault from the other.
        """
        name = conductor.id
        entered = self._reached(SOURCE, name)
        fed = self._reached(SOURCE, name, loads=False)
        for entry, leaving in ((conductor.node_a, conductor.node_b), (conductor.node_b, conductor.node_a)):
            if entry not in entered:
                continue
            if entry in fed or leaving in fed or DRAIN in self._reached(leaving, name, loads=False):
                yield entry

    def _feeds(self, device: str, conductor: Conductor) -> bool:
        """Whether what passes a device goes on to the conductor, through other devices and loads if need be."""
        output = self._outputs.get(device)
        start = output.node_plus if output is not None else self._parts[device].node_b
        reached = self._reached(start, None, frozenset((device,)))
        return conductor.node_a in reached or conductor.node_b in reached

    def _reached(
        self, start: str, left_out: str | None, open_devices: frozenset[str] = NONE, *, loads: bool = True
    ) -> set[str]:
        """What current can reach from a joint without a part and without some devices, through loads or not."""
        known, waiting = {start}, [start]
        while waiting:
            for link in self._from.get(waiting.pop(), ()):
                if link.end in known or link.part == left_out or link.device in open_devices:
                    continue
                if link.is_load and not loads:
                    continue
                known.add(link.end)
                waiting.append(link.end)
        return known

    @cached_property
    def _from(self) -> Mapping[str, list[_Link]]:
        found: dict[str, list[_Link]] = defaultdict(list)
        for link in self._links:
            found[link.start].append(link)
        return found

    @cached_property
    def _links(self) -> list[_Link]:
        """Copper both ways, diodes and loads one way, outputs from the one source."""
        made: list[_Link] = []
        for part in self._parts.values():
            # A node of its own in the middle keeps parts side by side apart.
            device = part.id if isinstance(part, Device) else ""
            middle = f"«{part.id}»"
            made += [_Link(part.node_a, middle, part.id), _Link(middle, part.node_b, part.id, device)]
            if not isinstance(part, Diode):
                back = f"«{part.id} back»"
                made += [_Link(part.node_b, back, part.id, device), _Link(back, part.node_a, part.id, device)]
        made += [_Link(load.node_plus, load.node_minus, load.id, is_load=True) for load in self._loads]
        for name, output in self._outputs.items():
            inside = f"«{name}»"
            made += [_Link(SOURCE, inside, name, name), _Link(inside, output.node_plus, name)]
            made.append(_Link(output.node_minus, DRAIN, name))
        for bond in self._bonds:
            made += [_Link(bond, CHASSIS, ""), _Link(CHASSIS, bond, "")]
        return made
