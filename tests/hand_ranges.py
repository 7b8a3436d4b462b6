"""Small harnesses of which the highest setting that protects is told by hand: by Ohm's and Kirchhoff's laws.

``W3`` is what comes behind all that lies side by side, allowed 25 A; paths carry what is inverse to their
resistance, until one of their devices opens, and then the others carry on.
"""

from __future__ import annotations

from dataclasses import dataclass

from wired import fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Device, Diode, Element
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

PS1 = output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=100.0, resistance_ohm=1e-3)
BEHIND = (
    wire("W3", "c", "d", ohm=0.01, rated=25.0),
    wire("W4", "e", "n", ohm=0.01, rated=200.0),
    load("L1", "d", "e", 2.0),
)


@dataclass(frozen=True)
class ByHand:
    """``high_a``: of a device the highest setting that protects in A, and the part that ends it; and why."""

    drawn: Harness
    high_a: dict[str, tuple[float, str]]
    because: str


def diode(name: str, a: str, b: str) -> Diode:
    return Diode(id=name, subject=Subject(name), node_a=a, node_b=b, forward_drop_v=0.5)


def side_by_side(*paths: tuple[Device, float]) -> Harness:
    """Devices from p, each before a wire of some Ω onto W3."""
    parts: list[Element] = [PS1]
    for k, (device, ohm) in enumerate(paths, start=1):
        parts += [device, wire(f"A{k}", device.node_b, "c", ohm=ohm, rated=60.0)]
    return harness(*parts, *BEHIND)


def two_outputs(second_v: float) -> Harness:
    """Two outputs behind limiters of 10 and 12 A, 10 and 30 mΩ from W3."""
    return harness(
        *(output(f"PS{k}", f"p{k}", "n", v, limit_a=100.0, trip_a=100.0) for k, v in ((1, 12.0), (2, second_v))),
        limiter("CH1", "p1", "a", 10.0),
        limiter("CH2", "p2", "b", 12.0),
        wire("A1", "a", "c", ohm=0.01, rated=80.0),
        wire("A2", "b", "c", ohm=0.03, rated=80.0),
        *BEHIND,
    )


def ring() -> Harness:
    """p, A1, x, T, y, A2, p: two ways to each load, and T between them allowed 12 A."""
    return harness(
        PS1,
        limiter("CH1", "p", "a", 9.0),
        limiter("CH2", "p", "b", 9.0),
        wire("A1", "a", "x", ohm=0.01, rated=30.0),
        wire("T", "x", "y", ohm=0.02, rated=12.0),
        wire("A2", "b", "y", ohm=0.03, rated=30.0),
        wire("W4", "r", "n", ohm=0.001, rated=200.0),
        load("L1", "x", "r", 1.0),
        load("L2", "y", "r", 1.0),
    )


def shared_return() -> Harness:
    """Loads of 3 A and 4 A of two outputs on one return of 15 A."""
    return harness(
        PS1,
        output("PS2", "q", "n", 12.0, limit_a=50.0, trip_a=50.0),
        limiter("CH1", "p", "a", 8.0),
        limiter("CH2", "q", "b", 5.0),
        wire("A1", "a", "c", ohm=0.01, rated=40.0),
        wire("A2", "b", "d", ohm=0.01, rated=40.0),
        wire("R", "r", "n", ohm=0.01, rated=15.0),
        load("L1", "c", "r", 3.0),
        load("L2", "d", "r", 4.0),
    )


def behind_diodes() -> Harness:
    """Two outputs, a diode each, one limiter behind both and a wire of 18 A."""
    return harness(
        *(output(f"PS{k}", f"p{k}", "n", 12.0, limit_a=40.0, trip_a=40.0) for k in (1, 2)),
        *(diode(f"D{k}", f"p{k}", f"a{k}") for k in (1, 2)),
        *(wire(f"A{k}", f"a{k}", "b", ohm=0.01, rated=80.0) for k in (1, 2)),
        limiter("CH1", "b", "k", 10.0),
        wire("W3", "k", "d", ohm=0.01, rated=18.0),
        wire("W4", "e", "n", ohm=0.01, rated=200.0),
        load("L1", "d", "e", 2.0),
    )


def trunk(first_ohm: float, tap_a: float) -> Harness:
    """A trunk allowed 40 A behind CH1, a load at its end and a tap behind it."""
    return harness(
        PS1,
        limiter("CH1", "p", "a", 5.0),
        wire("A1", "a", "c", ohm=first_ohm, rated=40.0),
        wire("A2", "c", "d", ohm=0.1, rated=tap_a),
        wire("W4", "r", "n", ohm=0.01, rated=200.0),
        load("L2", "c", "r", 1.0),
        load("L1", "d", "r", 2.0),
    )


CH = {k: f"CH{k}" for k in (1, 2, 3)}


def limiters(*of: tuple[float | Band, float]) -> Harness:
    return side_by_side(*((limiter(CH[k], "p", f"a{k}", a), ohm) for k, (a, ohm) in enumerate(of, start=1)))


CASES = {
    "equal leads": ByHand(
        limiters((5.0, 0.01), (20.0, 0.01)),
        {"CH1": (12.5, "W3"), "CH2": (25.0, "W3")},
        "both carry half until CH1 opens, 2 × 12.5 A; CH2 goes on alone",
    ),
    "1 to 3": ByHand(
        limiters((5.0, 0.01), (20.0, 0.03)),
        {"CH1": (18.75, "W3"), "CH2": (25.0, "W3")},
        "CH2 adds a third of what CH1 carries: 18.75 A × 4 / 3",
    ),
    "3 to 1": ByHand(
        limiters((5.0, 0.03), (20.0, 0.01)),
        {"CH1": (6.25, "W3"), "CH2": (25.0, "W3")},
        "CH2 adds three times what CH1 carries: 6.25 A × 4, CH2 still below its 20 A",
    ),
    "three ways": ByHand(
        limiters((5.0, 0.01), (10.0, 0.02), (10.0, 0.04)),
        {"CH1": (100.0 / 7.0, "W3")},
        "4 : 2 : 1, so that all carry 7 / 4 of what CH1 carries; without CH1 the others hold 15 A",
    ),
    "a band of 10 %": ByHand(
        limiters((Band(5.0, 4.5, 5.5), 0.01), (20.0, 0.01)),
        {"CH1": (12.5 / 1.1, "W3")},
        "CH1 may hold 1.1 times its setting",
    ),
    "a fuse": ByHand(
        side_by_side((fuse("F1", "p", "a1", 5.0, "UL 248-14"), 0.01), (limiter("CH2", "p", "a2", 20.0), 0.01)),
        {"F1": (12.5 / 1.35, "W3"), "CH2": (25.0, "W3")},
        "UL 248-14: certain to open above 1.35 times its rating",
    ),
    "two outputs": ByHand(
        two_outputs(12.0),
        {"CH1": (18.75, "W3"), "CH2": (25.0, "W3")},
        "as with one output: CH2 adds a third of what CH1 carries",
    ),
    "unequal voltages": ByHand(
        two_outputs(12.1),
        {"CH1": (16.25, "W3"), "CH2": (25.0, "W3")},
        "CH2 adds a third of what CH1 carries and 0.1 V / 30 mΩ: 16.25 A × 4 / 3 + 3.33 A",
    ),
    "a ring": ByHand(
        ring(), {"CH1": (12.0, "T"), "CH2": (12.0, "T")}, "with one side open all of the other side passes T"
    ),
    "a shared return": ByHand(
        shared_return(),
        {"CH1": (11.0, "R"), "CH2": (12.0, "R")},
        "one fault beside the other output's load: 15 A less 4 A, less 3 A",
    ),
    "behind diodes": ByHand(behind_diodes(), {"CH1": (18.0, "W3")}, "all of it comes through CH1"),
    "a tap": ByHand(trunk(0.01, 9.0), {"CH1": (9.0, "A2")}, "the load on the trunk may be off"),
    "a tap behind thin copper": ByHand(
        trunk(0.5, 9.0), {"CH1": (9.0, "A2")}, "12 V / 0.611 Ω would be 19.6 A: the copper alone is no limit"
    ),
}
