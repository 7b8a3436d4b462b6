"""Setting ranges, what devices ride through, and the rules on both: numbers by hand."""

import math

import pytest
from wired import AT_20_C, breaker, contact, facts, found, fuse, harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Behaviour, Load
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.settings import AnalysisSettings, Curve, CurvePoint

TEN_PERCENT = Band(40.0, 36.0, 44.0)


def one_way(device, rated_a: float = 20.0, amperes: float = 15.0, **values):
    return harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        device,
        wire("W1", "a", "lp", mm2=2.5, length_m=1.0, rated=rated_a),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=80.0),
        load("L1", "lp", "lm", amperes, **values),
    )


def test_window_of_a_limiter_with_tolerance() -> None:
    """±10 %, wire 20 A, load 15 A: from 15 / 0.9 to 20 / 1.1 A."""
    drawn = one_way(limiter("CH1", "p", "a", TEN_PERCENT))
    setting_range = facts(drawn).protection.setting_ranges["CH1"]
    assert setting_range.low is not None and setting_range.high is not None
    assert setting_range.low.setting_a == pytest.approx(15.0 / 0.9)
    assert (setting_range.high.setting_a, setting_range.high.by) == (pytest.approx(20.0 / 1.1), "W1")
    assert setting_range.is_open
    assert found("no-setting-range", drawn) == []


def test_no_setting_range_says_what_would_open_one() -> None:
    drawn = one_way(limiter("CH1", "p", "a", TEN_PERCENT), amperes=17.0)
    (got,) = found("no-setting-range", drawn)
    assert (got.value, got.limit) == (pytest.approx(17.0 / 0.9), pytest.approx(20.0 / 1.1))
    # What the wire would have to be allowed: 17 × 1.1 / 0.9; what the device could feed: 20 × 0.9 / 1.1.
    # A greatest current is rounded down: 16.36 A.
    assert f"{17.0 * 1.1 / 0.9:.3g} A" in got.remedy and "16.3 A" in got.remedy


def test_window_of_a_fuse_by_its_gates_and_the_loading_rule() -> None:
    """Worked example: 3.2 A under the 75 % rule needs 4.267 A, the next size is 5 A (guidance for UL gates)."""
    settings = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper", fuse_loading=0.75)
    setting_range = facts(
        one_way(fuse("F1", "p", "a", 5.0, "UL 248-14"), amperes=3.2), settings
    ).protection.setting_ranges["F1"]
    assert setting_range.low is not None and setting_range.high is not None
    assert setting_range.low.setting_a == pytest.approx(4.267, abs=1e-3)
    assert setting_range.high.setting_a == pytest.approx(20.0 / 1.35)


def test_window_of_a_fuse_under_a_rule_book_of_loading() -> None:
    """NEC continuous load: a device of 125 % of it (value from memory), 3.2 A × 1.25 = 4 A."""
    settings = AnalysisSettings(
        conductor_temperature_c=20.0, resistance_table="copper", rule_sets=("continuous-125",)
    )
    setting_range = facts(
        one_way(fuse("F1", "p", "a", 5.0, "UL 248-14"), amperes=3.2), settings
    ).protection.setting_ranges["F1"]
    assert setting_range.low is not None
    assert setting_range.low.setting_a == pytest.approx(4.0)


def test_nearer_devices_take_their_parts_off_the_window() -> None:
    """The main device answers for the trunk alone, each branch device for its branch; a shared return for both."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        limiter("CH0", "p", "a", 40.0),
        wire("W0", "a", "b", mm2=6.0, length_m=1.0, rated=45.0),
        limiter("CH1", "b", "c", 10.0),
        wire("W1", "c", "l1", mm2=1.0, length_m=1.0, rated=12.0),
        limiter("CH2", "b", "d", 10.0),
        wire("W2", "d", "l2", mm2=1.0, length_m=1.0, rated=14.0),
        wire("W3", "q", "m", mm2=1.0, length_m=1.0, rated=13.0),
        load("L1", "l1", "q", 5.0),
        load("L2", "l2", "q", 5.0),
    )
    setting_ranges = facts(drawn).protection.setting_ranges
    highs = {n: (w.high.setting_a, w.high.by) for n, w in setting_ranges.items() if w.high is not None}
    assert highs["CH0"] == (45.0, "W0")
    assert highs["CH1"] == (12.0, "W1")
    assert highs["CH2"] == (13.0, "W3")
    assert "PS1" not in highs


def test_pooled_limiter_hands_its_parts_to_the_unit() -> None:
    """Arrangement ``pooled`` takes the limiter out: then the unit's own trip guards the wire."""
    part = limiter("CH1", "p", "a", 40.0, by_word={"pooled": {"active": False, "trip_a": None}})
    drawn = one_way(part, rated_a=50.0)
    setting_ranges = facts(drawn).protection.setting_ranges
    assert setting_ranges["CH1"].high is not None and setting_ranges["CH1"].high.setting_a == pytest.approx(50.0)
    assert setting_ranges["PS1"].high is not None and setting_ranges["PS1"].high.by == "W1"
    assert setting_ranges["PS1"].high.setting_a == pytest.approx(50.0)


def test_unrated_parts_are_named() -> None:
    setting_range = facts(one_way(fuse("F1", "p", "a", 5.0), rated_a=None)).protection.setting_ranges["F1"]
    assert "W1" in setting_range.unrated


# --- pooled and split (common practice, no published source) --------------------------------------------------


def pooled_or_split(amperes: tuple[float, ...], trip_a: float | None) -> list[str]:
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        limiter("CH1", "p", "a", trip_a, active=trip_a is not None),
        wire("W1", "a", "lp", mm2=16.0, length_m=0.5, rated=60.0),
        wire("W2", "lm", "m", mm2=16.0, length_m=0.5, rated=60.0),
        *(load(f"L{k}", "lp", "lm", a) for k, a in enumerate(amperes)),
    )
    return [f.subject.id for f in found("limiter-would-trip", drawn)]


@pytest.mark.parametrize(("amperes", "trips"), [((20.0, 20.0), []), ((25.0, 25.0), ["CH1"])])
def test_forty_ampere_channel(amperes: tuple[float, ...], trips: list[str]) -> None:
    assert pooled_or_split(amperes, 40.0) == trips
    assert pooled_or_split(amperes, None) == []


# --- events ---------------------------------------------------------------------------------------------------


def surging(duration_s: float, times: float = 3.0, **values: float) -> Load:
    surge = {"demand": times * 10.0, "duration_s": duration_s, **values}
    return load("L1", "lp", "lm", 10.0, by_word={"surge": surge})


@pytest.mark.parametrize(("duration_s", "trips"), [(1e-4, []), (0.1, ["CH1"]), (1e-3, ["CH1"])])
def test_three_times_the_current_against_a_delay_of_one_millisecond(duration_s: float, trips: list[str]) -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        limiter("CH1", "p", "a", 15.0, delay_s=1e-3),
        wire("W1", "a", "lp", mm2=2.5, length_m=1.0, rated=20.0),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=20.0),
        surging(duration_s),
    )
    got = found("limiter-would-trip", drawn)
    assert [f.subject.id for f in got] == trips
    assert all((f.case, f.value) == ("surge", pytest.approx(30.0)) for f in got)


def test_events_of_different_length_count_together_only_while_both_last() -> None:
    """3 A more for 10 ms and 2 A more for 1 s, on 1 A each: 7 A for 10 ms, 4 A for 1 s, 2 A continuously."""

    def event(name: str, more_a: float, duration_s: float) -> Load:
        return load(name, "lp", "lm", 1.0, by_word={"start": {"demand": 1.0 + more_a, "duration_s": duration_s}})

    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        limiter("CH1", "p", "a", 15.0),
        wire("W1", "a", "lp", ohm=1e-3, rated=20.0),
        wire("W2", "lm", "m", ohm=1e-3, rated=20.0),
        event("L1", 3.0, 0.01),
        event("L2", 2.0, 1.0),
    )
    demands = [d for d in facts(drawn).protection.demands["CH1"] if d.case == "start"]
    assert [(d.duration_s, pytest.approx(d.current_a)) for d in demands] == [
        (math.inf, 2.0),
        (1.0, 4.0),
        (0.01, 7.0),
    ]


def test_a_fuse_rides_through_what_its_gates_say() -> None:
    """IEC 60127-2 F, 275 %: no sooner than 50 ms."""

    def drawn(duration_s: float):
        return harness(
            output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
            fuse("F1", "p", "a", 10.0, "IEC 60127-2 F"),
            wire("W1", "a", "lp", mm2=2.5, length_m=1.0, rated=20.0),
            wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=20.0),
            surging(duration_s, 2.7),
        )

    assert found("fuse-would-open", drawn(0.04)) == []
    assert [f.subject.id for f in found("fuse-would-open", drawn(0.06))] == ["F1"]


def test_an_event_that_no_gate_covers_is_a_warning() -> None:
    """UL 248-14 says nothing about how soon a fuse opens at 200 %."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        fuse("F1", "p", "a", 15.0, "UL 248-14"),
        wire("W1", "a", "lp", mm2=2.5, length_m=1.0, rated=20.0),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=20.0),
        surging(0.05),
    )
    assert found("fuse-would-open", drawn) == []
    (got,) = found("nuisance-opening", drawn)
    assert got.severity is Severity.WARNING and "does not say" in got.message


def test_a_steady_current_above_the_rating_may_open() -> None:
    (got,) = found("fuse-would-open", one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"), amperes=12.0))
    assert "may open" in got.message and (got.value, got.limit) == (pytest.approx(12.0), 10.0)
    (got,) = found("fuse-would-open", one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"), amperes=14.0))
    assert "and opens" in got.message


def test_constant_current_limits_instead_of_opening() -> None:
    part = limiter("CH1", "p", "a", 10.0, behaviour=Behaviour.CONSTANT_CURRENT)
    (got,) = found("limiter-would-trip", one_way(part, amperes=12.0))
    assert "limit the current" in got.message


def test_an_assumed_trip_is_no_trip() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=5.0),
        wire("W1", "p", "lp", mm2=2.5, length_m=1.0, rated=20.0),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=20.0),
        load("L1", "lp", "lm", 9.0),
    )
    assert found("limiter-would-trip", drawn) == []


# --- loading, never opening, above the wire, selectivity ------------------------------------------------------


@pytest.mark.parametrize(
    ("amperes", "settings", "findings"),
    [
        (8.0, AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper", fuse_loading=0.75), 1),
        (
            8.0,
            AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper", rule_sets=("loading-75",)),
            1,
        ),
        (
            8.0,
            AnalysisSettings(
                conductor_temperature_c=20.0, resistance_table="copper", rule_sets=("continuous-125",)
            ),
            0,
        ),
        (
            8.2,
            AnalysisSettings(
                conductor_temperature_c=20.0, resistance_table="copper", rule_sets=("continuous-125",)
            ),
            1,
        ),
        (7.0, AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper", fuse_loading=0.75), 0),
        (8.0, AT_20_C, 0),
    ],
)
def test_eight_ampere_on_a_ten_ampere_fuse(amperes: float, settings: AnalysisSettings, findings: int) -> None:
    drawn = one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"), amperes=amperes)
    got = found("nuisance-opening", drawn, settings)
    assert len(got) == findings
    assert all(f.severity is Severity.WARNING and f.subject.id == "F1" for f in got)
    assert found("fuse-would-open", drawn, settings) == []


def test_a_fuse_behind_a_weaker_supply_never_opens() -> None:
    """Limit 5 A, trip 7.5 A, fuse 10 A, wire 6 A: what protects is the supply; 7.5 A is 1.25 × 6 A, under 1.45."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=5.0, trip_a=7.5),
        fuse("F1", "p", "a", 10.0, "UL 248-14"),
        wire("W1", "a", "lp", mm2=0.75, length_m=1.0, rated=6.0),
        wire("W2", "lm", "m", mm2=0.75, length_m=1.0, rated=6.0),
        load("L1", "lp", "lm", 3.0),
    )
    (got,) = found("device-never-opens", drawn)
    assert (got.subject.id, got.value, got.limit) == ("F1", 7.5, 10.0)
    assert "PS1" in got.message
    assert facts(drawn).protection.upstream("F1") == ("PS1",)
    (above,) = found("fuse-above-wire", drawn)
    assert (above.value, above.limit) == (10.0, 6.0)


def test_a_fuse_that_the_loop_starves_never_opens() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=30.0, trip_a=50.0, resistance_ohm=2.0),
        fuse("F1", "p", "a", 10.0, "UL 248-14"),
        wire("W1", "a", "lp", mm2=0.75, length_m=1.0, rated=12.0),
        wire("W2", "lm", "m", mm2=0.75, length_m=1.0, rated=12.0),
        load("L1", "lp", "lm", 1.0),
    )
    (got,) = found("device-never-opens", drawn)
    assert got.value == pytest.approx(6.0) and "short circuit" in got.message


def test_a_smaller_fuse_behind_the_same_supply_opens() -> None:
    assert found("device-never-opens", one_way(fuse("F1", "p", "a", 5.0, "UL 248-14"), amperes=3.0)) == []


def test_fuse_of_the_wires_rating_with_its_gate() -> None:
    """20 A fuse with a 135 % gate before a wire of 20 A: not above the wire; between 20 and 27 A nothing opens for
    up to an hour (UL 248-14), which the sustained fault current says.
    """
    drawn = one_way(fuse("F1", "p", "a", 20.0, "UL 248-14"))
    assert found("fuse-above-wire", drawn) == []
    limits = facts(drawn).protection.thresholds(None)["F1"]
    assert (limits.held_a, limits.tripping_within_s) == (pytest.approx(27.0), 3600.0)


def in_series(first_a: float, second_a: float, curve: str = "UL 248-14", *, another: bool = True) -> list[str]:
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0, resistance_ohm=0.01),
        fuse("F1", "p", "a", first_a, curve),
        wire("W1", "a", "b", mm2=2.5, length_m=1.0, rated=30.0),
        fuse("F2", "b", "c", second_a, curve),
        wire("W2", "c", "lp", mm2=2.5, length_m=1.0, rated=30.0),
        wire("W3", "lm", "m", mm2=2.5, length_m=1.0, rated=30.0),
        load("L1", "lp", "lm", 1.0),
        *([load("L2", "b", "lm", 1.0)] if another else []),
    )
    return [f.subject.id for f in found("not-selective", drawn)]


def test_selectivity_in_overload() -> None:
    """UL 248-14: 20 A carries 20 A, 5 A opens above 6.75 A; 10 A carries 10 A, 8 A opens only above 10.8 A."""
    assert in_series(20.0, 5.0) == []
    assert in_series(10.0, 8.0) == ["F2"]
    # Nothing else loses supply with the first fuse.
    assert in_series(10.0, 8.0, another=False) == []


def test_selectivity_in_a_short_circuit() -> None:
    """Own curves: the first may open after 10 ms, the second only after up to 20 ms."""

    def own(name: str, min_s: float, max_s: float) -> Curve:
        points = (CurvePoint(1.0, math.inf, None), CurvePoint(1.5, min_s, max_s), CurvePoint(100.0, min_s, max_s))
        return Curve(name, points, gates=False, source="test")

    def between(first: Curve, second: Curve) -> list[str]:
        settings = AnalysisSettings(
            conductor_temperature_c=20.0, resistance_table="copper", curves={"first": first, "second": second}
        )
        drawn = harness(
            output("PS1", "p", "m", never_trips=True, resistance_ohm=0.2),
            breaker("Q1", "p", "a", 20.0, "first"),
            breaker("Q2", "a", "b", 5.0, "second"),
            wire("W1", "b", "lp", mm2=2.5, length_m=1.0, rated=30.0),
            wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=30.0),
            load("L1", "lp", "lm", 1.0),
            load("L2", "a", "lm", 1.0),
        )
        return [f.subject.id for f in found("not-selective", drawn, settings)]

    assert between(own("first", 0.010, 0.1), own("second", 0.001, 0.020)) == ["Q2"]
    assert between(own("first", 0.030, 0.1), own("second", 0.001, 0.020)) == []


def test_curves_that_are_not_named_or_not_known() -> None:
    assert [f.subject.id for f in found("curve-assumed", one_way(fuse("F1", "p", "a", 10.0)))] == ["F1"]
    assert found("curve-assumed", one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"))) == []
    assert [f.subject.id for f in found("curve-unknown", one_way(fuse("F1", "p", "a", 10.0, "blade")))] == ["F1"]
    assert found("curve-unknown", one_way(fuse("F1", "p", "a", 10.0, "ul 248-14"))) == []


def test_what_a_device_does_not_state() -> None:
    drawn = one_way(fuse("F1", "p", "a", 10.0, "UL 248-14"))
    (got,) = found("device-not-checked", drawn)
    assert "voltage rating" in got.message and "Voltage rating" in got.remedy
    # Nothing limits the short circuit behind it, so that the verdict depends on what the fuse can break.
    (needed,) = found("device-not-determined", drawn)
    assert "breaking capacity" in needed.message and "Breaking capacity" in needed.remedy


def test_contact_on_the_way_sets_the_window_too() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=83.3, trip_a=125.0),
        limiter("CH1", "p", "a", 20.0),
        contact("P1.1", "a", "b", rated=9.0),
        wire("W1", "b", "lp", mm2=2.5, length_m=1.0, rated=20.0),
        wire("W2", "lm", "m", mm2=2.5, length_m=1.0, rated=20.0),
        load("L1", "lp", "lm", 5.0),
    )
    high = facts(drawn).protection.setting_ranges["CH1"].high
    assert high is not None and (high.setting_a, high.by) == (9.0, "P1.1")


def test_low_end_of_devices_side_by_side() -> None:
    """Two limiters of 10 A share 12 A behind contacts of 1 to 3 mΩ, with 1 mΩ each of their own: one has to carry
    12 A · (3 + 1) / (3 + 1 + 1 + 1) = 8 A where its contact is new and the other's aged, not 6 A.
    """
    band = Band(2e-3, 1e-3, 3e-3)
    drawn = harness(
        output("U", "u", "m", 24.0, limit_a=40.0),
        *(limiter(f"D{n}", "u", f"d{n}", 10.0, resistance_ohm=Band.exact(1e-3)) for n in (1, 2)),
        *(contact(f"P{n}.1", f"d{n}", "p", resistance_ohm=band, rated=100.0) for n in (1, 2)),
        load("L1", "p", "m", 12.0),
    )
    ranges = explore(drawn, AT_20_C, lambda _: None)[0].protection.setting_ranges
    for name in ("D1", "D2"):
        low = ranges[name].low
        assert low is not None
        assert low.setting_a == pytest.approx(8.0)
