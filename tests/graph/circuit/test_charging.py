"""Inrush into capacitances against transients of ngspice, and against C·V²/(2·R) for a stiff source."""

from __future__ import annotations

import math
import random
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest
from harnesses import small_network
from programs import need

from loadloom.graph.circuit.charging import Capacitance, charge
from loadloom.graph.circuit.network import FloatArray
from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind


@dataclass
class Bus:
    """One output on a shared bus, with loads of which some have a capacitance; ``starts`` is the one switched
    on."""

    volts: float
    source_ohm: float
    hold_a: float
    edges: list[tuple[str, str, str, float]] = field(default_factory=list)
    loads: list[tuple[str, str, str, LoadKind, float]] = field(default_factory=list)
    caps: list[tuple[str, str, str, float, float, float, float]] = field(default_factory=list)
    """Name, plus, minus, F, Ω, pre-charge Ω and until when in s; the first one starts from 0 V."""


def random_bus(seed: int) -> Bus:
    rng = random.Random(seed)
    bus = Bus(rng.choice((12.0, 24.0, 48.0)), rng.uniform(5e-3, 50e-3), math.inf)
    if seed % 3:
        bus.hold_a = rng.uniform(15.0, 60.0)
    bus.edges += [("WP", "p", "b", rng.uniform(5e-3, 60e-3)), ("WM", "r", "m", rng.uniform(5e-3, 60e-3))]
    draws_a = 0.0
    for k in range(rng.randint(2, 4)):
        bus.edges += [
            (f"F{k}", "b", f"l{k}", rng.uniform(5e-3, 100e-3)),
            (f"R{k}", f"n{k}", "r", rng.uniform(5e-3, 100e-3)),
        ]
        if k:
            amps = rng.uniform(0.2, 3.0)
            draws_a += amps
            kind = rng.choice((LoadKind.CURRENT, LoadKind.RESISTANCE))
            demand = amps if kind is LoadKind.CURRENT else bus.volts / amps
            bus.loads.append((f"L{k}", f"l{k}", f"n{k}", kind, demand))
        if k == 0 or rng.random() < 0.7:
            farad, ohm = 10 ** rng.uniform(-4.0, -2.3), rng.uniform(2e-3, 50e-3)
            before = (0.0, 0.0)
            if k == 0 and seed % 2:
                before = (rng.uniform(1.0, 10.0), 0.0)
                before = (before[0], before[0] * farad * rng.uniform(0.5, 4.0))
            bus.caps.append((f"C{k}", f"l{k}", f"n{k}", farad, ohm, *before))
    return bus


def charged(bus: Bus) -> tuple[list[str], FloatArray, FloatArray, FloatArray]:
    """Names of the rows, peaks, I²t beyond the current at the end, and currents at the end."""
    network = small_network(
        bus.edges,
        [("PS", "p", "m", bus.volts, bus.source_ohm)],
        bus.loads or [("L0", "l0", "n0", LoadKind.CURRENT, 0.0)],
        holds={"PS": bus.hold_a},
    )
    settled = solve(network)
    index = network.node_index
    caps = []
    for k, (name, plus, minus, farad, ohm, before_ohm, until_s) in enumerate(bus.caps):
        v = float(settled.node_v[index[plus]] - settled.node_v[index[minus]]) if k else 0.0
        caps.append(Capacitance(name, index[plus], index[minus], farad, ohm, v, before_ohm, until_s))
    found = charge(network, caps)
    assert not found.unfinished
    return list(found.ids), found.peak_a(), found.i2t_a2s(), found.end_a


def spice(
    bus: Bus, names: list[str], end_a: FloatArray, span_s: float, step_s: float
) -> tuple[FloatArray, FloatArray]:
    """Peak and I²t beyond the end's current of the named edges and capacitances, from a transient."""
    program = need("ngspice")
    wanted = [name for name in names if name != "PS"]

    def node(name: str) -> str:
        return "0" if name == "m" else name

    limit = f"min({bus.hold_a:.12g}, ({bus.volts:.12g}-v(p))/{bus.source_ohm:.12g})"
    if math.isinf(bus.hold_a):
        lines = ["charging", f"vsrc s 0 {bus.volts:.12g}", f"rsrc s p {bus.source_ohm:.12g}"]
    else:
        lines = ["charging", f"bsrc 0 p i={limit}"]
    for name, a, b, ohm in bus.edges:
        lines += [f"v{name} {node(a)} {name}x 0", f"r{name} {name}x {node(b)} {ohm:.12g}"]
    for name, plus, minus, kind, demand in bus.loads:
        element = "i" if kind is LoadKind.CURRENT else "r"
        lines.append(f"{element}{name} {node(plus)} {node(minus)} {demand:.12g}")
    # The capacitance that starts is closed in by a switch at 1 step; all else has settled by then.
    for k, (name, plus, minus, farad, ohm, before_ohm, until_s) in enumerate(bus.caps):
        lines.append(f"v{name} {node(plus)} {name}x 0")
        lines.append(f"r{name} {name}x {name}y {ohm:.12g}")
        last = f"{name}y"
        if k == 0:
            lines += [f"s{name} {name}y {name}z gate 0 closes", "vgate gate 0 pulse(0 1 1u 1n 1n 1000 2000)"]
            last = f"{name}z"
            if before_ohm:
                lines += [
                    f"rb{name} {last} {name}w {before_ohm:.12g}",
                    f"sb{name} {last} {name}w late 0 closes",
                    f"vlate late 0 pulse(0 1 {1e-6 + until_s:.12g} 1n 1n 1000 2000)",
                ]
                last = f"{name}w"
        lines.append(f"c{name} {last} {node(minus)} {farad:.12g}")
        if k == 0:
            lines.append(f"rleak{name} {last} {node(minus)} 1e6")
    lines.append(".model closes sw(vt=0.5 vh=0 ron=1e-6 roff=1e12)")
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out.txt"
        probes = " ".join(f"i(v{name.lower()})" for name in wanted)
        lines += [
            ".options method=gear reltol=1e-6 trtol=2",
            ".control",
            f"tran {step_s:.6g} {span_s:.6g} 0 {step_s:.6g}",
            "set wr_singlescale",
            "set numdgt=12",
            f"wrdata {out} {probes}",
            ".endc",
            ".end",
        ]
        deck = Path(folder) / "deck.cir"
        deck.write_text("\n".join(lines) + "\n")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False)
        assert out.exists(), done.stdout[-2000:] + done.stderr[-2000:]
        table = np.loadtxt(out)
    times, amps = table[:, 0], table[:, 1:]
    rest = np.array([end_a[names.index(name)] for name in wanted])
    return np.abs(amps).max(axis=0), np.trapezoid(amps**2 - rest**2, times, axis=0)


@pytest.mark.parametrize("seed", range(30))
def test_inrush_agrees_with_a_transient_of_ngspice(seed: int) -> None:
    """Peak and I²t within 1 % in every edge and capacitance in which the inrush is what counts."""
    bus = random_bus(seed)
    names, peak, i2t, end_a = charged(bus)
    farad, ohm, before, until = bus.caps[0][3], bus.caps[0][4], *bus.caps[0][5:]
    total = sum(cap[3] for cap in bus.caps)
    slow_s = total * (0.5 + ohm)
    if math.isfinite(bus.hold_a):
        slow_s += total * bus.volts / 5.0
    span_s = until + 8.0 * slow_s + (0.0 if not before else 2.0 * before * farad)
    spice_peak, spice_i2t = spice(bus, names, end_a, span_s, span_s / 30_000)
    wanted = [names.index(name) for name in names if name != "PS"]
    tells = peak[wanted] > 1.05 * np.abs(end_a[wanted])
    assert tells.any()
    assert peak[wanted] == pytest.approx(spice_peak, rel=0.01)
    # Where other loads make all but 5 % of the integral, the difference of two large integrals is ngspice's steps.
    much = np.abs(i2t[wanted]) > 0.05 * end_a[wanted] ** 2 * span_s
    assert much.any()
    assert i2t[wanted][much] == pytest.approx(spice_i2t[much], rel=0.01)


@pytest.mark.parametrize(("volts", "ohm", "farad"), [(24.0, 0.12, 1e-3), (12.0, 0.05, 47e-6), (48.0, 1.0, 10e-3)])
def test_a_stiff_source_gives_half_c_v_squared_over_r(volts: float, ohm: float, farad: float) -> None:
    """Peak V/R; ∫ (V/R·exp(-t/RC))² dt = C·V²/(2·R)."""
    network = small_network(
        [("W", "p", "l", ohm)], [("PS", "p", "m", volts, 0.0)], [("L", "l", "m", LoadKind.CURRENT, 0.0)]
    )
    at = network.node_index
    found = charge(network, [Capacitance("C", at["l"], at["m"], farad, 0.0, 0.0)])
    own = found.ids.index("C")
    # 10 µΩ stand for the capacitance's own resistance.
    assert found.peak_a()[own] == pytest.approx(volts / ohm, rel=1e-3)
    assert found.i2t_a2s()[own] == pytest.approx(farad * volts**2 / (2.0 * ohm), rel=1e-3)


def test_a_constant_current_limiter_charges_in_a_line() -> None:
    """5 A into 10 mF up to 24 V: 48 ms, 1.2 A²s; less what the end of the line, τ = R·C, takes off."""
    network = small_network(
        [("CH", "p", "q", 0.0), ("W", "q", "l", 1e-3)],
        [("PS", "p", "m", 24.0, 1e-3)],
        [("L", "l", "m", LoadKind.CURRENT, 0.0)],
    )
    at = network.node_index
    found = charge(network, [Capacitance("C", at["l"], at["m"], 10e-3, 0.0, 0.0)], {"CH": 5.0})
    own = found.ids.index("W")
    assert found.peak_a()[own] == pytest.approx(5.0, rel=1e-3)
    assert found.i2t_a2s()[own] == pytest.approx(25.0 * 0.048, rel=5e-3)
