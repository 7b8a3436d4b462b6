"""Random harnesses, the same for the same seed, for tests that compare with another way of calculating.

Every harness has feed and return trees of parallel paths (contact, wire, contact), some meshes, outputs with and
without internal resistance, and loads of the kinds asked for. Conductors have a length, an area and the
resistance that follows from copper at 20 °C (0.017241 Ω·mm²/m, IEC 60028).
"""

import random
from collections.abc import Mapping, Sequence

import numpy as np

from loadloom.graph.circuit.network import LOAD_STATE, Corner, FloatArray, IntArray, Network, compile_network
from loadloom.graph.model.elements import Band, Conductor, Contact, Load, LoadKind, Output
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings, Case

COPPER_OHM_MM2_PER_M = 0.017241
AREAS_MM2 = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0)
ALL_KINDS = (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE)
"""In the order of ``Network.load_kind``."""


class _Builder:
    def __init__(self, rng: random.Random, zero_contacts: float) -> None:
        self.rng = rng
        self.zero_contacts = zero_contacts
        self.wires: list[Conductor] = []
        self.contacts: list[Contact] = []
        self.outputs: list[Output] = []
        self.loads: list[Load] = []

    def path(self, a: str, b: str, length_m: float, area_mm2: float) -> None:
        """Contact, wire, contact from joint a to joint b."""
        k = len(self.wires) + 1
        ends = (f"@W{k}.1", f"@W{k}.2")
        resistance = COPPER_OHM_MM2_PER_M * length_m / area_mm2
        self.wires.append(
            Conductor(
                id=f"W{k}",
                subject=Subject(f"W{k}"),
                node_a=ends[0],
                node_b=ends[1],
                length_m=length_m,
                own_rating_a=round(5.0 + 6.0 * area_mm2, 1),
                resistance_ohm=Band.exact(resistance),
            )
        )
        for name, node_a, node_b in ((f"P{k}.1", a, ends[0]), (f"J{k}.1", ends[1], b)):
            new = 0.0 if self.rng.random() < self.zero_contacts else self.rng.uniform(1e-3, 4e-3)
            band = Band(1.5 * new, new, 3.0 * new)
            self.contacts.append(
                Contact(
                    id=name,
                    subject=Subject(name),
                    node_a=node_a,
                    node_b=node_b,
                    resistance_ohm=band,
                    connector=name.split(".")[0],
                    pin="1",
                    own_rating_a=9.0,
                )
            )

    def paths(self, a: str, b: str, most: int) -> None:
        """One to ``most`` parallel paths, turned at random, of about the same length."""
        rng = self.rng
        length, area = rng.uniform(0.2, 3.0), rng.choice(AREAS_MM2)
        for _ in range(rng.randint(1, most)):
            ends = (a, b) if rng.random() < 0.5 else (b, a)
            self.path(*ends, length * rng.uniform(0.9, 1.1), area)

    def tree(self, root: str, joints: list[str], most: int, meshes: int) -> None:
        """Joints hung below the root at random, then some more paths between them."""
        rng = self.rng
        known = [root]
        for joint in joints:
            self.paths(rng.choice(known), joint, most)
            known.append(joint)
        for _ in range(meshes):
            if len(known) > 2:
                a, b = rng.sample(known, 2)
                self.paths(a, b, 2)

    def load(self, plus: str, minus: str, kinds: tuple[LoadKind, ...], voltage_v: float) -> None:
        rng = self.rng
        k = len(self.loads) + 1
        kind = rng.choice(kinds)
        current = rng.uniform(0.2, 4.0)
        demand = {
            LoadKind.CURRENT: current,
            LoadKind.POWER: current * voltage_v,
            LoadKind.RESISTANCE: voltage_v / current,
        }[kind]
        self.loads.append(
            Load(
                id=f"L{k}",
                subject=Subject(f"L{k}"),
                node_plus=plus,
                node_minus=minus,
                demand_kind=kind,
                demand=demand,
            )
        )


def random_harness(
    seed: int,
    *,
    kinds: tuple[LoadKind, ...] = ALL_KINDS,
    outputs: int | None = None,
    joints: int = 6,
    most_paths: int = 5,
    meshes: int = 2,
    zero_contacts: float = 0.0,
) -> Harness:
    """A random harness.

    ``outputs``: how many, else one to three; with several, some are joined on one bus bar and some are not.
    ``joints``: about how many feed joints and as many return joints each bus has. ``zero_contacts``: share of
    contacts without resistance.
    """
    rng = random.Random(seed)
    build = _Builder(rng, zero_contacts)
    count = outputs or rng.randint(1, 3)
    buses: list[tuple[str, str, float]] = []
    for k in range(1, count + 1):
        plus, minus = f"U{k}+", f"U{k}-"
        joined = bool(buses) and rng.random() < 0.5
        voltage = buses[-1][2] * rng.uniform(0.998, 1.002) if joined else rng.choice((12.0, 24.0, 48.0))
        build.outputs.append(
            Output(
                id=f"U{k}",
                subject=Subject(f"U{k}"),
                node_plus=plus,
                node_minus=minus,
                voltage_v=voltage,
                resistance_ohm=rng.choice((0.0, rng.uniform(1e-3, 2e-2))),
                limit_a=60.0,
                trip_a=Band.exact(80.0),
            )
        )
        bus = (f"B{k}+", f"B{k}-", voltage)
        if joined:
            bus = (*buses[-1][:2], voltage)
        build.paths(plus, bus[0], most_paths)
        build.paths(minus, bus[1], most_paths)
        if not joined:
            buses.append(bus)
    for n, (plus, minus, voltage) in enumerate(buses, start=1):
        feeds = [f"F{n}.{k}" for k in range(1, joints + 1)]
        returns = [f"R{n}.{k}" for k in range(1, joints + 1)]
        build.tree(plus, feeds, most_paths, rng.randint(0, meshes))
        build.tree(minus, returns, most_paths, rng.randint(0, meshes))
        for feed, back in zip(feeds, returns, strict=True):
            for _ in range(rng.randint(0, 2)):
                build.load(feed, rng.choice((back, rng.choice(returns))), kinds, voltage)
        if not build.loads:
            build.load(feeds[-1], returns[-1], kinds, voltage)
    return Harness(
        conductors=tuple(build.wires),
        contacts=tuple(build.contacts),
        outputs=tuple(build.outputs),
        loads=tuple(build.loads),
    )


def network_of(harness: Harness, corner: Corner = LOAD_STATE) -> Network:
    """The harness' arrays; every conductor must state its resistance."""

    def unstated(conductor: Conductor, _: Corner) -> float:
        raise AssertionError(f"{conductor.id} states no resistance")

    return compile_network(harness, Case("nominal"), corner, AnalysisSettings(), unstated)


def small_network(
    edges: Sequence[tuple[str, str, str, float]],
    outputs: Sequence[tuple[str, str, str, float, float]],
    loads: Sequence[tuple[str, str, str, LoadKind, float]],
    *,
    diodes: Mapping[str, float] | None = None,
    holds: Mapping[str, float] | None = None,
) -> Network:
    """A network written by hand.

    Edges (id, joint, joint, Ω), outputs (id, plus, minus, V, Ω), loads (id, plus, minus, kind, demand).
    ``diodes``: forward drop in V of the edges that are diodes; ``holds``: A at which an output holds its current.
    """
    names: dict[str, int] = {}

    def at(joints: Sequence[str]) -> IntArray:
        return np.array([names.setdefault(joint, len(names)) for joint in joints], dtype=np.int64)

    def numbers(values: Sequence[float]) -> FloatArray:
        return np.array(values, dtype=np.float64)

    diodes, holds = diodes or {}, holds or {}
    edge_a, edge_b = at([e[1] for e in edges]), at([e[2] for e in edges])
    plus, minus = at([o[1] for o in outputs]), at([o[2] for o in outputs])
    load_plus, load_minus = at([x[1] for x in loads]), at([x[2] for x in loads])
    return Network(
        case=Case("nominal"),
        corner=LOAD_STATE,
        node_ids=tuple(names),
        edge_ids=tuple(e[0] for e in edges),
        edge_a=edge_a,
        edge_b=edge_b,
        edge_resistance_ohm=numbers([e[3] for e in edges]),
        edge_drop_v=numbers([diodes.get(e[0], 0.0) for e in edges]),
        edge_diode=np.array([e[0] in diodes for e in edges], dtype=np.bool_),
        source_ids=tuple(o[0] for o in outputs),
        source_plus=plus,
        source_minus=minus,
        source_voltage_v=numbers([o[3] for o in outputs]),
        source_resistance_ohm=numbers([o[4] for o in outputs]),
        source_hold_a=numbers([holds.get(o[0], np.inf) for o in outputs]),
        load_ids=tuple(x[0] for x in loads),
        load_plus=load_plus,
        load_minus=load_minus,
        load_kind=np.array([ALL_KINDS.index(x[3]) for x in loads], dtype=np.int64),
        load_demand=numbers([x[4] for x in loads]),
    )


def branching_network(
    conductors: int,
    *,
    kinds: tuple[LoadKind, ...] = (LoadKind.CURRENT,),
    seed: int = 1,
    branches: int = 4,
    most_paths: int = 5,
    segments: tuple[int, int] | None = None,
) -> Network:
    """A large branching harness of about so many conductors: feed and return trees of parallel paths.

    Every joint feeds ``branches`` others through one to ``most_paths`` ways of contact, wire, contact; loads sit
    at the outer three quarters of the joints. ``segments`` (feed, return) instead of as many on both sides:
    with (n, 1) all loads share one return trunk.
    """
    rng = np.random.default_rng(seed)
    each = max(2, round(conductors / (1 + most_paths)))
    feed_count, return_count = segments or (each, each)
    edge_a: list[int] = []
    edge_b: list[int] = []
    ohm: list[float] = []
    nodes = 2
    sides: list[list[int]] = []
    for side, count in enumerate((feed_count, return_count)):
        joints = [side]
        for k in range(count):
            joint = nodes
            nodes += 1
            for _ in range(int(rng.integers(1, most_paths + 1))):
                edge_a += [joints[k // branches], nodes, nodes + 1]
                edge_b += [nodes, nodes + 1, joint]
                ohm += [rng.uniform(1e-4, 4e-4), rng.uniform(5e-4, 1e-3), rng.uniform(1e-4, 4e-4)]
                nodes += 2
            joints.append(joint)
        sides.append(joints)
    inner = feed_count // branches
    plus = sides[0][1 + inner :]
    minus = (sides[1][1 + inner :] or sides[1][-1:]) * len(plus)
    volts, total = 48.0, 200.0
    current = rng.uniform(0.5, 1.5, len(plus)) * total / len(plus)
    kind = rng.choice([ALL_KINDS.index(x) for x in kinds], len(plus))
    return Network(
        case=Case("nominal"),
        corner=LOAD_STATE,
        node_ids=tuple(f"n{k}" for k in range(nodes)),
        edge_ids=tuple(f"{'PWJ'[k % 3]}{k // 3}" for k in range(len(ohm))),
        edge_a=np.array(edge_a, dtype=np.int64),
        edge_b=np.array(edge_b, dtype=np.int64),
        edge_resistance_ohm=np.array(ohm),
        edge_drop_v=np.zeros(len(ohm)),
        edge_diode=np.zeros(len(ohm), dtype=np.bool_),
        source_ids=("U",),
        source_plus=np.array([0]),
        source_minus=np.array([1]),
        source_voltage_v=np.array([volts]),
        source_resistance_ohm=np.array([1e-3]),
        source_hold_a=np.array([np.inf]),
        load_ids=tuple(f"L{k}" for k in range(len(plus))),
        load_plus=np.array(plus, dtype=np.int64),
        load_minus=np.array(minus[: len(plus)], dtype=np.int64),
        load_kind=kind,
        load_demand=np.choose(kind, [current, current * volts, volts / current]),
    )
