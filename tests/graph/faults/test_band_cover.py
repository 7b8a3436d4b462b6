"""The overload band of IEC 60364-4-43 433.1 (In ≤ Iz, I2 ≤ 1.45·Iz, from memory) by its own formula.

Devices in series: any one that satisfies both by itself is enough. Feeds in parallel: the sums have to.
"""

import math
import random

import networkx as nx
import pytest
from random_drawings import drawing_of, harness_of
from wired import AT_20_C, contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.band_cover import SOURCE, FeedPaths
from loadloom.graph.model.elements import Band, Behaviour, Chassis, Connector, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness

BAND = 1.45
UL = 1.35
"""A fuse of UL 248-14 is certain to open above 135 % of its rating."""

BATTERY = {"limit_a": 200.0, "never_trips": True, "resistance_ohm": 0.1}


def answer(drawn: Harness, part: str) -> PartFault:
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    return facts.faults.parts[part]


def devices(rng: random.Random, count: int, a: str, b: str, *, side_by_side: bool) -> tuple[list, list]:
    """Fuses and limiters between two joints, and for each its rating and the most that it holds."""
    parts, limits = [], []
    for k in range(count):
        ends = (a, b) if side_by_side else (a if k == 0 else f"s{k}", b if k == count - 1 else f"s{k + 1}")
        ends = ends if rng.random() < 0.5 else ends[::-1]  # it has no direction
        rating = rng.choice((5.0, 6.0, 8.0, 10.0, 12.0, 15.0))
        if rng.random() < 0.5:
            parts.append(fuse(f"F{k}", *ends, rating, "UL 248-14", resistance_ohm=Band.exact(2e-3)))
            limits.append((rating, UL * rating))
        else:
            upper = rating * rng.choice((1.0, 1.1, 1.3))
            trip = Band(rating, rating, upper)
            parts.append(limiter(f"Q{k}", *ends, trip, delay_s=1e-3, resistance_ohm=Band.exact(2e-3)))
            limits.append((rating, upper))
    return parts, limits


@pytest.mark.parametrize("seed", range(20))
def test_in_series_any_one_device_that_suffices_alone_is_enough(seed: int) -> None:
    rng = random.Random(seed)
    parts, limits = devices(rng, rng.randint(1, 3), "p", "f", side_by_side=False)
    held = min(i2 for _, i2 in limits)
    allowed = held / rng.uniform(1.02, 1.6)
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        *parts,
        wire("W1", "f", "d", ohm=0.02, rated=allowed),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    found = answer(drawn, "W1")
    assert found.sustained_fault_a == pytest.approx(held, rel=1e-6)
    enough = any(rating <= allowed and i2 <= BAND * allowed for rating, i2 in limits)
    assert found.protected is enough
    assert found.in_band is enough


@pytest.mark.parametrize("seed", range(20))
def test_feeds_in_parallel_satisfy_the_band_by_their_sums_only(seed: int) -> None:
    rng = random.Random(100 + seed)
    parts, limits = devices(rng, 2, "p", "f", side_by_side=True)
    rated, tripping = (sum(each) for each in zip(*limits, strict=True))
    allowed = rng.choice((rated * rng.uniform(0.8, 1.2), tripping / BAND * rng.uniform(0.9, 1.1)))
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        *parts,
        wire("W1", "f", "d", ohm=0.02, rated=allowed),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    found = answer(drawn, "W1")
    assert found.sustained_fault_a is not None
    if found.sustained_fault_a <= allowed:
        return  # the copper keeps it there
    within = found.sustained_fault_a <= BAND * allowed
    worse_share = sum(max(rating, i2 / BAND) for rating, i2 in limits) <= allowed
    if rated > allowed or tripping > BAND * allowed:
        assert found.protected is False
    if worse_share and within and found.held_by is not None:
        assert found.protected is True


def test_two_feeds_of_15_a_do_not_protect_a_wire_of_18_a() -> None:
    feeds = [limiter(f"Q{k}", "p", "f", 15.0, delay_s=1e-3, resistance_ohm=Band.exact(10e-3)) for k in range(2)]
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        *feeds,
        wire("W1", "f", "d", ohm=0.02, rated=18.0),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    assert answer(drawn, "W1").protected is False


def test_a_contact_has_no_band_where_a_wire_has() -> None:
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        fuse("F1", "p", "f", 10.0, "UL 248-14", resistance_ohm=Band.exact(2e-3)),
        wire("W1", "f", "c", ohm=0.02, rated=11.0),
        contact("P1.1", "c", "d", 1e-3, rated=11.0),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    assert answer(drawn, "W1").in_band and answer(drawn, "W1").protected is True
    assert answer(drawn, "P1.1").protected is False and not answer(drawn, "P1.1").in_band


def test_a_part_that_only_limits_never_counts_with_its_nominal() -> None:

    trip = Band(10.0, 9.0, 12.0)
    held = limiter("Q1", "p", "f", trip, behaviour=Behaviour.CONSTANT_CURRENT, resistance_ohm=Band.exact(2e-3))
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        held,
        wire("W1", "f", "d", ohm=0.02, rated=11.0),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    found = answer(drawn, "W1")
    assert found.sustained_fault_a is not None and math.isclose(found.sustained_fault_a, 12.0, rel_tol=1e-6)
    assert found.protected is False


def test_each_of_two_outputs_on_diodes_satisfies_the_band_of_its_own_lead() -> None:
    """Both stand at 12 A in the worst fault, and only one of them is named as what holds it."""

    def lead(k: int) -> list:
        return [
            output(f"U{k}", f"p{k}", "m", 24.0, limit_a=10.0, trip_a=12.0, resistance_ohm=20e-3, delay_s=1e-3),
            wire(f"A{k}", f"p{k}", f"a{k}", ohm=10e-3, rated=10.0),
            Diode(id=f"D{k}", subject=Subject(f"D{k}"), node_a=f"a{k}", node_b=f"b{k}", forward_drop_v=0.5),
            wire(f"B{k}", f"b{k}", "bus", ohm=10e-3, rated=10.0),
        ]

    drawn = harness(*lead(1), *lead(2), wire("R1", "n", "m", ohm=5e-3, rated=30.0), load("L1", "bus", "n", 15.0))
    assert [answer(drawn, name).in_band for name in ("A1", "A2", "B1", "B2")] == [True] * 4


TOUCHING: dict[str, tuple[dict[str, object], dict[str, object], bool]] = {
    "apart": ({}, {}, False),
    "in one bundle": ({"bundle": "B"}, {"bundle": "B"}, False),
    "cores of one cable": ({"cable": "K1"}, {"cable": "K1"}, False),
    "through one connector": ({}, {}, False),
    "by the chassis": ({}, {}, True),
}


@pytest.mark.parametrize("touching", TOUCHING)
@pytest.mark.parametrize(("first_a", "held_a"), [(11.6, 11.6), (9.5, 11.6)])
def test_a_fault_past_a_device_is_not_its(touching: str, first_a: float, held_a: float) -> None:
    """An output, then Q2 of 7 A, then a load and its return R1 of 10 A. Where the wire before Q2 can touch the
    return, R1 carries what the output holds and nothing of it comes through Q2: the output has to satisfy
    In ≤ 10 A alone."""
    feed, back, bonded = TOUCHING[touching]
    through = touching == "through one connector"
    drawn = harness(
        output("U1", "a", "m", 24.0, limit_a=first_a, trip_a=Band(first_a, first_a, held_a), delay_s=1e-3),
        wire("W1", "a", "b", ohm=0.01, rated=20.0, **feed),
        *([contact("J1.1", "b", "c"), contact("J1.2", "f", "e")] if through else []),
        limiter("Q2", "c" if through else "b", "d", 7.0, delay_s=1e-3),
        load("L1", "d", "f" if through else "e", 2.0),
        wire("R1", "e", "m", ohm=0.01, rated=10.0, **back),
        **({"chassis": (Chassis(id="G1", subject=Subject("G1"), node="e"),)} if bonded else {}),
        connectors=(Connector("J1", ("J1.1", "J1.2")),) if through else (),
    )
    found = answer(drawn, "R1")
    if touching == "apart":
        assert (found.sustained_fault_a, found.protected, found.in_band) == (pytest.approx(7.0), True, False)
        return
    assert found.sustained_fault_a == pytest.approx(held_a)
    enough = first_a <= 10.0 and held_a <= BAND * 10.0
    assert (found.protected, found.in_band) == (enough, enough)
    assert found.protected_by == (("U1",) if enough else ())


@pytest.mark.parametrize("kind", ["ring", "joined", "diode-or", "series"])
def test_a_cut_of_devices_is_the_same_with_the_copper_drawn_out(kind: str) -> None:
    """Joining what hangs together by copper before the cut is sought changes no least cut."""
    for seed in range(6):
        drawn = harness_of(drawing_of(kind, seed))
        paths = FeedPaths(drawn, None)
        sizes = {part.id: 1.0 + n for n, part in enumerate((*drawn.devices, *drawn.outputs))}
        for conductor in drawn.conductors:
            whole, joint_of = paths.graph(), paths.joined(conductor)
            whole.remove_nodes_from([f"«{conductor.id}»", f"«{conductor.id} back»"])
            joined = paths.graph(joint_of)
            for graph in (whole, joined):
                for _, _, data in graph.edges(data=True):
                    if "device" in data:
                        data["capacity"] = sizes[data["device"]]
            for entry in paths.entries(conductor):
                least = [_least_cut(whole, entry), _least_cut(joined, joint_of[entry])]
                assert least[0] == least[1], (seed, conductor.id, entry)


def _least_cut(graph: nx.DiGraph, entry: str | int) -> float:
    try:
        return nx.minimum_cut_value(graph, SOURCE, entry)
    except nx.NetworkXUnbounded:
        return math.inf


@pytest.mark.parametrize("delays_s", [(0.001, 5.0), (5.0, 0.001)])
def test_the_least_cut_counts_with_its_sums_and_its_slowest(delays_s: tuple[float, float]) -> None:
    """Sums of 4 A + 4 A before W1 of 8.5 A, that hold 6 A each: In 8 A <= 8.5 A, I2 12 A <= 1.45 times 8.5 A."""
    feeds = [
        limiter(f"Q{k}", "a", "f", Band(4.0, 4.0, 6.0), delay_s=delay_s, resistance_ohm=Band.exact(2e-3))
        for k, delay_s in enumerate(delays_s, 1)
    ]
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        limiter("Q0", "p", "a", 30.0, delay_s=60.0, resistance_ohm=Band.exact(2e-3)),
        *feeds,
        wire("W1", "f", "d", ohm=0.02, rated=8.5),
        limiter("Q3", "d", "e", 3.0, delay_s=60.0, resistance_ohm=Band.exact(2e-3)),
        wire("R1", "n", "m", ohm=0.01, rated=100.0),
        load("L1", "e", "n", 1.0),
    )
    found = answer(drawn, "W1")
    assert found.sustained_fault_a == pytest.approx(12.0)
    assert (found.protected, found.in_band) == (True, True)
    assert sorted(found.protected_by) == ["Q1", "Q2"]
    assert found.at_rating_a == pytest.approx(8.0)
    assert found.tripping_within_s == pytest.approx(5.0)


@pytest.mark.parametrize("delays_s", [(0.001, 0.03), (0.03, 0.001), (0.001, None)])
def test_devices_side_by_side_cut_off_within_the_time_of_the_slower_one(
    delays_s: tuple[float, float | None],
) -> None:
    """5 A and 5 A that open for sure above 6.5 A each: 13 A on a wire of 10 A, 10 A by the ratings; one that states
    no time leaves it open."""
    limiters = [
        limiter(f"Q{k}", "p", "f", Band(5.0, 5.0, 6.5), delay_s=delay_s, resistance_ohm=Band.exact(2e-3))
        for k, delay_s in enumerate(delays_s)
    ]
    drawn = harness(
        output("U1", "p", "m", 24.0, **BATTERY),
        *limiters,
        wire("W1", "f", "d", ohm=0.02, rated=10.0),
        wire("R1", "e", "m", ohm=0.01, rated=100.0),
        load("L1", "d", "e", 1.0),
    )
    found = answer(drawn, "W1")
    assert (found.in_band, found.sustained_fault_a) == (True, pytest.approx(13.0, rel=1e-6))
    assert found.tripping_within_s == (None if None in delays_s else pytest.approx(0.03))
