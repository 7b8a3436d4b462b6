"""Examples of handbooks: marine size limited by the drop, fuse for a wire by table, continuous-load rule."""

from __future__ import annotations

from dataclasses import replace

import pytest
from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings, ContactType
from loadloom.graph.sizing.advise import Advised, advise
from loadloom.graph.sizing.drop_gains import drop_gains
from loadloom.graph.sizing.judging import gathered
from loadloom.graph.sizing.shelf import DEFAULT_AWG, copper_g, gauge_of
from loadloom.graph.verdict.registry import all_rules

FOOT_M = 0.3048

MARINE_TEMPERATURE_C = 20.0 + (10.75 / 10.371 - 1.0) / 0.00393
"""Where copper has the 10.75 Ω·cmil/ft of the marine formula CM = 10.75·I·L/E (10.371 Ω·cmil/ft at 20 °C: IACS)."""

MARINE = AnalysisSettings(
    basis="marine-33cfr",
    conductor_temperature_c=MARINE_TEMPERATURE_C,
    resistance_table="copper",
    default_ambient=Ambient(20.0, 30.0),
    stocked_sizes=tuple(f"{size} AWG" for size in DEFAULT_AWG if size not in ("26", "24", "22", "20", "1")),
)


def advised(drawn: Harness, settings: AnalysisSettings) -> Advised:
    return advise(drawn, settings, tool_version="test", date="2026-01-01", settings_echo={})


def marine(share: float, round_trip_ft: float) -> Harness:
    """10 A at 12 V through a cable of two cores, the load content with 12 V less a share; a limiter of 10 A."""
    each_m = round_trip_ft * FOOT_M / 2.0
    return harness(
        output("BT1", "p", "m", 12.0, limit_a=10.0, trip_a=10.0),
        limiter("CH1", "p", "a", 10.0),
        wire("C1.1", "a", "l", awg=18, length_m=each_m, insulation="PVC 60 °C", cable="C1"),
        wire("C1.2", "n", "m", awg=18, length_m=each_m, insulation="PVC 60 °C", cable="C1"),
        load("L1", "l", "n", 10.0, minimum_v=12.0 * (1.0 - share)),
    )


@pytest.mark.parametrize(
    ("share", "round_trip_ft", "printed"),
    [
        # Marine 3 % and 10 % tables at 12 V, 10 A: a way of 21 ft is read in the column of 25 ft.
        (0.03, 25.0, "10 AWG"),
        (0.10, 25.0, "16 AWG"),
    ],
)
def test_marine_size_limited_by_the_drop(share: float, round_trip_ft: float, printed: str) -> None:
    found = advised(marine(share, round_trip_ft), MARINE)
    assert {row.proposed for row in found.advice.sizes} == {printed}
    assert all("voltage at the load L1" in row.governed_by for row in found.advice.sizes)


@pytest.mark.parametrize(("share", "least_cmil", "size"), [(0.03, 6271.0, "12 AWG"), (0.10, 1881.0, "16 AWG")])
def test_marine_formula_at_its_own_length(share: float, least_cmil: float, size: str) -> None:
    """CM = 10.75·10·21/E: 6271 cmil for 0.36 V, 1881 cmil for 1.2 V (the example's own numbers).

    By AWG's own areas (6530 and 2583 cmil; 14 AWG has 4107, 18 AWG 1624) that is 12 AWG and 16 AWG.
    """
    assert 10.75 * 10.0 * 21.0 / (share * 12.0) == pytest.approx(least_cmil, rel=1e-3)
    found = advised(marine(share, 21.0), MARINE)
    assert {row.proposed for row in found.advice.sizes} == {size}


def small_wire(awg: str, device_a: float) -> Harness:
    return harness(
        output("BT1", "p", "m", 28.0, limit_a=50.0, trip_a=60.0),
        fuse("F1", "p", "a", device_a, "UL 248-14"),
        wire("W1", "a", "l", awg=int(awg), length_m=1.0, insulation="200 °C"),
        wire("W2", "n", "m", awg=int(awg), length_m=1.0, insulation="200 °C"),
        load("L1", "l", "n", 1.0),
    )


def test_wire_for_a_fuse_by_table() -> None:
    """AC 43.13-1B table 11-3: a fuse of 10 A belongs on 18 AWG or thicker; 20 AWG is for 5 A."""
    settings = AnalysisSettings(
        basis="vehicle",
        rule_sets=("ac43.13-1b",),
        stocked_sizes=tuple(f"{s} AWG" for s in ("22", "20", "18", "16")),
    )

    # As the table prints it: 10 A on 18 AWG keeps the clause, 10 A on 20 AWG does not.
    check = all_rules()["rule-book"].check
    assert check is not None

    def by_table(awg: str) -> list[str]:
        facts = gathered(small_wire(awg, 10.0), settings, lambda _: None)
        return [f.message for f in check(facts) if "Table 11-3" in (f.source or "")]

    assert by_table("18") == [] and by_table("20") != []


def test_continuous_load_asks_for_a_conductor_of_125_percent() -> None:
    """NEC 215.2(A)(1) (from memory): 20 A continuously asks for a conductor of 25 A.

    33 CFR 183 table 5 at 60 °C: 14 AWG 20 A, 12 AWG 25 A (VERIFIED rows): without the rule 14 AWG does, with
    it 12 AWG has to be taken. The limiter stands at 20 A, so that protection asks for no more.
    """
    drawn = harness(
        output("PS1", "p", "m", 48.0, limit_a=40.0, trip_a=50.0),
        limiter("CH1", "p", "a", 20.0),
        wire("W1", "a", "l", awg=10, length_m=1.0, insulation="PVC 60 °C"),
        wire("W2", "n", "m", awg=10, length_m=1.0, insulation="PVC 60 °C"),
        load("L1", "l", "n", 20.0),
    )
    plain = replace(MARINE, conductor_temperature_c=None)
    without = advised(drawn, plain).advice
    book = advised(drawn, replace(plain, rule_sets=("continuous-125",))).advice
    for rows, need_a in ((without.sizes, 20.0), (book.sizes, 25.0)):
        for row in rows:
            assert row.allowed_a is not None and row.allowed_a >= need_a
    assert {row.proposed for row in without.sizes} == {"14 AWG"}
    assert {row.proposed for row in book.sizes} == {"12 AWG"}
    assert {row.governed_by for row in book.sizes} == {"rule book"}


def test_volts_per_gram_by_hand() -> None:
    """Two wires in series, 10 A: 1 m of 1 mm² drops 0.17241 V, 4 m of 4 mm² as much.

    One step on the first (to 1.5 mm²) gains a third of that, 0.0575 V, for 0.5 cm³ = 4.445 g of copper; on the
    second (to 6 mm²) also a third, for 8 cm³ = 71.1 g. The first comes first.
    """
    settings = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=30.0),
        wire("W1", "p", "j", mm2=1.0, length_m=1.0),
        wire("W2", "j", "l", mm2=4.0, length_m=4.0),
        load("L1", "l", "m", 10.0),
    )
    facts = gathered(drawn, settings, lambda _: None)
    (lit,) = facts.harness.loads
    first, second = drop_gains(facts, lit, {("W1",): gauge_of("1.5 mm²"), ("W2",): gauge_of("6 mm²")})
    assert (first.conductor, second.conductor) == ("W1", "W2")
    assert first.drop_v == pytest.approx(0.17241) and second.drop_v == pytest.approx(0.17241)
    assert first.gained_v == pytest.approx(0.05747, rel=1e-3)
    assert first.added_g == pytest.approx(4.445) and second.added_g == pytest.approx(71.12)
    assert copper_g(1.0, 1.0) == pytest.approx(8.89)


def test_budget_names_steps_that_can_be_taken() -> None:
    """Two wires side by side change together: 10 A over 1 m of 2 × 1 mm² drop 0.08621 V at 20 °C, a third of which
    1.5 mm² gain for 2 × 4.445 g. The contact of the wire back takes no more than it has, and one whose resistance
    is stated gains nothing by its size; neither is named.
    """
    settings = AnalysisSettings(
        conductor_temperature_c=20.0,
        resistance_table="copper",
        stocked_sizes=("1 mm²", "1.5 mm²", "2.5 mm²"),
        contact_types={"pin": ContactType("pin", rated_a=((1, 20.0),), wire_area_mm2=(0.5, 1.0))},
        single_open_circuit=False,
    )
    copper = {"mm2": 1.0, "insulation": "PVC 105 °C"}
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=10.0, trip_a=10.0, resistance_ohm=0.1),
        wire("W1", "p", "j", length_m=1.0, **copper),
        wire("W2", "p", "j", length_m=1.0, **copper),
        wire("W3", "j", "l", length_m=1.0, ohm=0.01, rated=20.0, **copper),
        contact("X1.1", "n", "b", contact_type="pin", ohm=1e-3),
        wire("W4", "b", "m", length_m=1.0, **copper),
        load("L1", "l", "n", 10.0),
    )
    found = advised(drawn, settings).advice
    assert {row.proposed for row in found.sizes if row.id != "W3"} == {"1 mm²"}
    (gain,) = found.budget
    assert (gain.conductor, gain.to) == ("W1, W2", "1.5 mm²")
    assert gain.drop_v == pytest.approx(0.08621, rel=1e-3) and gain.gained_v == pytest.approx(0.02874, rel=1e-3)
    assert gain.added_g == pytest.approx(8.89)


def test_gain_in_a_mesh_is_what_solving_again_gives() -> None:
    """Two ways side by side: the gain on one of them against a second solve with a slightly thicker wire."""
    settings = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")

    def solved(mm2: float) -> float:
        drawn = harness(
            output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=30.0),
            wire("W1", "p", "l", mm2=mm2, length_m=2.0),
            wire("W2", "p", "l", mm2=2.5, length_m=3.0),
            load("L1", "l", "m", 10.0),
        )
        facts = gathered(drawn, settings, lambda _: None)
        return float(facts.lowest["nominal"][0].load_v[0])

    step = 1.0 + 1e-4
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=20.0, trip_a=30.0),
        wire("W1", "p", "l", mm2=1.5, length_m=2.0),
        wire("W2", "p", "l", mm2=2.5, length_m=3.0),
        load("L1", "l", "m", 10.0),
    )
    facts = gathered(drawn, settings, lambda _: None)
    thicker = replace(gauge_of("1.5 mm²"), area_mm2=1.5 * step)
    (gain,) = drop_gains(facts, facts.harness.loads[0], {("W1",): thicker})
    assert gain.gained_v == pytest.approx(solved(1.5 * step) - solved(1.5), rel=1e-3)


def test_size_for_a_fuse_of_15_a_by_the_same_table() -> None:
    """Table 11-3 gives a fuse of 15 A for 14 AWG; the rating of a thinner wire alone would do."""
    stock = tuple(f"{size} AWG" for size in ("20", "18", "16", "14", "12"))
    settings = AnalysisSettings(basis="vehicle", rule_sets=("ac43.13-1b",), stocked_sizes=stock)
    found = {row.id: row for row in advised(small_wire("12", 15.0), settings).advice.sizes}
    assert (found["W1"].proposed, found["W1"].governed_by) == ("14 AWG", "rule book")
    plain = {row.id: row for row in advised(small_wire("12", 15.0), replace(settings, rule_sets=())).advice.sizes}
    assert plain["W1"].area_mm2 < found["W1"].area_mm2
