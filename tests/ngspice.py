"""ngspice as the reference: networks written as one netlist, one batch run, values read with 15 digits.

Nothing of the tool's own solve is used: pieces and their ground are found here by a plain union-find.
"""

import re
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from programs import need

from loadloom.graph.circuit.network import Coupling, FloatArray, Network

CURRENT, POWER, RESISTANCE = 0, 1, 2


@dataclass(frozen=True)
class Reference:
    """What ngspice says of one network; arrays as in ``Solution``."""

    edge_a: FloatArray
    source_a: FloatArray
    load_v: FloatArray
    load_a: FloatArray


def netlist(network: Network, tag: str) -> list[str]:
    """Lines of one network; every edge, output and load carries an ammeter (a source of 0 V)."""
    root = list(range(len(network.node_ids)))

    def find(k: int) -> int:
        while root[k] != k:
            root[k] = root[root[k]]
            k = root[k]
        return k

    edges = zip(network.edge_a, network.edge_b, network.edge_resistance_ohm, strict=True)
    ties = [(a, b) for a, b, r in edges if np.isfinite(r)]
    ties += list(zip(network.source_plus, network.source_minus, strict=True))
    ties += [
        (p, m)
        for p, m, kind in zip(network.load_plus, network.load_minus, network.load_kind, strict=True)
        if kind == RESISTANCE
    ]
    for a, b in ties:
        root[find(int(a))] = find(int(b))
    ground: dict[int, int] = {}
    for k in (*map(int, network.source_minus), *range(len(root))):
        ground.setdefault(find(k), k)

    def node(k: int) -> str:
        return "0" if ground[find(int(k))] == k else f"{tag}n{k}"

    lines = []
    for k, r in enumerate(network.edge_resistance_ohm):
        a, b = node(network.edge_a[k]), node(network.edge_b[k])
        if not np.isfinite(r):
            continue
        middle = b if r == 0 else f"{tag}e{k}"
        lines.append(f"v{tag}e{k} {a} {middle} 0")
        if r != 0:
            lines.append(f"r{tag}e{k} {middle} {b} {r:.17g}")
    for k, volts in enumerate(network.source_voltage_v):
        plus, minus = node(network.source_plus[k]), node(network.source_minus[k])
        r = network.source_resistance_ohm[k]
        inner = plus if r == 0 else f"{tag}s{k}"
        lines.append(f"v{tag}s{k} {inner} {minus} {volts:.17g}")
        if r != 0:
            lines.append(f"r{tag}s{k} {inner} {plus} {r:.17g}")
    inputs = {coupling.load: coupling for coupling in network.couplings}
    for k, demand in enumerate(network.load_demand):
        plus, minus, inner = node(network.load_plus[k]), node(network.load_minus[k]), f"{tag}l{k}"
        lines.append(f"v{tag}l{k} {plus} {inner} 0")
        if network.load_ids[k] in inputs:
            # A converter: its input draws what its output gives over the efficiency, and its no-load power.
            # Far below its voltage its current stays finite, so that there is one operating point to be found.
            power = _input_power(network, inputs[network.load_ids[k]], tag, node)
            least_v = 0.6 * _plus_side(network).get(int(network.load_plus[k]), 0.0)
            lines.append(f"b{tag}l{k} {inner} {minus} i=({power})/max(v({inner},{minus}),{least_v:.6g})")
        elif network.load_kind[k] == CURRENT:
            lines.append(f"i{tag}l{k} {inner} {minus} {demand:.17g}")
        elif network.load_kind[k] == POWER:
            lines.append(f"b{tag}l{k} {inner} {minus} i={demand:.17g}/v({inner},{minus})")
        else:
            lines.append(f"r{tag}l{k} {inner} {minus} {demand:.17g}")
        lines.append(f"e{tag}l{k} {tag}v{k} 0 {inner} {minus} 1")
    if (network.load_kind == POWER).any():  # started near the answer, or they divide by nearly nothing
        live = _plus_side(network)
        lines += [f".nodeset v({tag}n{k})={v:.6g}" for k, v in live.items() if ground[find(k)] != k]
        lines += [f".nodeset v({tag}l{k})={live.get(int(p), 0.0):.6g}" for k, p in enumerate(network.load_plus)]
    if network.couplings:
        inner = [
            (f"e{k}", b, r)
            for k, (b, r) in enumerate(zip(network.edge_b, network.edge_resistance_ohm, strict=True))
        ]
        inner += [
            (f"s{k}", p, r)
            for k, (p, r) in enumerate(zip(network.source_plus, network.source_resistance_ohm, strict=True))
        ]
        lines += [
            f".nodeset v({tag}{name})={live.get(int(at), 0.0):.6g}" for name, at, r in inner if r and np.isfinite(r)
        ]
    return lines


def _input_power(network: Network, coupling: Coupling, tag: str, node: Callable[[int], str]) -> str:
    """The power in W that a converter's input draws, as an expression of ngspice."""
    k = network.source_ids.index(coupling.output)
    plus, minus = node(network.source_plus[k]), node(network.source_minus[k])
    given = f"v({plus},{minus})*(-i(v{tag}s{k}))"
    points = coupling.efficiency
    if len(points) == 1:
        return f"{given}/{points[0][1]:.17g}+{coupling.no_load_w:.17g}"
    assert coupling.rated_w is not None
    # The end values hold beyond the stated points, as flat pieces of the line.
    ends = [(-1e3, points[0][1]), *points, (1e3, points[-1][1])]
    line = ", ".join(f"{x * coupling.rated_w:.17g}, {y:.17g}" for x, y in ends)
    return f"{given}/pwl({given}, {line})+{coupling.no_load_w:.17g}"


def _plus_side(network: Network) -> dict[int, float]:
    """Voltage without drop at every node joined to an output's plus by edges; 0 at all others."""
    root = list(range(len(network.node_ids)))

    def find(k: int) -> int:
        while root[k] != k:
            root[k] = root[root[k]]
            k = root[k]
        return k

    for a, b, r in zip(network.edge_a, network.edge_b, network.edge_resistance_ohm, strict=True):
        if np.isfinite(r):
            root[find(int(a))] = find(int(b))
    level = {find(int(p)): float(v) for p, v in zip(network.source_plus, network.source_voltage_v, strict=True)}
    return {k: level.get(find(k), 0.0) for k in range(len(root))}


TOGETHER = 5
"""Harnesses in one deck: starting ngspice costs about as much as solving these, and a deck of many grows slow."""


def run(networks: list[Network]) -> list[Reference]:
    """The operating points of networks, a few in each run of ngspice."""
    parts = [networks[k : k + TOGETHER] for k in range(0, len(networks), TOGETHER)]
    return [reference for part in parts for reference in _run(part)]


def _run(networks: list[Network]) -> list[Reference]:
    program = need("ngspice")
    lines = ["operating points"]
    for k, network in enumerate(networks):
        lines += netlist(network, f"h{k}")
    lines += [
        ".options reltol=1e-9 abstol=1e-9 vntol=1e-9 gmin=1e-15 itl1=300",
        ".control",
        "set numdgt=15",
        "op",
        "print all",
        ".endc",
        ".end",
    ]
    with tempfile.TemporaryDirectory() as folder:
        deck = Path(folder) / "deck.cir"
        deck.write_text("\n".join(lines) + "\n")
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False)
    values = {m[1]: float(m[2]) for m in re.finditer(r"^(\S+) = (\S+)\s*$", done.stdout, re.MULTILINE)}
    if not values:
        raise AssertionError(f"ngspice gave no values: {done.stdout[-1000:]} {done.stderr[-2000:]}")
    return [_read(network, f"h{k}", values) for k, network in enumerate(networks)]


def _read(network: Network, tag: str, values: dict[str, float]) -> Reference:
    def current(letter: str, count: int) -> FloatArray:
        return np.array([values.get(f"v{tag}{letter}{k}#branch", 0.0) for k in range(count)])

    return Reference(
        edge_a=current("e", len(network.edge_ids)),
        source_a=-current("s", len(network.source_ids)),
        load_v=np.array([values[f"{tag}v{k}"] for k in range(len(network.load_ids))]),
        load_a=current("l", len(network.load_ids)),
    )
