"""How fast base state, single open circuits and the fault search are together, and how they grow; run by hand.

Branching harnesses of 1,000, 10,000 and 100,000 conductors: feed and return trees of paths side by side (contact,
wire, contact), a limiter in front of every branch and of many of the branches inside it, connectors that ways
share, bundles of feeds with returns. Then harnesses with one common return trunk of 10,000 conductors: side by
side in one block, and in series with a load at every joint. Times are CPU seconds of this process.
"""

import gc
import itertools
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fault_bench import AT_20_C, networks_of, ratings_of, thresholds_of
from wired import contact, harness, limiter, load, output, wire

from loadloom.graph.circuit.network import LOAD_STATE, compile_network
from loadloom.graph.circuit.solve import solve
from loadloom.graph.faults.every_case import search_faults
from loadloom.graph.faults.piece import piece_loads, pieces_of
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.model.elements import Connector
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case
from loadloom.graph.open_circuits.single_open_circuits import single_open_circuits

CASE = Case("nominal")
Answer = TypeVar("Answer")


def cpu_s(work: Callable[[], Answer]) -> tuple[float, Answer]:
    """CPU seconds of a call, and what it gives."""
    gc.collect()
    start = time.process_time()
    answer = work()
    return time.process_time() - start, answer


class Drawing:
    """Parts of a harness with ways of contact, wire, contact."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.parts: list = []
        self.connectors: list[Connector] = []
        self.wires = 0

    def paths(self, a: str, b: str, count: int, bundle: str | None = None) -> None:
        """Paths side by side through a connector at either end."""
        first = self.wires + 1
        for _ in range(count):
            self.wires += 1
            k = self.wires
            self.parts += [
                contact(f"P{first}.{k}", a, f"a{k}", float(self.rng.uniform(1e-4, 4e-4)), rated=9.0),
                wire(f"W{k}", f"a{k}", f"b{k}", ohm=float(self.rng.uniform(5e-4, 1e-3)), length_m=0.5, rated=15.0,
                     bundle=bundle),
                contact(f"J{first}.{k}", f"b{k}", b, float(self.rng.uniform(1e-4, 4e-4)), rated=9.0),
            ]  # fmt: skip
        for side in "PJ":
            ids = tuple(f"{side}{first}.{k}" for k in range(first, self.wires + 1))
            self.connectors.append(Connector(f"{side}{first}", ids))

    def done(self) -> Harness:
        return harness(*self.parts, connectors=tuple(self.connectors))


def branching(conductors: int, *, most_paths: int = 5, branches: int = 4) -> Harness:
    """Feed and return trees alike, one load at every outer joint."""
    drawn = Drawing(1)
    rng = drawn.rng
    each = max(2, round(conductors / (1 + most_paths)))
    drawn.parts.append(output("U1", "f0", "r0", 48.0, trip_a=250.0, resistance_ohm=1e-3))
    inner = each // branches
    for k in range(each):
        above = k // branches
        start = f"f{above}"
        if k < branches or rng.random() < 0.3:
            drawn.parts.append(limiter(f"Q{k}", start, f"q{k}", float(rng.uniform(10.0, 120.0))))
            start = f"q{k}"
        bundle = f"B{k}" if rng.random() < 0.02 else None
        drawn.paths(start, f"f{k + 1}", int(rng.integers(1, most_paths + 1)), bundle)
        drawn.paths(f"r{k + 1}", f"r{above}", int(rng.integers(1, most_paths + 1)), bundle)
        if k >= inner:
            drawn.parts.append(load(f"L{k}", f"f{k + 1}", f"r{k + 1}", float(rng.uniform(0.5, 1.5) * 150.0 / each)))
    return drawn.done()


def trunk_side_by_side(count: int) -> Harness:
    """Paths out of their own with a limiter each, and one return of ``count`` conductors side by side."""
    drawn = Drawing(2)
    drawn.parts.append(output("U1", "f0", "r0", 48.0, trip_a=250.0, resistance_ohm=1e-3))
    for k in range(1, 3001):
        drawn.parts.append(limiter(f"Q{k}", "f0", f"q{k}", float(drawn.rng.uniform(1.0, 5.0))))
        drawn.paths(f"q{k}", f"f{k}", 1)
        drawn.parts.append(load(f"L{k}", f"f{k}", "back", 0.05))
    for _ in range(count):
        drawn.wires += 1
        k = drawn.wires
        drawn.parts += [
            contact(f"X{k}.1", "back", f"a{k}", float(drawn.rng.uniform(1e-2, 2e-2)), rated=9.0),
            wire(f"W{k}", f"a{k}", f"b{k}", ohm=float(drawn.rng.uniform(1e-2, 2e-2)), length_m=0.5, rated=15.0),
            contact(f"Y{k}.1", f"b{k}", "r0", float(drawn.rng.uniform(1e-2, 2e-2)), rated=9.0),
        ]
    return drawn.done()


def trunk_in_series(count: int) -> Harness:
    """A return of ``count`` conductors one after the other, a load with its own limiter at every joint."""
    drawn = Drawing(3)
    drawn.parts.append(output("U1", "f0", "r0", 48.0, trip_a=250.0, resistance_ohm=1e-3))
    for k in range(1, count + 1):
        drawn.parts.append(limiter(f"Q{k}", "f0", f"q{k}", float(drawn.rng.uniform(1.0, 5.0))))
        drawn.paths(f"q{k}", f"f{k}", 1)
        drawn.parts.append(wire(f"T{k}", f"r{k}", f"r{k - 1}", ohm=1e-6, length_m=0.1, rated=100.0))
        drawn.parts.append(load(f"L{k}", f"f{k}", f"r{k}", 150.0 / count))
    return drawn.done()


def measure(name: str, drawn: Harness, repeats: int = 3) -> tuple[int, float]:
    """Print the times of one harness; returns its conductors and the sum."""
    case = CASE
    network = networks_of(drawn, AT_20_C, case)[0]
    thresholds = thresholds_of(drawn, AT_20_C, case)
    ratings = ratings_of(drawn)
    base_network = compile_network(drawn, case, LOAD_STATE, AT_20_C, lambda c, corner: c.resistance_ohm.nominal)
    base_s, open_circuits_s, faults_s, rows_s = ([] for _ in range(4))

    def closed_form() -> Radial:
        (piece,) = pieces_of(network, thresholds, piece_loads(network, drawn))
        return Radial(PieceGeometry(drawn, piece))

    for _ in range(repeats):
        seconds, solution = cpu_s(lambda: solve(base_network))
        base_s.append(seconds)
        seconds, _ = cpu_s(lambda solution=solution: single_open_circuits(solution))
        open_circuits_s.append(seconds)
        seconds, radial = cpu_s(closed_form)
        faults_s.append(seconds)
    seconds, answer = cpu_s(
        lambda: search_faults(drawn, AT_20_C, [case], {case.id: (network,)}, {case.id: thresholds}, ratings)
    )
    rows_s = seconds
    conductors = len(drawn.conductors)
    together = min(base_s) + min(open_circuits_s) + min(faults_s)
    bounds = int((~radial.exact).sum())
    memory_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(
        f"{name}: {conductors} conductors, {len(drawn.contacts)} contacts, {len(drawn.devices)} devices, "
        f"{len(drawn.loads)} loads\n"
        f"  base state {min(base_s):.3f} s, all open circuits {min(open_circuits_s):.3f} s, all faults "
        f"{min(faults_s):.3f} s: "
        f"together {together:.3f} s of CPU\n"
        f"  with a row of words for every part ({len(answer.faults)} faults): faults {rows_s:.3f} s; "
        f"bounds {bounds} of {len(radial.parts)}; memory of the process so far {memory_gb:.2f} GB",
        flush=True,
    )
    return conductors, together


def main(sizes: tuple[int, ...] = (1_000, 10_000, 100_000)) -> None:
    """Print everything."""
    times = [measure("Branching harness", branching(n)) for n in sizes]
    for (n1, t1), (n2, t2) in itertools.pairwise(times):
        print(f"from {n1} to {n2} conductors: {t2 / t1 / (n2 / n1):.2f} × linear")
    measure("One return trunk of 10,000 conductors side by side", trunk_side_by_side(10_000), 1)
    measure("One return trunk of 10,000 conductors in series", trunk_in_series(10_000), 1)


if __name__ == "__main__":
    main(tuple(int(x) for x in sys.argv[1:]) or (1_000, 10_000, 100_000))
