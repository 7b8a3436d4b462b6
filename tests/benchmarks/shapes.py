"""Harnesses that are hard to search, as KiCad's XML netlists: rings, buses, joined packs, diodes, meshes.

Invented for the benchmarks, all of the mobile telescope cart. ``python shapes.py FOLDER`` writes them.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from pathlib import Path
from random import Random
from xml.sax.saxutils import escape, quoteattr

Part = tuple[str, dict[str, str], dict[str, str]]
"""Reference, fields and net by pin."""

WIRE = {"Role": "wire", "Gauge": "6 mm²", "Rating": "40 A"}


def netlist(parts: list[Part]) -> str:
    """The XML export of a drawing with these parts."""
    nets: dict[str, list[tuple[str, str]]] = defaultdict(list)
    text = [
        '<?xml version="1.0" encoding="utf-8"?>',
        '<export version="E">',
        "<design><source>x.kicad_sch</source>",
    ]
    text += ['<date/><tool>Eeschema 9.0.8</tool><sheet number="1" name="/" tstamps="/"/></design>', "<components>"]
    for reference, fields, pins in parts:
        listed = "".join(f"<field name={quoteattr(k)}>{escape(v)}</field>" for k, v in fields.items())
        text.append(
            f"<comp ref={quoteattr(reference)}><value>{fields['Role']}</value><fields>{listed}</fields>"
            f'<libsource lib="bench" part="x" description=""/><sheetpath names="/" tstamps="/"/>'
            f"<tstamps>{reference}</tstamps></comp>"
        )
        for pin, net in pins.items():
            nets[net].append((reference, pin))
    text += ["</components>", "<nets>"]
    for number, (net, ends) in enumerate(nets.items(), start=1):
        listed = "".join(f"<node ref={quoteattr(r)} pin={quoteattr(p)}/>" for r, p in ends)
        text.append(f'<net code="{number}" name={quoteattr(net)}>{listed}</net>')
    return "\n".join([*text, "</nets>", "</export>", ""])


def _wire(name: str, a: str, b: str, ohm: float, **fields: str) -> Part:
    return name, {**WIRE, "Resistance": f"{ohm * 1e3:.4g} mΩ", "Length": "1 m", **fields}, {"1": a, "2": b}


def _supply(name: str, plus: str, minus: str, volts: str = "24 V", **fields: str) -> Part:
    return name, {"Role": "output", "Voltage": volts, "Resistance": "5 mΩ", **fields}, {"1": plus, "2": minus}


def _breaker(name: str, a: str, b: str, amps: float) -> Part:
    fields = {"Role": "breaker", "Rating": f"{amps:g} A", "Resistance": "2 mΩ", "Curve": "IEC 60898-1 C"}
    return name, {**fields, "Breaking capacity": "10 kA", "Voltage rating": "60 V"}, {"1": a, "2": b}


def _fuse(name: str, a: str, b: str, amps: float) -> Part:
    fields = {"Role": "fuse", "Rating": f"{amps:g} A", "Resistance": "2 mΩ", "Curve": "UL 248-14"}
    return name, {**fields, "Breaking capacity": "10 kA", "Voltage rating": "60 V"}, {"1": a, "2": b}


def _load(name: str, plus: str, minus: str, demand: str) -> Part:
    return name, {"Role": "load", "Load": demand}, {"1": plus, "2": minus}


def ring_main(sections: int = 12) -> list[Part]:
    """A ring of sections, each with a breaker, a load at every joint, one supply."""
    r = Random(1)
    parts = [_supply("PS1", "n0", "m", Limit="100 A", Trip="120 A")]
    for k in range(sections):
        here, there = f"n{k}", f"n{(k + 1) % sections}"
        parts += [
            _breaker(f"Q{k + 1}", here, f"q{k}", 16),
            _wire(f"W{k + 1}", f"q{k}", there, r.uniform(5e-3, 2e-2)),
        ]
        if k:
            parts += [_wire(f"R{k}", f"r{k}", "m", r.uniform(5e-3, 2e-2)), _load(f"L{k}", here, f"r{k}", "2 A")]
    return parts


def parallel_fuses(count: int = 30) -> list[Part]:
    """A bus fed through many fuses side by side."""
    r = Random(2)
    parts = [_supply("PS1", "p", "m", Limit="300 A", Trip="400 A")]
    for k in range(count):
        parts += [_fuse(f"F{k + 1}", "p", f"f{k}", r.choice((5, 8, 10)))]
        parts += [_wire(f"W{k + 1}", f"f{k}", "bus", r.uniform(5e-3, 3e-2))]
    parts += [_wire("WX", "bus", "x", 4e-3), _wire("WY", "y", "m", 4e-3), _load("L1", "x", "y", "40 A")]
    return parts


def joined_packs(count: int = 8) -> list[Part]:
    """Battery packs, each with a fuse and leads of its own, on one bus."""
    r = Random(3)
    parts: list[Part] = []
    for k in range(count):
        parts += [
            _supply(f"B{k + 1}", f"p{k}", f"m{k}", f"{r.uniform(24.0, 25.0):.2f} V", Limit="60 A", Trip="80 A")
        ]
        parts += [
            _fuse(f"F{k + 1}", f"p{k}", f"f{k}", 30),
            _wire(f"W{k + 1}", f"f{k}", "bus", r.uniform(2e-3, 8e-3)),
        ]
        parts += [_wire(f"R{k + 1}", "neg", f"m{k}", r.uniform(2e-3, 8e-3))]
    for k in range(3):
        parts += [_breaker(f"Q{k + 1}", "bus", f"q{k}", 25), _wire(f"V{k + 1}", f"q{k}", f"x{k}", 1e-2)]
        parts += [_wire(f"U{k + 1}", f"y{k}", "neg", 1e-2), _load(f"L{k + 1}", f"x{k}", f"y{k}", "10 A")]
    return parts


def diode_bus(count: int = 20) -> list[Part]:
    """Supplies behind diodes on one bus."""
    r = Random(4)
    parts: list[Part] = []
    for k in range(count):
        volts = f"{r.uniform(23.5, 25.0):.2f} V"
        parts += [_supply(f"PS{k + 1}", f"p{k}", "m", volts, Limit="10 A", Trip="12 A")]
        diode = {"Role": "diode", "Forward drop": "0.5 V", "Rating": "20 A"}
        parts += [_wire(f"W{k + 1}", f"p{k}", f"d{k}", 1e-2), (f"D{k + 1}", diode, {"A": f"d{k}", "K": "bus"})]
    parts += [_wire("WX", "bus", "x", 4e-3), _wire("WY", "y", "m", 4e-3), _load("L1", "x", "y", "40 A")]
    return parts


def mesh(branches: int) -> list[Part]:
    """Two joined supplies and branches of three kinds: rings, parallel cables, plain; about 2 wires each branch."""
    r = Random(5)
    parts = [_supply("PS1", "p1", "m", Limit="100 A", Trip="120 A"), _supply("PS2", "p2", "m", Limit="100 A")]
    parts += [_wire("WJ1", "p1", "bus", 3e-3), _wire("WJ2", "p2", "bus", 4e-3)]
    for k in range(branches):
        kind = k % 3
        parts.append(_breaker(f"Q{k}", "bus", f"q{k}", 20))
        if kind == 0:  # a ring of three joints, fed at one
            ends = [f"q{k}", f"g{k}.1", f"g{k}.2", f"g{k}.3", f"q{k}"]
            for n in range(4):
                parts.append(_wire(f"G{k}.{n}", ends[n], ends[n + 1], r.uniform(5e-3, 2e-2)))
            for n in range(1, 4):
                parts.append(_wire(f"H{k}.{n}", f"h{k}.{n}", "m", r.uniform(5e-3, 2e-2)))
                parts.append(_load(f"L{k}.{n}", f"g{k}.{n}", f"h{k}.{n}", f"{r.uniform(1, 3):.2f} A"))
        elif kind == 1:  # cores in parallel, both ways
            for n in range(2):
                parts.append(_wire(f"G{k}.{n}", f"q{k}", f"g{k}", r.uniform(5e-3, 2e-2), Cable=f"C{k}"))
                parts.append(_wire(f"H{k}.{n}", f"h{k}", "m", r.uniform(5e-3, 2e-2), Cable=f"C{k}"))
            parts.append(_load(f"L{k}", f"g{k}", f"h{k}", f"{r.uniform(3, 8):.2f} A"))
        else:
            parts.append(_wire(f"G{k}", f"q{k}", f"g{k}", r.uniform(5e-3, 2e-2)))
            parts.append(_wire(f"H{k}", f"h{k}", "m", r.uniform(5e-3, 2e-2)))
            parts.append(_load(f"L{k}", f"g{k}", f"h{k}", f"{r.uniform(3, 8):.2f} A"))
    return parts


SHAPES = {
    "ring_main_12": ring_main,
    "parallel_fuses_30": parallel_fuses,
    "joined_packs_8": joined_packs,
    "diode_bus_20": diode_bus,
    "mesh_66": lambda: mesh(15),
    "mesh_211": lambda: mesh(48),
    "mesh_310": lambda: mesh(70),
}


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in SHAPES.items():
        (folder / f"{name}.xml").write_text(netlist(make()), encoding="utf-8")
