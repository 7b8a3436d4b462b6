"""Random harnesses whose outputs are joined, in series, behind diodes and devices of their own."""

from __future__ import annotations

import numpy as np
from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Diode, Tolerance
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness


def random_joined(seed: int) -> Harness:
    """Two or three outputs, each behind a fuse or a limiter of its own, on one bus, with a limiter to the load; in
    every other one a blocking diode behind each.
    """
    rng = np.random.default_rng(seed)
    diodes = seed % 2 == 1
    parts: list[object] = []
    for k in range(int(rng.integers(2, 4))):
        ohm = float(10.0 ** rng.uniform(-1.5, 0.3))
        parts.append(output(f"PS{k}", f"p{k}", "m", resistance_ohm=ohm, never_trips=True))
        rating_a = float(rng.choice([2.0, 5.0, 10.0, 20.0]))
        joint = f"d{k}" if diodes else "bus"
        own = (
            fuse(f"F{k}", f"p{k}", joint, rating_a, "IEC 60127-2 F")
            if rng.random() < 0.5
            else limiter(f"F{k}", f"p{k}", joint, rating_a, delay_s=float(rng.choice([1e-3, 0.1])))
        )
        parts.append(own)
        if diodes:
            drop_v = float(rng.choice([0.0, 0.4]))
            parts.append(
                Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=joint, node_b="bus", forward_drop_v=drop_v)
            )
    ohm = [float(10.0 ** rng.uniform(-2.0, 0.0)) for _ in range(2)]
    parts += [
        limiter("CH1", "bus", "a", float(rng.choice([5.0, 10.0, 20.0])), delay_s=0.02),
        wire("W1", "a", "lp", ohm=ohm[0], rated=9.0, mm2=1.0),
        wire("W2", "lm", "m", ohm=ohm[1], rated=9.0, mm2=1.0),
        load("L1", "lp", "lm", 1.0),
    ]
    return harness(*parts)


def random_outputs(seed: int) -> Harness:
    """Two to four outputs, each in series with or parallel to the one before; a fuse and a wire at every plus."""
    rng = np.random.default_rng(seed)
    parts = []
    plus, minus, joints = "", "m", ["m"]
    for k in range(int(rng.integers(2, 5))):
        volts, ohm = float(rng.choice([5.0, 12.0, 24.0])), float(10.0 ** rng.uniform(-3.0, -0.5))
        parallel = bool(plus) and rng.random() < 0.4
        if not parallel and plus:
            minus = plus
        end = plus if parallel else f"p{k}"
        parts += [
            output(f"PS{k}", f"t{k}", minus, volts, resistance_ohm=ohm, limit_a=10.0, trip_a=1e5),
            fuse(f"F{k}", f"t{k}", f"f{k}", 5.0, "UL 248-14"),
            wire(f"W{k}", f"f{k}", end, ohm=float(10.0 ** rng.uniform(-3.0, -1.0)), rated=9.0),
        ]
        plus = end
        joints.append(end)
    parts += [
        wire("WL", plus, "lp", ohm=0.01, rated=9.0),
        wire("WR", "lm", "m", ohm=0.01, rated=9.0),
        load("L1", "lp", "lm", 1.0),
    ]
    return harness(*parts)


def random_banded(seed: int) -> Harness:
    """Two or three outputs of 24 V, some ±3 %, on leads whose contacts have bands; two limiters side by side or
    one; a return of two wires behind unlike contacts.
    """
    rng = np.random.default_rng(seed)

    def band(least_ohm: float, most_ohm: float, widest: float = 3.0) -> Band:
        ohm = float(10.0 ** rng.uniform(np.log10(least_ohm), np.log10(most_ohm)))
        upper_ohm = ohm * float(rng.uniform(1.0, widest))
        return Band((ohm + upper_ohm) / 2.0, ohm, upper_ohm)

    copper = {"rated": 20.0, "mm2": 1.5, "insulation": "PVC 70 °C"}
    parts: list[object] = []
    for k in range(int(rng.integers(2, 4))):
        own_ohm, wide = float(10.0 ** rng.uniform(-2.5, -1.0)), rng.random() < 0.5
        tolerance = Tolerance.even(0.03) if wide else None
        parts += [
            output(f"PS{k}", f"p{k}", "m", 24.0, resistance_ohm=own_ohm, never_trips=True, tolerance=tolerance),
            limiter(f"F{k}", f"p{k}", f"d{k}", float(rng.choice([10.0, 30.0, 100.0])), delay_s=0.01),
            contact(f"X{k}.1", f"d{k}", f"w{k}", resistance_ohm=band(1e-3, 0.03), rated=30.0),
            wire(f"W{k}", f"w{k}", "bus", ohm=float(10.0 ** rng.uniform(-2.5, -1.0)), **copper),
        ]
    for k in range(int(rng.integers(1, 3))):
        trip_a, delay_s = float(rng.choice([10.0, 20.0, 60.0])), float(rng.choice([1e-3, 0.02, 0.2]))
        parts += [
            limiter(f"C{k}", "bus", f"c{k}", trip_a, delay_s=delay_s),
            contact(f"Y{k}.1", f"c{k}", "t", resistance_ohm=band(1e-3, 0.03), rated=30.0),
        ]
    parts.append(contact("Z.1", "t", "lp", resistance_ohm=band(3e-3, 0.2), rated=30.0))
    for k in range(2):
        parts += [
            contact(f"R{k}.1", "lm", f"r{k}", resistance_ohm=band(1e-3, 0.02, 6.0), rated=30.0),
            wire(f"B{k}", f"r{k}", "m", ohm=5e-3, **copper),
        ]
    return harness(*parts, load("L1", "lp", "lm", 1.0))
