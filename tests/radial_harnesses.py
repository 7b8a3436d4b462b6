"""Random harnesses with one output or several on a common return, for checking the closed form of the fault search.

Feed trees with devices inside devices, return trees that the paths share, ways side by side, connectors and
bundles that feeds and returns share, loads of all kinds, a chassis bond.
"""

from __future__ import annotations

import random
from typing import Any

from wired import contact, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Chassis, Connector, Diode, LoadKind
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

VOLTS = 12.0


class _Drawing:
    def __init__(self, seed: int, thin: float, zero_contacts: float) -> None:
        self.rng = random.Random(seed)
        self.thin, self.zero_contacts = thin, zero_contacts
        self.parts: list[Any] = []
        self.connectors: list[Connector] = []
        self.wires = 0

    def paths(self, a: str, b: str, most: int, bundle: str | None) -> None:
        """One to ``most`` ways from joint a to joint b, through a connector half of the time."""
        rng, first = self.rng, self.wires + 1
        through = rng.random() < 0.5
        ids = []
        for _ in range(rng.randint(1, most)):
            self.wires += 1
            k, start = self.wires, a
            if through:
                start = f"n{k}"
                ohm = 0.0 if rng.random() < self.zero_contacts else rng.uniform(1e-3, 5e-3)
                self.parts.append(contact(f"X{first}.{k}", a, start, ohm=ohm, rated=9.0))
                ids.append(f"X{first}.{k}")
            ends = (start, b) if rng.random() < 0.5 else (b, start)
            own = bundle if rng.random() < 0.3 else None
            ohm = rng.uniform(5e-3, 8e-2) * self.thin
            self.parts.append(wire(f"W{k}", *ends, ohm=ohm, length_m=1.0, rated=10.0, bundle=own))
        if ids:
            self.connectors.append(Connector(f"X{first}", tuple(ids)))


def _diode(name: str, a: str, b: str, rng: random.Random) -> Diode:
    ohm = Band.exact(rng.uniform(1e-3, 1e-2))
    return Diode(
        id=name, subject=Subject(name), node_a=a, node_b=b, forward_drop_v=rng.uniform(0.3, 0.8), resistance_ohm=ohm
    )


def random_radial(
    seed: int,
    *,
    kinds: tuple[LoadKind, ...] = (LoadKind.CURRENT,),
    most_paths: int = 3,
    bundles: bool = True,
    thin: float = 1.0,
    zero_contacts: float = 0.0,
    chassis: bool = False,
    outputs: int = 1,
    branches: tuple[int, int] = (4, 8),
    diodes: float = 0.0,
) -> Harness:
    """A random radial harness. ``thin`` multiplies the wires' resistances: copper then holds faults down.

    ``diodes``: share of feeds, and of returns, with a diode that lets the load's current through.
    """
    drawn = _Drawing(seed, thin, zero_contacts)
    rng = drawn.rng
    bundle = "B" if bundles else None
    feeds: list[list[str]] = []
    for n in range(outputs):
        drawn.parts.append(
            output(
                f"U{n}",
                f"+{n}",
                "-",
                VOLTS * (1.0 - 0.3 * n),
                trip_a=rng.uniform(30.0, 120.0),
                resistance_ohm=rng.choice((0.0, 0.002, 0.01)),
            )
        )
        feeds.append([f"+{n}"])
    returns = ["-"]
    for k in range(1, rng.randint(*branches) + 1):
        mine = rng.choice(feeds)
        start = rng.choice(mine)
        if rng.random() < 0.5:
            drawn.parts.append(limiter(f"Q{k}", start, f"q{k}", rng.uniform(3.0, 40.0)))
            start = f"q{k}"
        if diodes and rng.random() < diodes:
            drawn.parts.append(_diode(f"DF{k}", start, f"d{k}", rng))
            start = f"d{k}"
        drawn.paths(start, f"f{k}", most_paths, bundle)
        to = rng.choice(returns)
        if diodes and rng.random() < diodes:
            drawn.parts.append(_diode(f"DR{k}", f"e{k}", to, rng))
            to = f"e{k}"
        drawn.paths(f"r{k}", to, most_paths, bundle)
        if rng.random() < 0.8:
            kind, current_a = rng.choice(kinds), rng.uniform(0.1, 2.0)
            demand = {
                LoadKind.CURRENT: current_a,
                LoadKind.POWER: current_a * VOLTS,
                LoadKind.RESISTANCE: VOLTS / current_a,
            }[kind]
            least_v = rng.choice((None, 9.0)) if kind is LoadKind.POWER else None
            back = rng.choice([f"r{k}", *returns[1:]])
            drawn.parts.append(load(f"L{k}", f"f{k}", back, demand, demand_kind=kind, minimum_v=least_v))
        mine.append(f"f{k}")
        returns.append(f"r{k}")
    more: dict[str, Any] = {}
    if chassis:
        more["chassis"] = (Chassis(id="G1", subject=Subject("G1"), node=rng.choice(returns[1:])),)
    return harness(*drawn.parts, connectors=tuple(drawn.connectors), **more)
