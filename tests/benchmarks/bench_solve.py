"""How fast the solve and the single open circuits are, and how they grow; run by hand.

Prints: base state and all open circuits of a branching harness of 10,000 and 100,000 conductors; a harness with one
common return trunk of 10,000 conductors; and, on one harness of 2,000 conductors, all open circuits against ngspice
once per open circuit (its start-up taken off) and against an own full sparse solve per open circuit, both sampled.
"""

import gc
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import ngspice
from harnesses import ALL_KINDS, LoadKind, Network, branching_network

from loadloom.graph.circuit.solve import solve
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits, single_open_circuits

REPEATS = 5
FULL_SAMPLE = 40
NGSPICE_SAMPLE = 3


def best_s(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """The shortest of some runs, the one least disturbed by what else the machine does."""
    times = []
    for _ in range(repeats):
        gc.collect()
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def growth(kinds: tuple[LoadKind, ...]) -> None:
    print(f"\nBranching harness, loads of {', '.join(kinds)}")
    totals = []
    for size in (10_000, 100_000):
        network = branching_network(size, kinds=kinds)
        solution = solve(network)
        open_circuits = single_open_circuits(solution)
        base_s = best_s(lambda network=network: solve(network))
        open_circuits_s = best_s(lambda solution=solution: single_open_circuits(solution))
        conductors = len(network.edge_ids) // 3
        totals.append((conductors, base_s + open_circuits_s))
        print(
            f"  {conductors:7d} conductors, {2 * conductors} contacts: base {base_s:.3f} s, "
            f"all open circuits {open_circuits_s:.3f} s, together {base_s + open_circuits_s:.3f} s; "
            f"residual {solution.residual_a:.1e} A; "
            + (
                "exact"
                if open_circuits.exact
                else f"error of an open circuit at most {np.max(open_circuits.error_a):.1e} A"
            )
        )
    (n1, t1), (n2, t2) = totals
    print(f"  {t2 / t1 / (n2 / n1):.2f} × linear")


def trunk() -> None:
    network = branching_network(0, segments=(3_000, 1), most_paths=1)
    feeds = len(network.edge_ids)
    rng = np.random.default_rng(2)
    count, first = 10_000, len(network.node_ids)
    back = int(network.load_minus[0])
    nodes = first + 2 * count
    side_a, side_b = first + 2 * np.arange(count), first + 2 * np.arange(count) + 1
    network = replace(
        network,
        node_ids=tuple(f"n{k}" for k in range(nodes)),
        edge_ids=(*network.edge_ids, *(f"{x}t{k}" for k in range(count) for x in "PWJ")),
        edge_a=np.concatenate([network.edge_a, np.stack([np.full(count, back), side_a, side_b], axis=1).ravel()]),
        edge_b=np.concatenate([network.edge_b, np.stack([side_a, side_b, np.full(count, 1)], axis=1).ravel()]),
        edge_resistance_ohm=np.concatenate([network.edge_resistance_ohm, rng.uniform(0.01, 0.02, 3 * count)]),
        edge_drop_v=np.zeros(feeds + 3 * count),
        edge_diode=np.zeros(feeds + 3 * count, dtype=np.bool_),
    )
    solution = solve(network)
    base_s = best_s(lambda: solve(network), 2)
    open_circuits_s = best_s(lambda: single_open_circuits(solution), 1)
    memory_gb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    print(f"\nOne common return trunk of {count} conductors side by side (one block), 3,000 feed conductors")
    print(
        f"  base {base_s:.3f} s, all open circuits {open_circuits_s:.3f} s, memory of the process so far "
        f"{memory_gb:.2f} GB"
    )


def without(network: Network, edge: int) -> Network:
    resistance = network.edge_resistance_ohm.copy()
    resistance[edge] = np.inf
    return replace(network, edge_resistance_ohm=resistance)


def ngspice_run_s(lines: list[str]) -> tuple[float, str]:
    program = ngspice.need("ngspice")
    with tempfile.TemporaryDirectory() as folder:
        deck = Path(folder) / "deck.cir"
        deck.write_text("\n".join(lines) + "\n")
        start = time.perf_counter()
        done = subprocess.run([program, "-b", str(deck)], capture_output=True, text=True, check=False)
        return time.perf_counter() - start, done.stdout


def against_others(kinds: tuple[LoadKind, ...]) -> None:
    network = branching_network(2_000, kinds=kinds)
    solution = solve(network)
    open_circuits: OpenCircuits = single_open_circuits(solution)
    open_circuits_s = best_s(lambda: single_open_circuits(solution))
    shared = np.flatnonzero(~open_circuits.bridge)
    edges = len(network.edge_ids)
    rng = np.random.default_rng(5)
    print(f"\n{edges // 3} conductors, {edges} parts that open, loads of {', '.join(kinds)}")
    print(f"  all {edges} breaks: {open_circuits_s:.4f} s, {open_circuits_s / edges * 1e6:.2f} µs each")

    sample = rng.choice(shared, FULL_SAMPLE, replace=False).tolist()
    solve(network)
    worst = 0.0
    start = time.perf_counter()
    full = [solve(without(network, edge)) for edge in sample]
    full_s = (time.perf_counter() - start) / len(sample)
    for edge, after in zip(sample, full, strict=True):
        worst = max(worst, abs(abs(after.edge_a[open_circuits.worst[edge]]) - open_circuits.worst_a[edge]))
    print(
        f"  own full sparse solve, {len(sample)} sampled: {full_s * 1e3:.2f} ms each, "
        f"{full_s * edges / open_circuits_s:.0f} times as long; greatest difference {worst:.1e} A"
    )

    control = [".options reltol=1e-9 abstol=1e-9 vntol=1e-9 gmin=1e-15", ".control", "set numdgt=15", "op"]
    empty_s = min(
        ngspice_run_s(["empty", "v1 a 0 1", "r1 a 0 1", *control, "print v(a)", ".endc", ".end"])[0]
        for _ in range(5)
    )
    times, worst = [], 0.0
    for edge in sample[:NGSPICE_SAMPLE]:
        lines = ["one open circuit", *ngspice.netlist(without(network, edge), "h"), *control]
        taken, text = ngspice_run_s([*lines, f"print i(vhe{open_circuits.worst[edge]})", ".endc", ".end"])
        times.append(taken - empty_s)
        value = float(text.split("branch =")[-1].split("=")[-1].split()[0])
        worst = max(worst, abs(abs(value) - open_circuits.worst_a[edge]))
    spice_s = float(np.mean(times))
    print(
        f"  ngspice, {len(times)} sampled, start-up of {empty_s * 1e3:.1f} ms taken off: "
        f"{spice_s * 1e3:.1f} ms each, {spice_s * edges / open_circuits_s:.0f} times as long; "
        f"greatest difference {worst:.1e} A"
    )


if __name__ == "__main__":
    growth((LoadKind.CURRENT,))
    growth(ALL_KINDS)
    trunk()
    against_others((LoadKind.CURRENT,))
    against_others(ALL_KINDS)
