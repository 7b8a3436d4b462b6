"""Rules on load states where the ends of the tolerances decide, by hand."""

import pytest
from wired import AT_20_C, contact, harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, LoadKind, Switch, Tolerance
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings, Case
from loadloom.graph.rules import load_unfed
from loadloom.graph.verdict.registry import all_rules


def relay(name: str, a: str, b: str, *, fitted: bool = True, **words: bool) -> Switch:
    by_word = {word: {"fitted": closed} for word, closed in words.items()}
    return Switch(id=name, subject=Subject(name), node_a=a, node_b=b, fitted=fitted, by_word=by_word, rating_a=20.0)


def behind(switch: Switch):
    return harness(
        output("U1", "p", "m", 12.0, limit_a=20.0, trip_a=25.0, delay_s=1e-3),
        wire("W1", "p", "a", ohm=10e-3, rated=30.0),
        wire("R1", "e", "m", ohm=10e-3, rated=30.0),
        load("L1", "b", "e", 3.0),
        switches=(switch,),
    )


CASES = AnalysisSettings(conductor_temperature_c=20.0, cases=(Case("day"), Case("night", None, "night")))


def unfed(drawn) -> list[str]:
    facts, _ = explore(drawn, CASES, lambda _: None)
    return [f.case or "" for f in load_unfed.check(facts)]


def test_a_load_that_a_relay_leaves_off_on_purpose_is_no_finding() -> None:
    assert unfed(behind(relay("K1", "a", "b", night=False))) == []


def test_a_load_that_no_case_feeds_is_one() -> None:
    assert unfed(behind(relay("K1", "a", "b", fitted=False))) == ["day"]
    assert unfed(behind(relay("K1", "a", "b", fitted=False, night=False))) == ["day"]


@pytest.mark.parametrize(("tolerance", "collapses"), [(0.05, False), (0.2, True)])
def test_a_power_that_the_lowest_voltage_does_not_pass(tolerance: float, collapses: bool) -> None:
    """V² / 4R: 12 V behind 0.3 Ω pass 120 W, 11.4 V 108 W, 9.6 V 76.8 W only. The load asks for 100 W."""
    drawn = harness(
        output("U1", "p", "m", 12.0, tolerance=Tolerance.even(tolerance), limit_a=50.0, trip_a=60.0),
        wire("W1", "p", "d", ohm=0.15, rated=50.0),
        wire("R1", "e", "m", ohm=0.15, rated=50.0),
        load("L1", "d", "e", 100.0, demand_kind=LoadKind.POWER),
    )
    got = found_at_all_corners("load-unfed", drawn)
    assert [f.subject.id for f in got] == (["L1"] if collapses else [])
    assert all("lowest voltages" in f.message for f in got)


def found_at_all_corners(rule: str, drawn):
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    check = all_rules()[rule].check
    assert check is not None
    return list(check(facts))


def test_sharing_is_looked_at_where_the_voltage_loads_it_most() -> None:
    """1.2 Ω on 13.2 V behind 0.1 Ω of output and two paths of 20 mΩ with contacts of 1 to 20 mΩ.

    One path new and the other aged: 21 and 40 mΩ in parallel, 13.8 mΩ; the solved current is held as it is shared.
    With all new (10.5 mΩ) it is 13.2 / (1.2 + 0.1 + 0.0105) = 10.07 A, of which the new path takes 40/61.
    """
    ranged = Band(10.5e-3, 1e-3, 20e-3)
    parts = []
    for k in (1, 2):
        parts += [
            wire(f"W{k}", "p", f"w{k}", ohm=20e-3, rated=8.0),
            contact(f"P{k}.1", f"w{k}", "d", resistance_ohm=ranged, rated=6.4),
        ]
    drawn = harness(
        output("U1", "p", "m", 12.0, tolerance=Tolerance.even(0.1), limit_a=50.0, trip_a=60.0, resistance_ohm=0.1),
        *parts,
        load("L1", "d", "m", 1.2, demand_kind=LoadKind.RESISTANCE),
    )
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    (spread,) = facts.spread["nominal"]
    uneven_a = spread.uneven_a[spread.solution.network.edge_index["P1.1"]]
    assert uneven_a == pytest.approx(13.2 / (1.2 + 0.1 + 0.0105) * 40 / 61, rel=1e-3)
    over = [f for f in found_at_all_corners("uneven-sharing", drawn) if f.subject.id == "P1.1"]
    assert [(f.severity, f.limit) for f in over] == [("error", 6.4)]


def test_back_feed_within_what_the_leads_are_allowed_is_a_warning() -> None:
    def joined(rated: float):
        each = {"limit_a": 10.0, "trip_a": 12.0, "resistance_ohm": 20e-3}
        return harness(
            output("U1", "p", "m", 24.0, **each),
            output("U2", "q", "m", 24.0, **each),
            wire("A1", "p", "bus", ohm=10e-3, rated=rated),
            wire("A2", "q", "bus", ohm=10e-3, rated=rated),
            wire("R1", "e", "m", ohm=5e-3, rated=60.0),
            load("L1", "bus", "e", 5.0),
        )

    assert {f.severity for f in found_at_all_corners("back-feed", joined(30.0))} == {"warning"}
    assert {f.severity for f in found_at_all_corners("back-feed", joined(8.0))} == {"error"}
