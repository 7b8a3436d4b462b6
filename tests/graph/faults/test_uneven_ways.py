"""Contacts and wires in parallel whose resistances are known within bands, against a brute force of Kirchhoff's
laws: its own nodal solve at every corner of the bands, with the fault at every joint that it can be at.

With two ways between two joints the share of one is the other's resistance over the sum of both (the current
divider of any textbook), so that 20 A on contacts of 1 to 3 mΩ puts 20 A · 3 / (1 + 3) = 15 A on one of them.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from wired import AT_20_C, contact, harness, limiter, load, output, splice, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.answer import PartFault
from loadloom.graph.model.elements import Band, Behaviour, Element
from loadloom.graph.model.harness import Harness

DEVICE_OHM = 1e-3


@dataclass
class Drawn:
    """Parts of loadloom, and the same as branches of the brute force: ends and resistances in Ω by id."""

    rng: random.Random
    parts: list[Element] = field(default_factory=list)
    branches: dict[str, tuple[str, str, float, float]] = field(default_factory=dict)
    tripping_a: float = 20.0

    def contact(self, name: str, a: str, b: str, least: float, most: float) -> None:
        band = Band((least + most) / 2, least, most)
        self.parts.append(contact(name, a, b, resistance_ohm=band, rated=500.0))
        self.branches[name] = (a, b, least, most)

    def wire(
        self, name: str, a: str, b: str, ohm: float, bundle: str | None = None, most: float | None = None
    ) -> None:
        band = Band.exact(ohm) if most is None else Band((ohm + most) / 2, ohm, most)
        self.parts.append(replace(wire(name, a, b, rated=500.0), bundle=bundle, resistance_ohm=band))
        self.branches[name] = (a, b, band.lower, band.upper)

    def ways(self, name: str, a: str, b: str, count: int, bundle: str | None = None) -> None:
        """Ways of a contact, a wire and sometimes another contact."""
        rng = self.rng
        for n in range(1, count + 1):
            ends = [a, f"{name}{n}a", f"{name}{n}b", b]
            least, last = rng.uniform(0.5e-3, 2e-3), rng.uniform(0.5e-3, 2e-3)
            self.contact(f"P{name}.{n}", ends[0], ends[1], least, least + rng.choice((0.0, 1e-3, 4e-3)))
            if rng.random() < 0.5:
                self.wire(f"W{name}{n}", ends[1], ends[3], rng.uniform(1e-3, 9e-3), bundle)
                continue
            self.wire(f"W{name}{n}", ends[1], ends[2], rng.uniform(1e-3, 9e-3), bundle)
            self.contact(f"Q{name}.{n}", ends[2], ends[3], last, last + rng.choice((0.0, 1e-3, 4e-3)))

    @property
    def harness(self) -> Harness:
        return harness(*self.parts)


def fed(rng: random.Random, *, bundle: str | None = None) -> Drawn:
    """An output, a limiter, ways in parallel to a load (in two groups now and then) and ways back."""
    drawn = Drawn(rng, tripping_a=rng.choice((10.0, 20.0, 33.0)))
    drawn.parts.append(output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None))
    drawn.parts.append(limiter("D", "u", "d", drawn.tripping_a, resistance_ohm=Band.exact(DEVICE_OHM)))
    middle = "d"
    if rng.random() < 0.4:
        drawn.ways("A", "d", "e", rng.choice((2, 3)))
        middle = "e"
    drawn.ways("B", middle, "p", 2, bundle)
    drawn.ways("C", "k", "m", rng.choice((1, 2)), bundle)
    drawn.parts.append(load("L1", "p", "k", 1e-6))
    return drawn


def currents_a(drawn: Drawn, ohm: dict[str, float], high: str, low: str) -> dict[str, float]:
    """Currents in A by id with the tripping current drawn from one joint to another: nodal analysis."""
    names = sorted({n for a, b, _, _ in drawn.branches.values() for n in (a, b)} | {"d"})
    at = {name: k for k, name in enumerate(names)}
    matrix, right = np.zeros((len(names), len(names))), np.zeros(len(names))
    for name, (a, b, _, _) in drawn.branches.items():
        one = 1.0 / ohm[name]
        i, j = at[a], at[b]
        matrix[i, i] += one
        matrix[j, j] += one
        matrix[i, j] -= one
        matrix[j, i] -= one
    # The output takes at m what it gives at d.
    for joint, amps in ((high, -1.0), ("d", 1.0), (low, 1.0), ("m", -1.0)):
        right[at[joint]] += amps * drawn.tripping_a
    volts = np.linalg.lstsq(matrix, right, rcond=None)[0]
    return {name: float(volts[at[a]] - volts[at[b]]) / ohm[name] for name, (a, b, _, _) in drawn.branches.items()}


def worst_a(drawn: Drawn, places: list[tuple[str, str]]) -> dict[str, float]:
    """The most of every part over the places and over every corner of the bands. Of a fault against the terminal,
    at the end of a wire on the way out, the end of that wire carries all that the wire does not bring.
    """
    banded = [name for name, (_, _, least, most) in drawn.branches.items() if most > least]
    exact = {name: least for name, (_, _, least, _) in drawn.branches.items()}
    found: dict[str, float] = dict.fromkeys(drawn.branches, 0.0)
    for chosen in itertools.product((2, 3), repeat=len(banded)):
        ohm = exact | {name: drawn.branches[name][at] for name, at in zip(banded, chosen, strict=True)}
        for high, low in places:
            for name, amps in currents_a(drawn, ohm, high, low).items():
                found[name] = max(found[name], abs(amps))
                a, b, _, _ = drawn.branches[name]
                if name.startswith("W") and low == "m" and high in (a, b):
                    brought = amps if high == b else -amps
                    found[name] = max(found[name], abs(drawn.tripping_a - brought))
    return found


def told(drawn: Drawn) -> Mapping[str, PartFault]:
    return explore(drawn.harness, AT_20_C, lambda _: None)[0].faults.parts


def test_two_contacts() -> None:
    drawn = Drawn(random.Random(0))
    drawn.parts.append(output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None))
    drawn.parts.append(limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(DEVICE_OHM)))
    drawn.contact("P1.1", "d", "p", 1e-3, 3e-3)
    drawn.contact("P1.2", "d", "p", 1e-3, 3e-3)
    drawn.wire("W1", "k", "m", 5e-3)
    drawn.parts.append(load("L1", "p", "k", 1e-6))
    found = told(drawn)
    assert found["P1.1"].sustained_fault_a == pytest.approx(15.0)
    assert found["P1.2"].sustained_fault_a == pytest.approx(15.0)
    assert found["P1.1"].combined_overload_a == pytest.approx(15.0)
    assert found["W1"].sustained_fault_a == pytest.approx(20.0)


@pytest.mark.parametrize("seed", range(12))
def test_every_corner_of_ways_in_parallel(seed: int) -> None:
    """A fault at the load, or of any joint on the way out against the output's terminal."""
    drawn = fed(random.Random(seed))
    out = {joint for name, ends in drawn.branches.items() if name[1] in "AB" for joint in ends[:2]}
    worst, found = worst_a(drawn, [("p", "k"), *((joint, "m") for joint in sorted(out))]), told(drawn)
    for name, amps in worst.items():
        assert found[name].sustained_fault_a == pytest.approx(amps, rel=1e-6), name


@pytest.mark.parametrize("seed", range(8))
def test_faults_between_ways_out_and_back(seed: int) -> None:
    """With the wires of both in one bundle a fault can land inside a way back as well."""
    drawn = fed(random.Random(100 + seed), bundle="B1")
    ends = {
        letter: {
            joint for name, (a, b, _, _) in drawn.branches.items() if name[:2] == f"W{letter}" for joint in (a, b)
        }
        for letter in "BC"
    }
    worst = worst_a(drawn, [("p", "k"), *itertools.product(sorted(ends["B"]), sorted(ends["C"]))])
    found = told(drawn)
    for name, amps in worst.items():
        assert found[name].sustained_fault_a >= amps * (1.0 - 1e-6), name


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("bundle", [None, "B1"])
def test_closed_form(seed: int, bundle: str | None, monkeypatch: pytest.MonkeyPatch) -> None:
    """What large radial pieces are answered with says the same of these small ones, or more where it is a bound."""
    drawn = fed(random.Random(seed if bundle is None else 100 + seed), bundle=bundle)
    found = told(drawn)
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 2)
    monkeypatch.setattr("loadloom.graph.faults.search.LARGEST_PIECE", 2)
    for name, part in told(drawn).items():
        amps, most = found[name].sustained_fault_a, found[name].combined_overload_a
        assert part.sustained_fault_a is not None
        assert amps is not None and most is not None
        assert part.sustained_fault_a >= amps * (1.0 - 1e-6), name
        assert not part.exact or part.sustained_fault_a == pytest.approx(amps, rel=1e-6), name
        assert part.combined_overload_a is not None and part.combined_overload_a >= most * (1.0 - 1e-6), name


def with_limiter(seed: int) -> Drawn:
    drawn = Drawn(random.Random(seed))
    drawn.parts.append(output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None))
    drawn.parts.append(limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(DEVICE_OHM)))
    return drawn


@pytest.mark.parametrize(("loops", "said"), [(2, 0), (40, 121)])
def test_parts_of_a_mesh_too_large_to_climb_are_told(loops: int, said: int) -> None:
    """A ladder of contacts: which mixture is worst for one of them hangs on all others."""
    drawn = with_limiter(0)
    for n in range(loops + 1):
        if n < loops:
            drawn.contact(f"P{n}.1", "d" if n == 0 else f"x{n}", f"x{n + 1}", 1e-3, 3e-3)
            drawn.contact(f"P{n}.2", f"y{n}", f"y{n + 1}", 1e-3, 3e-3)
        drawn.contact(f"P{n}.3", "d" if n == 0 else f"x{n}", f"y{n}", 1e-3, 3e-3)
    drawn.wire("W1", "k", "m", 5e-3)
    drawn.parts.append(load("L1", f"x{loops}", "k", 1e-6))
    told_of = explore(drawn.harness, AT_20_C, lambda _: None)[0].faults.assumptions
    assert [text.split()[0] for text in told_of if "in meshes of copper" in text] == [str(said)] * bool(said)


def test_a_fault_within_the_long_way_of_a_ring() -> None:
    """From d to the load over A, of 10 to 30 mΩ, and the other way round over D of 60 to 90 mΩ, C of 10 mΩ and B of
    10 to 20 mΩ. A fault on C, at its end at B, comes over A and B at their least and C and D at their greatest:
    20 A · (10 + 90) / (10 + 10 + 10 + 90) = 16.7 A in C.
    """
    drawn = with_limiter(0)
    drawn.wire("WA", "d", "p", 10e-3, most=30e-3)
    drawn.wire("WB", "p", "c", 10e-3, most=20e-3)
    drawn.wire("WC", "c", "e", 10e-3)
    drawn.wire("WD", "e", "d", 60e-3, most=90e-3)
    drawn.wire("W1", "k", "m", 5e-3)
    drawn.parts.append(load("L1", "p", "k", 1e-6))
    assert told(drawn)["WC"].sustained_fault_a == pytest.approx(20.0 * 100.0 / 120.0)


@pytest.mark.parametrize("seed", range(16))
def test_every_corner_of_a_mesh(seed: int) -> None:
    """Meshes of 2 to 5 loops whose ways are one to three wires, a fault at every joint and between two wires."""
    drawn = with_limiter(seed)
    rng, joints = drawn.rng, ["d", "p", "q", "s"][: drawn.rng.choice((3, 4))]
    ways = [*itertools.pairwise(joints), (joints[-1], joints[0])]
    ways += [tuple(rng.sample(joints, 2)) for _ in range(rng.choice((1, 2, 4)))]
    for k, (a, b) in enumerate(ways):
        nodes = [a, *(f"c{k}{n}" for n in range(rng.choice((0, 0, 1, 2)))), b]
        for n, (here, there) in enumerate(itertools.pairwise(nodes)):
            ohm = rng.uniform(2e-3, 20e-3)
            banded = sum(most > least for _, _, least, most in drawn.branches.values()) < 8
            drawn.wire(f"W{k}{n}", here, there, ohm, most=ohm * rng.choice((1.0, 1.5, 3.0)) if banded else None)
    inside = sorted({joint for a, b, _, _ in drawn.branches.values() for joint in (a, b)})
    drawn.wire("W1", "k", "m", 5e-3)
    drawn.parts.append(load("L1", "p", "k", 1e-6))
    worst, found = worst_a(drawn, [("p", "k"), *((joint, "m") for joint in inside)]), told(drawn)
    for name, amps in worst.items():
        assert found[name].sustained_fault_a == pytest.approx(amps, rel=1e-6), name


def test_splice_in_a_way_back() -> None:
    """A splice in one of two ways back passes what its way carries: 20 A · 3 / (1 + 3)."""
    drawn = Drawn(random.Random(0))
    drawn.parts.append(output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None))
    drawn.parts.append(limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(DEVICE_OHM)))
    drawn.wire("W1", "d", "p", 5e-3)
    drawn.contact("P1.1", "k", "s", 1e-3, 3e-3)
    drawn.contact("P1.2", "k", "m", 1e-3, 3e-3)
    drawn.wire("W2", "s", "m", 1e-9)
    drawn.parts += [load("L1", "p", "k", 1e-6), splice("S1", "s", 12.0)]
    found = told(drawn)["S1"]
    assert found.sustained_fault_a == pytest.approx(15.0, rel=1e-5)
    assert found.protected is False


@pytest.mark.parametrize("seed", range(16))
def test_splices_at_every_corner(seed: int) -> None:
    """What flows into a splice through any choice of its wires, against the nodal solve at every corner: never less
    and not much more (a choice of several unlike wires is bounded by the worst of each).
    """
    drawn = fed(random.Random(200 + seed))
    out = sorted({joint for name, ends in drawn.branches.items() if name[1] in "AB" for joint in ends[:2]})
    joints = sorted({joint for a, b, _, _ in drawn.branches.values() for joint in (a, b)} - {"d", "m"})
    worst = dict.fromkeys(joints, 0.0)
    banded = [name for name, (_, _, least, most) in drawn.branches.items() if most > least]
    exact = {name: least for name, (_, _, least, _) in drawn.branches.items()}
    for chosen in itertools.product((2, 3), repeat=len(banded)):
        ohm = exact | {name: drawn.branches[name][at] for name, at in zip(banded, chosen, strict=True)}
        for high, low in [("p", "k"), *((joint, "m") for joint in out)]:
            amps = currents_a(drawn, ohm, high, low)
            for joint in joints:
                into = [
                    amps[n] * (1.0 if b == joint else -1.0)
                    for n, (a, b, _, _) in drawn.branches.items()
                    if joint in (a, b)
                ]
                passed = max(sum(a for a in into if a > 0.0), -sum(a for a in into if a < 0.0))
                worst[joint] = max(worst[joint], passed)
    drawn.parts += [splice(f"S{joint}", joint, 500.0) for joint in joints]
    found = told(drawn)
    for joint, amps in worst.items():
        value = found[f"S{joint}"].sustained_fault_a
        assert value is not None
        assert amps * (1.0 - 1e-6) <= value <= amps * 1.02, joint


def test_what_is_left_of_a_ring_keeps_the_resistances_that_were_found_worst() -> None:
    """Once Q1 has opened, 8.8 A come to a1 alone. With J1 and W3 at their least and W4 and W5 at their greatest, a
    fault on W5 at a0 takes 8.8 A · (44.7 + 43.6) / (2.56 + 13.8 + 44.7 + 43.6) of them through J1, by hand 7.42 A.
    """

    def banded(name: str, a: str, b: str, least: float, most: float) -> Element:
        return replace(wire(name, a, b, rated=12.0), resistance_ohm=Band((least + most) / 2, least, most))

    drawn = harness(
        output("U1", "p", "m", 25.2, limit_a=30.0, trip_a=33.0, resistance_ohm=0.02),
        limiter("Q1", "p", "f", 5.0, resistance_ohm=Band(1.7e-3, 1.38e-3, 2.07e-3)),
        wire("W1", "f", "a0", ohm=5.74e-3, rated=12.0),
        limiter("Q2", "p", "g", 8.8, resistance_ohm=Band.exact(1.6e-3)),
        wire("W2", "g", "a1", ohm=14e-3, rated=12.0),
        contact("J1.1", "a0", "c0", resistance_ohm=Band.exact(2.56e-3), rated=12.0),
        banded("W3", "c0", "a1", 13.8e-3, 27.6e-3),
        banded("W4", "a1", "a2", 22.3e-3, 44.7e-3),
        banded("W5", "a2", "a0", 21.8e-3, 43.6e-3),
        limiter("Q3", "a1", "t1", 8.0, resistance_ohm=Band.exact(1e-3)),
        limiter("Q4", "a2", "t2", 3.0, resistance_ohm=Band.exact(1e-3)),
        load("L1", "t1", "r", 0.5),
        load("L2", "t2", "r", 2.0),
        banded("W8", "r", "m", 5.36e-3, 10.7e-3),
    )
    found = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["W5"]
    assert found.sustained_fault_a is not None
    assert found.sustained_fault_a >= 8.8 * (44.7 + 43.6) / (2.56 + 13.8 + 44.7 + 43.6) * (1.0 - 1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_every_corner_of_a_ring(seed: int) -> None:
    """Loads return to four joints of a ring of contacts and wires, in which nothing acts."""
    drawn, joints = Drawn(random.Random(seed)), ("m", "r1", "r2", "r3")
    drawn.parts.append(output("U", "u", "m", 24.0, limit_a=400.0, trip_a=None))
    drawn.parts.append(limiter("D", "u", "d", 20.0, resistance_ohm=Band.exact(DEVICE_OHM)))
    for n, joint in enumerate(joints):
        least = drawn.rng.uniform(0.5e-3, 2e-3)
        drawn.contact(f"P{n}.1", joint, f"c{n}", least, least + drawn.rng.choice((0.0, 1e-3, 4e-3)))
        drawn.wire(f"W{n}", f"c{n}", joints[(n + 1) % 4], drawn.rng.uniform(1e-3, 9e-3))
    for n in (1, 2, 3):
        drawn.wire(f"S{n}", "d", f"l{n}", 5e-3)
        drawn.parts.append(load(f"L{n}", f"l{n}", f"r{n}", 1e-6))
    worst, found = worst_a(drawn, [("d", joint) for joint in joints[1:]]), told(drawn)
    for name in (f"{letter}{n}{pin}" for n in range(4) for letter, pin in (("P", ".1"), ("W", ""))):
        assert found[name].sustained_fault_a == pytest.approx(worst[name], rel=1e-6), name


@pytest.mark.parametrize("charger_a", [0.0, 4.0, 10.0, 20.0])
def test_what_flows_against_a_fault_is_taken_off_at_its_least(charger_a: float) -> None:
    """A limiter of 40 A before two unlike ways, and a charger behind them that holds its current.

    A fault behind the first contact of way A takes both. By Kirchhoff, with r1 that contact, r2 the rest of way A
    and rB way B, it carries ((rB + r2) · x - rB · charger) / (r1 + r2 + rB) of x = 40 A + charger; at 1, 11, 2 mΩ
    with 10 A 630 / 14 = 45.0 A. The greatest share of x less the greatest of the charger's 10 A, at
    other resistances, is 39.7 A only.
    """
    beside = (
        []
        if charger_a == 0.0
        else [
            output("PS", "c", "m", 28.8, limit_a=charger_a, trip_a=None, behaviour=Behaviour.CONSTANT_CURRENT),
            wire("W2", "c", "j", ohm=10e-3, rated=60.0),
        ]
    )
    drawn = harness(
        output("BT", "b", "m", 28.0, trip_a=None, resistance_ohm=6e-3),
        limiter("F1", "b", "s", 40.0, resistance_ohm=Band.exact(2e-3)),
        contact("KA.1", "s", "a1", rated=42.0, resistance_ohm=Band(3e-3, 1e-3, 10e-3)),
        wire("WA", "a1", "a2", ohm=1e-3, rated=60.0),
        contact("KC.1", "a2", "j", rated=60.0, resistance_ohm=Band(3e-3, 1e-3, 10e-3)),
        contact("KB.1", "s", "j", rated=60.0, resistance_ohm=Band(6e-3, 2e-3, 20e-3)),
        *beside,
        wire("W3", "j", "l", ohm=5e-3, rated=60.0),
        wire("W4", "k", "m", ohm=5e-3, rated=60.0),
        load("L1", "l", "k", 1.0),
    )
    by_hand_a = max(
        ((rb + r2) * (40.0 + charger_a) - rb * charger_a) / (r1 + r2 + rb)
        for r1, r2, rb in itertools.product((1.0, 10.0), (2.0, 11.0), (2.0, 20.0))
    )
    part = explore(drawn, AT_20_C, lambda _: None)[0].faults.parts["KA.1"]
    assert part.sustained_fault_a is not None
    assert by_hand_a * (1.0 - 1e-9) <= part.sustained_fault_a <= 1.11 * by_hand_a
    assert part.exact is (charger_a == 0.0)
    assert part.protected is (part.sustained_fault_a <= 42.0)
