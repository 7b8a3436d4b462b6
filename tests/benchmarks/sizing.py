"""Harnesses to be sized, as KiCad's XML netlists: conductors with a length and no size, for ``loadloom size``.

Invented for the benchmarks, all of the mobile telescope cart. ``python sizing.py FOLDER`` writes them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from random import Random

from trees import Part, netlist

WIRE = {"Role": "wire", "Insulation": "PVC 90 °C"}
SOURCE = {"Role": "output", "Voltage": "24 V", "Limit": "150 A", "Trip": "180 A", "Delay": "0.1 s"}


def _wire(name: str, a: str, b: str, length_m: float) -> Part:
    return name, {**WIRE, "Length": f"{length_m:.2f} m"}, {"1": a, "2": b}


def _channel(name: str, a: str, b: str, trip_a: float) -> Part:
    return name, {"Role": "limiter", "Trip": f"{trip_a:g} A", "Delay": "10 ms"}, {"1": a, "2": b}


def _load(name: str, plus: str, minus: str, amps: float) -> Part:
    fields = {"Role": "load", "Load": f"{amps:.3g} A", "Minimum voltage": "21 V"}
    return name, fields, {"1": plus, "2": minus}


def radial(conductors: int) -> list[Part]:
    """Channels of four loads each: a trunk, branches from its far end, and the same back to a common return."""
    r = Random(conductors)
    parts: list[Part] = [("PS1", {**SOURCE, "Resistance": "2 mΩ"}, {"1": "p", "2": "m"})]
    made, channel = 0, 0
    while made < conductors:
        channel += 1
        parts += [_channel(f"CH{channel}", "p", f"c{channel}", r.choice((10, 15, 20)))]
        parts += [_wire(f"WF{channel}", f"c{channel}", f"f{channel}", r.uniform(1, 4))]
        parts += [_wire(f"WR{channel}", f"r{channel}", "m", r.uniform(1, 4))]
        made += 2
        for n in range(1, 5):
            if made >= conductors:
                break
            at = f"{channel}.{n}"
            parts += [_wire(f"W{at}", f"f{channel}", f"l{at}", r.uniform(0.5, 3))]
            parts += [_wire(f"B{at}", f"k{at}", f"r{channel}", r.uniform(0.5, 3))]
            parts += [_load(f"L{at}", f"l{at}", f"k{at}", r.uniform(0.3, 1.8))]
            made += 2
    return parts


def joined(conductors: int = 42) -> list[Part]:
    """Two outputs joined on a bus behind a channel and a lead each, and channels with loads of their own."""
    r = Random(7)
    parts: list[Part] = []
    for k in (1, 2):
        parts += [(f"PS{k}", {**SOURCE, "Resistance": "5 mΩ"}, {"1": f"p{k}", "2": f"m{k}"})]
        parts += [_channel(f"CH{k}", f"p{k}", f"c{k}", 60)]
        parts += [_wire(f"WS{k}", f"c{k}", "bus", 1.0), _wire(f"WM{k}", "neg", f"m{k}", 1.0)]
    for k in range((conductors - 4) // 2):
        parts += [_channel(f"Q{k}", "bus", f"q{k}", r.choice((5, 8, 10)))]
        parts += [
            _wire(f"W{k}", f"q{k}", f"l{k}", r.uniform(0.5, 4)),
            _wire(f"B{k}", f"k{k}", "neg", r.uniform(0.5, 4)),
        ]
        parts += [_load(f"L{k}", f"l{k}", f"k{k}", r.uniform(0.5, 4))]
    return parts


def mesh(conductors: int = 30) -> list[Part]:
    """Rings of four conductors behind a channel each, a load at every joint, returns of their own."""
    r = Random(9)
    parts: list[Part] = [("PS1", {**SOURCE, "Resistance": "2 mΩ"}, {"1": "p", "2": "m"})]
    made, k = 0, 0
    while made < conductors:
        k += 1
        parts += [_channel(f"CH{k}", "p", f"{k}.0", 20)]
        for n in range(4):
            parts += [_wire(f"G{k}.{n}", f"{k}.{n}", f"{k}.{(n + 1) % 4}", r.uniform(0.5, 2))]
            made += 1
        for n in range(1, 4):
            if made < conductors:
                parts += [_wire(f"H{k}.{n}", f"h{k}.{n}", "m", r.uniform(0.5, 2))]
                parts += [_load(f"L{k}.{n}", f"{k}.{n}", f"h{k}.{n}", r.uniform(0.5, 3))]
                made += 1
    return parts


SIZED: dict[str, Callable[[], list[Part]]] = {
    "radial_20": lambda: radial(20),
    "radial_92": lambda: radial(92),
    "radial_314": lambda: radial(314),
    "joined_42": joined,
    "mesh_30": mesh,
}


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in SIZED.items():
        (folder / f"{name}.xml").write_text(netlist(make()), encoding="utf-8")
