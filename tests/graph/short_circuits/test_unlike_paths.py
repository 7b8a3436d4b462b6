"""Short circuits of joined outputs and of devices side by side, whose paths may be unlike.

Sources: the current divider and Ohm's law by hand, a dense nodal solve of its own at every corner of the bands
(``numpy.linalg.solve`` on the conductance matrix, as in any book on circuits), and the harness drawn again at every
corner with exact values.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np
import pytest
from joined_harnesses import random_banded
from wired import AT_20_C, analysed, contact, facts, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Tolerance
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import ContactType
from loadloom.graph.short_circuits.short_circuits import Short, Shorts

WORN = Band(2e-3, 1e-3, 3e-3)
AS_MUCH = 1.0 - 1e-6


def shorts(drawn: Harness) -> Shorts:
    return facts(drawn).protection.short_circuits


def worst(drawn: Harness, part: str) -> Short:
    return max((s for s in shorts(drawn).every if s.part == part), key=lambda s: s.own_greatest_a)


@pytest.mark.parametrize("outputs", [1, 2])
def test_contacts_side_by_side_share_unevenly_whether_one_output_feeds_the_short_or_two(outputs: int) -> None:
    """24 V behind 101 mΩ each, then 6 mΩ and two ways of a contact (1 to 3 mΩ) and a wire (5 mΩ): of all that both
    ways carry, which at their least is 3 mΩ, one carries 8 / (6 + 8).
    """
    drawn = harness(
        *(output(f"U{n}", f"u{n}", "m", 24.0, resistance_ohm=0.1, never_trips=True) for n in range(outputs)),
        *(wire(f"WU{n}", f"u{n}", "u", ohm=1e-3, rated=100.0) for n in range(outputs)),
        limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(1e-3), delay_s=0.1),
        wire("W3", "d", "p", ohm=5e-3, rated=100.0),
        *(contact(f"P1.{n}", "k", f"c{n}", resistance_ohm=WORN, rated=100.0) for n in (1, 2)),
        *(wire(f"W{n}", f"c{n}", "m", ohm=5e-3, rated=100.0) for n in (1, 2)),
        load("L1", "p", "k", 1.0),
    )
    short_a = 24.0 / (0.101 / outputs + 6e-3 + 3e-3)
    for part in ("W1", "W2"):
        got = worst(drawn, part)
        assert got.own_greatest_a == pytest.approx(short_a * 8.0 / 14.0)
        assert got.row.i2t_a2s == pytest.approx((short_a * 8.0 / 14.0) ** 2 * 0.1)


def test_devices_side_by_side_share_by_the_contacts_behind_them() -> None:
    """24 V behind 100 mΩ, two paths of a limiter of 0.1 s and a contact of 1 to 9 mΩ: with one at 1 and the other
    at 9 mΩ the first carries 0.9 of 24 V / 100.9 mΩ for 0.1 s, and once the other has opened all of 24 V / 101 mΩ
    for another 0.1 s.
    """
    drawn = harness(
        output("U", "u", "m", 24.0, resistance_ohm=0.1, never_trips=True),
        *(limiter(f"D{n}", "u", f"d{n}", 20.0, delay_s=0.1) for n in (1, 2)),
        *(contact(f"P1.{n}", f"d{n}", f"c{n}", resistance_ohm=Band(5e-3, 1e-3, 9e-3), rated=99.0) for n in (1, 2)),
        *(wire(f"W{n}", f"c{n}", "p", ohm=0.0, rated=99.0) for n in (1, 2)),
        wire("W3", "p", "l", ohm=0.0, rated=99.0),
        load("L1", "l", "m", 1.0),
    )
    got = worst(drawn, "W1")
    first_a, then_a = 0.9 * 24.0 / 0.1009, 24.0 / 0.101
    assert got.row.i2t_a2s == pytest.approx((first_a**2 + then_a**2) * 0.1, rel=1e-3)


def parallel_fuses(breaking_capacity_a: float) -> Harness:
    """A battery of 24 V behind 5 mΩ and two paths of 5 mΩ, each with a fuse at its end."""
    return harness(
        output("B", "p", "m", 24.0, resistance_ohm=5e-3, never_trips=True),
        *(wire(f"W{n}", "p", f"a{n}", ohm=5e-3, rated=100.0, mm2=16.0) for n in (1, 2)),
        *(fuse(f"F{n}", f"a{n}", "o", 50.0, "UL 248-14", breaking_capacity_a=breaking_capacity_a) for n in (1, 2)),
        load("L", "o", "m", 20.0),
    )


def test_the_last_of_fuses_side_by_side_interrupts_what_all_carried() -> None:
    """Both carry 24 V / (5 + 2.5 mΩ) / 2 = 1.6 kA; when one has opened the other has 24 V / 10 mΩ = 2.4 kA."""
    prospective = shorts(parallel_fuses(2000.0)).prospective
    assert {name: each.current_a for name, each in prospective.items()} == pytest.approx({"F1": 2400, "F2": 2400})
    assert {f.subject.id for f in found("breaking-capacity", parallel_fuses(2000.0))} == {"F1", "F2"}
    assert found("breaking-capacity", parallel_fuses(2500.0)) == []


def test_a_lead_that_its_neighbour_relieves_is_followed_at_its_least() -> None:
    """Two outputs of 24 V behind 0.1 Ω, each on a fuse and a contact of 5 to 50 mΩ, and 0.2 Ω behind both. With the
    first contact at 50 mΩ and the second at 5 mΩ the joint is at 24 V · 0.2 / (0.2 + r), r = 150 · 105 / 255 mΩ,
    and the first lead carries what is left over 150 mΩ: 37.8 A, and 43.6 A where both are at 50 mΩ.
    """
    limit_a = 40.0
    drawn = harness(
        *(output(f"U{n}", f"u{n}", "m", 24.0, resistance_ohm=0.1, never_trips=True) for n in (1, 2)),
        *(contact(f"P1.{n}", f"u{n}", f"c{n}", resistance_ohm=Band(0.03, 5e-3, 0.05), rated=99.0) for n in (1, 2)),
        *(limiter(f"D{n}", f"c{n}", "p", limit_a, delay_s=(0.1, 1.0)[n - 1]) for n in (1, 2)),
        wire("W3", "p", "l", ohm=0.2, rated=99.0),
        load("L1", "l", "m", 1.0),
    )
    ohm = 0.15 * 0.105 / 0.255
    relieved_a = (24.0 - 24.0 * 0.2 / (0.2 + ohm)) / 0.15
    assert relieved_a < limit_a < 24.0 / (0.075 + 0.2) / 2.0
    # As both are at one corner the first opens within 0.1 s, and then the other within 1 s. At its least the first
    # holds, until the second is open after 1 s; then the first has 0.1 s more.
    row = worst(drawn, "W3").row
    assert row.slowest_s == pytest.approx(1.1)
    together_a, alone_a = 24.0 / (0.2 + ohm), 24.0 / 0.35
    assert row.i2t_a2s is not None and row.i2t_a2s >= AS_MUCH * (together_a**2 * 1.0 + alone_a**2 * 0.1)


# --- every corner ----------------------------------------------------------------------------------------------


def corners(drawn: Harness, most: int) -> Iterator[Harness]:
    """The harness with exact values, at so many corners of its bands."""
    wide = [c for c in drawn.contacts if c.resistance_ohm is not None]
    varied = [o for o in drawn.outputs if o.tolerance is not None]
    every = list(itertools.product((0, 1), repeat=len(wide) + len(varied)))
    for ends in random.Random(len(every)).sample(every, min(most, len(every))):
        contacts = []
        for c, high in zip(wide, ends, strict=False):
            assert c.resistance_ohm is not None
            exact = Band.exact(c.resistance_ohm.upper if high else c.resistance_ohm.lower)
            contacts.append(replace(c, resistance_ohm=exact))
        volts = {o.id: 24.0 * (1.03 if high else 0.97) for o, high in zip(varied, ends[len(wide) :], strict=True)}
        yield replace(
            drawn,
            contacts=tuple(contacts),
            outputs=tuple(
                replace(o, voltage_v=volts.get(o.id, 24.0), tolerance=Tolerance.even(0.0)) for o in drawn.outputs
            ),
        )


def solved_by_hand(drawn: Harness, at: str, to: str, off: tuple[str, ...]) -> Mapping[str, float]:
    """Currents in A of all wires and contacts with a short between two nodes, by a dense nodal solve."""
    names = sorted(drawn.graph)
    place = {name: k for k, name in enumerate(names)}
    matrix, fed = np.zeros((len(names), len(names))), np.zeros(len(names))

    def join(a: str, b: str, siemens: float) -> None:
        i, j = place[a], place[b]
        matrix[[i, j], [i, j]] += siemens
        matrix[[i, j], [j, i]] -= siemens

    ohm = {part.id: part.resistance_ohm.upper for part in drawn.two_ended if part.resistance_ohm is not None}
    for part in drawn.two_ended:
        join(part.node_a, part.node_b, 1.0 / ohm.get(part.id, 1e-7))
    join(at, to, 1e7)
    for o in drawn.outputs:
        if o.id not in off:
            assert o.voltage_v is not None
            join(o.node_plus, o.node_minus, 1.0 / o.resistance_ohm)
            fed[place[o.node_plus]] += o.voltage_v / o.resistance_ohm
            fed[place[o.node_minus]] -= o.voltage_v / o.resistance_ohm
    matrix += 1e-9 * np.eye(len(names))
    volts = np.linalg.solve(matrix, fed)
    return {
        part.id: abs(float(volts[place[part.node_a]] - volts[place[part.node_b]])) / ohm[part.id]
        for part in drawn.two_ended
        if part.id in ohm
    }


@pytest.mark.parametrize("seed", range(6))
def test_no_corner_of_the_bands_carries_more_than_is_told(seed: int) -> None:
    """Of the wires of the return, which no short at a source end concerns, it is no more than 15 % too much either:
    what reaches them counts at the least resistances, how they share it at the worst.
    """
    drawn = random_banded(seed)
    told = shorts(drawn).every
    names = [o.id for o in drawn.outputs]
    sets = [some for size in range(len(names)) for some in itertools.combinations(names, size)]
    places = {(s.row.at, s.row.to) for s in told}
    solved = {
        place: [solved_by_hand(corner, *place, off) for corner in corners(drawn, 48) for off in sets]
        for place in places
    }
    for short in told:
        by_hand_a = max(each[short.part] for each in solved[short.row.at, short.row.to])
        assert short.own_greatest_a >= by_hand_a * (1.0 - 1e-4), short.part
        if short.part.startswith("B"):
            assert short.own_greatest_a <= by_hand_a * 1.15, short.part


@pytest.mark.parametrize("seed", (1, 4, 7))
def test_no_corner_drawn_exactly_is_worse(seed: int) -> None:
    """Heat within 2 %: currents in between two corners are not followed."""
    drawn = random_banded(seed)
    told = shorts(drawn)
    for corner in corners(drawn, 12):
        there = shorts(corner)
        for name, each in there.prospective.items():
            assert told.prospective[name].current_a >= each.current_a * AS_MUCH
        for short in there.every:
            mine = [s for s in told.every if s.part == short.part]
            assert max(s.own_greatest_a for s in mine) >= short.own_greatest_a * AS_MUCH
            if short.held is not None:
                assert any(s.held is not None for s in mine)
            elif all(s.held is None for s in mine) and short.row.i2t_a2s is not None:
                assert max(s.row.i2t_a2s or 0.0 for s in mine) >= short.row.i2t_a2s * 0.98


@pytest.mark.parametrize(
    ("share", "rules"), [(0.99, ["damage-before-clearing"]), (1.05, ["withstand-not-determined"]), (1.2, [])]
)
def test_a_part_that_is_near_its_limit_is_left_open_where_not_every_mixture_is_followed(
    share: float, rules: list[str]
) -> None:
    """A contact that withstands so many times the heat that the mixtures followed put into it, by their own row."""

    def drawn() -> Harness:
        return harness(
            *(output(f"U{n}", f"u{n}", "m", 24.0, resistance_ohm=0.1, never_trips=True) for n in range(2)),
            *(limiter(f"D{n}", f"u{n}", f"d{n}", 20.0, delay_s=0.1) for n in range(2)),
            *(
                contact(f"X{n}.1", f"d{n}", "p", resistance_ohm=Band(5e-3, 1e-3, 9e-3), rated=400.0)
                for n in range(2)
            ),
            contact("Z.1", "p", "l", resistance_ohm=WORN, rated=400.0, contact_type="pin"),
            load("L1", "l", "m", 1.0),
        )

    def told(stands_a2s: float) -> tuple[float, list[str]]:
        kinds = {"pin": ContactType("pin", i2t_a2s=stands_a2s)}
        settings = replace(AT_20_C, contact_types=kinds)
        results = analysed(drawn(), settings)
        wanted = ("damage-before-clearing", "withstand-not-determined")
        heat = facts(drawn(), settings).protection.short_circuits.every
        gets = max(s.row.i2t_a2s or 0.0 for s in heat if s.part == "Z.1")
        return gets, [f.rule for f in results.findings if f.subject.id == "Z.1" and f.rule in wanted]

    gets_a2s, _ = told(1e9)
    assert told(gets_a2s * share)[1] == rules
