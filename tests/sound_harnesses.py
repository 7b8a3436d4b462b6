"""Sound harnesses as they are drawn in practice: none of them may be an error.

Each branch has a device at its source end that fits its wires; returns meet in star joints; a relay may part a
load; a supply is a single unit, a bank of two batteries, or one of plus and minus rails. Values are invented and
vary by seed.
"""

from __future__ import annotations

import random

from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Chassis, Connector, Element, Switch
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

WIRES = ((0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 20.0), (4.0, 32.0), (6.0, 40.0), (10.0, 63.0), (16.0, 80.0))
"""Sections in mm² with the current that the maker of this harness allows them."""

BREAKS = {"voltage_rating_v": 60.0, "breaking_capacity_a": 10e3}


class _Pen:
    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.parts: list[Element] = []
        self.switches: list[Switch] = []
        self.bonds: list[Chassis] = []
        self.connectors: list[Connector] = []

    def wire(self, name: str, a: str, b: str, allowed_a: float, **more: object) -> None:
        """The thinnest wire that is allowed a current."""
        mm2, rated = next(pair for pair in WIRES if pair[1] >= allowed_a)
        more |= {"length_m": round(self.rng.uniform(0.3, 1.5), 2), "voltage_rating_v": 300.0}
        self.parts.append(wire(name, a, b, mm2=mm2, rated=rated, insulation="PVC 70 °C", **more))

    def branch(self, name: str, bus: str, back: str, *, turned: bool = False) -> float:
        """A load behind a device at the wire's rating: its most continuous current in A."""
        rng = self.rng
        rated = rng.choice([pair[1] for pair in WIRES[:4]])
        if rng.random() < 0.5:
            device, most = limiter(f"Q{name}", bus, f"q{name}", 0.95 * rated, delay_s=1e-3, **BREAKS), 0.95 * rated
        else:
            device, most = fuse(f"F{name}", bus, f"q{name}", rated / 1.35, "UL 248-14", **BREAKS), rated
        self.parts.append(device)
        cable = rng.choice((None, f"K{name}"))
        start, end = f"q{name}", f"r{name}"
        if rng.random() < 0.4:
            self.switches.append(
                Switch(
                    id=f"S{name}",
                    subject=Subject(f"S{name}"),
                    node_a=start,
                    node_b=f"s{name}",
                    rating_a=40.0,
                    by_word={"stop": {"fitted": False}},
                )
            )
            start = f"s{name}"
        if rng.random() < 0.4:
            self.parts += [
                contact(f"X{name}.1", start, f"x{name}", rated=rated),
                contact(f"X{name}.2", f"y{name}", back, rated=rated),
            ]
            self.connectors.append(Connector(f"X{name}", (f"X{name}.1", f"X{name}.2")))
            start, back = f"x{name}", f"y{name}"
        self.wire(f"W{name}", start, f"l{name}", rated, cable=cable)
        self.wire(f"R{name}", end, back, rated, cable=cable)
        amps = round(rng.uniform(0.2, 0.6) * rated / 1.35, 2)
        ends = (end, f"l{name}") if turned else (f"l{name}", end)
        self.parts.append(load(f"L{name}", *ends, amps))
        return most

    def bond(self, node: str) -> None:
        """A bond to the chassis at a joint, in every other harness."""
        if self.rng.random() < 0.5:
            self.bonds.append(Chassis(id="GND1", subject=Subject("GND1"), node=node))

    def done(self) -> Harness:
        """The harness as it stands."""
        return harness(
            *self.parts,
            switches=tuple(self.switches),
            chassis=tuple(self.bonds),
            connectors=tuple(self.connectors),
        )


def sound_harness(seed: int) -> Harness:
    """The sound harness of a seed: one of three kinds of supply, with two to four branches on each rail."""
    pen = _Pen(seed)
    (_single, _bank, _plus_and_minus)[seed % 3](pen)
    return pen.done()


def _supply(pen: _Pen, name: str, plus: str, minus: str, volts: float, trip_a: float) -> None:
    pen.parts.append(
        output(name, plus, minus, volts, limit_a=0.9 * trip_a, trip_a=trip_a, delay_s=1e-3, resistance_ohm=0.03)
    )


def _single(pen: _Pen) -> None:
    """One supply with a trip of its own, a main wire to a busbar, and a common return from a star joint."""
    trip_a = pen.rng.choice((40.0, 60.0, 75.0))
    _supply(pen, "PS1", "p", "m", 24.0, trip_a)
    pen.wire("WP", "p", "bus", trip_a)
    pen.wire("WM", "star", "m", trip_a)
    for n in range(pen.rng.randint(2, 4)):
        pen.branch(str(n), "bus", "star")
    pen.bond("m")


def _bank(pen: _Pen) -> None:
    """A bank of 24 V from two batteries of 12 V, fused at its plus terminal."""
    for n, (plus, minus) in enumerate((("top", "middle"), ("middle", "bottom"))):
        pen.parts.append(output(f"BT{n}", plus, minus, 12.0, limit_a=200.0, never_trips=True, resistance_ohm=0.01))
    main_a = pen.rng.choice((40.0, 50.0))
    pen.parts.append(fuse("FM", "top", "bus", main_a / 1.35, "UL 248-14", **BREAKS))
    pen.wire("WM", "star", "bottom", main_a)
    for n in range(pen.rng.randint(2, 3)):
        pen.branch(str(n), "bus", "star")
    pen.bond("bottom")


def _plus_and_minus(pen: _Pen) -> None:
    """Rails of plus and minus 12 V on a common return, each rail with branches of its own."""
    trips = [pen.rng.choice((25.0, 40.0)) for _ in range(2)]
    _supply(pen, "PS1", "p", "zero", 12.0, trips[0])
    _supply(pen, "PS2", "zero", "n", 12.0, trips[1])
    pen.wire("WP", "p", "bus", trips[0])
    pen.wire("WN", "n", "sub", trips[1])
    pen.wire("WZ", "star", "zero", sum(trips))
    for n in range(pen.rng.randint(1, 2)):
        pen.branch(f"{n}", "bus", "star")
    for n in range(2, 2 + pen.rng.randint(1, 2)):
        pen.branch(f"{n}", "sub", "star", turned=True)
    pen.bond("star")
