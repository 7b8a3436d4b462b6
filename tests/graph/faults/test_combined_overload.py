"""Combined overload current: the programme against a closed form for trees, and both against sums by hand."""

import random

import numpy as np
import pytest
from fault_bench import AT_20_C, networks_of, thresholds_of
from wired import harness, limiter, load, output, wire

from loadloom.graph.circuit.programmes import Programme, solve_programmes
from loadloom.graph.faults.combined_overload import Demands, _demands, combined_overloads, made_up
from loadloom.graph.faults.piece import piece_loads, pieces_of, variants
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.stretch_search import run_search
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case


def searched(drawn: Harness) -> Search:
    case = Case("nominal")
    network = networks_of(drawn, AT_20_C, case)[0]
    (piece,) = pieces_of(network, thresholds_of(drawn, AT_20_C, case), piece_loads(network, drawn))
    search = Search(PieceGeometry(drawn, piece), next(iter(variants(piece))))
    run_search(search)
    return search


def random_tree(seed: int) -> Harness:
    """A feed tree with limiters inside limiters, and a return tree that the paths share."""
    rng = random.Random(seed)
    parts = [output("U1", "+", "-", 12.0, trip_a=rng.uniform(30.0, 200.0), resistance_ohm=0.002)]
    feeds, returns = ["+"], ["-"]
    for k in range(1, rng.randint(5, 10)):
        start = rng.choice(feeds)
        if rng.random() < 0.6:
            parts.append(limiter(f"Q{k}", start, f"q{k}", rng.uniform(2.0, 40.0)))
            start = f"q{k}"
        parts.append(wire(f"W{k}", start, f"f{k}", ohm=rng.uniform(5e-3, 5e-2), length_m=1.0))
        parts.append(wire(f"R{k}", f"r{k}", rng.choice(returns), ohm=rng.uniform(5e-3, 5e-2), length_m=1.0))
        parts.append(load(f"L{k}", f"f{k}", f"r{k}", rng.uniform(0.1, 2.0)))
        feeds.append(f"f{k}")
        returns.append(f"r{k}")
    return harness(*parts)


def laminar_most(demands: Demands) -> float | None:
    """The closed form: None where rows are no plain sums or overlap without one lying inside the other.

    Each row that sums a set of demands with one factor bounds that set; sets lie inside one another as the
    branches of a tree do. From the innermost out, the most of a set is the lesser of its bound and the sum of
    what lies in it.
    """
    if not _all_alike(demands.gain):
        return None
    sets: list[tuple[frozenset[int], float]] = []
    matters = np.isfinite(demands.limit) & (demands.rows > 1e-9).any(axis=1)
    for row, limit in zip(demands.rows[matters], demands.limit[matters].tolist(), strict=True):
        inside_row = np.flatnonzero(np.abs(row) > 1e-9)
        factors = row[inside_row]
        if not _all_alike(factors) or factors[0] < 0.0:
            return None
        sets.append((frozenset(inside_row.tolist()), limit / float(factors[0])))
    sets.sort(key=lambda item: len(item[0]))
    # What stands for each set so far, by one of its members: (all members, the most of it).
    tops: dict[frozenset[int], float] = {frozenset([n]): float(m) for n, m in enumerate(demands.most_a)}
    for members, limit in sets:
        inside = [top for top in tops if top & members]
        if any(not top <= members for top in inside):
            return None
        total = sum(tops.pop(top) for top in inside)
        tops[members] = min(limit, total)
    return float(demands.gain[0] * sum(tops.values()))


def _all_alike(values: np.ndarray) -> bool:
    return bool((np.abs(values - values[0]) <= 1e-8 * (1.0 + abs(values[0]))).all())


@pytest.mark.parametrize("seed", range(1, 31))
def test_closed_form_and_programme_agree_in_trees(seed: int):
    search = searched(random_tree(seed))
    found = combined_overloads(search)
    closed = {k: hit.value_a for k, hit in search.best.items()}
    for k, demands in _demands(search):
        most = laminar_most(demands)
        assert most is not None
        closed[k] = max(closed[k], most)
    assert found == pytest.approx(closed, rel=1e-6)


@pytest.mark.parametrize("seed", range(1, 31))
def test_exposure_is_never_below_the_sustained_fault(seed: int):
    search = searched(random_tree(seed))
    for k, value in combined_overloads(search).items():
        assert value >= search.best[k].value_a * (1.0 - 1e-9)


@pytest.mark.parametrize("seed", range(1, 31))
def test_no_programme_exceeds_the_bound_of_its_demands(seed: int):
    """Of demands drawn at random, some of them easing a row, the programme's optimum is the judge."""
    rng = np.random.default_rng(seed)
    size = (int(rng.integers(1, 6)), int(rng.integers(1, 9)))
    rows = np.where(rng.random(size) < 0.7, rng.uniform(-0.3, 1.0, size), 0.0)
    most_a = np.where(rng.random(size[1]) < 0.2, 1e5, rng.uniform(1.0, 200.0, size[1]))
    demands = Demands(
        rng.uniform(-0.2, 1.0, size[1]), rows, rng.uniform(0.0, 40.0, size[0]), most_a, np.full(size[0], -1), -0.5
    )
    (answer,) = solve_programmes([Programme(demands.gain, rows, demands.limit, most_a)])
    assert answer is not None
    assert demands.bound_a >= (float(demands.gain @ answer) - 0.5) * (1.0 - 1e-9)


@pytest.mark.parametrize("seed", range(1, 31))
def test_what_is_known_hides_only_what_is_no_more(seed: int):
    search = searched(random_tree(seed))
    whole = combined_overloads(search)
    known = {search.name(k): value * (0.9 if n % 2 else 1.0) for n, (k, value) in enumerate(whole.items())}
    for k, value in combined_overloads(search, known.__getitem__).items():
        assert max(value, known[search.name(k)]) == pytest.approx(whole[k], rel=1e-6)


def test_the_lesser_of_own_and_sum_behind():
    """Devices of 10 and 5 A behind one of 12 A, and one of 8 A beside it: 12 + 8 A."""
    rows = np.array([[1.0, 0, 0], [0, 1.0, 0], [1.0, 1.0, 0], [0, 0, 1.0]])
    demands = Demands(np.ones(3), rows, np.array([10.0, 5.0, 12.0, 8.0]), np.full(3, 100.0), np.full(4, -1))
    assert laminar_most(demands) == pytest.approx(20.0)


def test_a_short_circuit_bounds_what_a_device_passes():
    """100 A of device behind 1 Ω at 12 V: never more than 12 A."""
    drawn = harness(
        output("U1", "+", "-", 12.0, trip_a=200.0),
        wire("W1", "+", "a", ohm=1.0, length_m=1.0),
        limiter("Q1", "a", "b", 100.0),
        wire("W2", "b", "c", ohm=1.0, length_m=1.0),
        wire("W3", "d", "-", ohm=1e-3, length_m=1.0),
        load("L1", "c", "d", 1.0),
    )
    search = searched(drawn)
    by_id = {search.variant.piece.branches.ids[k]: v for k, v in combined_overloads(search).items()}
    assert by_id["W2"] == pytest.approx(12.0)
    assert by_id["W3"] == pytest.approx(12.0 / 2.001)


def test_the_make_up_of_a_common_return_is_told_by_device():
    """Two paths of 10 A and 5 A, and a third that 1 Ω alone holds down to 12 A: 27 A in their common return."""
    drawn = harness(
        output("U1", "+", "-", 12.0, trip_a=200.0),
        limiter("Q1", "+", "a", 10.0),
        limiter("Q2", "+", "b", 5.0),
        wire("W1", "a", "a1", ohm=0.01, length_m=1.0),
        wire("W2", "b", "b1", ohm=0.01, length_m=1.0),
        wire("W3", "+", "c1", ohm=1.0, length_m=1.0),
        wire("R", "d", "-", ohm=1e-9, length_m=1.0),
        load("L1", "a1", "d", 1.0),
        load("L2", "b1", "d", 1.0),
        load("L3", "c1", "d", 1.0),
    )
    search = searched(drawn)
    branch = search.variant.piece.branches.ids.index("R")
    value_a = combined_overloads(search)[branch]
    parts = dict(made_up(search, branch, value_a))
    held = {
        name: search.variant.piece.held_a[search.variant.piece.branches.ids.index(name)] for name in ("Q1", "Q2")
    }
    assert parts == pytest.approx({"Q1": held["Q1"], "Q2": held["Q2"], "": 12.0}, rel=1e-6)
    assert sum(parts.values()) == pytest.approx(value_a, rel=1e-6)
    assert not made_up(search, branch, 0.9 * value_a), "parts that do not come to the value are not told"


def test_overlapping_sets_have_no_closed_form():
    rows = np.array([[1.0, 1.0, 0], [0, 1.0, 1.0]])
    assert laminar_most(Demands(np.ones(3), rows, np.array([5.0, 5.0]), np.full(3, 100.0), np.full(2, -1))) is None


@pytest.mark.parametrize("volts", [(12.6, 12.0), (12.0, 12.6)])
def test_what_flows_between_outputs_anyway_is_a_demand_of_its_own_direction(volts: tuple[float, float]):
    """12.6 and 12.0 V over 0.05 Ω each: 0.6 V / 0.1 Ω = 6 A flow whatever is drawn, out of the higher output and
    into the lower one. A part counts it in that direction only, and no device is loaded by it once more."""
    search = searched(
        harness(
            *(output(f"U{n}", f"p{n}", "m", volts[n], trip_a=60.0) for n in range(2)),
            *(wire(f"W{n}", f"p{n}", "bus", ohm=0.05, length_m=1.0) for n in range(2)),
            limiter("Q1", "bus", "a", 10.0),
            wire("B1", "a", "f", ohm=0.01, length_m=1.0),
            load("L1", "f", "m", 1.0),
        )
    )
    ids = search.variant.piece.branches.ids
    always = [
        (ids[k], round(float(demands.gain[n]), 6))
        for k, demands in _demands(search)
        for n in np.flatnonzero(~demands.rows.any(axis=0))
        if demands.most_a[n] == 1.0
    ]
    assert sorted(always) == [("W0", 6.0), ("W1", 6.0)]
