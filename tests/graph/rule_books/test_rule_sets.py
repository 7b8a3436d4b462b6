"""Rule books: their printed tables and distances, on harnesses that keep and break each clause."""

import pytest
from wired import breaker, found, fuse, harness, limiter, load, output, splice, wire

from loadloom.graph.judging.clause_checks import CHECKS, awg_area_mm2
from loadloom.graph.model.elements import ConductorKind
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.rule_books import _clauses, gauge_table, known_rule_sets, known_values

NAMES = (
    *("ac43.13-1b", "student-racing-ev", "school-robotics", "small-craft", "passenger-vessel"),
    *("loading-75", "continuous-125", "mil-std-975m-fuses"),
)


def with_rules(*names: str, **values: float) -> AnalysisSettings:
    return AnalysisSettings(
        conductor_temperature_c=20.0, resistance_table="copper", rule_sets=names, rule_set_values=values
    )


def test_names_and_checks() -> None:
    assert set(known_rule_sets()) == set(NAMES)
    assert {c.check for c in _clauses()} == set(CHECKS)
    assert "tap_length_m" in known_values() and "small-craft.device_within_m" in known_values()


# --- weaker taps ---------------------------------------------------------------------------------------------


def tapped(*tap_mm: float, tap_awg: int = 22, fuse_after: int | None = None):
    """20 A fuse, 14 AWG trunk, splice, a tap of pieces, and its own fuse after so many of them."""
    parts = [
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
        fuse("F1", "p", "a", 20.0, "UL 248-14"),
        wire("W1", "a", "s", awg=14, length_m=1.0, rated=25.0),
        splice("SP1", "s", 30.0),
        wire("W2", "s", "lp", awg=14, length_m=1.0, rated=25.0),
        wire("W3", "lm", "m", awg=14, length_m=1.0, rated=25.0),
        load("L1", "lp", "lm", 5.0),
    ]
    node, tap_a = "s", 25.0 if tap_awg == 14 else 3.0
    for k, length_mm in enumerate(tap_mm):
        if k == fuse_after:
            parts.append(fuse("F2", node, f"f{k}", 2.0, "UL 248-14"))
            node = f"f{k}"
        parts.append(wire(f"T{k}", node, f"t{k}", awg=tap_awg, length_m=length_mm / 1000.0, rated=tap_a))
        node = f"t{k}"
    return harness(*parts, load("L2", node, "lm", 0.1))


RACING = with_rules("student-racing-ev")


def taps(drawn, rule: str = "rule-book", settings: AnalysisSettings = RACING) -> list[tuple[str, float | None]]:
    return [
        (f.subject.id, f.value)
        for f in found(rule, drawn, settings)
        if "less than" in f.message and "before it" in f.message
    ]


def test_tap_of_300_mm_without_a_fuse() -> None:
    assert taps(tapped(300.0)) == [("T0", pytest.approx(0.3))]
    (got,) = [f for f in found("rule-book", tapped(300.0), RACING) if "before it (" in f.message]
    assert got.severity is Severity.ERROR
    assert got.source is not None and "EV.6.6.6" in got.source


def test_tap_of_120_mm_is_exempt_and_listed() -> None:
    assert taps(tapped(120.0)) == []
    assert taps(tapped(120.0), "rule-book-exempt") == [("T0", pytest.approx(0.12))]


def test_fuse_200_mm_behind_the_splice_is_still_a_finding() -> None:
    assert taps(tapped(200.0, 500.0, fuse_after=1)) == [("T0", pytest.approx(0.2))]
    assert taps(tapped(100.0, 500.0, fuse_after=1)) == []


def test_branch_of_the_trunks_gauge_is_no_tap() -> None:
    assert taps(tapped(2000.0, tap_awg=14)) == []
    assert taps(tapped(2000.0, tap_awg=14), "rule-book-exempt") == []


def test_distances_are_settings() -> None:
    loose = with_rules("student-racing-ev", tap_length_m=0.4, tap_device_within_m=0.4)
    assert taps(tapped(300.0), settings=loose) == []
    assert taps(tapped(300.0), "rule-book-exempt", loose) == [("T0", pytest.approx(0.3))]
    own = with_rules("student-racing-ev", **{"student-racing-ev.tap_length_m": 0.1})
    assert taps(tapped(120.0), settings=own) == [("T0", pytest.approx(0.12))]


def test_tap_of_unknown_length_is_not_exempt() -> None:
    drawn = tapped(120.0)
    bare = [w if w.id != "T0" else wire("T0", w.node_a, w.node_b, awg=22, rated=3.0) for w in drawn.conductors]
    (got,) = [
        f
        for f in found("rule-book", harness(*bare, *drawn.devices, *drawn.outputs, *drawn.loads), RACING)
        if "before it (" in f.message
    ]
    assert got.value is None and "not stated" in got.message


def test_no_rule_book_no_finding() -> None:
    assert found("rule-book", tapped(300.0)) == []


# --- AC 43.13-1B ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("awg", "breaker_a", "fuse_a"), [("22", 5, 5), ("20", 7.5, 5), ("18", 10, 10), ("12", 30, 20), ("1", None, 150)]
)
def test_table_11_3_as_printed(awg: str, breaker_a: float | None, fuse_a: float | None) -> None:
    """AC 43.13-1B Table 11-3 (p. 11-15); worked example: 18 AWG, breaker 10 A, fuse 10 A."""
    row = next(r for r in gauge_table("ac43.13-1b") if r.awg == awg)
    assert (row.breaker_a, row.fuse_a) == (breaker_a, fuse_a)


def fed_by(device, awg: int, amperes: float, rated_a: float = 50.0):
    return harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=90.0),
        device,
        wire("W1", "a", "lp", awg=awg, length_m=1.0, rated=rated_a),
        wire("W2", "lm", "m", awg=awg, length_m=1.0, rated=rated_a),
        load("L1", "lp", "lm", amperes),
    )


@pytest.mark.parametrize(("rating_a", "findings"), [(10.0, []), (15.0, ["W1", "W2"])])
def test_device_by_wire_size(rating_a: float, findings: list[str]) -> None:
    drawn = fed_by(fuse("F1", "p", "a", rating_a), 18, 9.0)
    got = [f for f in found("rule-book", drawn, with_rules("ac43.13-1b")) if "allows at most" in f.message]
    assert [f.subject.id for f in got] == findings
    assert all(f.source == "AC 43.13-1B CHG 1 (27 Sep 2001), 11-48, Table 11-3" for f in got)


def test_device_no_larger_than_the_loads_together() -> None:
    """9 A of loads: the next size of Table 11-3 is 10 A."""
    rules = with_rules("ac43.13-1b")

    def over(rating_a: float) -> list[str]:
        drawn = fed_by(breaker("Q1", "p", "a", rating_a), 8, 9.0)
        return [f.subject.id for f in found("rule-book", drawn, rules) if "feeds loads" in f.message]

    assert over(10.0) == []
    assert over(15.0) == ["Q1"]


def test_size_that_the_table_does_not_have_is_listed() -> None:
    drawn = fed_by(fuse("F1", "p", "a", 3.0), 24, 2.0)
    got = found("rule-book-exempt", drawn, with_rules("ac43.13-1b"))
    assert {f.subject.id for f in got} == {"W1", "W2"} and all("not covered" in f.message for f in got)


# --- the others -----------------------------------------------------------------------------------------------


def test_racing_device_no_larger_than_the_wire() -> None:
    drawn = fed_by(fuse("F1", "p", "a", 20.0), 16, 9.0, rated_a=15.0)
    got = [f for f in found("rule-book", drawn, RACING) if "is allowed 15" in f.message]
    assert {f.subject.id for f in got} == {"W1", "W2"}


def test_racing_parallel_conductors_each_protected() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=90.0),
        fuse("F1", "p", "a", 20.0, "UL 248-14"),
        wire("W1", "a", "lp", awg=16, length_m=1.0, rated=15.0),
        wire("W2", "a", "lp", awg=16, length_m=1.0, rated=15.0),
        wire("W3", "lm", "m", awg=10, length_m=1.0, rated=30.0),
        load("L1", "lp", "lm", 10.0),
    )
    got = [f for f in found("rule-book", drawn, RACING) if "in parallel" in f.message]
    assert [f.subject.id for f in got] == ["W1", "W2"]


@pytest.mark.parametrize(
    ("rated_a", "told"),
    [
        (25.0, []),  # each may carry all of it
        (20.0, []),
        (19.9, ["W1", "W2"]),
        (10.0, ["W1", "W2"]),
        (9.9, []),  # not even its half: that is what other rules say
    ],
)
def test_racing_parallel_conductors_by_what_each_may_carry(rated_a: float, told: list[str]) -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=60.0, trip_a=90.0),
        fuse("F1", "p", "a", 20.0, "UL 248-14"),
        wire("W1", "a", "lp", awg=16, length_m=1.0, rated=rated_a),
        wire("W2", "a", "lp", awg=16, length_m=1.0, rated=rated_a),
        wire("W3", "lm", "m", awg=10, length_m=1.0, rated=30.0),
        load("L1", "lp", "lm", 10.0),
    )
    got = [f for f in found("rule-book", drawn, RACING) if "in parallel" in f.message]
    assert [f.subject.id for f in got] == told
    assert {(f.value, f.limit) for f in got} <= {(20.0, rated_a)}


def test_racing_common_conductor_for_the_sum() -> None:
    """Two devices of 10 A on one return: 20 A together, the return is allowed 15 A; 25 A would do."""

    def common(rated_a: float) -> list[str]:
        drawn = harness(
            output("PS1", "p", "m", limit_a=60.0, trip_a=90.0),
            limiter("CH1", "p", "a", 10.0),
            limiter("CH2", "p", "b", 10.0),
            wire("W1", "a", "l1", awg=14, length_m=1.0, rated=25.0),
            wire("W2", "b", "l2", awg=14, length_m=1.0, rated=25.0),
            wire("W3", "q", "m", awg=14, length_m=1.0, rated=rated_a),
            load("L1", "l1", "q", 3.0),
            load("L2", "l2", "q", 3.0),
        )
        return [f.subject.id for f in found("rule-book", drawn, RACING) if "the whole current of" in f.message]

    assert common(15.0) == ["W3"]
    assert common(25.0) == []


@pytest.mark.parametrize(("trip_a", "awg", "findings"), [(40.0, 12, []), (40.0, 14, ["W1", "W2"]), (20.0, 18, [])])
def test_robotics_gauge_for_the_device(trip_a: float, awg: int, findings: list[str]) -> None:
    """40 A on 12 AWG, 20 A on 18 AWG: school robotics game manual 2025 and 2026, R622."""
    drawn = fed_by(breaker("Q1", "p", "a", trip_a), awg, 9.0)
    got = found("rule-book", drawn, with_rules("school-robotics"))
    assert [f.subject.id for f in got] == findings
    assert all("R622" in (f.source or "") for f in got)


@pytest.mark.parametrize(
    ("device", "rating_a", "awg", "kept"),
    [
        # W52: fuse of 10 A on 22 AWG and fuse of 2 A on 24 AWG are allowed; a breaker of 10 A needs 18 AWG.
        ("fuse", 10.0, 22, True),
        ("breaker", 10.0, 22, False),
        ("breaker", 10.0, 18, True),
        ("breaker", 5.0, 22, True),
        ("fuse", 2.0, 24, True),
        ("fuse", 3.0, 24, False),
        ("breaker", 2.0, 24, False),
        ("fuse", 1.0, 26, True),
        ("fuse", 20.0, 18, True),
        ("breaker", 30.0, 14, True),
        ("breaker", 40.0, 14, False),
    ],
)
def test_robotics_fuses_and_breakers_have_rows_of_their_own(
    device: str, rating_a: float, awg: int, kept: bool
) -> None:
    """School robotics game manual 2025 and 2026, R622, table of least wire."""
    made = fuse("F1", "p", "a", rating_a) if device == "fuse" else breaker("F1", "p", "a", rating_a)
    got = found("rule-book", fed_by(made, awg, 0.5), with_rules("school-robotics"))
    assert [f.subject.id for f in got] == ([] if kept else ["W1", "W2"])


def test_racing_tap_is_held_against_the_device_and_not_against_the_trunk() -> None:
    """W51, EV.6.6.6: 300 mm of 20 AWG (10 A) behind a 5 A device on a 14 AWG trunk: no further device is asked."""

    def tap_findings(device_a: float) -> list[str]:
        drawn = harness(
            output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
            fuse("F1", "p", "a", device_a, "UL 248-14"),
            wire("W1", "a", "s", awg=14, length_m=1.0, rated=25.0),
            splice("SP1", "s", 30.0),
            wire("T1", "s", "lp", awg=20, length_m=0.3, rated=10.0),
            wire("W3", "lm", "m", awg=14, length_m=1.0, rated=25.0),
            load("L1", "lp", "lm", 2.0),
        )
        return [s for s, _ in taps(drawn)]

    assert tap_findings(5.0) == []
    assert tap_findings(10.0) == []
    assert tap_findings(15.0) == ["T1"]


def test_a_tap_of_equal_gauge_but_lower_allowed_current_is_a_tap() -> None:
    """The same 14 AWG in a hot bundle is allowed 12 A only: behind 20 A it needs a device of its own."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
        fuse("F1", "p", "a", 20.0, "UL 248-14"),
        wire("W1", "a", "s", awg=14, length_m=1.0, rated=25.0),
        wire("T1", "s", "lp", awg=14, length_m=0.3, rated=12.0),
        wire("T2", "lp", "l2", awg=14, length_m=0.5, rated=12.0),
        wire("W3", "lm", "m", awg=14, length_m=1.0, rated=25.0),
        load("L1", "l2", "lm", 2.0),
    )
    assert taps(drawn) == [("T1", pytest.approx(0.8))]


def test_racing_only_conductors_of_the_whole_pack_are_sized_for_the_sum() -> None:
    """EV.6.6.4: a branch that feeds two of four devices does not carry the entire pack current; the trunk does."""

    def common(trunk_a: float, branch_a: float) -> list[str]:
        drawn = harness(
            output("BT1", "p", "m", never_trips=True, resistance_ohm=0.01, limit_a=100.0),
            wire("WT", "p", "s", awg=6, length_m=0.1, rated=trunk_a),
            wire("WB", "s", "b", awg=14, length_m=0.1, rated=branch_a),
            *(fuse(f"F{k}", "s" if k < 3 else "b", f"f{k}", 10.0) for k in (1, 2, 3, 4)),
            *(wire(f"W{k}", f"f{k}", f"l{k}", awg=14, length_m=1.0, rated=25.0) for k in (1, 2, 3, 4)),
            wire("WR", "q", "m", awg=6, length_m=1.0, rated=80.0),
            *(load(f"L{k}", f"l{k}", "q", 1.0) for k in (1, 2, 3, 4)),
        )
        return [f.subject.id for f in found("rule-book", drawn, RACING) if "the whole current of" in f.message]

    assert common(60.0, 15.0) == []
    assert common(30.0, 15.0) == ["WT"]


def test_racing_strings_before_a_conductor_count_by_their_sum() -> None:
    """Two strings of a pack, each with its fuse of 20 A, on one conductor that is allowed 30 A: 40 A together."""

    def common(rated_a: float) -> list[str]:
        drawn = harness(
            output("BT1", "p", "m", never_trips=True, resistance_ohm=0.01, limit_a=50.0),
            output("BT2", "q", "m", never_trips=True, resistance_ohm=0.01, limit_a=50.0),
            fuse("F1", "p", "s", 20.0),
            fuse("F2", "q", "s", 20.0),
            wire("WT", "s", "lp", awg=10, length_m=1.0, rated=rated_a),
            wire("WR", "lm", "m", awg=6, length_m=1.0, rated=80.0),
            load("L1", "lp", "lm", 10.0),
        )
        return [f.subject.id for f in found("rule-book", drawn, RACING) if "the whole current of" in f.message]

    assert common(30.0) == ["WT"]
    assert common(45.0) == []


@pytest.mark.parametrize(
    ("limit_a", "fuse_a", "kept"), [(30.0, 30.0, True), (30.0, 40.0, False), (None, 10.0, False)]
)
def test_racing_battery_device(limit_a: float | None, fuse_a: float, kept: bool) -> None:
    """T.9.2.2: the device trips at or below the battery's largest specified discharge current."""
    drawn = harness(
        output("BT1", "p", "m", never_trips=True, resistance_ohm=0.01, limit_a=limit_a),
        fuse("F1", "p", "a", fuse_a),
        wire("W1", "a", "lp", awg=6, length_m=1.0, rated=60.0),
        wire("W2", "lm", "m", awg=6, length_m=1.0, rated=60.0),
        load("L1", "lp", "lm", 3.0),
    )
    got = [f for f in found("rule-book", drawn, RACING) if "T.9.2.2" in (f.source or "")]
    assert [f.subject.id for f in got] == ([] if kept else ["BT1"])


@pytest.mark.parametrize(
    ("fuses_a", "bare", "says", "value_a"),
    [
        ((15.0, 15.0), False, None, None),
        ((15.0, 20.0), False, "35 A together", 35.0),
        ((40.0,), False, "protected by F1 of 40 A", 40.0),
        ((15.0,), True, "feeds a conductor with no device", None),
        ((), True, "feeds a conductor with no device", None),
    ],
)
def test_racing_battery_devices_count_together(
    fuses_a: tuple[float, ...], bare: bool, says: str | None, value_a: float | None
) -> None:
    """Against 30 A: the sum of the first devices; a way without one has none, whatever the others are."""
    ways = []
    for k, amps in enumerate(fuses_a, 1):
        ways += [fuse(f"F{k}", "p", f"a{k}", amps), wire(f"W{k}", f"a{k}", "lp", awg=6, length_m=1.0, rated=60.0)]
    drawn = harness(
        output("BT1", "p", "m", never_trips=True, resistance_ohm=0.01, limit_a=30.0),
        *ways,
        *([wire("WB", "p", "lp", awg=6, length_m=1.0, rated=60.0)] if bare else []),
        wire("WR", "lm", "m", awg=6, length_m=1.0, rated=60.0),
        load("L1", "lp", "lm", 3.0),
    )
    got = [f for f in found("rule-book", drawn, RACING) if "T.9.2.2" in (f.source or "")]
    assert [(f.value, f.limit) for f in got] == ([] if says is None else [(value_a, 30.0)])
    assert says is None or says in got[0].message


@pytest.mark.parametrize(
    ("volts", "rating_a", "awg", "limit_a", "kept"),
    [
        # W53, 33 CFR 183.455(c)(1): 16 AWG of 105 °C has 25 A in table 5; 150 % of it are 37.5 A below 50 V.
        (12.0, 37.5, 16, 37.5, True),
        (12.0, 38.0, 16, 37.5, False),
        # (c)(2): from 50 V up 25 A, or the next standard size (25 A is one). 8 AWG has 80 A, 12 AWG 45 A.
        (60.0, 25.0, 16, 25.0, True),
        (60.0, 30.0, 16, 25.0, False),
        (60.0, 80.0, 8, 80.0, True),
        (60.0, 90.0, 8, 80.0, False),
    ],
)
def test_small_craft_device_by_table_5(volts: float, rating_a: float, awg: int, limit_a: float, kept: bool) -> None:
    drawn = harness(
        output("PS1", "p", "m", volts, limit_a=60.0, trip_a=90.0),
        fuse("F1", "p", "a", rating_a),
        wire("W1", "a", "lp", awg=awg, length_m=1.0, insulation="105 °C"),
        wire("W2", "lm", "m", awg=awg, length_m=1.0, insulation="105 °C"),
        load("L1", "lp", "lm", 5.0),
    )
    got = [f for f in found("rule-book", drawn, with_rules("small-craft")) if "Table 5" in f.message]
    assert [f.subject.id for f in got] == ([] if kept else ["W1", "W2"])
    assert all(f.limit == pytest.approx(limit_a) for f in got)


@pytest.mark.parametrize(
    ("awg", "kind", "amperes", "finding", "listed"),
    [
        # 33 CFR 183.425(d), (e), (g): 18 AWG in a sheath, 16 AWG alone, circuits below 1 A exempt
        (16, ConductorKind.WIRE, 3.0, False, False),
        (18, ConductorKind.WIRE, 3.0, True, False),
        (18, ConductorKind.CORE, 3.0, False, False),
        (20, ConductorKind.CORE, 3.0, True, False),
        (20, ConductorKind.WIRE, 0.5, False, True),
    ],
)
def test_small_craft_least_sizes(
    awg: int, kind: ConductorKind, amperes: float, finding: bool, listed: bool
) -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=6.0, trip_a=9.0),
        fuse("F1", "p", "a", 5.0),
        wire("W1", "a", "lp", awg=awg, length_m=1.0, rated=10.0, kind=kind),
        wire("W2", "lm", "m", awg=14, length_m=1.0, rated=10.0),
        load("L1", "lp", "lm", amperes),
    )
    rules = with_rules("small-craft")
    for rule, wanted in (("rule-book", finding), ("rule-book-exempt", listed)):
        got = [f.subject.id for f in found(rule, drawn, rules) if "is thinner than" in f.message]
        assert got == (["W1"] if wanted else []), rule


@pytest.mark.parametrize(
    ("rating_a", "rated_a", "kept"),
    [(40.0, 36.0, True), (45.0, 36.0, False), (15.0, 11.0, True), (15.0, 9.0, False), (10.0, 9.0, True)],
)
def test_passenger_vessel_next_size(rating_a: float, rated_a: float, kept: bool) -> None:
    """46 CFR 183.380(d): the capacity of the conductor, or the next larger standard size up to 150 % of it.

    Above 36 A it is 40 A; above 11 A it is 15 A (136 %); above 9 A it is 10 A.
    """
    drawn = fed_by(fuse("F1", "p", "a", rating_a), 12, 5.0, rated_a=rated_a)
    got = [f.subject.id for f in found("rule-book", drawn, with_rules("passenger-vessel"))]
    assert got == ([] if kept else ["W1", "W2"])


@pytest.mark.parametrize(
    ("length_m", "kind", "battery", "kept"),
    [
        (7 * 0.0254, ConductorKind.WIRE, True, True),
        (8 * 0.0254, ConductorKind.WIRE, True, False),
        (40 * 0.0254, ConductorKind.CORE, False, True),
        (41 * 0.0254, ConductorKind.CORE, False, False),
        (72 * 0.0254, ConductorKind.CORE, True, True),
        (73 * 0.0254, ConductorKind.CORE, True, False),
    ],
)
def test_small_craft_distances(length_m: float, kind: ConductorKind, battery: bool, kept: bool) -> None:
    """7 in, 40 in sheathed (33 CFR 183.455(b)); 72 in sheathed and from a battery (183.460, from memory)."""
    drawn = harness(
        output("BT1", "p", "m", never_trips=battery, resistance_ohm=0.01),
        wire("W1", "p", "a", awg=10, length_m=length_m, rated=30.0, kind=kind),
        fuse("F1", "a", "b", 20.0),
        wire("W2", "b", "lp", awg=10, length_m=5.0, rated=30.0),
        wire("W3", "lm", "m", awg=10, length_m=5.0, rated=30.0),
        load("L1", "lp", "lm", 3.0),
    )
    got = [f.subject.id for f in found("rule-book", drawn, with_rules("small-craft")) if "source" in f.message]
    assert got == ([] if kept else ["W1"])


def test_small_craft_source_that_limits_itself_is_let_be() -> None:
    drawn = tapped(300.0)
    got = found("rule-book", drawn, with_rules("small-craft"))
    assert [f for f in got if "starts at a source" in f.message] == []


@pytest.mark.parametrize(("amperes", "findings"), [(16.0, []), (17.0, ["W1", "W2"])])
def test_conductor_for_125_percent(amperes: float, findings: list[str]) -> None:
    """20 A carries 16 A of continuous load (NEC 215.2, from memory)."""
    drawn = fed_by(fuse("F1", "p", "a", 30.0), 12, amperes, rated_a=20.0)
    assert [f.subject.id for f in found("rule-book", drawn, with_rules("continuous-125"))] == findings


def test_area_of_awg() -> None:
    """ASTM B258: 18 AWG 0.823 mm², 1/0 AWG 53.5 mm²."""
    assert awg_area_mm2("18") == pytest.approx(0.823, abs=1e-3)
    assert awg_area_mm2("1/0") == pytest.approx(53.5, abs=0.05)


def test_a_finding_names_its_rule_book() -> None:
    """Two books that ask the same of the same part say so in two messages that can be told apart."""
    chosen = with_rules("student-racing-ev", "small-craft", "school-robotics")
    messages = [f.message for f in found("rule-book", tapped(300.0), chosen)]
    assert len(messages) > 2
    assert len(set(messages)) == len(messages)
    assert all(any(name in message for name in NAMES) for message in messages)


# --- a device and the wires side by side behind it ------------------------------------------------------------


@pytest.mark.parametrize(("rated_a", "broken"), [(9.0, True), (11.0, False)])
def test_a_wire_beside_an_equal_one_has_half_of_its_device(rated_a: float, broken: bool) -> None:
    """20 A over two equal wires is 10 A in each (Ohm's law): AC 43.13-1B 11-48, racing rules EV.6.6.2."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0),
        fuse("F1", "p", "a", 20.0, "UL 248-14"),
        *(wire(f"W{k}", "a", "lp", ohm=0.01, length_m=1.0, rated=rated_a) for k in (1, 2)),
        wire("W3", "lm", "m", awg=10, length_m=1.0, rated=40.0),
        load("L1", "lp", "lm", 5.0),
    )
    for name in ("ac43.13-1b", "student-racing-ev"):
        got = [f for f in found("rule-book", drawn, with_rules(name)) if f.subject.id in ("W1", "W2")]
        got = [f for f in got if "protects" in f.message and "parallel" not in f.message]
        assert [f.value for f in got] == ([pytest.approx(10.0)] * 2 if broken else [])
        assert all("carries 50 % of its current" in f.message for f in got)
        assert all(f.remedy.startswith("Use a device of at most 18 A") for f in got)
