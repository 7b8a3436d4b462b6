"""Rings, meshes and joined outputs whose contacts and voltages are known within bands, against a brute force of
Kirchhoff's laws: its own nodal solve (modified nodal analysis) at resistances and voltages drawn from the bands and
improved one at a time, with every set of devices opened, and a fault at every joint raised until a device comes to
its limit or no voltage is left.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from wired import AT_20_C, contact, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Element, Tolerance
from loadloom.graph.model.harness import Harness

DEVICE_OHM = 2e-3


@dataclass
class Branch:
    """From ``a`` to ``b``: resistance in Ω and voltage in V within bands, current at which it opens in A."""

    id: str
    a: str
    b: str
    ohm: tuple[float, float]
    emf_v: tuple[float, float] = (0.0, 0.0)
    limit_a: float = np.inf
    opens_back: bool = True


@dataclass
class Drawn:
    """The same harness as parts of loadloom and as branches of the brute force."""

    rng: random.Random
    parts: list[Element] = field(default_factory=list)
    branches: list[Branch] = field(default_factory=list)
    spurs: list[str] = field(default_factory=list)
    taps: list[str] = field(default_factory=list)

    def output(self, name: str, plus: str, minus: str, volts: float, share: float, ohm: float, trip: float) -> None:
        part = output(name, plus, minus, volts, limit_a=trip - 0.5, trip_a=trip, resistance_ohm=ohm)
        band = Tolerance.even(share) if share else None
        self.parts.append(replace(part, tolerance=band))
        emf = volts * (1.0 - share), volts * (1.0 + share)
        self.branches.append(Branch(name, minus, plus, (ohm, ohm), emf, trip, opens_back=False))

    def device(self, name: str, a: str, b: str, trip: float) -> None:
        self.parts.append(limiter(name, a, b, trip, resistance_ohm=Band.exact(DEVICE_OHM)))
        self.branches.append(Branch(name, a, b, (DEVICE_OHM, DEVICE_OHM), limit_a=trip))

    def contact(self, name: str, a: str, b: str) -> None:
        least = self.rng.uniform(0.5e-3, 2e-3)
        most = least + self.rng.choice((0.0, self.rng.uniform(0.0, 6e-3), self.rng.uniform(0.0, 6e-3)))
        self.parts.append(contact(name, a, b, resistance_ohm=Band((least + most) / 2, least, most), rated=500.0))
        self.branches.append(Branch(name, a, b, (least, most)))

    def wire(self, name: str, a: str, b: str, least: float = 2e-3, most: float = 1.5e-2) -> None:
        ohm = self.rng.uniform(least, most)
        self.parts.append(wire(name, a, b, ohm=ohm, rated=500.0))
        self.branches.append(Branch(name, a, b, (ohm, ohm)))

    def spur(self, joint: str, back: str) -> None:
        """A wire to a load and one back."""
        n = len(self.spurs) + 1
        self.wire(f"S{n}", joint, f"l{n}")
        self.wire(f"R{n}", f"k{n}", back)
        self.parts.append(load(f"L{n}", f"l{n}", f"k{n}", 1e-6))
        self.spurs.append(f"S{n}")
        self.taps.append(joint)

    @property
    def harness(self) -> Harness:
        return harness(*self.parts)


def ring(rng: random.Random) -> Drawn:
    """A ring main fed at one joint, with devices in some of its sections and a spur at every joint."""
    drawn, joints = Drawn(rng), rng.choice((3, 4, 5))
    drawn.output("U", "n0", "m", 24.0, 0.0, 5e-3, 400.0)
    with_device = {0, joints - 1, *(k for k in range(joints) if rng.random() < 0.3)}
    for k in range(joints):
        here, there = f"n{k}", f"n{(k + 1) % joints}"
        if k in with_device:
            drawn.device(f"D{k}", here, f"d{k}", rng.choice((10.0, 16.0, 20.0)))
        drawn.contact(f"P{k}.1", f"d{k}" if k in with_device else here, f"c{k}")
        drawn.wire(f"W{k}", f"c{k}", there)
        if k:
            drawn.spur(here, "m")
    return drawn


def mesh(rng: random.Random) -> Drawn:
    """Devices feed three joints that bonds connect."""
    drawn = Drawn(rng)
    drawn.output("U", "u", "m", 24.0, 0.0, 5e-3, 400.0)
    for k in range(3):
        drawn.device(f"D{k}", "u", f"d{k}", rng.choice((10.0, 16.0, 20.0)))
        drawn.contact(f"P{k}.1", f"d{k}", f"c{k}")
        drawn.wire(f"W{k}", f"c{k}", f"n{k}")
        drawn.spur(f"n{k}", "m")
    for k in range(3):
        drawn.contact(f"B{k}.1", f"n{k}", f"b{k}")
        drawn.wire(f"X{k}", f"b{k}", f"n{(k + 1) % 3}", 1e-3, 8e-3)
    return drawn


def joined(rng: random.Random) -> Drawn:
    """Outputs of unequal voltages within bands, each with a lead, a contact and a return lead, on one bus."""
    drawn = Drawn(rng)
    for k in range(rng.choice((2, 3))):
        volts = 24.0 + rng.choice((0.0, 0.3, rng.uniform(-0.4, 0.4)))
        drawn.output(
            f"U{k}", f"u{k}", f"m{k}", volts, rng.choice((0.01, 0.03)), 5e-3, rng.choice((10.0, 15.0, 25.0))
        )
        drawn.contact(f"P{k}.1", f"u{k}", f"c{k}")
        drawn.wire(f"W{k}", f"c{k}", "bus", 5e-3, 5e-2)
        drawn.wire(f"V{k}", f"m{k}", "neg")
    drawn.spur("bus", "neg")
    return drawn


def most_a(drawn: Drawn, *, tries: int, climbs: int) -> dict[str, float]:
    """The most in A that a fault from a spur's joint to its return's puts on each spur, by brute force."""
    rng, branches = drawn.rng, drawn.branches
    names = sorted({n for b in branches for n in (b.a, b.b)})
    at = {n: k for k, n in enumerate(names)}
    inside = [b for b in branches if not b.id.startswith(("S", "R"))]
    acting = [k for k, b in enumerate(inside) if np.isfinite(b.limit_a)]
    ends = [
        (at[joint], at[next(b.b for b in branches if b.id == f"R{n}")]) for n, joint in enumerate(drawn.taps, 1)
    ]
    back = [ohm_of(branches, f"S{n}") + ohm_of(branches, f"R{n}") for n in range(1, len(ends) + 1)]
    opened = [set(some) for size in range(len(acting)) for some in itertools.combinations(acting, size)]

    def values(ohm: list[float], emf: list[float]) -> np.ndarray:
        best = np.zeros(len(ends))
        for out in opened:
            left = [k for k in range(len(inside)) if k not in out]
            live = reach(inside, left, at, ends)
            if not live:
                continue
            nodes = sorted({n for k in left for n in (at[inside[k].a], at[inside[k].b])})
            group = components(inside, left, at, nodes)
            grounded = {min(g) for g in group}
            size = len(names) + len(left)
            matrix, right = np.zeros((size, size)), np.zeros((size, 1 + len(ends)))
            for n in range(len(names)):
                if n in grounded or n not in nodes:
                    matrix[n, n] = 1.0
            for row, k in enumerate(left):
                a, b, r = at[inside[k].a], at[inside[k].b], len(names) + row
                for node, sign in ((a, 1.0), (b, -1.0)):
                    if node not in grounded:
                        matrix[node, r] += sign
                matrix[r, a], matrix[r, b], matrix[r, r] = 1.0, -1.0, -ohm[k]
                right[r, 0] = -emf[k]
            for n, (high, low) in enumerate(ends):
                for node, sign in ((high, -1.0), (low, 1.0)):
                    if node not in grounded and n in live:
                        right[node, 1 + n] += sign
            found = np.linalg.solve(matrix, right)
            limit = np.array([inside[k].limit_a for k in left])
            reverse = np.array([inside[k].limit_a if inside[k].opens_back else np.inf for k in left])
            own = found[len(names) :, 0]
            if (own > limit + 1e-9).any() or (-own > reverse + 1e-9).any():
                continue
            for n in live:
                share = found[len(names) :, 1 + n]
                room = np.where(share > 0, limit - own, reverse + own)
                used = np.abs(share) > 1e-12
                amps = (room[used] / np.abs(share[used])).min()
                high, low = ends[n]
                fall = -(found[high, 1 + n] - found[low, 1 + n]) + back[n]
                amps = min(amps, (found[high, 0] - found[low, 0]) / fall)
                best[n] = max(best[n], amps)
        return best

    spans = [b.ohm for b in inside] + [b.emf_v for b in inside]
    free = [k for k, span in enumerate(spans) if span[1] > span[0]]
    count = len(inside)
    best = np.zeros(len(ends))
    where: list[list[float]] = [[] for _ in ends]

    def look(point: list[float]) -> None:
        here = values(point[:count], point[count:])
        for n in np.flatnonzero(here > best):
            best[n], where[n] = here[n], list(point)

    for _ in range(tries):
        look([rng.choice((lo, hi, rng.uniform(lo, hi))) for lo, hi in spans])
    for _ in range(climbs):
        for n in range(len(ends)):
            if where[n] and free:
                point, k = list(where[n]), rng.choice(free)
                lo, hi = spans[k]
                step = (hi - lo) * rng.choice((1.0, 0.3, 0.1, 0.03, 0.01)) * rng.uniform(-1.0, 1.0)
                point[k] = min(hi, max(lo, point[k] + step))
                look(point)
    return {f"S{n + 1}": float(a) for n, a in enumerate(best)}


def ohm_of(branches: list[Branch], name: str) -> float:
    return next(b.ohm[0] for b in branches if b.id == name)


def components(inside: list[Branch], left: list[int], at: dict[str, int], nodes: list[int]) -> list[set[int]]:
    groups = [{n} for n in nodes]
    for k in left:
        a, b = at[inside[k].a], at[inside[k].b]
        one, other = (next(g for g in groups if n in g) for n in (a, b))
        if one is not other:
            groups.remove(other)
            one |= other
    return groups


def reach(inside: list[Branch], left: list[int], at: dict[str, int], ends: list[tuple[int, int]]) -> list[int]:
    """The faults that something still feeds."""
    nodes = sorted({n for k in left for n in (at[inside[k].a], at[inside[k].b])})
    groups = components(inside, left, at, nodes)
    return [n for n, (high, low) in enumerate(ends) if any(high in g and low in g for g in groups)]


def hand_ring(one: Band, other: Band) -> Harness:
    """20 A each round two sides: 1 + 5 mΩ and a bond of 4 mΩ to the joint with 1 + 3 mΩ; contacts as given."""
    return harness(
        output("U", "u", "m", limit_a=500.0),
        limiter("D1", "u", "a1", 20.0),
        limiter("D2", "u", "a2", 20.0),
        contact("P1.1", "a1", "b1", resistance_ohm=one, rated=100.0),
        contact("P1.2", "a2", "b2", resistance_ohm=other, rated=100.0),
        wire("W1", "b1", "t1", ohm=0.005, rated=100.0),
        wire("W2", "b2", "t2", ohm=0.003, rated=100.0),
        wire("WX", "t1", "t2", ohm=0.004, rated=100.0),
        wire("S1", "t1", "l", ohm=0.005, rated=36.0),
        wire("R1", "k", "m", ohm=0.005, rated=200.0),
        load("L1", "l", "k", 1.0),
        wire("S2", "t2", "p", ohm=0.005, rated=36.0),
        wire("R2", "q", "m", ohm=0.005, rated=200.0),
        load("L2", "p", "q", 1.0),
    )


def test_two_sides_of_a_ring_give_their_most_at_once() -> None:
    """At t1 20 A through 6 mΩ leave 15 A for 8 mΩ: 35 A at the least resistances; with 3 mΩ in the first contact
    both sides have 8 mΩ, 40 A. At t2 the sides have 4…6 and 10…12 mΩ: 20 A and 12 A for 6 and 10 mΩ.
    """
    band = Band(2e-3, 1e-3, 3e-3)
    answer = explore(hand_ring(band, band), AT_20_C, lambda _: None)[0]
    parts = answer.faults.parts
    assert parts["S1"].sustained_fault_a == pytest.approx(40.0, rel=1e-9)
    assert parts["S1"].protected is False
    assert parts["S2"].sustained_fault_a == pytest.approx(32.0, rel=1e-9)
    assert all(answer.protection.setting_ranges[name].high is None for name in ("D1", "D2"))
    new = Band.exact(1e-3)
    exact = explore(hand_ring(new, new), AT_20_C, lambda _: None)[0].faults.parts
    assert exact["S1"].sustained_fault_a == pytest.approx(35.0, rel=1e-9)
    assert exact["S1"].protected is True


KINDS = {"ring": ring, "mesh": mesh, "joined": joined}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", [0, 1, 2, 14, 15])
def test_nothing_within_the_bands_puts_more_on_a_spur(kind: str, seed: int) -> None:
    drawn = KINDS[kind](random.Random(seed))
    answers = explore(drawn.harness, AT_20_C, lambda _: None)[0].faults.parts
    for name, found_a in most_a(drawn, tries=60, climbs=60).items():
        told_a = answers[name].sustained_fault_a
        assert told_a is not None
        assert told_a >= found_a * (1.0 - 1e-6), (name, told_a, found_a)


@pytest.mark.parametrize(("most", "share_a"), [(1e-3, 10.0), (3e-3, 15.0)])
def test_contacts_in_parallel_that_may_be_unlike_share_at_their_worst(most: float, share_a: float) -> None:
    """Two contacts of 1 to 3 mΩ behind 20 A: by hand 20 A · 3/(1 + 3) on the better one, 10 A each where alike."""
    band = Band((1e-3 + most) / 2, 1e-3, most)
    pair = [contact(f"J1.{k}", "q", "x", resistance_ohm=band, rated=30.0) for k in (1, 2)]
    parts = [output("PS", "p", "n", 24.0, trip_a=100.0), limiter("CH", "p", "q", 20.0), *pair]
    parts += [wire("W1", "x", "l", ohm=0.005, rated=40.0), wire("W2", "n", "m", ohm=0.005, rated=40.0)]
    facts, _ = explore(harness(*parts, load("L", "l", "m", 5.0)), AT_20_C, lambda _: None)
    assert facts.faults.parts["J1.1"].sustained_fault_a == pytest.approx(share_a)


def test_what_runs_to_a_fault_at_the_end_of_a_section_beside_the_device_there() -> None:
    """20 A come to t1 and 10 A to t2; sections X of 15 mΩ and Y of 5 mΩ join them. A fault on X at t1 takes all
    that comes to t1, and of the 10 A what comes through Y: 15/20 of them, so 27.5 A by hand in X's end. The
    ways to t1 and t2 drop the same then: R1 · 20 A = 10 mΩ · 10 A + 3.75 mΩ · 10 A, so R1 = 6.875 mΩ,
    within its 1…30 mΩ.
    """
    drawn = harness(
        output("U", "u", "m", limit_a=500.0),
        limiter("D1", "u", "a1", 20.0),
        limiter("D2", "u", "a2", 10.0),
        contact("P1.1", "a1", "t1", resistance_ohm=Band(5e-3, 1e-3, 30e-3), rated=100.0),
        wire("W2", "a2", "t2", ohm=0.01, rated=100.0),
        wire("X", "t1", "t2", ohm=0.015, rated=26.0),
        wire("Y", "t1", "t2", ohm=0.005, rated=100.0),
        wire("S1", "t2", "l", ohm=0.005, rated=100.0),
        wire("R1", "k", "m", ohm=0.005, rated=100.0),
        load("L1", "l", "k", 1.0),
    )
    part = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["X"]
    assert part.sustained_fault_a == pytest.approx(27.5, rel=2e-3)


def test_what_lies_beyond_the_joint_counts_in_the_worst_mixture() -> None:
    """12 V; two limiters of 20 A feed a joint over 300 mΩ and over 100 to 400 mΩ; a lead of 240 mΩ goes on. With
    the second way at 200 mΩ its limiter has 20 A as the voltage is used up: 20 A · (300 + 200) / 300 = 33.3 A, and
    20 A · 200 mΩ + 33.3 A · 240 mΩ = 12 V. With both ways alike, worst at the joint itself, 12 V / 390 mΩ = 30.8 A.
    """
    drawn = harness(
        output("U", "u", "m", 12.0, limit_a=400.0, trip_a=None),
        limiter("D1", "u", "d1", 20.0, resistance_ohm=Band.exact(1e-6)),
        limiter("D2", "u", "d2", 20.0, resistance_ohm=Band.exact(1e-6)),
        wire("W1", "d1", "p", ohm=0.3, rated=500.0),
        replace(wire("W2", "d2", "p", rated=500.0), resistance_ohm=Band(0.25, 0.1, 0.4)),
        wire("S1", "p", "q", ohm=0.24, rated=500.0),
        wire("S2", "q", "l", ohm=1e-5, rated=500.0),
        wire("R1", "k", "m", ohm=1e-5, rated=500.0),
        load("L1", "l", "k", 1e-6),
    )
    found = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["S2"].sustained_fault_a
    assert found == pytest.approx(20.0 * 500.0 / 300.0, rel=1e-3)


def test_a_common_return_carries_a_fault_and_the_loads_beside_it() -> None:
    """10 A come to a and to b each, and a bond with a device of 2 A joins them. A fault for the load at a takes 10
    and 2 A, and the load at b 3 A: 15 A by hand in the common return. With 10 mΩ to b and a bond of 5 mΩ
    the way to a then has (10 · 5 + 5 · 2) mV / 10 A = 6 mΩ, and 3 mΩ where no load draws, both within its
    1…20 mΩ.
    """
    drawn = harness(
        output("U", "u", "m", limit_a=500.0),
        limiter("D1", "u", "a1", 10.0),
        limiter("D2", "u", "a2", 10.0),
        limiter("D3", "a", "c", 2.0),
        contact("P1.1", "a1", "a", resistance_ohm=Band(5e-3, 1e-3, 20e-3), rated=100.0),
        wire("W2", "a2", "b", ohm=0.01, rated=100.0),
        wire("X", "c", "b", ohm=0.005, rated=100.0),
        wire("SA", "a", "la", ohm=0.005, rated=100.0),
        wire("SB", "b", "lb", ohm=0.005, rated=100.0),
        wire("R", "r", "m", ohm=0.005, rated=14.0),
        load("LA", "la", "r", 1.0),
        load("LB", "lb", "r", 3.0),
    )
    part = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["R"]
    assert part.sustained_fault_a == pytest.approx(15.0, rel=2e-3)
    assert part.protected is False


RING_OF_FOUR = {
    # name: joints, least and greatest resistance, and the resistance in the state that is solved, in mΩ
    "Q1": ("u", "f", 2.98, 5.96, 2.98),
    "W1": ("f", "a", 4.16, 12.48, 4.16),
    "Q2": ("u", "g", 3.0, 9.0, 3.0),
    "W2": ("g", "c", 15.15, 30.3, 30.3),
    "W3": ("a", "b", 5.42, 5.42, 5.42),
    "W4": ("b", "c", 20.02, 60.06, 20.02),
    "W5": ("c", "d", 22.8, 22.8, 22.8),
    "W6": ("d", "a", 14.65, 17.31, 17.31),
    "S2": ("c", "k", 4.6, 13.8, 4.6),
    "S3": ("d", "l", 7.91, 11.87, 11.87),
    "R": ("r", "m", 7.18, 10.77, 10.77),
}


def test_a_common_return_of_a_ring_is_held_against_a_fault_at_every_load() -> None:
    """A state of a ring fed over devices of 15 and 5 A, by a nodal solve of its own: 22.8 V, and a fault of 19.2 A
    for the load at d, with 0.7 A in the loads, which no device opens on. The common return carries the sum,
    19.9 A: more than at what is worst for faults elsewhere in the ring.
    """
    names = sorted({n for a, b, *_ in RING_OF_FOUR.values() for n in (a, b)} - {"m"})
    matrix, drawn_a = np.zeros((len(names), len(names))), np.zeros(len(names))
    branches = {k: (a, b, ohm * 1e-3, 0.0) for k, (a, b, _, _, ohm) in RING_OF_FOUR.items()}
    branches["U"] = "m", "u", 5e-3, 22.8
    for a, b, ohm, emf in branches.values():
        for here, there, sign in ((a, b, 1.0), (b, a, -1.0)):
            if here in names:
                matrix[names.index(here), names.index(here)] += 1.0 / ohm
                drawn_a[names.index(here)] -= sign * emf / ohm
                if there in names:
                    matrix[names.index(here), names.index(there)] -= 1.0 / ohm
    for high, amps in (("l", 19.2), ("k", 0.3), ("l", 0.4)):
        drawn_a[names.index(high)] -= amps
        drawn_a[names.index("r")] += amps
    volts = dict(zip(names, np.linalg.solve(matrix, drawn_a), strict=True)) | {"m": 0.0}
    amps = {k: (volts[a] - volts[b] + emf) / ohm for k, (a, b, ohm, emf) in branches.items()}
    assert amps["Q1"] < 15.0 and amps["Q2"] < 5.0 and volts["l"] > volts["r"]
    assert amps["R"] == pytest.approx(19.9)
    parts: list[Element] = [output("U", "u", "m", 24.0, limit_a=40.0, trip_a=33.0, resistance_ohm=5e-3)]
    parts[0] = replace(parts[0], tolerance=Tolerance.even(0.05))  # type: ignore[call-arg]
    for name, (a, b, least, most, _) in RING_OF_FOUR.items():
        band = Band((least + most) * 5e-4, least * 1e-3, most * 1e-3)
        if name.startswith("Q"):
            parts.append(limiter(name, a, b, 15.0 if name == "Q1" else 5.0, resistance_ohm=band))
        else:
            parts.append(contact(f"{name}.1", a, b, resistance_ohm=band, rated=100.0))
    parts += [load("L1", "k", "r", 0.5), load("L2", "l", "r", 1.0)]
    told = explore(harness(*parts), AT_20_C, lambda _: None)[0].faults.parts["R.1"]
    assert told.sustained_fault_a is not None
    assert told.sustained_fault_a >= 19.9


def test_a_contact_within_a_section_carries_its_most_to_a_fault_beside_it() -> None:
    """20 A come to t1 and 10 A to t2, which Y joins, and wire, contact and wire in series; each has 5 mΩ. To a
    fault between the contact and X2 come i1 through X1 and the contact and i2 through X2, 30 A in all, and
    Y carries (10 · i1 - 5 · i2) / 5. At t1 20 A = i1 + that, so 12.5 A by hand. The ways to t1 and t2 then
    have 100 mV less 37.5 mV and 100 mV, so the first has 3.125 mΩ, within its 1…30 mΩ; what is worst at t1
    or t2 leaves 11.7 A.
    """
    drawn = harness(
        output("U", "u", "m", limit_a=500.0),
        limiter("D1", "u", "a1", 20.0),
        limiter("D2", "u", "a2", 10.0),
        contact("P1.1", "a1", "t1", resistance_ohm=Band(5e-3, 1e-3, 30e-3), rated=100.0),
        wire("W2", "a2", "t2", ohm=0.01, rated=100.0),
        wire("X1", "t1", "n1", ohm=0.005, rated=100.0),
        contact("J1.1", "n1", "n2", resistance_ohm=Band.exact(5e-3), rated=12.0),
        wire("X2", "n2", "t2", ohm=0.005, rated=100.0),
        wire("Y", "t1", "t2", ohm=0.005, rated=100.0),
        wire("S1", "t2", "l", ohm=0.005, rated=100.0),
        wire("R1", "k", "m", ohm=0.005, rated=100.0),
        load("L1", "l", "k", 1.0),
    )
    part = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["J1.1"]
    assert part.sustained_fault_a == pytest.approx(12.5, rel=2e-3)
    assert part.protected is False
