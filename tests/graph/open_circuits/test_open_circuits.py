"""Single open circuits against the full solve of the harness without the part, and against ngspice."""

from collections.abc import Callable
from dataclasses import replace

import networkx as nx
import ngspice
import numpy as np
import pytest
from harnesses import ALL_KINDS, Network, network_of, random_harness, small_network

from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind
from loadloom.graph.model.results import Results
from loadloom.graph.open_circuits.single_open_circuits import OpenCircuits, single_open_circuits

A, W, OHM = LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE
HARNESSES = 50


def without(network: Network, edge: int) -> Network:
    resistance = network.edge_resistance_ohm.copy()
    resistance[edge] = np.inf
    return replace(network, edge_resistance_ohm=resistance)


def blocks_of(network: Network) -> list[int]:
    """Block of every edge by networkx, outputs included, parallel edges told apart by a node in their middle."""
    graph: nx.Graph = nx.Graph()
    for k, (a, b) in enumerate(zip(network.edge_a.tolist(), network.edge_b.tolist(), strict=True)):
        graph.add_edge(a, ("e", k))
        graph.add_edge(("e", k), b)
    for k, (p, m) in enumerate(zip(network.source_plus.tolist(), network.source_minus.tolist(), strict=True)):
        graph.add_edge(p, ("s", k))
        graph.add_edge(("s", k), m)
    label = [-1] * len(network.edge_ids)
    for number, nodes in enumerate(nx.biconnected_components(graph)):
        if len(nodes) > 2:
            for node in nodes:
                if isinstance(node, tuple) and node[0] == "e":
                    label[node[1]] = number
    return label


def compare(network: Network, tolerance: float) -> OpenCircuits:
    """Every open circuit against the full solve; ``tolerance`` is a share of the block's greatest current, and
    1e-12 A where a block carries nothing.
    """
    solution = solve(network)
    open_circuits = single_open_circuits(solution)
    label = np.array(blocks_of(network))
    assert (open_circuits.bridge == (label < 0)).all()
    greatest = {block: np.abs(solution.edge_a[label == block]).max() for block in set(label.tolist())}
    broken = np.abs(solution.edge_a)
    for edge in range(len(network.edge_ids)):
        full = solve(without(network, edge))
        if open_circuits.bridge[edge]:
            assert set(open_circuits.loses_supply(edge)) == set(full.unfed) - set(solution.unfed)
            continue
        assert open_circuits.loses_supply(edge) == ()
        mates = label == label[edge]
        mates[edge] = False
        after = np.abs(full.edge_a) * mates
        allowed_error = tolerance * greatest[label[edge]] + 1e-12
        assert abs(open_circuits.worst_a[edge] - after.max()) <= allowed_error
        assert abs(after[open_circuits.worst[edge]] - after.max()) <= allowed_error
        assert open_circuits.error_a[edge] <= allowed_error
        broken = np.maximum(broken, after)
    limit = np.array([tolerance * greatest[block] + 1e-12 for block in label.tolist()])
    assert (np.abs(open_circuits.open_circuit_a - broken) <= limit).all()
    return open_circuits


@pytest.mark.parametrize(
    ("kinds", "tolerance", "count"), [((A,), 1e-9, HARNESSES), ((OHM,), 1e-6, 20), (ALL_KINDS, 1e-6, 30)]
)
def test_breaks_agree_with_the_full_solve(kinds: tuple[LoadKind, ...], tolerance: float, count: int):
    """In every second harness half the contacts have no resistance."""
    for seed in range(count):
        harness = random_harness(seed, kinds=kinds, joints=2, most_paths=3, zero_contacts=0.5 * (seed % 2))
        assert compare(network_of(harness), tolerance).exact


def test_breaks_agree_with_ngspice():
    """Three open circuits each of ten harnesses; 1e-6 of the harness' greatest current."""
    rng = np.random.default_rng(7)
    networks, expected = [], []
    for seed in range(100, 110):
        network = network_of(random_harness(seed))
        open_circuits = single_open_circuits(solve(network))
        for edge in rng.choice(np.flatnonzero(~open_circuits.bridge), 3, replace=False).tolist():
            networks.append(without(network, edge))
            expected.append((int(open_circuits.worst[edge]), float(open_circuits.worst_a[edge])))
    for reference, (worst, current) in zip(ngspice.run(networks), expected, strict=True):
        assert abs(abs(reference.edge_a[worst]) - current) <= 1e-6 * np.abs(reference.edge_a).max()


def test_one_of_six_contacts_open():
    """50 A over six equal paths of 9.2 A: 10.0 A on each of five (W38 of the worked examples)."""
    paths = [(f"P{k}", "u+", "x", 3e-3) for k in range(6)]
    network = small_network(paths, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 50.0)])
    open_circuits = single_open_circuits(solve(network), allowed_a=np.array([9.2, 9.2, 8.0, 9.2, 9.2, 9.2]))
    assert open_circuits.worst_a == pytest.approx(np.full(6, 10.0), rel=1e-12)
    assert open_circuits.open_circuit_a == pytest.approx(np.full(6, 10.0), rel=1e-12)
    assert not open_circuits.bridge.any()


def test_the_weakest_of_parts_in_series_is_named():
    edges = [("c1", "u+", "p", 1e-3), ("w1", "p", "x", 5e-3), ("c2", "u+", "q", 1e-3), ("w2", "q", "x", 5e-3)]
    network = small_network(edges, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 10.0)])
    open_circuits = single_open_circuits(solve(network), allowed_a=np.array([9.0, 20.0, 8.0, 20.0]))
    assert [network.edge_ids[k] for k in open_circuits.worst] == ["c2", "c2", "c1", "c1"]
    assert open_circuits.worst_a == pytest.approx(np.full(4, 10.0))


def test_one_return_of_two_open():
    """Two returns of 11 A each; one open: 22 A on the other."""
    edges = [("f", "u+", "x", 1e-2), ("r1", "y", "u-", 2e-3), ("r2", "y", "u-", 2e-3)]
    network = small_network(edges, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "y", A, 22.0)])
    open_circuits = single_open_circuits(solve(network))
    assert open_circuits.worst_a[1:] == pytest.approx([22.0, 22.0])
    assert open_circuits.bridge.tolist() == [True, False, False]
    assert open_circuits.loses_supply(0) == ("L",)


def test_a_break_is_charged_to_parts_that_are_looked_at_only():
    """Three returns share 12 A by conductance; the bond of least resistance takes most, and is none of the list."""
    edges = [
        ("f", "u+", "x", 1e-2),
        ("r1", "y", "u-", 2e-3),
        ("r2", "y", "u-", 4e-3),
        ("bond CG1", "y", "u-", 1e-3),
    ]
    network = small_network(edges, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "y", A, 12.0)])
    open_circuits = single_open_circuits(solve(network), opened=np.array([True, True, True, False]))
    assert [int(k) for k in open_circuits.worst[1:3]] == [2, 1]
    # Beside the bond of 1000 S: 250 S and 500 S take 12 A / 5 and 12 A / 3.
    assert open_circuits.worst_a[1:3] == pytest.approx([12.0 / 5.0, 12.0 / 3.0])


def test_two_outputs_on_one_bus_take_over_from_each_other():
    """Outputs with internal resistance: opening one lead puts all on the other."""
    network = small_network(
        [("a", "u+", "x", 1e-2), ("b", "v+", "x", 1e-2)],
        [("U", "u+", "m", 12.0, 0.01), ("V", "v+", "m", 12.0, 0.03)],
        [("L", "x", "m", A, 6.0)],
    )
    open_circuits = single_open_circuits(solve(network))
    assert open_circuits.worst_a == pytest.approx([6.0, 6.0])
    assert open_circuits.loses_supply(0) == open_circuits.loses_supply(1) == ()


def test_outputs_behind_diodes_are_solved_in_full():
    network = small_network(
        [("w", "u+", "p", 1e-3), ("D1", "p", "x", 0.0), ("D2", "v+", "x", 0.0)],
        [("U", "u+", "m", 12.0, 0.0), ("V", "v+", "m", 11.5, 0.0)],
        [("L", "x", "m", A, 2.0)],
        diodes={"D1": 0.4, "D2": 0.4},
    )
    open_circuits = single_open_circuits(solve(network))
    assert open_circuits.solved_in_full.all()
    assert network.edge_ids[open_circuits.worst[0]] == "D2"
    assert open_circuits.worst_a[0] == pytest.approx(2.0)
    assert open_circuits.loses_supply(0) == ()


def test_loss_of_one_output_that_holds_its_current():
    """Two outputs of 10 A hold 15 A between them; one alone starves the load."""
    network = small_network(
        [("a", "u+", "x", 1e-2), ("b", "v+", "x", 1e-2)],
        [("U", "u+", "m", 30.0, 0.0), ("V", "v+", "m", 30.1, 0.0)],
        [("L", "x", "m", A, 15.0)],
        holds={"U": 10.0, "V": 10.0},
    )
    open_circuits = single_open_circuits(solve(network))
    assert open_circuits.solved_in_full.all()
    assert open_circuits.worst_a == pytest.approx([10.0, 10.0])


def test_constant_power_after_a_break_by_hand():
    """Two ways of 0.1 Ω feed 100 W at 12 V; with one open V = (12 + √(144 - 4·0.1·100))/2."""
    network = small_network(
        [("a", "u+", "x", 0.1), ("b", "u+", "x", 0.1)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", W, 100.0)],
    )
    expected = 100.0 / ((12.0 + np.sqrt(144.0 - 40.0)) / 2)
    assert single_open_circuits(solve(network)).worst_a == pytest.approx([expected, expected], rel=1e-9)


def test_a_large_harness_states_its_error(monkeypatch: pytest.MonkeyPatch):
    """Without the coupled reaction the stated error holds the difference from the full solve."""
    monkeypatch.setattr("loadloom.graph.open_circuits.load_reaction.COUPLED_LIMIT", 0)
    for seed in range(20):
        network = network_of(random_harness(seed, joints=3, most_paths=3, outputs=1, meshes=0))
        solution = solve(network)
        open_circuits = single_open_circuits(solution)
        assert not open_circuits.exact or (network.load_kind == 0).all()
        for edge in np.flatnonzero(~open_circuits.bridge).tolist():
            full = np.abs(solve(without(network, edge)).edge_a[open_circuits.worst[edge]])
            assert abs(full - open_circuits.worst_a[edge]) <= open_circuits.error_a[edge] + 1e-9
            assert open_circuits.error_a[edge] <= 0.02 * np.abs(solution.edge_a).max()


def test_many_ways_in_one_block(monkeypatch: pytest.MonkeyPatch):
    """A set too large for one batch gives the same as in one: column by column, and a mesh by sparse factor."""
    rng = np.random.default_rng(3)
    paths = [(f"P{k}", "u+", "x", float(r)) for k, r in enumerate(rng.uniform(1e-3, 9e-3, 40))]
    mesh = [
        (f"M{k}", f"n{rng.integers(0, 12)}", f"n{rng.integers(12, 24)}", float(r))
        for k, r in enumerate(rng.uniform(1e-3, 9e-3, 60))
    ]
    mesh += [("J", "x", "n0", 1e-3)]
    network = small_network(
        paths + mesh, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 50.0), ("K", "n13", "u-", A, 20.0)]
    )
    solution = solve(network)
    whole = single_open_circuits(solution)
    monkeypatch.setattr("loadloom.graph.circuit.chains.LARGE", 10)
    monkeypatch.setattr("loadloom.graph.circuit.chains.AT_ONCE", 50)
    monkeypatch.setattr("loadloom.graph.open_circuits.single_open_circuits.AT_ONCE", 50)
    pieces = single_open_circuits(solution)
    assert (~whole.bridge).sum() > 60
    assert pieces.worst_a == pytest.approx(whole.worst_a, rel=1e-9)
    assert pieces.open_circuit_a == pytest.approx(whole.open_circuit_a, rel=1e-9)


def test_what_rounding_alone_adds_is_no_open_circuit(demo_results: Callable[[str], Results]) -> None:
    """Nothing lies beside these: they carry what their load draws, whatever opens elsewhere (Kirchhoff)."""
    rows = {row.id: row for row in demo_results("misdrawn").conductors}
    for name in ("W1", "W20", "W111"):
        assert rows[name].open_circuit_by is None and rows[name].open_circuit_a is None
