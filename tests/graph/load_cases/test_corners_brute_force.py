"""Load states at the ends of their tolerances against every combination of ends, solved here with numpy.

The reference knows nothing of ``graph``: nodes, conductances and a search over the states of the diodes. Outputs of
a bus have tolerances that need not be even, contacts a range; loads are resistances, constant powers and currents.
"""

import itertools
import random
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from wired import AT_20_C, contact, harness, load, output, wire

from loadloom.graph.facts.load_states import all_currents, solve_load_states
from loadloom.graph.model.elements import Band, Diode, LoadKind, Tolerance
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

NEAR = 0.002
"""Share by which a current may be below that of the reference, or above it without being marked as a bound."""

KINDS = {"A": LoadKind.CURRENT, "W": LoadKind.POWER, "O": LoadKind.RESISTANCE}

CLASSES: dict[str, dict[str, Any]] = {
    "one output": {"outputs": 1, "diodes": False, "kinds": "AWO"},
    "one output, resistances": {"outputs": 1, "diodes": False, "kinds": "O"},
    "one output, powers": {"outputs": 1, "diodes": False, "kinds": "W"},
    "joined": {"outputs": 2, "diodes": False, "kinds": "A"},
    "joined, mixed loads": {"outputs": 2, "diodes": False, "kinds": "AWO"},
    "three joined": {"outputs": 3, "diodes": False, "kinds": "AWO"},
    "on diodes": {"outputs": 2, "diodes": True, "kinds": "A"},
    "three on diodes": {"outputs": 3, "diodes": True, "kinds": "AWO"},
}


@dataclass
class Drawn:
    """A harness as numbers: sources (plus, V, V low, V high, Ω), edges (name, a, b, Ω low, Ω high, drop or None),
    loads (name, plus, kind, demand). Minus of all sources is node 0, of all loads node 1.
    """

    nodes: int = 2
    sources: list[tuple[int, float, float, float, float]] = field(default_factory=list)
    edges: list[tuple[str, int, int, float, float, float | None]] = field(default_factory=list)
    loads: list[tuple[str, int, str, float]] = field(default_factory=list)

    def node(self) -> int:
        self.nodes += 1
        return self.nodes - 1


def drawn(seed: int, *, outputs: int, diodes: bool, kinds: str) -> Drawn:
    """One to three bus bars in a row, outputs and loads anywhere on them."""
    rng = random.Random(seed)
    here = Drawn()
    buses = [here.node() for _ in range(rng.randint(1, 3))]
    for k, (a, b) in enumerate(itertools.pairwise(buses)):
        ohm = rng.uniform(2e-3, 20e-3)
        here.edges.append((f"B{k}", a, b, ohm, ohm, None))
    volts = rng.choice((12.0, 24.0))
    for k in range(outputs):
        plus, end = here.node(), here.node()
        below, above = rng.choice(((0.02, 0.02), (0.0, 0.05), (0.03, 0.0), (0.01, 0.04)))
        own = volts * rng.choice((1.0, 1.0, 1.01))
        here.sources.append((plus, own, own * (1 - below), own * (1 + above), rng.uniform(10e-3, 50e-3)))
        ohm = rng.uniform(5e-3, 30e-3)
        here.edges.append((f"A{k}", plus, end, ohm, ohm, None))
        if diodes:
            middle, end = end, here.node()
            here.edges.append((f"D{k}", middle, end, 2e-3, 2e-3, rng.choice((0.0, 0.3, 0.5))))
        new = rng.uniform(1e-3, 5e-3)
        here.edges.append((f"P{k}.1", end, rng.choice(buses), new, new * rng.choice((1.0, 4.0, 8.0)), None))
    for k in range(rng.randint(1, 3)):
        at, ohm = here.node(), rng.uniform(5e-3, 40e-3)
        here.edges.append((f"W{k}", rng.choice(buses), at, ohm, ohm, None))
        kind, amps = rng.choice(kinds), rng.uniform(2.0, 12.0)
        demand = {"A": amps, "W": amps * volts, "O": volts / amps}[kind]
        here.loads.append((f"L{k}", at, kind, demand))
    here.edges.append(("R", 1, 0, 5e-3, 5e-3, None))
    return here


def solved(here: Drawn, volts: tuple[float, ...], ohms: tuple[float, ...]) -> dict[str, float]:
    """Signed currents by name at given voltages and resistances, by trying every state of the diodes."""
    valves = [k for k, e in enumerate(here.edges) if e[5] is not None]
    for count in range(len(valves) + 1):
        for blocked in itertools.combinations(valves, count):
            found = _with_blocked(here, volts, ohms, set(blocked))
            if found is not None:
                return found
    raise AssertionError("no state of the diodes is consistent")


def _with_blocked(
    here: Drawn, volts: tuple[float, ...], ohms: tuple[float, ...], blocked: set[int]
) -> dict[str, float] | None:
    matrix, fixed = np.zeros((here.nodes, here.nodes)), np.zeros(here.nodes)

    def tie(a: int, b: int, siemens: float, emf: float) -> None:
        """A branch that carries (v_a - v_b + emf) · siemens from a to b."""
        for one, other, sign in ((a, b, -1.0), (b, a, 1.0)):
            matrix[one, one] += siemens
            matrix[one, other] -= siemens
            fixed[one] += sign * siemens * emf

    for (plus, _, _, _, ohm), v in zip(here.sources, volts, strict=True):
        tie(0, plus, 1.0 / ohm, v)
    for k, (edge, ohm) in enumerate(zip(here.edges, ohms, strict=True)):
        tie(edge[1], edge[2], *((1e-12, 0.0) if k in blocked else (1.0 / ohm, -(edge[5] or 0.0))))
    for _, at, kind, demand in here.loads:
        if kind == "O":
            tie(at, 1, 1.0 / demand, 0.0)
    inverse = np.zeros_like(matrix)
    inverse[1:, 1:] = np.linalg.inv(matrix[1:, 1:])
    drawn_a = np.array([demand if kind == "A" else 0.0 for _, _, kind, demand in here.loads])
    while True:
        into = fixed.copy()
        for (_, at, _, _), amps in zip(here.loads, drawn_a.tolist(), strict=True):
            into[at] -= amps
            into[1] += amps
        v = inverse @ into
        wanted = np.array(
            [
                demand / (v[at] - v[1]) if kind == "W" else amps
                for (_, at, kind, demand), amps in zip(here.loads, drawn_a.tolist(), strict=True)
            ]
        )
        if np.abs(wanted - drawn_a).max(initial=0.0) < 1e-9:
            break
        drawn_a = wanted
    currents = {}
    for k, ((name, a, b, _, _, drop), ohm) in enumerate(zip(here.edges, ohms, strict=True)):
        across = float(v[a] - v[b]) - (drop or 0.0)
        currents[name] = 0.0 if k in blocked else across / ohm
        if (k in blocked and across > 1e-7) or (k not in blocked and drop is not None and across < -1e-9):
            return None
    for k, ((plus, _, _, _, ohm), volt) in enumerate(zip(here.sources, volts, strict=True)):
        currents[f"U{k}"] = float(volt - v[plus]) / ohm
    return currents


def worst(here: Drawn) -> dict[str, float]:
    """By name the greatest magnitude over every combination of the ends, of an output what it gives."""
    most: dict[str, float] = {}
    for volts in itertools.product(*[(s[2], s[3]) for s in here.sources]):
        for ohms in itertools.product(*[sorted({e[3], e[4]}) for e in here.edges]):
            for name, amps in solved(here, volts, ohms).items():
                size = max(amps, 0.0) if name.startswith("U") else abs(amps)
                most[name] = max(size, most.get(name, 0.0))
    return most


def built(here: Drawn) -> Harness:
    """The same as a harness of the project."""
    parts: list[Any] = [
        output(
            *(f"U{k}", f"n{plus}", "n0", v),
            tolerance=Tolerance(1 - low / v, high / v - 1),
            limit_a=50.0,
            trip_a=60.0,
            resistance_ohm=ohm,
        )
        for k, (plus, v, low, high, ohm) in enumerate(here.sources)
    ]
    for name, a, b, low, high, drop in here.edges:
        band = Band((low + high) / 2, low, high)
        if drop is not None:
            ends = {"node_a": f"n{a}", "node_b": f"n{b}"}
            parts.append(Diode(id=name, subject=Subject(name), **ends, forward_drop_v=drop, resistance_ohm=band))
        elif name.startswith("P"):
            parts.append(contact(name, f"n{a}", f"n{b}", resistance_ohm=band))
        else:
            parts.append(wire(name, f"n{a}", f"n{b}", ohm=low))
    parts += [load(name, f"n{at}", "n1", demand, demand_kind=KINDS[kind]) for name, at, kind, demand in here.loads]
    return harness(*parts)


def compare(seed: int, **values: Any) -> tuple[float, float, str]:
    """The least current / reference, the greatest of those that are no bound, and the part of the least."""
    here = drawn(seed, **values)
    made = built(here)
    found = all_currents(made, solve_load_states(made, AT_20_C, made.cases(AT_20_C), lambda _: None))
    least, most, where = np.inf, 0.0, ""
    for name, wanted in worst(here).items():
        if wanted < 0.05:
            continue
        case, current_a = found[name].worst_peak
        if current_a / wanted < least:
            least, where = current_a / wanted, name
        if not found[name].peak_at[case].bound:
            most = max(most, current_a / wanted)
    return least, most, where


@pytest.mark.parametrize("name", CLASSES)
def test_no_combination_of_ends_is_worse_than_the_tool_says(name: str) -> None:
    for seed in range(20):
        least, most, where = compare(seed, **CLASSES[name])
        assert least >= 1 - NEAR, f"seed {seed}: {where} at {least:.4f} of the reference"
        assert most <= 1 + NEAR, f"seed {seed}: {most:.4f} of the reference without being a bound"


@pytest.mark.parametrize("seed", range(15))
def test_no_voltages_between_the_ends_are_worse_on_diodes(seed: int) -> None:
    """A constant power on diodes asks for the most of one output where the others just block: between the ends."""
    here = drawn(seed, outputs=2, diodes=True, kinds="W")
    made = built(here)
    found = all_currents(made, solve_load_states(made, AT_20_C, made.cases(AT_20_C), lambda _: None))
    for volts in itertools.product(*[np.linspace(s[2], s[3], 9) for s in here.sources]):
        for ohms in itertools.product(*[sorted({e[3], e[4]}) for e in here.edges]):
            for name, amps in solved(here, volts, ohms).items():
                size = max(amps, 0.0) if name.startswith("U") else abs(amps)
                assert size < 0.05 or found[name].worst_peak[1] >= size * (1 - NEAR), (name, volts)
