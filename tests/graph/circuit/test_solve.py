"""The solve on harnesses small enough to recompute by hand.

Unless a case names another source, the expected numbers follow from Ohm's and Kirchhoff's laws as written
beside them. The acceptance numbers of shared power harnesses (cases 1, 3, 11, 13, 15, 16) are recomputed here.
"""

import math

import numpy as np
import pytest
from harnesses import small_network

from loadloom.graph.circuit.solve import solve
from loadloom.graph.model.elements import LoadKind

A, W, OHM = LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE


def test_six_equal_ways_carry_a_sixth_each():
    """600 W at 12 V over six supply contacts: 8.33 A a contact (W34 of the open power-supply design guide)."""
    paths = [(f"P{k}", "u+", "x", 3e-3) for k in range(6)] + [(f"N{k}", "y", "u-", 3e-3) for k in range(6)]
    solution = solve(small_network(paths, [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "y", A, 50.0)]))
    assert solution.edge_a == pytest.approx(np.full(12, 50 / 6), rel=1e-12)


def test_two_wires_of_unequal_length():
    """Current divides inversely to the lengths 0.5 m and 1.0 m: 20 · 2/3 and 20 · 1/3 A."""
    ohm_per_m = 0.017241 / 1.3087  # 16 AWG by ASTM B258
    network = small_network(
        [("W1", "u+", "x", 0.5 * ohm_per_m), ("W2", "u+", "x", 1.0 * ohm_per_m)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", A, 20.0)],
    )
    assert solve(network).edge_a == pytest.approx([40 / 3, 20 / 3], rel=1e-12)


def test_ten_and_twelve_milliohm_share_22_a():
    """W36 of the worked examples: 12.0 and 10.0 A."""
    network = small_network(
        [("a", "u+", "x", 10e-3), ("b", "u+", "x", 12e-3)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", A, 22.0)],
    )
    assert solve(network).edge_a == pytest.approx([12.0, 10.0], rel=1e-12)


def joined_outputs(demand_a: float):
    """Outputs of 30.0 and 30.1 V, each holding 10 A, joined on one load through 15 mΩ a lead pair."""
    return small_network(
        [("a", "u+", "x", 10e-3), ("b", "v+", "x", 10e-3), ("ra", "y", "u-", 5e-3), ("rb", "y", "v-", 5e-3)],
        [("U", "u+", "u-", 30.0, 0.0), ("V", "v+", "v-", 30.1, 0.0)],
        [("L", "x", "y", A, demand_a)],
        holds={"U": 10.0, "V": 10.0},
    )


def test_the_higher_output_holds_and_the_other_gives_the_rest():
    """Linear sharing would be 7.5 ± 0.1/(2 · 0.015) A; the higher one stops at 10 A, so the other gives 5 A."""
    solution = solve(joined_outputs(15.0))
    assert solution.source_a == pytest.approx([5.0, 10.0], rel=1e-12)
    assert solution.holding == ("V",)
    assert solution.load_v == pytest.approx([30.0 - 5.0 * 15e-3], rel=1e-12)


def test_more_than_both_outputs_hold_is_said_and_not_raised():
    solution = solve(joined_outputs(25.0))
    assert solution.collapsed == ("L",)
    assert solution.holding == ("U", "V")
    assert solution.load_a == pytest.approx([20.0], rel=1e-9)
    assert solution.load_v == pytest.approx([0.0], abs=1e-3)


def test_common_return_carries_the_sum():
    """Loads of 12 A and 10 A on two returns of one connector: 11 A each."""
    edges = [(f"F{k}", "u+", "x", 2e-3) for k in range(4)] + [(f"G{k}", "v+", "z", 2e-3) for k in range(3)]
    edges += [("R1", "y", "u-", 2e-3), ("R2", "y", "u-", 2e-3)]
    network = small_network(
        edges,
        [("U", "u+", "u-", 12.0, 0.0), ("V", "v+", "u-", 5.0, 0.0)],
        [("L", "x", "y", A, 12.0), ("M", "z", "y", A, 10.0)],
    )
    solution = solve(network)
    assert solution.edge_a == pytest.approx([3.0] * 4 + [10 / 3] * 3 + [11.0, 11.0], rel=1e-12)


def test_drop_adds_up_along_a_chain():
    """Three loads of 5 A on a chain: 15, 10 and 5 A; the drop at the end is R · (15 + 10 + 5)."""
    network = small_network(
        [("S1", "u+", "a", 1e-2), ("S2", "a", "b", 1e-2), ("S3", "b", "c", 1e-2)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L1", "a", "u-", A, 5.0), ("L2", "b", "u-", A, 5.0), ("L3", "c", "u-", A, 5.0)],
    )
    solution = solve(network)
    assert solution.edge_a == pytest.approx([15.0, 10.0, 5.0], rel=1e-12)
    assert solution.load_v[2] == pytest.approx(12.0 - 0.3, rel=1e-12)


def test_handbook_voltage_drop():
    """AC 43.13-1B table 11-7: 20 A, 107 ft at 0.00044 Ω/ft, 0.942 V."""
    network = small_network(
        [("W", "u+", "x", 107 * 0.00044)], [("U", "u+", "u-", 14.0, 0.0)], [("L", "x", "u-", A, 20.0)]
    )
    assert 14.0 - solve(network).load_v[0] == pytest.approx(0.942, abs=0.0005)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.9999])
def test_constant_power_takes_the_stable_voltage(share: float):
    """V = (V0 + √(V0² - 4 R P)) / 2 while P is below the most that the line gives, V0²/(4 R)."""
    v0, ohm = 12.0, 0.2
    power = share * v0**2 / (4 * ohm)
    network = small_network(
        [("a", "u+", "x", ohm / 2), ("b", "y", "u-", ohm / 2)],
        [("U", "u+", "u-", v0, 0.0)],
        [("L", "x", "y", W, power)],
    )
    solution = solve(network)
    expected = (v0 + math.sqrt(v0**2 - 4 * ohm * power)) / 2
    assert solution.load_v == pytest.approx([expected], rel=1e-9)
    assert solution.load_v * solution.load_a == pytest.approx([power], rel=1e-9)
    assert not solution.collapsed


@pytest.mark.parametrize("share", [1.0001, 1.2, 50.0])
def test_more_power_than_the_line_gives_is_collapse(share: float):
    v0, ohm = 12.0, 0.2
    network = small_network(
        [("a", "u+", "x", ohm)],
        [("U", "u+", "u-", v0, 0.0)],
        [("L", "x", "u-", W, share * v0**2 / (4 * ohm)), ("K", "u+", "u-", A, 3.0)],
    )
    solution = solve(network)
    assert solution.collapsed == ("L",)
    assert solution.unfed == ()
    assert solution.load_a[1] == pytest.approx(3.0)
    assert solution.residual_a < 1e-9


def test_constant_power_behind_an_output_that_holds_its_current():
    """150 W would need 12.5 A at 12 V; held at 10 A nothing stable is left."""
    network = small_network(
        [("a", "u+", "x", 1e-2)], [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", W, 150.0)], holds={"U": 10.0}
    )
    solution = solve(network)
    assert solution.collapsed == ("L",) and solution.holding == ("U",)
    assert solution.source_a == pytest.approx([10.0])


def test_loads_without_a_way_back_are_unfed():
    network = small_network(
        [("a", "u+", "x", 0.1)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "y", A, 3.0), ("M", "x", "y", W, 3.0), ("N", "x", "z", OHM, 3.0), ("K", "x", "u-", A, 1.0)],
    )
    solution = solve(network)
    assert set(solution.unfed) == {"L", "M", "N"}
    assert solution.load_a == pytest.approx([0.0, 0.0, 0.0, 1.0], abs=1e-12)
    assert solution.edge_a == pytest.approx([1.0])


def test_swapped_loads_draw_and_see_a_negative_voltage():
    network = small_network(
        [("a", "u+", "x", 0.1)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "u-", "x", A, 3.0), ("K", "x", "u-", A, 2.0)],
    )
    solution = solve(network)
    assert solution.load_a == pytest.approx([-3.0, 2.0])
    assert solution.edge_a == pytest.approx([5.0])  # it takes no load off what it shares
    assert solution.load_v == pytest.approx([-11.5, 11.5])


def test_the_output_with_the_higher_voltage_feeds_through_its_diode():
    network = small_network(
        [("D1", "u+", "x", 0.0), ("D2", "v+", "x", 0.0)],
        [("U", "u+", "m", 12.0, 0.0), ("V", "v+", "m", 11.9, 0.0)],
        [("L", "x", "m", A, 2.0)],
        diodes={"D1": 0.4, "D2": 0.4},
    )
    solution = solve(network)
    assert solution.edge_a == pytest.approx([2.0, 0.0], abs=1e-12)
    assert solution.blocking == ("D2",)
    assert solution.load_v == pytest.approx([11.6])


def test_diodes_with_resistance_share():
    """12.0 - 0.4 - 0.1·I1 = 11.9 - 0.4 - 0.1·I2 and I1 + I2 = 4: I1 = 2.5, I2 = 1.5 A."""
    network = small_network(
        [("D1", "u+", "x", 0.1), ("D2", "v+", "x", 0.1)],
        [("U", "u+", "m", 12.0, 0.0), ("V", "v+", "m", 11.9, 0.0)],
        [("L", "x", "m", A, 4.0)],
        diodes={"D1": 0.4, "D2": 0.4},
    )
    assert solve(network).edge_a == pytest.approx([2.5, 1.5], rel=1e-12)


def test_a_diode_the_wrong_way_leaves_its_load_unfed():
    network = small_network(
        [("D", "x", "u+", 0.0)], [("U", "u+", "u-", 12.0, 0.0)], [("L", "x", "u-", A, 2.0)], diodes={"D": 0.4}
    )
    solution = solve(network)
    assert solution.unfed == ("L",) and solution.blocking == ("D",)
    assert solution.edge_a == pytest.approx([0.0], abs=1e-15)


def test_zero_ohm_ways_share_like_equal_resistances():
    """Two single contacts and two in series, all of 0 Ω, beside 0.1 Ω: 2 : 2 : 1 : 0."""
    network = small_network(
        [
            ("a", "u+", "x", 0.0),
            ("b", "u+", "x", 0.0),
            ("c", "u+", "q", 0.0),
            ("d", "q", "x", 0.0),
            ("e", "u+", "x", 0.1),
        ],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "u-", A, 5.0)],
    )
    solution = solve(network)
    assert solution.edge_a == pytest.approx([2.0, 2.0, 1.0, 1.0, 0.0], abs=1e-12)
    assert set(solution.equal_share) == {"a", "b", "c", "d"}


def test_a_single_zero_ohm_way_is_no_assumption():
    network = small_network(
        [("a", "u+", "q", 0.0), ("w", "q", "x", 0.1), ("b", "x", "z", 0.0)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "z", "u-", A, 5.0)],
    )
    solution = solve(network)
    assert solution.edge_a == pytest.approx([5.0, 5.0, 5.0])
    assert solution.equal_share == ()


def test_outputs_that_disagree_through_zero_ohm_are_named():
    network = small_network(
        [("a", "u+", "v+", 0.0)],
        [("U", "u+", "m", 12.0, 0.0), ("V", "v+", "m", 5.0, 0.0)],
        [("L", "u+", "m", A, 2.0)],
    )
    solution = solve(network)
    assert solution.conflicts == ("U", "V")
    assert np.isfinite(solution.edge_a).all() and solution.residual_a < 1e-9


def test_a_bolted_load_is_unfed():
    network = small_network(
        [("a", "u+", "x", 0.1), ("s", "x", "y", 0.0), ("b", "y", "u-", 0.1)],
        [("U", "u+", "u-", 12.0, 0.0)],
        [("L", "x", "y", A, 2.0), ("M", "x", "y", W, 2.0)],
    )
    solution = solve(network)
    assert set(solution.unfed) == {"L", "M"}
    assert solution.edge_a == pytest.approx([60.0, 60.0, 60.0])


@pytest.mark.parametrize(
    ("edges", "outputs", "loads"),
    [
        ([], [], []),
        ([("a", "p", "q", 1.0)], [], [("L", "p", "q", A, 1.0), ("M", "p", "q", OHM, 1.0)]),
        ([("a", "p", "p", 0.0)], [("U", "p", "m", 12.0, 0.0)], []),
        ([("a", "p", "q", math.inf)], [("U", "p", "m", 12.0, 0.0)], [("L", "q", "m", W, 1.0)]),
        ([], [("U", "p", "p", 12.0, 0.0)], [("L", "p", "p", A, 1.0)]),
        ([], [("U", "p", "m", 12.0, 0.1), ("V", "q", "n", 5.0, 0.0)], [("L", "p", "n", A, 1.0)]),
        ([], [("U", "p", "m", 12.0, 0.1)], [("L", "p", "m", A, 0.0), ("M", "p", "m", W, 0.0)]),
    ],
)
def test_degenerate_networks_give_an_answer(edges, outputs, loads):
    solution = solve(small_network(edges, outputs, loads))
    for values in (solution.edge_a, solution.source_a, solution.load_a, solution.load_v, solution.node_v):
        assert np.isfinite(values).all()
    assert solution.residual_a < 1e-9


def test_hundreds_of_amperes_through_micro_ohms_leave_no_residual():
    edges = [(f"a{k}", "u+", "x", 1e-6 * (k + 1)) for k in range(40)] + [("b", "x", "y", 1e-3)]
    edges += [(f"c{k}", "y", "z", 1e-5 * (k + 1)) for k in range(40)]
    solution = solve(
        small_network(
            edges, [("U", "u+", "u-", 48.0, 1e-3)], [("L", "z", "u-", A, 900.0), ("M", "x", "u-", OHM, 1.0)]
        )
    )
    assert solution.residual_a < 1e-9
    g = 1.0 / np.arange(1, 41)
    assert solution.edge_a[:40] == pytest.approx(solution.source_a[0] * g / g.sum(), rel=1e-9)
