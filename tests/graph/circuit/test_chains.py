"""Chains and segments of random multigraphs, and what opens them, against nodal analysis with numpy.

With ``a`` the incidence, ``g`` the conductances and ``Z`` the pseudo-inverse of the nodal matrix, a volt in series
with branch e drives ``Y[l, e] = g_l (δ_le - a_l Z a_eᵀ g_e)`` through branch l (Kirchhoff's and Ohm's laws). What
lies on a loop is counted by networkx.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from dataclasses import dataclass

import networkx as nx
import numpy as np
import pytest

from loadloom.graph.circuit import chains as module
from loadloom.graph.circuit.chains import Chains

SEEDS = range(24)
NODES = 12


@dataclass(frozen=True)
class Drawn:
    """A multigraph: ends, resistances, which branches are closed, and where something else is attached."""

    a: np.ndarray
    b: np.ndarray
    ohm: np.ndarray
    closed: np.ndarray
    busy: np.ndarray

    def chains(self) -> Chains:
        ohm = np.where(self.closed, self.ohm, np.nan)  # of an open branch the resistance is not read
        return Chains(NODES, self.a, self.b, ohm, self.closed, self.busy)

    def admittance(self) -> np.ndarray:
        """(B, B) currents per volt in series with each branch; of open branches 0."""
        g = np.where(self.closed, 1.0 / self.ohm, 0.0)
        incidence = np.zeros((len(g), NODES))
        for k, (one, other) in enumerate(zip(self.a, self.b, strict=True)):
            incidence[k, one] += 1.0
            incidence[k, other] -= 1.0
        z = np.linalg.pinv(incidence.T @ (g[:, None] * incidence), rcond=1e-11)
        return np.diag(g) - (g[:, None] * incidence) @ z @ (incidence.T * g)


def drawn(seed: int, zero: float = 0.0) -> Drawn:
    """Chains of one to three branches between a few joints, some branches open, some with both ends on one node.

    Resistances of 10 mΩ to 30 Ω; or ``zero`` for every second one, and 0.1 Ω to 1 Ω for the others.
    """
    rng = random.Random(seed)
    joints = rng.randint(2, 4)
    free = list(range(joints, NODES))
    pairs: list[tuple[int, int]] = []
    for _ in range(rng.randint(2, 7)):
        ends = [rng.randrange(joints), *(free.pop() for _ in range(min(len(free), rng.randint(0, 2))))]
        for one, other in itertools.pairwise([*ends, rng.randrange(joints)]):
            pairs.append((one, other) if rng.random() < 0.5 else (other, one))
    pairs.append((0, 0))
    ohm = [10.0 ** rng.uniform(-2.0, 1.5) for _ in pairs]
    if zero:
        ohm = [zero if rng.random() < 0.5 else rng.uniform(0.1, 1.0) for _ in pairs]
    return Drawn(
        np.array([p[0] for p in pairs]),
        np.array([p[1] for p in pairs]),
        np.array(ohm),
        np.array([rng.random() < 0.9 for _ in pairs]),
        np.array([rng.random() < 0.15 for _ in range(NODES)]),
    )


def members(graph: Drawn) -> list[int]:
    """Closed branches on some loop through two branches or more."""
    net = nx.MultiGraph()
    net.add_nodes_from(range(NODES))
    pairs = enumerate(zip(graph.a.tolist(), graph.b.tolist(), strict=True))
    net.add_edges_from((one, other, k) for k, (one, other) in pairs if graph.closed[k] and one != other)
    return [
        k for one, other, k in sorted(net.edges(keys=True), key=lambda e: e[2]) if _is_on_loop(net, one, other, k)
    ]


def _is_on_loop(net: nx.MultiGraph, one: int, other: int, key: int) -> bool:
    without = net.copy()
    without.remove_edge(one, other, key)
    return nx.has_path(without, one, other)


def in_one_run(graph: Drawn, inside: list[int]) -> set[frozenset[int]]:
    """Runs of branches of loops between which nothing is attached, each as the set of its branches."""
    ends = np.concatenate([graph.a[graph.closed], graph.b[graph.closed]])
    degree = np.bincount(ends, minlength=NODES)
    net = nx.Graph()
    net.add_nodes_from(inside)
    for node in range(NODES):
        there = [k for k in inside if node in (graph.a[k], graph.b[k])]
        if len(there) == 2 and degree[node] == 2 and not graph.busy[node]:
            net.add_edge(*there)
    return {frozenset(part) for part in nx.connected_components(net)}


def grouped(numbers: np.ndarray, names: list[int]) -> set[frozenset[int]]:
    groups: dict[int, set[int]] = defaultdict(set)
    for number, name in zip(numbers.tolist(), names, strict=True):
        groups[number].add(name)
    return {frozenset(group) for group in groups.values()}


def ratios_of(found: Chains) -> tuple[np.ndarray, np.ndarray]:
    """(M, M) ratios between the members in their own directions, 0 across blocks, and (M,) loop resistances."""
    count = len(found.member)
    ratio, loop = np.zeros((count, count)), np.zeros(count)
    for batch in found.batches:
        width = batch.loop_ohm.shape[1]
        each = batch.ratio(np.arange(width))
        assert each.shape == (len(batch.segment), width, width)
        for k, (segments, chain) in enumerate(zip(batch.segment, batch.chain, strict=True)):
            place = dict(zip(segments.tolist(), chain.tolist(), strict=True))
            here = [i for i in range(count) if found.segment[i] in place]
            for i in here:
                loop[i] = batch.loop_ohm[k, place[found.segment[i]]]
                for j in here:
                    same = each[k, place[found.segment[i]], place[found.segment[j]]]
                    ratio[i, j] = same * found.sign[i] * found.sign[j]
        some = np.arange(width)[::-2]
        assert np.array_equal(batch.ratio(some), each[:, :, some])
    return ratio, loop


def check(graph: Drawn, within: float) -> None:
    found = graph.chains()
    inside = found.member.tolist()
    y = graph.admittance()[np.ix_(inside, inside)]
    ratio, loop = ratios_of(found)
    assert loop == pytest.approx(1.0 / np.diag(y), rel=within, abs=within)
    assert ratio == pytest.approx(y / np.diag(y)[None, :], rel=within, abs=within)


@pytest.mark.parametrize("seed", SEEDS)
def test_chains_and_segments_are_what_they_are_called(seed: int) -> None:
    graph = drawn(seed)
    found = graph.chains()
    inside = members(graph)
    assert found.member.tolist() == inside
    assert grouped(found.segment, inside) == in_one_run(graph, inside)
    assert found.segments == len(in_one_run(graph, inside))
    # Two branches are in series where each takes the whole current off the other.
    y = graph.admittance()[np.ix_(inside, inside)]
    own = np.diag(y)
    series = np.isclose(np.abs(y), own[None, :]) & np.isclose(np.abs(y), own[:, None])
    for i, j in itertools.product(range(len(inside)), repeat=2):
        assert (found.chain[i] == found.chain[j]) == series[i, j], (inside[i], inside[j])
        if series[i, j]:
            assert found.sign[i] * found.sign[j] == np.sign(y[i, j])
        on_one_loop = abs(y[i, j]) > 1e-9
        assert (found.chain_block[found.chain[i]] == found.chain_block[found.chain[j]]) or not on_one_loop
    assert found.segment_chain[found.segment].tolist() == found.chain.tolist()


@pytest.mark.parametrize("seed", SEEDS)
def test_what_an_open_branch_moves_is_what_nodal_analysis_finds(seed: int) -> None:
    check(drawn(seed), 1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_large_blocks_and_small_batches_find_the_same(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "LARGE", 2)
    monkeypatch.setattr(module, "AT_ONCE", 20)
    check(drawn(seed), 1e-8)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_ohm_is_the_limit_of_equal_small_resistances(seed: int) -> None:
    """1 µΩ each for nodal analysis; what stays in series with the rest of a block is below the tolerance."""
    none, small = drawn(seed, 1e-300), drawn(seed, 1e-6)
    none = Drawn(none.a, none.b, np.where(none.ohm < 1e-200, 0.0, none.ohm), none.closed, none.busy)
    ratio, loop = ratios_of(none.chains())
    inside = none.chains().member.tolist()
    y = small.admittance()[np.ix_(inside, inside)]
    assert loop == pytest.approx(1.0 / np.diag(y), rel=1e-3, abs=1e-5)
    assert ratio == pytest.approx(y / np.diag(y)[None, :], rel=1e-3, abs=1e-3)


@pytest.mark.parametrize("seed", SEEDS)
def test_shapes_hold_the_loops_of_every_block(seed: int) -> None:
    """From loops C and resistances R the same currents per volt follow: Cᵀ (C R Cᵀ)⁻¹ C (loop analysis)."""
    graph = drawn(seed)
    found = graph.chains()
    inside = found.member.tolist()
    y = graph.admittance()
    blocks = set(found.chain_block.tolist())
    shapes = list(found.shapes(100))
    assert len(shapes) == len(blocks)
    segments = np.sort(np.concatenate([shape.segment for shape in shapes] or [np.zeros(0, dtype=int)]))
    assert segments.tolist() == list(range(found.segments))
    for shape in shapes:
        count = len(shape.turn)
        chains = [int(found.segment_chain[shape.segment[shape.chain == c][0]]) for c in range(count)]
        assert all(found.segment_chain[s] == chains[c] for s, c in zip(shape.segment, shape.chain, strict=True))
        first = [int(np.flatnonzero(found.chain == c)[0]) for c in chains]
        ohm = np.array([graph.ohm[[inside[i] for i in np.flatnonzero(found.chain == c)]].sum() for c in chains])
        sign = found.sign[first]
        wanted = y[np.ix_([inside[i] for i in first], [inside[i] for i in first])] * sign[:, None] * sign[None, :]
        joints = [sorted(_joints(graph, inside, found, c)) for c in chains]
        side_by_side = count > 1 and all(pair == joints[0] for pair in joints)
        plain = side_by_side and len(shape.segment) == count
        assert (shape.loops is None) == plain
        if shape.loops is None:
            assert shape.paths == count
            turned = wanted * shape.turn[:, None] * shape.turn[None, :]
            assert (turned[~np.eye(count, dtype=bool)] < 0.0).all(), "what one way gains the others lose"
            continue
        assert shape.paths == (2 if count == 1 and len(shape.segment) == 2 else 0)
        assert set(np.unique(shape.loops)) <= {-1.0, 0.0, 1.0}
        middle = shape.loops @ np.diag(ohm) @ shape.loops.T
        assert shape.loops.T @ np.linalg.solve(middle, shape.loops) == pytest.approx(wanted, rel=1e-9, abs=1e-12)


def _joints(graph: Drawn, inside: list[int], found: Chains, chain: int) -> list[int]:
    """The two nodes at the ends of a chain: those that it meets once."""
    ends = [n for i in np.flatnonzero(found.chain == chain) for n in (graph.a[inside[i]], graph.b[inside[i]])]
    return [node for node in set(ends) if ends.count(node) == 1]


def test_a_mesh_of_more_loops_than_asked_for_is_left_out() -> None:
    """Four joints each joined with each: 6 branches, 4 nodes, 3 loops."""
    pairs = list(itertools.combinations(range(4), 2))
    whole = np.ones(len(pairs), dtype=bool)
    found = Chains(
        4,
        np.array([p[0] for p in pairs]),
        np.array([p[1] for p in pairs]),
        whole * 1.0,
        whole,
        np.zeros(4, dtype=bool),
    )
    assert [len(list(found.shapes(most))) for most in (2, 3)] == [0, 1]
    (shape,) = found.shapes(3)
    assert shape.loops is not None and shape.loops.shape == (3, 6)
    (batch,) = found.batches
    assert batch.loop_ohm == pytest.approx(2.0), "1 Ω and the 1 Ω that the other five are together (by symmetry)"


@pytest.mark.parametrize("ohm", [(0.0, 0.0, 3.0), (0.0, 0.0, 0.0), (0.0, 2.0, 3.0), (4.0, 2.0, 3.0)])
@pytest.mark.parametrize("length", [(1, 1, 1), (2, 1, 3)])
def test_ways_side_by_side(ohm: tuple[float, ...], length: tuple[int, ...]) -> None:
    """Three ways between two joints, turned to and fro; one of n branches of 0 Ω has n times the least resistance.

    Ohm's law: what one way gives up the others take by their conductances.
    """
    pairs, each, way = [], [], []
    for k, count in enumerate(length):
        ends = [0, *range(2 + 3 * k, 1 + 3 * k + count), 1]
        steps = list(itertools.pairwise(ends))
        pairs += [(b, a) for a, b in steps] if k == 1 else steps
        each += [ohm[k] / count] * count
        way += [k] * count
    closed = np.ones(len(pairs), dtype=bool)
    a, b = np.array([p[0] for p in pairs]), np.array([p[1] for p in pairs])
    busy = np.ones(NODES, dtype=bool)
    found = Chains(NODES, a, b, np.array(each), closed, busy)
    ratio, loop = ratios_of(found)
    small = np.array([r or 1e-9 * n for r, n in zip(ohm, length, strict=True)])
    for i, j in itertools.product(range(len(pairs)), repeat=2):
        one, other = way[i], way[j]
        rest = sum(1.0 / small[k] for k in range(3) if k != other)
        wanted = 1.0 if one == other else -1.0 / small[one] / rest
        turned = (one == 1) != (other == 1)
        assert ratio[i, j] == pytest.approx(-wanted if turned else wanted, rel=1e-6, abs=1e-6)
        assert loop[j] == pytest.approx(small[other] + 1.0 / rest, rel=1e-6, abs=1e-8)
    (shape,) = found.shapes(9)
    assert shape.paths == (3 if length == (1, 1, 1) else 0)
    assert sorted(shape.turn.tolist()) in ([-1.0, 1.0, 1.0], [-1.0, -1.0, 1.0])


def test_nothing_closed_has_no_chains() -> None:
    none = np.zeros(0, dtype=np.int64)
    found = Chains(3, none, none, none * 1.0, none > 0, np.zeros(3, dtype=bool))
    assert found.batches == [] and list(found.shapes(9)) == [] and found.segments == 0
