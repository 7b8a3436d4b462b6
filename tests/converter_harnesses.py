"""Random power trees with converters, the same for the same seed: a supply, stages of lower voltage, loads on each.

Every stage hangs on a bus of the stage before it through a wire out and a wire back. Some converters have one
common minus, some are isolated; several may hang on one bus, and a chain is up to three stages long.
"""

from __future__ import annotations

import random

from loadloom.graph.model.elements import (
    Band,
    Battery,
    Behaviour,
    Conductor,
    Converter,
    Device,
    DeviceKind,
    Load,
    LoadKind,
    Output,
    Switch,
    Tolerance,
)
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

COPPER_OHM_MM2_PER_M = 0.017241
STAGES_V = (48.0, 24.0, 12.0, 5.0)


class Tree:
    """Parts of a tree under construction; ``harness`` puts them together."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.wires: list[Conductor] = []
        self.devices: list[Device] = []
        self.outputs: list[Output] = []
        self.loads: list[Load] = []
        self.converters: list[Converter] = []
        self.switches: list[Switch] = []

    def wire(self, a: str, b: str, allowed_a: float | None = None, mm2: float | None = None) -> str:
        """A wire of random length and size between two joints."""
        rng, name = self.rng, f"W{len(self.wires) + 1}"
        area = mm2 or rng.choice((0.75, 1.0, 1.5, 2.5, 4.0))
        ohm = COPPER_OHM_MM2_PER_M * rng.uniform(0.2, 3.0) / area
        self.wires.append(
            Conductor(
                id=name,
                subject=Subject(name),
                node_a=a,
                node_b=b,
                own_rating_a=allowed_a or round(6.0 + 6.0 * area, 1),
                resistance_ohm=Band.exact(ohm),
                length_m=1.0,
            )
        )
        return name

    def fuse(self, a: str, b: str, trip_a: float) -> None:
        """An electronic limiter between two joints, certain to open above its trip."""
        name = f"Q{len(self.devices) + 1}"
        self.devices.append(
            Device(
                id=name,
                subject=Subject(name),
                node_a=a,
                node_b=b,
                kind=DeviceKind.LIMITER,
                trip_a=Band(trip_a, 0.95 * trip_a, 1.05 * trip_a),
                delay_s=1e-3,
                resistance_ohm=Band.exact(2e-3),
            )
        )

    def contactor(self, a: str, b: str) -> None:
        """A contactor that is open as drawn, and closed in the arrangement ``run``."""
        name = f"K{len(self.switches) + 1}"
        self.switches.append(
            Switch(
                id=name,
                subject=Subject(name),
                node_a=a,
                node_b=b,
                fitted=False,
                by_word={"run": {"fitted": True}},
                resistance_ohm=Band.exact(1e-3),
                rating_a=50.0,
                welds=True,
                part=name,
            )
        )

    def battery(self, plus: str, minus: str, volts: float) -> None:
        """A battery that never opens, 5 % below and above its voltage; 10 mΩ to 30 mΩ."""
        self.outputs.append(
            Output(
                id="BT1",
                subject=Subject("BT1"),
                node_plus=plus,
                node_minus=minus,
                voltage_v=volts,
                limit_a=50.0,
                never_trips=True,
                resistance_ohm=0.010,
                resistance_high_ohm=0.030,
                tolerance=Tolerance.even(0.05),
                battery=Battery(40.0, 20.0),
            )
        )

    def output(self, name: str, plus: str, minus: str, volts: float, limit_a: float) -> None:
        """An output that opens above 1.2 times its limit."""
        self.outputs.append(
            Output(
                id=name,
                subject=Subject(name),
                node_plus=plus,
                node_minus=minus,
                voltage_v=volts,
                limit_a=limit_a,
                trip_a=Band(1.2 * limit_a, 1.15 * limit_a, 1.25 * limit_a),
                delay_s=1e-3,
                behaviour=Behaviour.LATCH_OFF,
                resistance_ohm=self.rng.choice((0.0, 2e-3, 10e-3)),
                tolerance=Tolerance.even(self.rng.choice((0.0, 0.02, 0.05))),
            )
        )

    def load(self, plus: str, minus: str, volts: float, kinds: tuple[LoadKind, ...]) -> None:
        """A load of up to about 3 A."""
        rng, name = self.rng, f"L{len(self.loads) + 1}"
        kind, amps = rng.choice(kinds), rng.uniform(0.2, 3.0)
        demand = {
            LoadKind.CURRENT: amps,
            LoadKind.POWER: amps * volts,
            LoadKind.RESISTANCE: volts / amps,
        }[kind]
        self.loads.append(
            Load(id=name, subject=Subject(name), node_plus=plus, node_minus=minus, demand_kind=kind, demand=demand)
        )

    def converter(
        self, feed: str, back: str, plus: str, minus: str, volts: float, limit_a: float, minimum_v: float | None
    ) -> None:
        """A converter with an input at ``feed`` and ``back``."""
        rng, name = self.rng, f"PS{len(self.outputs) + 1}"
        self.output(name, plus, minus, volts, limit_a)
        points: tuple[tuple[float, float], ...] = ((1.0, rng.uniform(0.75, 0.95)),)
        if rng.random() < 0.5:
            points = tuple(sorted((share, rng.uniform(0.7, 0.95)) for share in (0.1, 0.5, 1.0)))
        load = Load(
            id=f"{name}.IN",
            subject=Subject(f"{name}.IN"),
            node_plus=feed,
            node_minus=back,
            demand_kind=LoadKind.POWER,
            demand=0.0,
            minimum_v=minimum_v,
            heat_share=0.0,
        )
        self.loads.append(load)
        self.converters.append(
            Converter(
                id=name,
                subject=Subject(name),
                output_id=name,
                load_id=load.id,
                efficiency=points,
                no_load_w=rng.choice((0.0, 0.5, 2.0)),
                input_minimum_v=minimum_v,
                bridged=back == minus,
            )
        )

    def harness(self) -> Harness:
        """All of it."""
        return Harness(
            conductors=tuple(self.wires),
            devices=tuple(self.devices),
            switches=tuple(self.switches),
            outputs=tuple(self.outputs),
            loads=tuple(self.loads),
            converters=tuple(self.converters),
        )


ALL_KINDS = (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE)


def converter_tree(
    seed: int,
    *,
    stages: int = 3,
    kinds: tuple[LoadKind, ...] = ALL_KINDS,
    width: int = 2,
    fuses: bool = True,
    mixed: bool = False,
    inverting: bool = False,
    every_pairing: bool = False,
) -> Harness:
    """A supply of 48 V and a chain of converters; on every bus one to two loads and up to ``width`` converters.

    ``mixed``: half of the supplies are batteries, and some feeds have a contactor. ``inverting``: the output of
    some converters lies below the joint that it has in common with the input. ``every_pairing``: some have IN+ in
    common with OUT+, or with OUT-.
    """
    tree = Tree(seed)
    rng = tree.rng
    if mixed and rng.random() < 0.5:
        tree.battery("p0", "m0", STAGES_V[0])
    else:
        tree.output("PS1", "p0", "m0", STAGES_V[0], 20.0)
    buses = [("p0", "m0")]
    number = 0
    for stage in range(1, stages + 1):
        made = []
        for k in range(1 if stage == 1 else rng.randint(1, width)):
            bus = buses[k % len(buses)]
            number += 1
            feed, back, plus = f"i{number}", f"j{number}", f"p{number}"
            minus = back if rng.random() < 0.5 else f"m{number}"
            if inverting and rng.random() < 0.5:
                plus, minus = back, f"m{number}"
            if every_pairing and rng.random() < 0.5:
                new = f"n{number}"
                plus, minus = rng.choice(((feed, new), (new, feed)))
            start = bus[0]
            if fuses and rng.random() < 0.6:
                tree.fuse(bus[0], f"f{number}", rng.uniform(6.0, 12.0))
                start = f"f{number}"
            if mixed and rng.random() < 0.4:
                tree.contactor(start, f"k{number}")
                start = f"k{number}"
            tree.wire(start, feed)
            tree.wire(back, bus[1])
            if rng.random() < 0.3:
                tree.wire(start, feed)
            tree.converter(
                feed, back, plus, minus, STAGES_V[stage], rng.uniform(5.0, 10.0), 0.7 * STAGES_V[stage - 1]
            )
            made.append((plus, minus))
        for bus in made:
            number += 1
            ends = (f"x{number}", f"y{number}")
            tree.wire(bus[0], ends[0])
            tree.wire(ends[1], bus[1])
            if rng.random() < 0.4:
                tree.wire(bus[0], ends[0])
            for _ in range(rng.randint(1, 2)):
                tree.load(*ends, STAGES_V[stage], kinds)
        buses = made
    return tree.harness()
