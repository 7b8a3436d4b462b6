"""A judge of faults beside converters that shares nothing with the search: one state after another, by numpy alone.

Every state has one fault, a resistance between two joints; every load drawing, one alone, or none; contactors all
open or all closed (a welded one is a closed one); and converters that are not isolated failed from input to output:
one, one and another that it feeds, or one and all that it feeds. Converters are what they are: the output gives its
voltage up to what it can hold, the input draws what the output gives over the efficiency at that efficiency's load,
and none runs below its least input voltage. A state counts only if no device and no output is over what it can
hold; what its wires then carry is sustained.

``python tests/converter_judge.py FIRST LAST`` compares trees by seed and prints what is above the tool's answer.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator

import numpy as np
from converter_harnesses import converter_tree
from wired import analysed

from loadloom.graph.model.elements import Load, LoadKind, Output
from loadloom.graph.model.harness import Harness

TIE_OHM = 1e-5
"""Stands for 0 Ω."""

ROUNDS = 80
SETTLED = 1e-7

OHMS = np.geomspace(1e-3, 60.0, 14)
"""Resistances of the faults tried, in Ω."""


class Circuit:
    """One state: conductances in a nodal matrix, currents of loads and converters iterated until they settle."""

    def __init__(self, harness: Harness, *, closed: bool, through: frozenset[str] = frozenset()) -> None:
        self.harness = harness
        self.through = through
        names: dict[str, int] = {}

        def node(name: str) -> int:
            return names.setdefault(name, len(names))

        self.parts = []
        for part in harness.two_ended:
            fitted = part.fitted or (closed and part in harness.switches)
            if fitted:
                band = part.resistance_ohm
                ohm = max(TIE_OHM, band.lower if band else 0.0)
                self.parts.append((part.id, node(part.node_a), node(part.node_b), ohm))
        converters = {c.output_id: c for c in harness.converters}
        loads = {load.id: load for load in harness.loads}
        outputs = {o.id: o for o in harness.outputs}
        for name in sorted(through):
            c = converters[name]
            a, b = apart(outputs[c.output_id], loads[c.load_id])
            self.parts.append((f"{name} through", node(a), node(b), TIE_OHM))
        self.sources = []
        for o in harness.outputs:
            if o.id not in through:
                assert o.voltage_v is not None and o.tolerance is not None
                volts = o.voltage_v * (1.0 + o.tolerance.above)
                held = math.inf if o.never_trips else o.trip_a.upper if o.trip_a else math.inf
                self.sources.append(
                    (o.id, node(o.node_plus), node(o.node_minus), volts, max(TIE_OHM, o.resistance_ohm), held)
                )
        inputs = {c.load_id: c for c in harness.converters}
        self.loads = [
            (x.id, node(x.node_plus), node(x.node_minus), x.demand_kind, x.demand or 0.0)
            for x in harness.loads
            if x.id not in inputs
        ]
        self.inputs = [
            (c, node(loads[c.load_id].node_plus), node(loads[c.load_id].node_minus), outputs[c.output_id])
            for c in harness.converters
            if c.output_id not in through
        ]
        self.names = names
        self.held = {d.id: d.trip_a.upper for d in harness.devices if d.trip_a}

    def solve(self, fault: tuple[int, int, float] | None, drawing: frozenset[str]) -> dict[str, float] | None:
        """Currents in A by part, or None where something opens, or nothing settles."""
        n = len(self.names)
        base = np.zeros((n, n))

        def stamp(matrix: np.ndarray, a: int, b: int, g: float) -> None:
            matrix[a, a] += g
            matrix[b, b] += g
            matrix[a, b] -= g
            matrix[b, a] -= g

        for _, a, b, ohm in self.parts:
            stamp(base, a, b, 1.0 / ohm)
        for _, plus, minus, kind, demand in ((x[0], *x[1:]) for x in self.loads if x[0] in drawing):
            if kind is LoadKind.RESISTANCE:
                stamp(base, plus, minus, 1.0 / demand)
        if fault is not None:
            stamp(base, fault[0], fault[1], 1.0 / fault[2])
        running = {o.id for _, _, _, o in self.inputs}
        power = {c.output_id: c.no_load_w for c, *_ in self.inputs}
        volts_of = {c.output_id: 0.8 * 48.0 for c, *_ in self.inputs}
        load_v = {x[0]: 0.0 for x in self.loads}
        for c, *_ in self.inputs:
            volts_of[c.output_id] = (c.input_minimum_v or 1.0) / 0.7
        v = np.zeros(n)
        for round_ in range(ROUNDS):
            matrix = base.copy()
            into = np.zeros(n)
            for name, plus, minus, volts, ohm, _ in self.sources:
                if name in running or name not in power:
                    stamp(matrix, plus, minus, 1.0 / ohm)
                    into[plus] += volts / ohm
                    into[minus] -= volts / ohm
            for name, plus, minus, kind, demand in self.loads:
                if name in drawing and kind is not LoadKind.RESISTANCE:
                    if kind is LoadKind.CURRENT:
                        amps = demand if load_v[name] > 0.0 or round_ == 0 else 0.0
                    else:
                        amps = demand / load_v[name] if load_v[name] > 0.0 else 0.0
                    into[plus] -= amps
                    into[minus] += amps
            for _, plus, minus, o in self.inputs:
                if o.id in running:
                    amps = power[o.id] / volts_of[o.id]
                    into[plus] -= amps
                    into[minus] += amps
            before = v
            v = np.linalg.solve(matrix + 1e-9 * np.eye(n), into)
            gone = set()
            for name, plus, minus, *_ in self.loads:
                load_v[name] = float(v[plus] - v[minus])
                if round_ > 3 and load_v[name] < 0.3 * 5.0:
                    load_v[name] = 0.0  # it has collapsed and draws nothing
            for c, plus, minus, o in self.inputs:
                if o.id not in running:
                    continue
                across = float(v[plus] - v[minus])
                if round_ > 2 and across < (c.input_minimum_v or 0.0):
                    gone.add(o.id)
                    continue
                volts_of[o.id] = max(across, 0.3 * (c.input_minimum_v or 1.0))
                _, p, m, volts, ohm, _ = next(s for s in self.sources if s[0] == o.id)
                amps = (volts - (v[p] - v[m])) / ohm
                given = max(0.0, float((v[p] - v[m]) * amps))
                rated = (o.voltage_v or 0.0) * (o.limit_a or 0.0)
                points = sorted(c.efficiency)
                share = float(np.interp(given / rated, [x for x, _ in points], [y for _, y in points]))
                power[o.id] = (
                    0.5 * power[o.id] + 0.5 * (given / share + c.no_load_w)
                    if round_ > 20
                    else given / share + c.no_load_w
                )
            running -= gone
            if not gone and round_ > 4 and np.abs(v - before).max() < SETTLED:
                break
        else:
            return None
        currents = {name: abs(float(v[a] - v[b])) / ohm for name, a, b, ohm in self.parts}
        for name, held in self.held.items():
            if currents.get(name, 0.0) > held:
                return None
        for name, plus, minus, volts, ohm, held in self.sources:
            if (name in running or name not in power) and (volts - (v[plus] - v[minus])) / ohm > held:
                return None
        return currents


def apart(given: Output, taken: Load) -> tuple[str, str]:
    """The terminals of an input and an output that are not the joint that both have."""
    (common,) = {given.node_plus, given.node_minus} & {taken.node_plus, taken.node_minus}
    of_input = taken.node_minus if taken.node_plus == common else taken.node_plus
    return of_input, given.node_minus if given.node_plus == common else given.node_plus


def failures(harness: Harness) -> list[frozenset[str]]:
    """Which converters have failed: none, each, each with one of those that it feeds, and each with all of them."""
    loads = {x.id: x for x in harness.loads}
    outputs = {o.id: o for o in harness.outputs}
    joined = [
        c
        for c in harness.converters
        if {loads[c.load_id].node_plus, loads[c.load_id].node_minus}
        & {outputs[c.output_id].node_plus, outputs[c.output_id].node_minus}
    ]
    # What lies behind a converter: from its output's own joint along copper and other converters.
    on: dict[str, set[str]] = {}
    for part in harness.two_ended:
        on.setdefault(part.node_a, set()).add(part.node_b)
        on.setdefault(part.node_b, set()).add(part.node_a)
    found = [frozenset[str](), *(frozenset({c.output_id}) for c in joined)]
    for first in joined:
        seen: set[str] = set()
        here = [apart(outputs[first.output_id], loads[first.load_id])[1]]
        behind: set[str] = set()
        while here:
            at = here.pop()
            if at in seen:
                continue
            seen.add(at)
            here += on.get(at, ())
            for c in joined:
                if c is not first and at in (loads[c.load_id].node_plus, loads[c.load_id].node_minus):
                    behind.add(c.output_id)
                    here.append(apart(outputs[c.output_id], loads[c.load_id])[1])
        found += [frozenset({first.output_id, name}) for name in sorted(behind)]
        found.append(frozenset({first.output_id, *behind}))
    return list(dict.fromkeys(found))


def faults(circuit: Circuit) -> Iterator[tuple[int, int]]:
    """Across every load and every input, and from every joint of a feed to its bus' return."""
    seen = set()
    pairs = [(a, b) for _, a, b, *_ in circuit.loads] + [(a, b) for _, a, b, _ in circuit.inputs]
    pairs += [(p, m) for _, p, m, *_ in circuit.sources]
    for pair in pairs:
        if pair not in seen:
            seen.add(pair)
            yield pair


def most_a(harness: Harness) -> dict[str, float]:
    """The most that any of the states tried sustains on every wire, in A."""
    best: dict[str, float] = {}
    for closed in (True, False) if harness.switches else (True,):
        for through in failures(harness):
            circuit = Circuit(harness, closed=closed, through=through)
            every = frozenset(x[0] for x in circuit.loads)
            sets = {every, frozenset[str]()}
            if len(through) < 2:
                sets |= {frozenset({name}) for name in every}
            for pair in [None, *faults(circuit)]:
                for drawing in sets:
                    for ohm in (None,) if pair is None else OHMS:
                        state = circuit.solve(None if pair is None else (*pair, float(ohm)), drawing)
                        for name, amps in (state or {}).items():
                            best[name] = max(best.get(name, 0.0), amps)
    return best


def main(first: int, last: int) -> None:
    """Compare trees by seed, and print what is above the tool's answer."""
    from loadloom.graph.model.settings import AnalysisSettings

    over = 0
    for seed in range(first, last):
        drawn = converter_tree(
            seed,
            stages=1 + seed % 3,
            width=1 + seed % 2,
            mixed=True,
            inverting=seed % 2 == 1,
            every_pairing=seed % 4 == 2,
        )
        results = analysed(drawn, AnalysisSettings())
        found = most_a(drawn)
        worst, told = 0.0, 0.0
        for row in results.conductors:
            if (
                row.sustained_fault_a is not None
                and found.get(row.id, 0.0) > row.sustained_fault_a * (1 + 1e-4) + 1e-3
            ):
                over += 1
                print(seed, row.id, "judge", found[row.id], "tool", row.sustained_fault_a, row.protected_note)
            if row.sustained_fault_a:
                worst = max(worst, found.get(row.id, 0.0) / row.sustained_fault_a)
                told += 1
        print(
            f"seed {seed}: {len(drawn.converters)} converters, {told:.0f} wires, judge/tool up to {worst:.4f}",
            flush=True,
        )
    print("above the tool:", over)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
