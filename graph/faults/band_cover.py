"""Which devices satisfy the overload band of a conductor (IEC 60364-4-43 433.1).

A conductor may carry somewhat more than it is allowed where a device is rated for no more than that, In ≤ Iz, and
is certain to open at no more than 1.45 times that, I2 ≤ 1.45·Iz (value from memory). Two ways lead there:

* in series, **any one** device that carries the conductor's whole current and satisfies both by itself, whichever
  device holds the worst fault;
* by feeds in parallel, the devices that **together** cut the conductor off, with their sums: ΣIn ≤ Iz and
  ΣI2 ≤ 1.45·Iz. Sought as the least cut with the greater of both shares as capacity (a device counts with its worse
  share, the safe side).

What a device does not see it does not protect: the holder of the worst fault has to be one of these devices, or to
feed the conductor through them. A fault brings current into a return from wherever the drawing lets it touch, past
every device that stands between the two along the copper, so that it is a way in like any other. A part that limits
without ever opening counts with all that it gives continuously. The band speaks of insulated conductors only, so
contacts, splices, switches and diodes have none.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import networkx as nx
import numpy as np

from loadloom.graph.circuit.hanging import hang_together
from loadloom.graph.circuit.network import CHASSIS_NODE, LOAD_STATE, IntArray, Network, compile_network
from loadloom.graph.devices.device_bands import Threshold
from loadloom.graph.faults.budgets import MOST_CUTS
from loadloom.graph.faults.tolerances import NEAR_HELD, SAME
from loadloom.graph.model.elements import Conductor, Device, Diode, Output
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.structure.bodies import conductor_bodies, contact_bodies
from loadloom.graph.structure.rails import find_rails


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
        self._paths = _feed_paths(harness, word)
        parts: tuple[Device | Output, ...] = (*harness.devices, *harness.outputs)
        self._devices = {part.id: part.under(word) for part in parts}
        acting = {name: t for name, t in thresholds.items() if math.isfinite(t.held_a) and not t.assumed}
        self._rated = {
            name: rated_a for name in acting if (rated_a := self._rating_a(name, acting[name])) is not None
        }
        self._limits = acting
        self._cuts = 0
        self.cut_short = False
        """Whether parallel feeds were not sought for all that asked."""

    def cover(self, name: str, allowed_a: float, band: float, worst: WorstFault) -> BandCover | None:
        """The devices that satisfy the band of a conductor; None where none do.

        Current may enter at either end of a conductor; each way in has to be satisfied by itself.
        """
        conductor = self._paths.parts.get(name)
        if not isinstance(conductor, Conductor) or worst.value_a > band * allowed_a * (1.0 + SAME):
            return None
        covers = []
        for entry in self._paths.entries(conductor):
            cover = self._alone(entry, allowed_a, band, worst)
            cover = cover or self._together(conductor, entry, allowed_a, band)
            if cover is None:
                return None
            covers.append(cover)
        if not covers or not self._sees(covers, worst, conductor):
            return None
        devices = tuple(dict.fromkeys(device for cover in covers for device in cover.devices))
        slowest = [cover.tripping_within_s for cover in covers]
        within_s = None if None in slowest else max(s for s in slowest if s is not None)
        return BandCover(devices, max(cover.at_rating_a for cover in covers), within_s)

    def _sees(self, covers: list[BandCover], worst: WorstFault, conductor: Conductor) -> bool:
        """Whether the worst fault reaches the conductor through these devices, and not past them."""
        if any(worst.held_by in cover.devices for cover in covers) or self._paths.feeds(worst.held_by, conductor):
            return True
        held_a = (sum(self._limits[device].held_a for device in cover.devices) for cover in covers)
        return any(math.isclose(worst.value_a, a, rel_tol=NEAR_HELD) for a in held_a)

    def _rating_a(self, name: str, limits: Threshold) -> float | None:
        if not limits.opens:
            return limits.held_a
        device = self._devices[name]
        return device.limit_a if isinstance(device, Output) else device.setting_a

    def _alone(self, entry: str, allowed_a: float, band: float, worst: WorstFault) -> BandCover | None:
        """One device that carries all the current that enters at a joint and satisfies the band by itself."""
        all_through = self._paths.all_through(entry)
        shared = worst.held_by in all_through
        for device in sorted(all_through & self._rated.keys(), key=lambda d: (d != worst.held_by, d)):
            rated_a, tripping_a = self._rated[device], self._limits[device].held_a
            if shared:
                # Both carry the same current, of which the conductor may have a share only.
                rated_a = worst.value_a - (worst.held_a - rated_a) / worst.ratio
                tripping_a = worst.value_a + (tripping_a - worst.held_a) / worst.ratio
            if rated_a <= allowed_a * (1.0 + SAME) and tripping_a <= band * allowed_a * (1.0 + SAME):
                return BandCover((device,), max(rated_a, 0.0), self._limits[device].tripping_within_s)
        return None

    def _together(self, conductor: Conductor, entry: str, allowed_a: float, band: float) -> BandCover | None:
        """Devices that together cut a way in off and satisfy the band with their sums."""
        if self._paths.nothing_between(entry):
            return None
        if self._cuts >= MOST_CUTS:
            self.cut_short = True
            return None
        self._cuts += 1
        graph, joint_of = self._counting(conductor, allowed_a, band)
        try:
            flow, (near, _) = nx.minimum_cut(graph, SOURCE, joint_of[entry])
        except nx.NetworkXUnbounded:
            return None
        if flow > 1.0 + SAME:
            return None
        crossing = (data for a, b, data in graph.edges(data=True) if a in near and b not in near)
        cut = tuple(dict.fromkeys(data["device"] for data in crossing if "device" in data))
        slowest = [self._limits[device].tripping_within_s for device in cut]
        within_s = None if None in slowest else max((s for s in slowest if s is not None), default=None)
        return BandCover(cut, sum(self._rated[device] for device in cut), within_s)

    def _counting(
        self, conductor: Conductor, allowed_a: float, band: float
    ) -> tuple[nx.DiGraph, Mapping[str, str | int]]:
        """The paths to a conductor with what each device counts with, as a share of its allowed current in A; and
        its joint of every joint that is drawn.
        """
        joint_of = self._paths.joined(conductor)
        graph = self._paths.graph(joint_of)
        for _, _, data in graph.edges(data=True):
            device = data.get("device")
            if device in self._rated:
                data["capacity"] = max(self._rated[device], self._limits[device].held_a / band) / allowed_a
        return graph, joint_of

    def sees_all(self, name: str, device: str, allowed_a: float, band: float) -> bool:
        """Whether a device feeds a conductor, and at every way in all that enters runs through it, or through
        another one that satisfies the band by itself.
        """
        conductor = self._paths.parts.get(name)
        entries = list(self._paths.entries(conductor)) if isinstance(conductor, Conductor) else []
        alone = {
            other
            for other, rated_a in self._rated.items()
            if rated_a <= allowed_a and self._limits[other].held_a <= band * allowed_a
        }
        through = (self._paths.all_through(entry) for entry in entries)
        return bool(entries) and self.feeds(name, device) and all({device, *alone} & each for each in through)

    def feeds(self, name: str, device: str) -> bool:
        """Whether what passes a device goes on to a conductor."""
        conductor = self._paths.parts.get(name)
        known = device in self._paths.outputs or device in self._paths.parts
        return known and isinstance(conductor, Conductor) and self._paths.feeds(device, conductor)

    def room_a(self, name: str, device: str, allowed_a: float, band: float) -> float:
        """What a device may count with in A so that it satisfies the band of a conductor with others, by their
        sums: its rating, or what it holds divided by the band. At most 0 where they can't, whatever it counts with.
        """
        conductor = self._paths.parts.get(name)
        if not isinstance(conductor, Conductor):
            return 0.0
        rooms = []
        for entry in self._paths.entries(conductor):
            if self._paths.nothing_between(entry):
                return 0.0
            graph, joint_of = self._counting(conductor, allowed_a, band)
            for _, _, data in graph.edges(data=True):
                if data.get("device") == device:
                    data["capacity"] = 0.0
            try:
                rooms.append((1.0 - nx.minimum_cut_value(graph, SOURCE, joint_of[entry])) * allowed_a)
            except nx.NetworkXUnbounded:
                return 0.0
        return min(rooms, default=0.0)


def _feed_paths(harness: Harness, word: str | None) -> FeedPaths:
    """The paths of a harness, found once for all that its devices are tried at."""
    devices = tuple((d.id, d.node_a, d.node_b, d.fitted) for d in harness.devices)
    outputs = tuple((o.id, o.node_plus, o.node_minus, o.fitted, o.voltage_v) for o in harness.outputs)
    fixed = (harness.conductors, harness.contacts, harness.switches, harness.diodes, harness.loads, harness.chassis)
    key = (word, devices, outputs, tuple(id(each) for each in fixed))
    if key not in _KNOWN:
        while len(_KNOWN) >= KEPT:
            _KNOWN.pop(next(iter(_KNOWN)))
        # The lists are kept as well, so that no other takes their place in memory.
        _KNOWN[key] = (fixed, FeedPaths(harness, word))
    return _KNOWN[key][1]


KEPT = 8
"""Harnesses whose paths are kept; trials of settings ask for the same one many times."""


class FeedPaths:
    """How the parts of a harness feed one another in one arrangement, whatever its devices are set to."""

    def __init__(self, harness: Harness, word: str | None) -> None:
        self.parts = {e.id: e for e in (part.under(word) for part in harness.two_ended) if e.fitted}
        self.outputs = {o.id: o for o in (output.under(word) for output in harness.outputs) if o.fitted}
        self._loads = [load for load in harness.loads if load.fitted]
        self._bonds = [bond.node for bond in harness.chassis]
        self._landings = tuple(_landings(harness, word))
        self._behind: dict[str, Collection[str]] = {}
        self._devices_before: dict[str, frozenset[str]] = {}
        self._no_device_after: dict[str, Collection[str]] = {}

    def nothing_between(self, entry: str) -> bool:
        """Whether a joint is fed past no device from the last one that all its current runs through."""
        node = entry
        while self._from_source.get(node, node) != node:
            node = self._from_source[node]
            if node in self._device_of:
                break
        if node not in self._no_device_after:
            graph, found, edge = self._whole, {node}, [node]
            while edge:
                for following in graph[edge.pop()]:
                    if following not in found and following not in self._device_of:
                        found.add(following)
                        edge.append(following)
            self._no_device_after[node] = found
        return entry in self._no_device_after[node]

    def entries(self, conductor: Conductor) -> Iterator[str]:
        """The ends at which current can enter to leave by the other: there is a feed to the one that does not come
        through the conductor itself, and a return or a load or fault from the other.
        """
        own = _sides(conductor.id)
        for entry, leaving in ((conductor.node_a, conductor.node_b), (conductor.node_b, conductor.node_a)):
            # What stands next to a joint is on every path to it only as the last one before it.
            if entry not in self._from_source or self._from_source[entry] in own:
                continue
            away = leaving in self._to_drain and self._to_drain[leaving] not in own
            if entry in self._fed or leaving in self._fed or away:
                yield entry

    def all_through(self, entry: str) -> frozenset[str]:
        """Devices and outputs that every path from the sources to a joint runs through."""
        above, way = self._from_source, []
        node = entry
        while node not in self._devices_before and above.get(node, node) != node:
            way.append(node)
            node = above[node]
        found = self._devices_before.setdefault(node, frozenset())
        for node in reversed(way):
            device = self._device_of.get(above[node])
            found = found if device is None else found | {device}
            self._devices_before[node] = found
        return found

    @cached_property
    def _whole(self) -> nx.DiGraph:
        """The harness with its returns one way: no current leaves a joint of a return by the part that alone leads
        from there back to an output.
        """
        graph, ends = self.graph(), []
        for part in self.parts.values():
            for side, far in zip(_sides(part.id), (part.node_b, part.node_a), strict=True):
                if far not in self._fed and self._to_drain.get(far) in (None, *_sides(part.id)):
                    ends.append(side)
        graph.remove_nodes_from(ends)
        return graph

    @cached_property
    def _fed(self) -> Collection[str]:
        return _reached(self._both_ways, SOURCE)

    @cached_property
    def _both_ways(self) -> nx.DiGraph:
        return _copper(self.graph())

    @cached_property
    def _from_source(self) -> Mapping[str, str]:
        """By joint or part that is fed: the last one that every path from the sources to it runs through."""
        return _immediate_dominators(self._whole, SOURCE)

    @cached_property
    def _to_drain(self) -> Mapping[str, str]:
        """By joint or part with a copper path back: the first one that every such path runs through."""
        return _immediate_dominators(self._both_ways.reverse(), DRAIN)

    @cached_property
    def _device_of(self) -> Mapping[str, str]:
        devices = (name for name, part in self.parts.items() if isinstance(part, Device))
        return {side: name for name in (*devices, *self.outputs) for side in _sides(name)}

    def feeds(self, device: str, conductor: Conductor) -> bool:
        """Whether what passes a device goes on to the conductor, through other devices and loads if need be."""
        if device not in self._behind:
            graph = _without(self._whole, (device,))
            found: set[str] = set()
            for start in self._leaves_by(device, graph):
                found |= set(_reached(graph, start)) if start in graph else set()
            self._behind[device] = found
        return conductor.node_a in self._behind[device] or conductor.node_b in self._behind[device]

    def _leaves_by(self, device: str, without: nx.DiGraph) -> Iterator[str]:
        """The joints by which current leaves a device: a fuse has no direction, so the end away from a feed to it
        that does not come through it. ``without``: the paths without the device.
        """
        if device in self.outputs:
            yield self.outputs[device].node_plus
            return
        part, fed = self.parts[device], _reached(without, SOURCE)
        ends = ((part.node_a, part.node_b), (part.node_b, part.node_a))
        for side, (entry, leaving) in zip(_sides(device), ends, strict=True):
            if side in self._whole and entry in fed:
                yield leaving

    def joined(self, left_out: Conductor) -> Mapping[str, str | int]:
        """By joint the number of all that hang together by copper alone, without a conductor: nothing cuts them."""
        number, ends, names = self._copper_alone
        a, b = ends[:, [name != left_out.id for name in names]]
        return dict(zip(number, hang_together(len(number), a, b).tolist(), strict=True))

    @cached_property
    def _copper_alone(self) -> tuple[Mapping[str, int], IntArray, list[str]]:
        """Numbers of all joints, those at either end of what is copper alone, and its ids."""
        links = [(p.node_a, p.node_b, p.id) for p in self.parts.values() if not isinstance(p, Device | Diode)]
        links += [(bond, CHASSIS_NODE, "") for bond in self._bonds]
        number = {node: n for n, node in enumerate(self._both_ways)}
        ends = np.array([(number[a], number[b]) for a, b, _ in links], dtype=np.int64).reshape(-1, 2).T
        return number, ends, [name for _, _, name in links]

    def graph(self, joint_of: Mapping[str, str | int] | None = None) -> nx.DiGraph:
        """Joints; edges of copper both ways, of diodes, loads and faults one way, of outputs from one source.
        With ``joint_of``, by joint the one that stands for it, the copper alone is left out: it is in these.
        """
        graph: nx.DiGraph = nx.DiGraph()
        graph.add_nodes_from((SOURCE, DRAIN))

        def at(node: str) -> str | int:
            return node if joint_of is None else joint_of[node]

        for part in self.parts.values():
            if joint_of is not None and not isinstance(part, Device | Diode):
                continue
            # A node of its own in the middle keeps parts side by side apart.
            middle, back = _sides(part.id)
            marks = {"device": part.id} if isinstance(part, Device) else {}
            graph.add_edge(at(part.node_a), middle)
            graph.add_edge(middle, at(part.node_b), **marks)
            if not isinstance(part, Diode):
                graph.add_edge(at(part.node_b), back)
                graph.add_edge(back, at(part.node_a), **marks)
        for load in self._loads:
            graph.add_edge(at(load.node_plus), at(load.node_minus), load=True)
        graph.add_edges_from(((at(a), at(b)) for a, b in self._landings), load=True)
        for name, output in self.outputs.items():
            graph.add_edge(SOURCE, f"«{name}»")
            graph.add_edge(f"«{name}»", at(output.node_plus), device=name)
            graph.add_edge(at(output.node_minus), DRAIN)
        for bond in self._bonds if joint_of is None else ():
            graph.add_edge(bond, CHASSIS_NODE)
            graph.add_edge(CHASSIS_NODE, bond)
        return graph


SOURCE, DRAIN = "«source»", "«drain»"


def _landings(harness: Harness, word: str | None) -> Iterator[tuple[str, str]]:
    """Steps from joint to joint by which a fault carries current from one rail to a lower one, wherever the drawing
    lets them touch (``faults.places``). Between many joints and many there is one step more in the middle.
    """
    network = compile_network(harness, Case("", None, word), LOAD_STATE, AnalysisSettings(), lambda *_: 1.0)
    rails, names = find_rails(network), network.node_ids
    island = dict(zip(names, rails.island.tolist(), strict=True))
    volts = _volts_of(network, island)
    joints: dict[int, list[str]] = {}
    for joint, rail in island.items():
        joints.setdefault(rail, []).append(joint)
    touching = [
        ((rail, joints[rail]), (island[names[end]], [names[end]]))
        for rail, ends in rails.returns.items()
        for end in ends
    ]
    for parts, bodies in (
        (harness.conductors, conductor_bodies(harness)),
        (harness.contacts, contact_bodies(harness)),
    ):
        for body in bodies:
            inside: dict[int, list[str]] = {}
            for part in (parts[k].under(word) for k in body):
                if part.fitted:
                    inside.setdefault(island[part.node_a], []).extend((part.node_a, part.node_b))
            touching += itertools.combinations(inside.items(), 2)
    for n, ((one, here), (other, there)) in enumerate(touching):
        if one in volts and other in volts and volts[one] != volts[other]:
            high, low = (here, there) if volts[one] > volts[other] else (there, here)
            yield from ((joint, f"«fault {n}»") for joint in high)
            yield from ((f"«fault {n}»", joint) for joint in low)


def _volts_of(network: Network, island: Mapping[str, int]) -> dict[int, float]:
    """By piece of copper with a terminal of an output: its voltage over the others that hang together with it."""
    steps: dict[int, list[tuple[int, float]]] = {}
    outputs = zip(network.source_plus, network.source_minus, network.source_voltage_v.tolist(), strict=True)
    for plus, minus, rise_v in outputs:
        high, low = island[network.node_ids[plus]], island[network.node_ids[minus]]
        steps.setdefault(low, []).append((high, rise_v))
        steps.setdefault(high, []).append((low, -rise_v))
    found: dict[int, float] = {}
    for start in steps:
        found.setdefault(start, 0.0)
        for here in (todo := [start]):
            for there, rise_v in steps[here]:
                if there not in found:
                    found[there] = found[here] + rise_v
                    todo.append(there)
    return found


def _reached(graph: nx.DiGraph, start: str) -> Collection[str]:
    return set(nx.single_source_shortest_path_length(graph, start))


def _sides(name: str) -> tuple[str, str]:
    """The nodes that stand for a part from its end a to b, and back."""
    return f"«{name}»", f"«{name} back»"


def _immediate_dominators(graph: nx.DiGraph, start: str) -> Mapping[str, str]:
    return dict(nx.immediate_dominators(graph, start))  # type: ignore[no-untyped-call]


def _without(graph: nx.DiGraph, devices: tuple[str, ...]) -> nx.DiGraph:
    return _kept(graph, lambda data: data.get("device") not in devices)


def _copper(graph: nx.DiGraph) -> nx.DiGraph:
    return _kept(graph, lambda data: not data.get("load"))


def _kept(graph: nx.DiGraph, wanted: Callable[[Mapping[str, Any]], bool]) -> nx.DiGraph:
    found: nx.DiGraph = nx.DiGraph()
    found.add_nodes_from(graph)
    found.add_edges_from((a, b, data) for a, b, data in graph.edges(data=True) if wanted(data))
    return found


_KNOWN: dict[tuple[object, ...], tuple[object, FeedPaths]] = {}
