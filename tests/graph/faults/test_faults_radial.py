"""The closed form of radial harnesses against the search by linear programmes, and against the circuit itself.

On random harnesses every number that the closed form calls exact equals the programmes' to 1e-9, every bound is
not below them. The programmes are checked by force against ngspice elsewhere. What the closed form names, place,
fault resistance and loads, is set up in a plain circuit solve: the part carries what was said and nothing opens.
"""

import dataclasses
from collections import Counter
from collections.abc import Iterator

import numpy as np
import pytest
from fault_bench import AT_20_C, faults_of, networks_of, thresholds_of
from given_fault import fault_at
from other_units import Units, differences, is_same
from radial_harnesses import random_radial
from wired import contact, harness, limiter, load, output, wire

from loadloom.graph.faults.answer import PartFault
from loadloom.graph.faults.combined_overload import combined_overloads
from loadloom.graph.faults.piece import Piece, piece_loads, pieces_of, variants
from loadloom.graph.faults.places import PieceGeometry
from loadloom.graph.faults.radial.closed_form import Radial
from loadloom.graph.faults.radial.radial_piece import RadialPiece
from loadloom.graph.faults.stretch_search import run_search
from loadloom.graph.faults.sustained_fault import Search
from loadloom.graph.model.elements import Diode, Element, LoadKind, Splice
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Case

CASE = Case("nominal")
ALL = (LoadKind.CURRENT, LoadKind.POWER, LoadKind.RESISTANCE)
SAME = 1e-9
KINDS = {
    "trees": {"most_paths": 1, "bundles": False},
    "trees in bundles": {"most_paths": 1},
    "ways side by side": {"most_paths": 5, "bundles": False},
    "ways in bundles": {"most_paths": 4},
    "contacts of 0 Ω": {"zero_contacts": 0.6},
    "thin trees": {"most_paths": 1, "thin": 8.0},
    "thin paths": {"most_paths": 4, "thin": 8.0},
    "loads of all kinds": {"kinds": ALL},
    "chassis": {"chassis": True},
    "several outputs": {"most_paths": 2, "outputs": 2},
    "diodes": {"most_paths": 3, "diodes": 0.4},
    "diodes in thin trees": {"most_paths": 1, "diodes": 0.4, "thin": 8.0},
}
SEEDS = range(1, 25)
BOUNDED = {
    **{"trees": (0.04, 0.055), "trees in bundles": (0.035, 0.055), "ways side by side": (0.0, 0.0)},
    **{"ways in bundles": (0.01, 0.05), "contacts of 0 Ω": (0.03, 0.02), "thin trees": (0.24, 0.5)},
    **{"thin paths": (0.13, 0.3), "loads of all kinds": (0.05, 0.25), "chassis": (0.003, 0.015)},
    **{"several outputs": (0.07, 0.65), "diodes": (0.0, 0.0), "diodes in thin trees": (0.27, 0.8)},
}
"""The share of all parts that the closed form may answer with a bound, and by what share that may be too high."""


def pieces(drawn: Harness) -> Iterator[Piece]:
    for network in networks_of(drawn, AT_20_C, CASE):
        yield from pieces_of(network, thresholds_of(drawn, AT_20_C, CASE), piece_loads(network, drawn))


@pytest.mark.parametrize("kind", KINDS)
def test_closed_form_and_programmes_agree(kind: str):
    seen: Counter[str] = Counter()
    over = 0.0
    for seed in SEEDS:
        drawn = random_radial(seed, **KINDS[kind])
        for piece in pieces(drawn):
            assert RadialPiece.fits(piece)
            geometry = PieceGeometry(drawn, piece)
            radial = Radial(geometry)
            search = Search(geometry, next(iter(variants(piece))))
            found = run_search(search)
            for n, k in enumerate(radial.parts.tolist()):
                name, value = piece.branches.ids[k], float(radial.let_a[n])
                programme = max(found[k].value_a, 0.0) if k in found else 0.0
                assert value >= programme * (1.0 - SAME), (seed, name)
                assert radial.combined_overload_a[n] >= value * (1.0 - SAME), (seed, name)
                if radial.exact[n]:
                    assert value == pytest.approx(programme, rel=SAME, abs=1e-12), (seed, name)
                elif programme > 0.0:
                    over = max(over, value / programme - 1.0)
                seen["exact" if radial.exact[n] else "bound"] += 1
    print(f"{kind}: {seen['exact']} exact, {seen['bound']} bounds, at most {100.0 * over:.1f} % above")
    most_bounds, most_over = BOUNDED[kind]
    assert seen["bound"] <= most_bounds * seen.total()
    assert over <= most_over


PS1, PS2 = output("PS1", "p", "m", trip_a=20.0), output("PS2", "q", "m", trip_a=20.0)
FEED, BACK = wire("W1", "p", "a", ohm=0.01), wire("W2", "b", "m", ohm=0.01)
L1 = load("L1", "a", "b", 2.0)
D1 = Diode(id="D1", subject=Subject("D1"), node_a="x", node_b="a", forward_drop_v=0.5)
SECOND = (PS2, wire("W3", "q", "c", ohm=0.01), load("L2", "c", "b", 1.0))


@pytest.mark.parametrize(
    ("parts", "fits"),
    [
        ((PS1, FEED, BACK, L1), True),
        ((PS1, FEED, wire("W4", "p", "a", ohm=0.02), BACK, L1), True),
        ((PS1, FEED, BACK, L1, *SECOND), True),
        # Joined outputs, outputs in series, a diode in a loop, a load that draws the other way.
        ((PS1, FEED, BACK, L1, *SECOND, wire("W4", "a", "c", ohm=0.02)), False),
        ((PS1, dataclasses.replace(PS2, node_plus="m", node_minus="n"), FEED, BACK, L1), False),
        ((PS1, FEED, wire("W4", "p", "x", ohm=0.01), D1, BACK, L1), False),
        ((PS1, FEED, BACK, load("L1", "b", "a", 2.0)), False),
        ((PS1, FEED, BACK, load("L1", "b", "a", 0.1)), False),
        ((PS1, *SECOND, FEED, BACK, L1, load("L3", "a", "c", 0.5)), False),
        ((PS1, *SECOND, FEED, BACK, L1, load("L3", "a", "c", 0.0)), True),
        ((PS1, *SECOND, FEED, BACK, L1, load("L3", "a", "c", 9.0, demand_kind=LoadKind.RESISTANCE)), False),
    ],
)
def test_what_is_radial(parts: tuple[Element, ...], fits: bool) -> None:
    """One source to every feed, all on one return, and no diode in a loop."""
    found = list(pieces(harness(*parts)))
    assert [RadialPiece.fits(piece) for piece in found] == [fits] * len(found) and found


@pytest.mark.parametrize("kind", ["trees", "ways side by side", "chassis"])
def test_exposure_agrees_with_the_programmes(kind: str):
    """Equal where no fault can land inside returns side by side, never below elsewhere."""
    for seed in SEEDS:
        drawn = random_radial(seed, **(KINDS[kind] | {"bundles": False}))
        for piece in pieces(drawn):
            geometry = PieceGeometry(drawn, piece)
            radial = Radial(geometry)
            search = Search(geometry, next(iter(variants(piece))))
            run_search(search)
            solved = combined_overloads(search)
            for n, k in enumerate(radial.parts.tolist()):
                value = float(radial.combined_overload_a[n])
                assert value >= solved[k] * (1.0 - 1e-6), (seed, piece.branches.ids[k])
                if kind != "chassis":
                    assert value == pytest.approx(solved[k], rel=1e-6, abs=1e-9), (seed, piece.branches.ids[k])


def test_splices_are_answered_for_by_what_leads_to_them(monkeypatch: pytest.MonkeyPatch):
    """A splice at every joint; where several branches lead to one, the closed form says nothing of it."""
    seen: Counter[str] = Counter()
    for seed in range(1, 13):
        plain = random_radial(seed, most_paths=1 + seed % 2)
        joints = sorted({c.node_a for c in plain.conductors} | {c.node_b for c in plain.conductors})
        splices = tuple(
            Splice(id=f"S.{node}", subject=Subject(f"S.{node}"), node=node, rating_a=9.0) for node in joints
        )
        drawn = dataclasses.replace(plain, splices=splices)
        monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 400)
        programmes = faults_of(drawn).parts
        monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 0)
        closed = faults_of(drawn).parts
        for splice in splices:
            one, other = closed[splice.id], programmes[splice.id]
            if one.sustained_fault_a is None or other.sustained_fault_a is None:
                seen["unknown"] += 1
                continue
            seen["known"] += 1
            assert one.sustained_fault_a >= other.sustained_fault_a * (1.0 - 1e-6) - 1e-9, (seed, splice.id)
            assert one.combined_overload_a >= other.combined_overload_a * (1.0 - 1e-6) - 1e-9, (seed, splice.id)
            if one.exact:
                assert one.sustained_fault_a == pytest.approx(other.sustained_fault_a, rel=1e-6), (seed, splice.id)
    assert seen["known"] > seen["unknown"]


@pytest.fixture
def closed_form_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 0)


@pytest.mark.usefixtures("closed_form_everywhere")
@pytest.mark.parametrize("kind", ["trees in bundles", "ways side by side", "thin trees", "chassis"])
def test_what_is_named_can_be_set_up_again(kind: str):
    """Resistive and constant-power loads are left out: how much they draw beside a fault is a bound."""
    seen: Counter[bool] = Counter()
    for seed in range(1, 16):
        drawn = random_radial(seed, **KINDS[kind])
        for part in faults_of(drawn).parts.values():
            if part.exact and part.fault is not None:
                seen[any(_carries(drawn, part, n) for n in range(len(networks_of(drawn, AT_20_C, CASE))))] += 1
    assert seen[True] > 150
    assert seen[False] == 0


def _carries(drawn: Harness, part: PartFault, n: int) -> bool:
    """Whether a plain circuit solve of the named fault gives the sustained fault current with everything
    holding."""
    assert part.exact_place is not None
    assert part.fault is not None
    network = networks_of(drawn, AT_20_C, CASE)[n]
    thresholds = thresholds_of(drawn, AT_20_C, CASE)
    at, to = (_just_inside(name) for name in part.exact_place)
    ohm = part.fault.fault_resistance_ohm or 0.0
    try:
        state = fault_at(drawn, network, thresholds, at, to, ohm, dict(part.loads_a))
    except (KeyError, ValueError):
        return False  # the other network of the case
    return not state.opens and abs(state.currents_a[part.id]) == pytest.approx(part.sustained_fault_a, rel=1e-5)


def _just_inside(name: str) -> str:
    """A place at a conductor's very end, moved onto the conductor."""
    wire_id, colon, share = name.rpartition(":")
    return f"{wire_id}:{min(max(float(share), 1e-8), 1.0 - 1e-8):.12f}" if colon else name


SAID = (
    *("sustained_fault_a", "held_by", "held_a", "held_to_protect_a", "at_rating_a", "tripping_within_s"),
    *("protected", "in_band", "heat_w_per_m", "whole", "case", "back_fed_by", "fed_by_loads", "allowed_a"),
)


@pytest.mark.parametrize("kind", KINDS)
def test_both_ways_say_the_same_of_a_part(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is held, by which device, and what of it protects; where both know it and do not only bound it."""
    looked_at = rows_alike = 0
    for seed in range(31, 34):
        drawn = random_radial(seed, **KINDS[kind])
        monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 10_000)
        programmes = faults_of(drawn).parts
        monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 0)
        closed = faults_of(drawn).parts
        assert closed.keys() == programmes.keys()
        for name, part in programmes.items():
            if part.exact and closed[name].exact:
                looked_at += 1
                for word in SAID:
                    assert is_same(getattr(part, word), getattr(closed[name], word)), (seed, name, word)
                assert closed[name].combined_overload_a >= part.combined_overload_a * (1.0 - 1e-6)
                one, other = part.fault, closed[name].fault
                if (
                    one
                    and other
                    and is_same(one.fault_current_a, other.fault_current_a)
                    and one.resistance_band_ohm
                    and ((one.at, one.to, one.worst) == (other.at, other.to, other.worst))
                ):
                    rows_alike += 1
                    assert one.kind == other.kind and one.opened == other.opened
                    numbers = (dataclasses.replace(row, id="", description="") for row in (one, other))
                    assert list(differences(*numbers, Units(1.0, 1.0))) == [], (seed, name)
    assert looked_at > 30 and rows_alike > 2


@pytest.mark.filterwarnings("error::RuntimeWarning")
@pytest.mark.parametrize("seed", [7, 11, 15])
def test_outputs_that_nothing_limits(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """What a stiff output gives without a trip is not bounded: no overload is lost in 0 times infinity."""
    drawn = random_radial(seed, most_paths=4, chassis=True, outputs=2)
    bare = dataclasses.replace(
        drawn,
        outputs=tuple(dataclasses.replace(each, trip_a=None, never_trips=True) for each in drawn.outputs),
        devices=tuple(dataclasses.replace(each, trip_a=None, active=False) for each in drawn.devices),
    )
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 10_000)
    programmes = faults_of(bare).parts
    monkeypatch.setattr("loadloom.graph.faults.search.RADIAL_FROM", 0)
    for name, part in faults_of(bare).parts.items():
        assert part.sustained_fault_a >= programmes[name].sustained_fault_a * (1.0 - 1e-6), name
        assert part.combined_overload_a >= part.sustained_fault_a, name


def meshed(seed: int) -> Harness:
    """A harness with two ways more between joints that are already joined."""
    rng = np.random.default_rng(seed)
    drawn = random_radial(seed, bundles=False, most_paths=2)
    more = []
    for side in "fr":
        joints = sorted({n for c in drawn.conductors for n in (c.node_a, c.node_b) if n[0] == side})
        if len(joints) > 1:
            a, b = rng.choice(joints, 2, replace=False)
            more.append(wire(f"M{side}", str(a), str(b), ohm=0.03, length_m=1.0, rated=10.0))
    return dataclasses.replace(drawn, conductors=(*drawn.conductors, *more))


def test_meshes_are_bounded():
    exact = 0
    for seed in range(1, 41):
        drawn = meshed(seed)
        for piece in pieces(drawn):
            if not RadialPiece.fits(piece):
                continue
            geometry = PieceGeometry(drawn, piece)
            radial = Radial(geometry)
            found = run_search(Search(geometry, next(iter(variants(piece)))))
            for n, k in enumerate(radial.parts.tolist()):
                programme = max(found[k].value_a, 0.0) if k in found else 0.0
                assert radial.let_a[n] >= programme * (1.0 - 1e-7), (seed, piece.branches.ids[k])
                if radial.exact[n]:
                    exact += 1
                    assert radial.let_a[n] == pytest.approx(programme, rel=1e-7, abs=1e-12), (seed, k)
    assert exact > 200


@pytest.mark.usefixtures("closed_form_everywhere")
def test_pinch_close_behind_one_of_six_contacts():
    """1.5 mΩ against 7.9 + 1.5 + 10.9/5 mΩ: 88.5 % of 125 A on that path's source-end contact."""
    parts = []
    for k in range(1, 7):
        parts += [
            contact(f"P1.{k}", "+", f"s{k}", 1.5e-3, rated=9.2),
            wire(f"W{k}", f"s{k}", f"e{k}", ohm=7.9e-3, length_m=0.5, rated=15.0),
            contact(f"P2.{k}", f"e{k}", "a", 1.5e-3, rated=9.2),
        ]
    drawn = harness(
        output("U1", "+", "-", trip_a=125.0),
        *parts,
        wire("R1", "b", "-", ohm=1e-3, length_m=0.5, rated=150.0),
        load("L1", "a", "b", 0.0),
    )
    part = faults_of(drawn).parts["P1.1"]
    around = 7.9 + 1.5 + 10.9 / 5
    assert part.sustained_fault_a == pytest.approx(125.0 * around / (around + 1.5))
    assert part.fault is not None
    assert part.fault.at == "W1:0.00"


@pytest.mark.usefixtures("closed_form_everywhere")
def test_other_loads_draw_on_the_return_but_never_help():
    """Six ways of 3 A with 14.5 A each on one return: one fault holds 14.5 + 5 × 3 A on it, all of them 87 A."""
    parts = []
    for k in range(1, 7):
        parts += [
            limiter(f"Q{k}", "+", f"s{k}", 14.5),
            wire(f"W{k}", f"s{k}", f"a{k}", ohm=0.02, length_m=1.0, rated=15.0),
            load(f"L{k}", f"a{k}", "m", 3.0),
        ]
    drawn = harness(
        output("U1", "+", "-", trip_a=125.0), *parts, wire("WR", "m", "-", ohm=2e-3, length_m=0.5, rated=20.0)
    )
    part = faults_of(drawn).parts["WR"]
    assert part.sustained_fault_a == pytest.approx(14.5 + 5 * 3.0)
    assert part.combined_overload_a == pytest.approx(6 * 14.5)
    assert len(part.loads_a) == 5
    assert part.exact
    assert part.protected is False


@pytest.mark.usefixtures("closed_form_everywhere")
def test_a_bound_says_that_it_is_one():
    """A resistive load beside the fault counts with its full voltage: 14.5 A and at most 4 A."""
    drawn = harness(
        output("U1", "+", "-", trip_a=125.0),
        limiter("Q1", "+", "s", 14.5),
        wire("W1", "s", "a", ohm=0.02, length_m=1.0, rated=15.0),
        limiter("Q2", "+", "t", 10.0),
        wire("W2", "t", "c", ohm=0.02, length_m=1.0, rated=15.0),
        wire("WR", "m", "-", ohm=2e-3, length_m=0.5, rated=10.0),
        load("L1", "a", "m", 3.0),
        load("L2", "c", "m", 3.0, demand_kind=LoadKind.RESISTANCE),
    )
    assert faults_of(dataclasses.replace(drawn, loads=(drawn.loads[0],))).parts["WR"].exact
    answer = faults_of(drawn)
    part = answer.parts["WR"]
    assert not part.exact
    assert part.sustained_fault_a == pytest.approx(14.5 + 12.0 / 3.0)
    assert "bound" in part.note
    assert part.fault is not None
    assert "at most" in part.fault.description
    assert any("closed form" in text for text in answer.assumptions)


def test_what_limits_a_protected_part_is_named():
    drawn = harness(
        output("U1", "+", "-", 12.0, never_trips=True),
        wire("W1", "+", "a", ohm=1.0, length_m=1.0, rated=20.0),
        wire("W2", "b", "-", ohm=1.0, length_m=1.0, rated=20.0),
        load("L1", "a", "b", 1.0),
    )
    for part in faults_of(drawn).parts.values():
        assert part.protected is not True or part.protected_by or "copper" in part.note
