"""The highest setting of every device: every setting up to it protects, none above does; remedies read it."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest
from joined_harnesses import random_joined, random_outputs
from range_harnesses import drawn_at_random
from range_sweep import failures
from wired import analysed, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Behaviour, Element
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results

SEEDS = range(1, 14)


def high_a(results: Results, device: str) -> float | None:
    return next(row.setting_high_a for row in results.devices if row.id == device)


def sustained_fault_a(results: Results, part: str) -> float | None:
    return next(row.sustained_fault_a for row in results.conductors if row.id == part)


def with_trips(drawn: Harness, trips: dict[str, float]) -> Harness:
    def changed(part):
        return replace(part, trip_a=Band.exact(trips[part.id])) if part.id in trips else part

    return replace(
        drawn,
        devices=tuple(changed(d) for d in drawn.devices),
        outputs=tuple(changed(o) for o in drawn.outputs),
    )


def bare_path(trip_a: float) -> Harness:
    """CH1, then a bare wire of 12 A beside a way with a device of 4 A."""
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=200.0, delay_s=9.0, resistance_ohm=0.02),
        limiter("CH1", "p", "a", trip_a, delay_s=0.1),
        wire("W1", "a", "c", ohm=0.01, rated=16.0),
        wire("W2", "c", "d", ohm=0.01, rated=12.0),
        limiter("CH2", "c", "c2", 4.0, delay_s=0.1),
        wire("W3", "c2", "d", ohm=0.01, rated=12.0),
        wire("W4", "n", "f", ohm=0.01, rated=40.0),
        load("L1", "d", "f", 2.0),
    )


def test_a_way_without_a_device_is_the_upstream_devices() -> None:
    """With CH2 open, or a pinch just behind W2, all that CH1 holds runs through W2: 12 A and no more, though W1
    stands 16 A."""
    drawn = analysed(bare_path(6.0))
    assert high_a(drawn, "CH1") == pytest.approx(12.0)
    at_high = analysed(bare_path(12.0))
    assert sustained_fault_a(at_high, "W2") == pytest.approx(12.0)
    assert not [f for f in at_high.findings if f.rule == "path-unprotected"]


@pytest.mark.parametrize("ends", [("p", "a"), ("a", "p")])
def test_a_fuse_has_no_direction(ends: tuple[str, str]) -> None:
    """By the overload band (IEC 60364-4-43 433.1, from memory) a fuse may be rated what its wires may carry, 20 A,
    whichever way it is drawn: it passes 1.35 × 20 = 27 A at most (UL 248-14), less than 1.45 × 20 = 29 A.
    """
    drawn = harness(
        output("PS1", "p", "n", 24.0, limit_a=100.0, trip_a=200.0, delay_s=1e-3, resistance_ohm=0.005),
        fuse("FU1", *ends, 10.0, "UL 248-14"),
        wire("W1", "a", "d", ohm=0.01, rated=20.0),
        wire("W2", "f", "n", ohm=0.01, rated=20.0),
        load("L1", "d", "f", 2.0),
    )
    assert high_a(analysed(drawn), "FU1") == pytest.approx(20.0)


def two_paths(
    first_a: float, second_a: float, rated_a: float, joint_a: float = 40.0, *more: Element, second_ohm: float = 0.01
) -> Harness:
    return harness(
        output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=200.0, delay_s=9.0, resistance_ohm=0.02),
        limiter("CH1", "p", "a", first_a, delay_s=0.1),
        wire("W1", "a", "d", ohm=0.01, rated=30.0),
        limiter("CH2", "p", "b", second_a, delay_s=0.1),
        wire("W2", "b", "d", ohm=second_ohm, rated=rated_a),
        wire("W3", "d", "e", ohm=0.01, rated=joint_a),
        wire("W4", "n", "f", ohm=0.01, rated=40.0),
        load("L1", "e", "f", 2.0),
        *more,
    )


def test_a_device_beside_another_guards_the_way_of_the_other() -> None:
    """W2 pinched behind CH2 is fed by CH1 over the joint, and by CH1 alone: its 9 A are CH1's most, though of what
    leaves at the joint it takes a quarter and W1 three (which would be 27 A)."""
    assert high_a(analysed(two_paths(6.0, 5.0, 9.0, second_ohm=0.03)), "CH1") == pytest.approx(9.0)
    assert sustained_fault_a(analysed(two_paths(9.0, 5.0, 9.0, second_ohm=0.03)), "W2") == pytest.approx(9.0)


def test_a_part_that_another_device_holds_at_its_limit_sets_an_end_all_the_same() -> None:
    """CH2 holds just the 6 A that W2 may carry, whatever CH1 is set to. Fed from the joint W2 has all of CH1's: 6 A
    are its most.
    """
    drawn = analysed(two_paths(4.0, 6.0, 6.0))
    assert high_a(drawn, "CH1") == pytest.approx(6.0)
    assert "W2" in next(row.protects for row in drawn.devices if row.id == "CH1")


def test_loads_that_draw_beside_a_fault_narrow_the_window() -> None:
    """The return of 20 A carries CH1's fault and the 5 A of L2 beside it: CH1 may hold 15 A."""
    drawn = harness(
        output("PS1", "p", "n", 12.0, limit_a=100.0, trip_a=200.0, delay_s=9.0, resistance_ohm=0.02),
        limiter("CH1", "p", "a", 10.0, delay_s=0.1),
        limiter("CH2", "p", "b", 8.0, delay_s=0.1),
        wire("W1", "a", "d", ohm=0.01, rated=25.0),
        wire("W2", "b", "e", ohm=0.01, rated=9.0),
        wire("W4", "n", "f", ohm=0.01, rated=20.0),
        load("L1", "d", "f", 4.0),
        load("L2", "e", "f", 5.0),
    )
    assert high_a(analysed(drawn), "CH1") == pytest.approx(15.0)
    assert sustained_fault_a(analysed(with_trips(drawn, {"CH1": 15.0})), "W4") == pytest.approx(20.0)


@pytest.mark.parametrize(("behind_a", "subjects"), [(18.0, []), (26.0, ["CH3"])])
def test_a_device_behind_parallel_ones_opens_once_one_of_them_has(behind_a: float, subjects: list[str]) -> None:
    """5 A and 20 A over equal paths pass 10 A together, but the one of 20 A alone passes 20 A: CH3 of 18 A can
    open. More than 5 A + 20 A never come, so that one of 26 A can't."""
    drawn = two_paths(5.0, 20.0, 30.0, 30.0, limiter("CH3", "e", "g", behind_a), wire("W5", "g", "h", ohm=0.01))
    drawn = replace(drawn, loads=(load("L1", "h", "f", 2.0),))
    got = [f for f in analysed(drawn).findings if f.rule == "device-never-opens"]
    assert [f.subject.id for f in got] == subjects
    assert all(f.value == pytest.approx(25.0) for f in got)


def test_what_no_setting_of_one_device_mends_offers_none() -> None:
    """15 A and 20 A over equal paths: 30 A through the joint of 12 A. However low one of them is set, the other
    alone brings more: W3 sets no end of either range, and the remedy is a device of its own."""
    drawn = two_paths(15.0, 20.0, 30.0, 12.0)
    got = analysed(drawn)
    (finding,) = [f for f in got.findings if f.subject.id == "W3" and f.rule == "path-unprotected"]
    assert remedy_of(finding.remedy) == {"PS1": 12.0}
    assert "device that is certain to open above 12 A at d, the end from which W3 is fed" in finding.remedy
    rows = {row.id: row for row in got.devices}
    assert all("W3" not in row.protects and "W3" in row.setting_range_note for row in rows.values())


def test_a_large_radial_harness_has_the_ranges_that_its_wires_say() -> None:
    """Three channels of 70 wires each way, which the closed form answers for. By hand: a fault at a load runs
    through one wire of its channel, whose 9, 10 and 11 A are the most; the return of 20 A carries 0.05 A of each of
    the 140 loads of the other two beside it, so that no channel may hold more than 20 A - 7 A = 13 A.
    """
    rated = {"CH1": 9.0, "CH2": 16.0, "CH3": 11.0}
    parts: list[Element] = [
        output("PS1", "p", "n", 24.0, limit_a=90.0, trip_a=100.0, delay_s=9.0, resistance_ohm=0.01),
        wire("WR", "r", "n", ohm=0.002, rated=20.0),
    ]
    for channel, amps in rated.items():
        parts.append(limiter(channel, "p", f"{channel}.out", 5.0, delay_s=0.01))
        for k in range(70):
            plus, minus = f"{channel}.p{k}", f"{channel}.m{k}"
            parts += [
                wire(f"{channel}F{k}", f"{channel}.out", plus, ohm=0.01, rated=amps),
                wire(f"{channel}R{k}", minus, "r", ohm=0.01, rated=amps),
                load(f"{channel}L{k}", plus, minus, 0.05),
            ]
    found = analysed(harness(*parts))
    assert high_a(found, "CH1") == pytest.approx(9.0, rel=1e-5)
    assert high_a(found, "CH2") == pytest.approx(13.0, rel=1e-5)
    assert high_a(found, "CH3") == pytest.approx(11.0, rel=1e-5)


def ring(sections: int, trip_a: float) -> Harness:
    """A ring of sections, each with a limiter, a return of 40 A and a load at every joint but the first."""
    parts: list[Element] = [output("PS1", "n0", "m", 24.0, limit_a=100.0, trip_a=120.0, delay_s=9.0)]
    for k in range(sections):
        parts.append(limiter(f"CH{k}", f"n{k}", f"q{k}", trip_a, delay_s=0.1))
        parts.append(wire(f"W{k}", f"q{k}", f"n{(k + 1) % sections}", ohm=0.01, rated=200.0))
        if k:
            parts.append(wire(f"R{k}", f"r{k}", "m", ohm=0.01, rated=40.0))
            parts.append(load(f"L{k}", f"n{k}", f"r{k}", 0.5))
    return harness(*parts)


def test_a_ring_of_many_devices_has_ranges() -> None:
    """Ten devices in one loop open in more orders than are tried. Whatever has opened, a joint gets what the
    devices on its two sides pass, by Kirchhoff's current law: with 16 A from one side its return of 40 A is full at
    40 − 16 = 24 A from the other. So much can come past the two devices next to the supply; all others stand behind
    one of 16 A on either side and never bring more than 32 A.
    """
    got = analysed(ring(10, 16.0))
    assert [high_a(got, f"CH{k}") for k in (0, 9)] == [pytest.approx(24.0)] * 2
    inner = [row for row in got.devices if row.id not in ("CH0", "CH9")]
    assert all(row.setting_high_a is None and "not determined" not in row.setting_range_note for row in inner)
    # As drawn the bound over all states says the same of the joint that both sides feed evenly.
    assert max(row.sustained_fault_a or 0.0 for row in got.conductors if row.id.startswith("R")) <= 32.0 + 1e-6


def test_many_devices_side_by_side_that_others_overload_have_no_upper_end() -> None:
    """Eight limiters of 10 A side by side onto a joint of 20 A: without any one of them the others bring 70 A."""
    ways: list[Element] = []
    for k in range(8):
        ways += [
            limiter(f"CH{k}", "p", f"f{k}", 10.0, delay_s=0.1),
            wire(f"W{k}", f"f{k}", "d", ohm=0.01, rated=12.0),
        ]
    drawn = harness(
        output("PS1", "p", "n", 12.0, limit_a=300.0, trip_a=400.0, delay_s=9.0),
        *ways,
        wire("WX", "d", "e", ohm=0.01, rated=20.0),
        wire("WY", "n", "f", ohm=0.01, rated=500.0),
        load("L1", "e", "f", 5.0),
    )
    got = analysed(drawn)
    for row in got.devices:
        assert row.setting_high_a is None
        assert "not determined" not in row.setting_range_note
        assert "WX" in row.setting_range_note


@pytest.mark.parametrize("drawn_a", [3.0, 11.0, 30.0])
def test_parts_that_hold_their_current_side_by_side_add_up(drawn_a: float) -> None:
    """Two limiters of constant current hold what they are set to side by side: the joint of 20 A has the 8 A of
    one, and so may have 20 − 8 = 12 A of the other, whatever that one is set to now.
    """
    holds = Behaviour.CONSTANT_CURRENT
    drawn = harness(
        output("PS1", "p", "n", 12.0, limit_a=300.0, trip_a=400.0, delay_s=9.0, resistance_ohm=0.001),
        limiter("CH1", "p", "a", drawn_a, behaviour=holds),
        wire("W1", "a", "d", ohm=0.01, rated=60.0),
        limiter("CH2", "p", "b", 8.0, behaviour=holds),
        wire("W2", "b", "d", ohm=0.01, rated=60.0),
        wire("W3", "d", "e", ohm=0.01, rated=20.0),
        wire("W4", "n", "f", ohm=0.01, rated=200.0),
        load("L1", "e", "f", 1.0),
    )
    assert high_a(analysed(drawn), "CH1") == pytest.approx(12.0)


def remedy_of(text: str) -> dict[str, float]:
    """The device and its highest setting in A, as a remedy says it; empty where it offers no setting."""
    first = re.search(r"(?:[Ss]et (\w+) to|[Uu]se (\w+) of) at most ([\d.]+) A instead of", text)
    return {first[1] or first[2]: float(first[3])} if first is not None else {}


def check_ranges(drawn: Harness) -> Counter[str]:
    """Every range of a harness: its ends, five settings between, three drawn settings. How much was looked at."""
    counts: Counter[str] = Counter()
    assert list(failures(drawn, counts)) == []
    return counts


@pytest.mark.parametrize("seed", [1, 2, 3, 4, 5, 6, 7, 8])
def test_every_setting_in_a_range_protects_and_none_above(seed: int) -> None:
    assert not check_ranges(drawn_at_random(seed))["not determined"]


@pytest.mark.parametrize("seed", [*range(6), 71])
def test_ranges_of_joined_outputs(seed: int) -> None:
    """Outputs joined behind fuses, limiters and diodes of their own. In 71 no fault holds while a device is drawn
    low.
    """
    assert not check_ranges(random_joined(seed))["not determined"]


@pytest.mark.parametrize("seed", [5, 16, 29])
def test_ranges_of_outputs_in_series_and_parallel(seed: int) -> None:
    """In 5 and 16 the same devices open on the way to several pieces of the harness; in 29 a device's setting
    decides what a part carries that another device holds.
    """
    assert not check_ranges(random_outputs(seed))["not determined"]


def test_ranges_at_random_have_ends_often() -> None:
    """So that the tests above do not pass by finding none."""
    assert sum(check_ranges(drawn_at_random(seed))["ranges"] for seed in range(1, 4)) >= 4


@pytest.mark.parametrize("seed", SEEDS)
def test_a_remedy_that_is_followed_mends(seed: int) -> None:
    """Every remedy of ``path-unprotected`` that offers settings, followed word for word: the finding is gone."""
    drawn = drawn_at_random(seed)
    for finding in analysed(drawn).findings:
        trips = remedy_of(finding.remedy) if finding.rule == "path-unprotected" else {}
        if trips:
            after = analysed(with_trips(drawn, trips))
            left = [f for f in after.findings if f.rule == finding.rule and f.subject.id == finding.subject.id]
            assert not left, (finding.remedy, left)


def test_remedies_at_random_offer_settings() -> None:
    """So that the test above does not pass by never being offered one."""
    offered = [bool(remedy_of(f.remedy)) for seed in SEEDS for f in unprotected(drawn_at_random(seed))]
    assert len(offered) > 20
    assert sum(offered) > 0.2 * len(offered)


def unprotected(drawn: Harness) -> list:
    return [f for f in analysed(drawn).findings if f.rule == "path-unprotected"]
