"""Allowed currents of conductors against published tables and worked examples, each with its source."""

import csv
import itertools
import math
from dataclasses import replace
from importlib import resources
from pathlib import Path

import pytest
from wired import fuse

from loadloom.graph.model.elements import (
    Band,
    Conductor,
    Contact,
    Device,
    DeviceKind,
    Gauge,
    GaugeSystem,
    Load,
    Output,
)
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import Ambient, AnalysisSettings, ContactType, OwnTableRow
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.aviation import as50881_factor
from loadloom.graph.ratings.bundles import bundle_of, drawn_counts, loaded_counts
from loadloom.graph.ratings.catalogue import BASES
from loadloom.graph.ratings.chain import Terminal
from loadloom.graph.ratings.conductor_rating import bundle_shares, rate_conductor, rate_conductors
from loadloom.graph.ratings.heat_balance import copper_body, free_air_current_a
from loadloom.graph.ratings.resistance import NAMED_TABLES
from loadloom.graph.ratings.terminals import large_circuits

DATA = Path(__file__).parents[1] / "data" / "worked_examples_ratings.csv"
EXAMPLES = {
    row["id"]: float(row["value"])
    for row in csv.DictReader(
        line for line in DATA.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    )
}


def awg(size: str) -> Gauge:
    """ASTM B258."""
    n = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(GaugeSystem.AWG, size, math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2)


def mm2(size: str) -> Gauge:
    return Gauge(GaugeSystem.MM2, size, float(size))


def wire(gauge: Gauge | None, insulation: str | None = None, **more: object) -> Conductor:
    plain = Conductor(
        id="W1",
        subject=Subject("W1"),
        node_a="a",
        node_b="b",
        gauge=gauge,
        length_m=1.0,
        insulation=insulation,
    )
    return replace(plain, **more)  # type: ignore[arg-type]


def rate(
    basis: str,
    gauge: Gauge,
    insulation: str | None,
    ambient_c: float,
    loaded: int = 1,
    share: float | None = None,
    terminal: Terminal | None = None,
    **more: object,
) -> Rating:
    settings = replace(AnalysisSettings(basis=basis), **more)  # type: ignore[arg-type]
    return rate_conductor(wire(gauge, insulation), loaded, share, ambient_c, settings, terminal_by_code=terminal)


AT_ANY_TERMINAL = Terminal(260.0, True)
"""Terminals that are stated to stand whatever the insulation stands."""


def allowed_a(rating: Rating) -> float:
    assert rating.missing is None
    assert rating.allowed_a is not None
    return rating.allowed_a


# The chain


@pytest.mark.parametrize("basis", BASES)
def test_the_chain_gives_the_allowed_current(basis: str) -> None:
    own = (OwnTableRow("AWG", "18", 7.0, 105.0, 40.0, "invented"),)
    rated = 0
    for gauge, insulation, loaded, margin in itertools.product(
        (awg("18"), awg("6"), mm2("0.75"), mm2("6"), mm2("0.34"), awg("26")),
        (None, "PVC 70 °C", "105 °C", "200 °C"),
        (1, 3, 8, 25),
        (0.0, 0.2),
    ):
        rating = rate(basis, gauge, insulation, 40.0, loaded, margin=margin, own_table=own, altitude_m=2500.0)
        if rating.allowed_a is None:
            assert rating.missing
            continue
        rated += 1
        assert rating.missing is None
        assert rating.base_a is not None
        product = rating.base_a * math.prod(f.factor for f in rating.factors)
        assert rating.allowed_a == pytest.approx(min([product, *(cap.limit_a for cap in rating.caps)]))
        assert rating.allowed_a > 0
        assert rating.source
        for factor in rating.factors:
            assert factor.source
            if factor.formula is not None and factor.input_value is not None:
                assert factor.formula.at(factor.input_value) == pytest.approx(factor.factor)
                assert all(math.isfinite(x) for point in factor.formula.points for x in point)
        assert [f.kind for f in rating.factors].count("margin") == (1 if margin else 0)
    assert rated > 0


@pytest.mark.parametrize("basis", BASES)
def test_no_basis_allows_more_when_it_gets_worse(basis: str) -> None:
    # Physics: hotter air, more loaded neighbours, thinner copper or a cooler class never raise an allowed current.
    own = (OwnTableRow("AWG", "18", 6.0, 105.0, 40.0, "invented"), OwnTableRow("AWG", "16", 8.0, 105.0, 40.0, ""))
    own = () if basis == "avionics-free-air" else own

    def found(size: str, insulation: str, ambient_c: float, loaded: int) -> float:
        rating = rate(basis, awg(size), insulation, ambient_c, loaded, own_table=own)
        return math.nan if rating.allowed_a is None else rating.allowed_a

    def falls(values: list[float]) -> None:
        known = [v for v in values if not math.isnan(v)]
        assert all(b <= a * (1 + 1e-9) for a, b in itertools.pairwise(known)), values

    for insulation in ("60 °C", "75 °C", "105 °C", "200 °C"):
        for size in ("24", "18", "12", "4"):
            falls([found(size, insulation, t, 1) for t in range(20, 110, 3)])
            falls([found(size, insulation, 40.0, n) for n in range(1, 45)])
        falls(
            [
                found(s, insulation, 40.0, 1)
                for s in ("1/0", "4", "8", "10", "12", "14", "16", "18", "20", "24", "30")
            ]
        )
    for size in ("24", "18", "12", "4"):
        falls([found(size, f"{t} °C", 40.0, 2) for t in (200, 150, 125, 105, 90, 75, 70, 60)])


def test_no_size_is_swapped_for_one_of_the_other_system() -> None:
    # 0.75 mm² lies between 18 and 19 AWG; a table in AWG does not rate it, and the reverse.
    for basis in ("space-975m", "avionics-ac43.13", "building-nec", "marine-33cfr", "common-practice-chassis"):
        rating = rate(basis, mm2("0.75"), "200 °C", 30.0)
        assert rating.allowed_a is None
        assert "0.75 mm² is not in" in (rating.missing or "")
    assert "is in mm²" in (rate("building-iec", awg("8"), "PVC 70 °C", 30.0).missing or "")
    estimated = rate("general-equipment", mm2("0.34"), "PVC 70 °C", 40.0)
    assert estimated.estimate
    assert any("not in IEC 60204-1" in text for text in estimated.assumptions)


def test_an_own_rating_replaces_the_basis_and_keeps_the_margin() -> None:
    settings = AnalysisSettings(margin=0.1)
    rating = rate_conductor(wire(None, own_rating_a=10.0), 30, None, 90.0, settings)
    assert (rating.base_a, rating.basis) == (10.0, "own rating")
    assert rating.allowed_a == pytest.approx(9.0)


def test_what_is_missing_is_said() -> None:
    settings = AnalysisSettings()
    assert "no gauge" in (rate_conductor(wire(None), 1, None, 40.0, settings).missing or "")
    unread = wire(None, placeholders=frozenset({"gauge"}))
    assert "can't be read" in (rate_conductor(unread, 1, None, 40.0, settings).missing or "")
    unread = wire(awg("18"), placeholders=frozenset({"own_rating_a"}))
    assert "can't be read" in (rate_conductor(unread, 1, None, 40.0, settings).missing or "")
    assert "no basis" in (rate("a-basis", awg("18"), None, 40.0).missing or "")
    assert "not below the limit" in (rate("vehicle", awg("18"), "105 °C", 105.0).missing or "")
    assert any("no insulation" in text for text in rate("vehicle", awg("18"), None, 30.0).assumptions)


# Worked examples


def test_mil_std_975m_bundle_formula() -> None:
    # MIL-STD-975M (5 Aug 1994), appendix A 3.16: 12 AWG, 15 wires, 200 °C: 25 × 14/28.
    assert allowed_a(rate("space-975m", awg("12"), "200 °C", 70.0, 15)) == pytest.approx(EXAMPLES["W15"])
    assert allowed_a(rate("space-975m", awg("12"), "200 °C", 70.0, 40)) == pytest.approx(12.5)
    assert allowed_a(rate("space-975m", awg("12"), "150 °C", 70.0)) == pytest.approx(25 * 0.8)
    assert allowed_a(rate("space-975m", awg("20"), "200 °C", 70.0, 16)) == pytest.approx(3.25)
    assert any("outside what" in text for text in rate("space-975m", awg("12"), "200 °C", 40.0).assumptions)
    assert rate("space-975m", awg("12"), "200 °C", 71.0).allowed_a is None


def test_eee_inst_002_bundle_column() -> None:
    # Lundquist and Leidecker, NASA GSFC, NTRS 19990113164: 20 AWG, bundle of 15 and more, 200 °C, 70 °C vacuum.
    assert allowed_a(rate("space-eee-inst-002", awg("20"), "200 °C", 70.0, 15)) == EXAMPLES["W16"]
    assert allowed_a(rate("space-eee-inst-002", awg("20"), "200 °C", 70.0, 5)) == EXAMPLES["W16"]
    assert allowed_a(rate("space-eee-inst-002", awg("12"), "200 °C", 70.0, 15)) == 11.5
    assert allowed_a(rate("space-eee-inst-002", awg("12"), "200 °C", 70.0, 1)) == 25.0
    # The value of the 26 AWG bundle column is from memory.
    assert rate("space-eee-inst-002", awg("26"), "200 °C", 70.0, 15).check_edition
    assert not rate("space-eee-inst-002", awg("20"), "200 °C", 70.0, 15).check_edition


def test_nec_ambient_example() -> None:
    # NEC 310.15: 10 AWG 90 °C copper at 120 °F: 40 × 0.82. 240.4(D) limits the device and not the current.
    rating = rate("building-nec", awg("10"), "90 °C", (120 - 32) / 1.8, terminal=AT_ANY_TERMINAL)
    assert allowed_a(rating) == pytest.approx(EXAMPLES["W17"])
    assert rating.check_edition
    # NEC 310.15(C)(1): four to six conductors 0.80, seven to nine 0.70, ten to twenty 0.50.
    for loaded, factor in ((3, 1.0), (4, 0.8), (6, 0.8), (7, 0.7), (20, 0.5), (21, 0.45), (41, 0.35), (400, 0.35)):
        rating = rate("building-nec", awg("6"), "75 °C", 30.0, loaded, terminal=Terminal(75.0, True))
        assert allowed_a(rating) == pytest.approx(65 * factor)
    # 310.17, 6 AWG at 90 °C in free air.
    assert allowed_a(rate("building-nec-free-air", awg("6"), "90 °C", 30.0, terminal=AT_ANY_TERMINAL)) == 105.0


def test_terminals_by_the_code() -> None:
    """NEC 110.14(C)(1) (from memory): 60 °C up to 100 A unless marked; factors on the insulation's column only."""

    def at(
        size: str, insulation: str, ambient_c: float, terminal: Terminal | None = None, loaded: int = 1
    ) -> float:
        return allowed_a(rate("building-nec", awg(size), insulation, ambient_c, loaded, terminal=terminal))

    # 310.16, 8 AWG: 40, 50, 55 A in the columns of 60, 75 and 90 °C.
    assert at("8", "90 °C", 30.0) == 40.0
    assert at("8", "75 °C", 30.0) == 40.0
    assert at("8", "60 °C", 30.0) == 40.0
    assert at("8", "60 °C", 20.0) == 40.0  # cool air helps the insulation, not the terminal
    assert at("8", "90 °C", 30.0, Terminal(75.0, True)) == 50.0
    assert at("8", "90 °C", 30.0, Terminal(85.0, True)) == 50.0
    assert at("8", "90 °C", 30.0, Terminal(90.0, True)) == 55.0
    # The terminal's cap has no factor: at 40 °C 55 × 0.91 is above 40; at 55 °C 55 × 0.76 = 41.8, at 59 °C × 0.71.
    assert at("8", "90 °C", 40.0) == 40.0
    assert at("8", "90 °C", 55.0) == 40.0
    assert at("8", "90 °C", 59.0) == pytest.approx(55 * 0.71)
    assert at("8", "90 °C", 30.0, loaded=9) == pytest.approx(55 * 0.7)
    assert "not below its terminals of 60 °C" in (rate("building-nec", awg("8"), "90 °C", 60.0).missing or "")
    # The sizes that have the 90 °C column alone: 0.6 of it, as 14 AWG (15 of 25 A), marked as an estimate.
    small = rate("building-nec", awg("16"), "90 °C", 30.0)
    assert (small.allowed_a, small.estimate) == (pytest.approx(18 * 0.6), True)
    assert at("16", "90 °C", 30.0, Terminal(90.0, True)) == 18.0
    # 310.16 has no 5 AWG: scaled from 4 AWG, with the terminals' cap of 6 AWG, 55 A.
    between = rate("general-equipment", awg("5"), "90 °C", 30.0)
    assert (between.allowed_a, between.estimate) == (55.0, True)
    # In free air the terminal's cap is that of 310.16, which 110.14(C)(1) names.
    assert allowed_a(rate("building-nec-free-air", awg("8"), "90 °C", 30.0)) == 40.0
    assert any(
        "terminals are not stated" in text for text in rate("building-nec", awg("8"), "90 °C", 30.0).assumptions
    )


def test_small_craft_engine_space() -> None:
    # 33 CFR 183.425 table 5 with note 1, 105 °C: 10 AWG 60 × 0.85, 14 AWG 35 × 0.85.
    assert allowed_a(rate("marine-33cfr", awg("10"), "105 °C", 50.0)) == pytest.approx(EXAMPLES["W18"])
    assert allowed_a(rate("marine-33cfr", awg("14"), "105 °C", 50.0)) == pytest.approx(EXAMPLES["W19"])
    assert allowed_a(rate("vehicle", awg("14"), "105 °C", 50.0)) == pytest.approx(EXAMPLES["W19"])
    # Note 2: three conductors 0.7, four to six 0.6, seven to twenty-four 0.5, more 0.4.
    for loaded, factor in ((2, 1.0), (3, 0.7), (6, 0.6), (7, 0.5), (24, 0.5), (25, 0.4)):
        assert allowed_a(rate("marine-33cfr", awg("10"), "105 °C", 30.0, loaded)) == pytest.approx(60 * factor)
    # The factors of the other classes were not read in a copy: computed, and so an estimate.
    assert rate("marine-33cfr", awg("10"), "75 °C", 50.0).estimate
    assert not rate("marine-33cfr", awg("10"), "75 °C", 30.0).estimate
    assert rate("marine-33cfr", awg("10"), "105 °C", 51.0).allowed_a is None


def test_aircraft_table() -> None:
    # AC 43.13-1B CHG 1, table 11-9: 16 AWG 7, 11, 14 A; 33 wires and more at 20 % of the capacity.
    for insulation, current_a in (("105 °C", 7.0), ("150 °C", 11.0), ("200 °C", 14.0), ("180 °C", 11.0)):
        assert allowed_a(rate("avionics-ac43.13", awg("16"), insulation, 70.0, 33, 0.2)) == current_a
    assert allowed_a(rate("avionics-ac43.13", awg("16"), "105 °C", 20.0, 3)) == 7.0  # no credit for cool air
    assert rate("avionics-ac43.13", awg("16"), "90 °C", 40.0).allowed_a is None
    hot = rate("avionics-ac43.13", awg("16"), "150 °C", 100.0)
    assert hot.estimate
    assert allowed_a(hot) < 11.0
    # Fully loaded bundles are worse than the table's, by its own curves: 10 wires 0.465 at 100 %.
    assert allowed_a(rate("avionics-ac43.13", awg("16"), "105 °C", 70.0, 10)) == pytest.approx(7 * 0.465 / 0.625)
    assert rate("avionics-ac43.13", awg("16"), "105 °C", 70.0, 25).allowed_a is None
    assert allowed_a(rate("avionics-ac43.13", awg("8"), "105 °C", 70.0, 9, 0.2)) == 38.0


def test_aircraft_curves() -> None:
    # MIL-W-5088L / AS50881 curves, digitised ±0.01.
    assert as50881_factor(1, None) == 1.0
    assert as50881_factor(10, 0.2) == pytest.approx(0.755)
    assert as50881_factor(10, 0.21) == pytest.approx(0.6225)  # the next greater share that has a curve
    assert as50881_factor(19, 1.0) == pytest.approx(0.3425)
    assert as50881_factor(20, 0.2) is None


def test_aircraft_free_air_example() -> None:
    # AC 43.13-1B example 1 (from memory): free air 21.5 and 16.2 A, bundle 0.52, altitude 0.79, 35 wires at 20 %:
    # 50.6 A. Its 35 wires are beyond the shipped curves; with 19 wires (0.625) the same steps follow.
    own = (
        OwnTableRow("AWG", "20", 21.5, 200.0, 60.0, "free air"),
        OwnTableRow("AWG", "22", 16.2, 200.0, 60.0, "free air"),
    )
    at_sea = {
        size: allowed_a(rate("avionics-free-air", awg(size), "200 °C", 60.0, 19, 0.2, own_table=own))
        for size in ("20", "22")
    }
    total_a = (25 * at_sea["22"] + 10 * at_sea["20"]) * 0.2 * (0.52 / 0.625) * 0.79
    assert total_a == pytest.approx(EXAMPLES["W13"], rel=0.01)
    high = rate("avionics-free-air", awg("20"), "200 °C", 60.0, 19, 0.2, own_table=own, altitude_m=18288.0)
    assert 0.74 <= allowed_a(high) / at_sea["20"] <= 0.79
    assert "19 wires" in (
        rate("avionics-free-air", awg("20"), "200 °C", 60.0, 35, 0.2, own_table=own).missing or ""
    )


def test_list_without_a_standard() -> None:
    # Circular mils / 700 (a list in common use): 22 AWG, 642.4 cmil, printed 0.92 A.
    rating = rate("common-practice", awg("22"), None, 40.0)
    assert allowed_a(rating) == pytest.approx(EXAMPLES["W47"], rel=1e-3)
    assert any("no standard" in text for text in rating.assumptions)
    assert allowed_a(rate("common-practice-chassis", awg("18"), None, 40.0)) == 16.0
    for loaded in (2, 3, 4):  # a list of single wires
        assert rate("common-practice-chassis", awg("18"), None, 40.0, loaded).allowed_a is None


def test_equipment_in_mm2() -> None:
    # IEC 60204-1 table 6, 40 °C: 1.5 mm² B2 13.1 A, E 16.1 A; at 50 °C × 0.82.
    assert allowed_a(rate("general-equipment", mm2("1.5"), "PVC 70 °C", 40.0)) == 13.1
    assert allowed_a(rate("general-equipment", mm2("1.50"), "PVC 70 °C", 40.0)) == 13.1
    assert allowed_a(rate("general-equipment-open", mm2("1.5"), "PVC 70 °C", 40.0)) == 16.1
    assert allowed_a(rate("general-equipment", mm2("1.5"), "PVC 70 °C", 50.0)) == pytest.approx(13.1 * 0.82)
    assert allowed_a(rate("general-equipment", mm2("1.5"), "PVC 70 °C", 47.0)) == pytest.approx(13.1 * 0.82)
    # IEC 60364-5-52 table B.52.17: nine circuits 0.50 (18 loaded conductors), twenty 0.38.
    assert allowed_a(rate("general-equipment", mm2("1.5"), "PVC 70 °C", 40.0, 18)) == pytest.approx(13.1 * 0.50)
    assert rate("general-equipment", mm2("1.5"), "PVC 70 °C", 40.0, 42).allowed_a is None


@pytest.mark.parametrize("ambient_c", [30, 35, 40, 45, 50, 55, 60])
def test_machine_ambient_factors_follow_the_equation(ambient_c: int) -> None:
    # The factors are from memory; √((70 − T)/30) reproduces them to their two decimals.
    rating = rate("general-equipment", mm2("1.5"), "PVC 70 °C", float(ambient_c))
    assert allowed_a(rating) / 13.1 == pytest.approx(math.sqrt((70 - ambient_c) / 30), abs=6e-3)


def test_equipment_in_awg() -> None:
    # NEC 310.16 from 14 AWG up: 12 AWG 75 °C 25 A at 30 °C, 0.88 at 40 °C; 20 A at terminals of 60 °C.
    rating = rate("general-equipment", awg("12"), "75 °C", 40.0, terminal=Terminal(75.0, True))
    assert allowed_a(rating) == pytest.approx(25 * 0.88)
    assert allowed_a(rate("general-equipment", awg("12"), "75 °C", 40.0)) == 20.0
    # AC 43.13-1B table 11-9 for smaller wire: 18 AWG 105 °C 6 A.
    assert allowed_a(rate("general-equipment", awg("18"), "105 °C", 40.0)) == 6.0
    # No table for 18 AWG at 70 °C: scaled from the row of 105 °C insulation at 70 °C, 6 A.
    for ambient_c in (40.0, 60.0):
        low = rate("general-equipment", awg("18"), "PVC 70 °C", ambient_c)
        body = copper_body(awg("18").area_mm2)
        ratio = float(free_air_current_a(body, 70.0, ambient_c) / free_air_current_a(body, 105.0, 70.0))
        assert low.estimate
        assert allowed_a(low) == pytest.approx(6.0 * min(1.0, ratio) * 0.95, rel=1e-6)


def test_buildings_in_mm2() -> None:
    # IEC 60364-5-52 table B.52.4, B2: 10 mm² 46 A at 30 °C, 40 A at 40 °C, 33 A at 50 °C.
    for ambient_c, current_a in ((25.0, 46.0), (30.0, 46.0), (40.0, 40.0), (50.0, 33.0), (52.0, 28.0)):
        assert allowed_a(rate("building-iec", mm2("10"), "PVC 70 °C", ambient_c)) == pytest.approx(current_a)
    assert rate("building-iec", mm2("10"), "PVC 70 °C", 56.0).allowed_a is None
    # Under 4 mm² by IEC 60204-1 at 40 °C; IEC 60364-5-52 B2 × 0.87 gives the same (1.5 mm²: 15 A × 0.87, memory).
    assert allowed_a(rate("building-iec", mm2("1.5"), "PVC 70 °C", 40.0)) == pytest.approx(15 * 0.87, rel=5e-3)


def test_own_table() -> None:
    own = (
        OwnTableRow("AWG", "18", 7.0, 105.0, 60.0, "invented"),
        OwnTableRow("AWG", "18", 9.0, 105.0, 40.0, "invented"),
        OwnTableRow("AWG", "18", 5.0, 80.0, 40.0, "invented"),
        OwnTableRow("mm²", "1,0", 8.0, None, 40.0, "invented"),
    )
    assert allowed_a(rate("own-table", awg("18"), "105 °C", 40.0, own_table=own)) == 9.0
    assert allowed_a(rate("own-table", awg("18"), "105 °C", 41.0, own_table=own)) == 7.0
    assert allowed_a(rate("own-table", awg("18"), "90 °C", 40.0, own_table=own)) == 5.0
    assert allowed_a(rate("own-table", mm2("1"), "90 °C", 40.0, own_table=own)) == 8.0
    assert rate("own-table", awg("18"), "105 °C", 61.0, own_table=own).allowed_a is None
    assert rate("own-table", awg("16"), "105 °C", 40.0, own_table=own).allowed_a is None
    for loaded in (1, 2, 5):
        told = rate("own-table", awg("18"), "105 °C", 40.0, loaded, own_table=own).assumptions
        assert [f"bundle of {loaded} " in text for text in told] == [True] * (loaded > 1)


# The harness


def test_bundles_count_what_is_loaded() -> None:
    cores = tuple(wire(awg("18"), "105 °C", id=f"C1.{k}", cable="C1") for k in (1, 2, 3))
    lone = wire(awg("18"), "105 °C", id="W9")
    bundled = tuple(wire(awg("18"), "105 °C", id=f"W{k}", bundle="trunk") for k in (1, 2))
    harness = Harness(conductors=(*cores, lone, *bundled))
    assert [bundle_of(c) for c in harness.conductors] == ["cable C1"] * 3 + [None] + ["bundle trunk"] * 2
    assert drawn_counts(harness) == {"cable C1": 3, "bundle trunk": 2}
    currents = {"C1.1": 3.0, "C1.2": -3.0, "C1.3": 0.0, "W1": 1.0, "W9": 2.0}
    assert loaded_counts(harness, currents) == {"cable C1": 2, "bundle trunk": 1}


def test_share_of_a_bundle_in_use() -> None:
    # AC 43.13-1B, 11-67: with the 20 % curve the load is at most 20 % of Σ allowed. 10 wires of 18 AWG, table 11-9
    # 6 A each at 20 %: up to 12 A in all. At 40 % the curve is 0.6225, against the table's 0.625.
    settings = AnalysisSettings(basis="avionics-ac43.13")
    wires = tuple(wire(awg("18"), "105 °C", id=f"W{k}", bundle="b") for k in range(1, 11))
    harness = Harness(conductors=wires)
    counts = {"bundle b": 10}

    def share(*each_a: float) -> float | None:
        states = [{w.id: a for w in wires} for a in each_a]
        return bundle_shares(harness, settings, states, counts).get("bundle b")

    assert share(1.19) == 0.2
    assert share(1.21) == 0.4
    assert share(2.385) == 0.4  # up to 0.4 × 6 × 0.6225/0.625 = 2.3904 A each
    assert share(2.395) == 0.6
    assert share(1.0, 1.5) == 0.4
    assert share(6.5) is None
    assert share(6.5, 1.0) is None
    ratings = rate_conductors(harness, settings, counts, {"bundle b": 0.2})
    assert ratings["W1"].allowed_a == 6.0


def test_every_conductor_is_rated_in_its_zone_and_bundle() -> None:
    zones = {"hot": Ambient(0.0, 50.0)}
    settings = AnalysisSettings(basis="building-nec-free-air", zones=zones, terminal_default_c=75.0)
    cores = tuple(wire(awg("6"), "75 °C", id=f"C1.{k}", cable="C1", zone="hot") for k in range(1, 5))
    lone = wire(awg("6"), "75 °C", id="W9")
    harness = Harness(conductors=(*cores, lone))
    ratings = rate_conductors(harness, settings, {"cable C1": 4})
    assert set(ratings) == {c.id for c in harness.conductors}
    assert all(ratings[name].subject_id == name for name in ratings)
    # NEC 310.16 for the cores, which lie in a cable: 65 A, × 0.75 at 50 °C × 0.80 for four. NEC 310.17 for the lone
    # one in free air: 95 A, 0.88 at the default 40 °C.
    assert allowed_a(ratings["C1.2"]) == pytest.approx(65 * 0.75 * 0.80)
    assert allowed_a(ratings["W9"]) == pytest.approx(95 * 0.88)
    # Counts not handed in: every conductor drawn counts.
    assert allowed_a(rate_conductors(harness, settings)["C1.2"]) == pytest.approx(65 * 0.75 * 0.80)


def test_a_terminal_caps_its_wire() -> None:
    # NEC 110.14(C) (value from memory): a 75 °C terminal takes a 90 °C wire at its 75 °C current; 310.16, 6 AWG:
    # 55, 65, 75 A. An end of which nothing is known has the default of 60 °C.
    kind = ContactType("lug", rated_a=((10, 200.0),), max_c=75.0)
    settings = AnalysisSettings(basis="building-nec", contact_types={"lug": kind}, zones={"z": Ambient(0.0, 30.0)})
    lug = Contact(
        id="X1.1", subject=Subject("X1"), node_a="b", node_b="c", connector="X1", pin="1", contact_type="lug"
    )
    other = replace(lug, id="X2.1", node_a="z", node_b="a")
    conductor = wire(awg("6"), "90 °C", zone="z")

    def rated(*lugs: Contact, **stated: float) -> Rating:
        here = replace(conductor, **stated)  # type: ignore[arg-type]
        return rate_conductors(Harness(conductors=(here,), contacts=lugs), settings)["W1"]

    both = rated(lug, other)
    assert (both.base_a, both.allowed_a, both.temperature_limit_c) == (75.0, 65.0, 75.0)
    assert both.caps[-1].reason.startswith("terminals of 75 °C")
    assert rated(lug).allowed_a == 55.0
    assert rated().allowed_a == 55.0
    assert rated(terminal_c=90.0).allowed_a == 75.0
    assert rated(lug, terminal_c=90.0).allowed_a == 65.0  # what the contact stands is less than what is stated
    # Other bases: the terminal's limit caps with all factors, since the conductor must not run hotter there.
    iec = AnalysisSettings(basis="general-equipment", terminal_default_c=60.0)
    core = wire(mm2("1.5"), "PVC 70 °C")
    capped = rate_conductors(Harness(conductors=(core,)), iec)["W1"]
    assert allowed_a(capped) < 13.1


def test_circuits_above_100_a_have_75_degree_terminals_in_larger_wire() -> None:
    """NEC 110.14(C)(1)(b) (from memory): above 100 A and larger than 1 AWG. 310.16, 1/0: 125, 150 A; 1: 110 A."""
    settings = AnalysisSettings(
        basis="building-nec", default_ambient=Ambient(20.0, 30.0), insulation_default_c=90.0
    )

    def fuse(id: str, a: str, b: str, rating_a: float | None, **more: object) -> Device:
        return Device(
            id=id,
            subject=Subject(id),
            node_a=a,
            node_b=b,
            kind=DeviceKind.FUSE,
            rating_a=rating_a,
            **more,  # type: ignore[arg-type]
        )

    def allowed(main: Device, *branch: Device, size: str = "1/0") -> dict[str, float | None]:
        wires = [
            replace(wire(awg(size)), id=id, node_a=a, node_b=b)
            for id, a, b in (("WF", "p", "q"), ("W1", "s", "t"), ("WB", "u", "l"), ("WR", "m", "n"))
        ]
        drawn = Harness(
            conductors=tuple(wires),
            devices=(main, *branch),
            outputs=(Output(id="PS1", subject=Subject("PS1"), node_plus="p", node_minus="n", voltage_v=24.0),),
            loads=(Load(id="L1", subject=Subject("L1"), node_plus="l", node_minus="m"),),
        )
        return {name: rating.allowed_a for name, rating in rate_conductors(drawn, settings).items()}

    straight = fuse("F2", "t", "u", 150.0)
    assert allowed(fuse("F1", "q", "s", 200.0), straight) == {"WF": 125.0, "W1": 150.0, "WB": 150.0, "WR": 150.0}
    # One pole drawn the other way round is the same fuse.
    assert allowed(fuse("F1", "s", "q", 200.0), straight)["W1"] == 150.0
    # Behind a branch of 60 A, and in the return that carries it: 60 °C.
    small = fuse("F2", "t", "u", 60.0)
    assert allowed(fuse("F1", "q", "s", 200.0), small) == {"WF": 125.0, "W1": 150.0, "WB": 125.0, "WR": 125.0}
    assert allowed(fuse("F1", "q", "s", 100.0), straight)["W1"] == 125.0
    assert allowed(fuse("F1", "q", "s", None), straight)["W1"] == 125.0
    either = fuse("F1", "q", "s", 200.0, by_word={"winter": {"rating_a": 80.0}})
    assert allowed(either, straight)["W1"] == 125.0
    assert allowed(fuse("F1", "q", "s", 200.0), straight, size="1")["W1"] == 110.0


def test_a_tie_between_two_circuits_protects_both() -> None:
    """By hand, NEC 110.14(C)(1): two mains of 150 A, and a tie of 80 A by which either feeds the other's copper.

    Without the tie both are circuits above 100 A; with it each is behind a device of 80 A as well.
    """
    wires = tuple(replace(wire(awg("1/0")), id=f"W{n}", node_a=n, node_b=f"{n}2") for n in "st")
    mains = fuse("F1", "p", "s", 150.0), fuse("F2", "p", "t", 150.0)
    supply = Output(
        id="PS1", subject=Subject("PS1"), node_plus="p", node_minus="m", voltage_v=24.0, trip_a=Band.exact(400.0)
    )
    drawn = Harness(conductors=wires, devices=mains, outputs=(supply,))
    assert large_circuits(drawn) == {"Ws", "Wt"}
    for tie in (fuse("F3", "s", "t", 80.0), fuse("F3", "t", "s", 80.0)):
        assert large_circuits(replace(drawn, devices=(*mains, tie))) == frozenset()
    assert large_circuits(replace(drawn, devices=(*mains, fuse("F3", "s", "t", 160.0)))) == {"Ws", "Wt"}


def test_of_the_same_size_the_margin_is_five_percent() -> None:
    """1.5 mm² of 90 °C at 63 °C: its size at 70 °C and 60 °C, of which warmer insulation may use all, less
    5 % (common practice, no published source); a size beyond the thickest row loses more.
    """
    found = rate("general-equipment", mm2("1.5"), "90 °C", 63.0)
    assert [step.factor for step in found.factors if step.kind == "estimate"] == [pytest.approx(0.95)]
    row = rate("general-equipment", mm2("1.5"), "PVC 70 °C", 60.0)
    assert not row.estimate and allowed_a(found) == pytest.approx(0.95 * allowed_a(row))


# The tables


def test_every_table_row_has_a_source_and_a_status() -> None:
    known = set(tables.citations())
    names = [p.name[:-4] for p in resources.files("loadloom.graph.ratings").iterdir() if p.name.endswith(".csv")]
    assert len(names) >= 20
    for name in names:
        text = (resources.files("loadloom.graph.ratings") / f"{name}.csv").read_text(encoding="utf-8")
        assert text.startswith("#"), name
        if name == "sources":
            continue
        for row in tables.rows(name):
            assert None not in row, (name, row)
            statuses = [value for key, value in row.items() if key.startswith("status")]
            assert statuses and all(statuses), (name, row)
            assert not any("DO_NOT_SHIP" in status for status in statuses), (name, row)
            source = row.get("source_id", "S08;S09")
            assert all(s in known for s in source.split(";")) or "FROM_MEMORY" in statuses[0], (name, row)
    for info in BASES.values():
        assert all(s in known for s in info.source_ids.split(";") if s), info
    for file, _ in NAMED_TABLES.values():
        assert tables.rows(file)


def test_values_from_memory_are_marked() -> None:
    assert tables.needs_edition_check("S13b")
    assert tables.needs_edition_check("S03", "FROM_MEMORY")
    assert not tables.needs_edition_check("S03", "VERIFIED")
    assert rate("building-nec", awg("6"), "75 °C", 30.0).check_edition
    assert not rate("avionics-ac43.13", awg("16"), "105 °C", 70.0, 33, 0.2).check_edition


def test_a_table_made_for_an_altitude_holds_up_to_it() -> None:
    """AC 43.13-1B table 11-9 is made for 60,000 ft, which are 18,288 m (1 ft is 0.3048 m)."""
    highest_m = 60_000 * 0.3048
    at, above = (
        rate("avionics-ac43.13", awg("16"), "105 °C", 60.0, 33, 0.2, altitude_m=m)
        for m in (highest_m, highest_m + 1)
    )
    sea = rate("avionics-ac43.13", awg("16"), "105 °C", 60.0, 33, 0.2)
    assert allowed_a(at) == allowed_a(sea)
    assert "holds up to 18288 m, not at 18289 m" in (above.missing or "")


@pytest.mark.parametrize(("size", "current_a"), [("0.75", 8.5), ("1.0", 10.1)])
def test_below_1_5_mm2_the_same_method_of_iec_60204_counts(size: str, current_a: float) -> None:
    """IEC 60204-1 table 6, B2 at 40 °C; IEC 60364-5-52 begins at 1.5 mm². Method C has nothing of the kind."""
    found = rate("building-iec", mm2(size), "PVC 70 °C", 40.0)
    assert allowed_a(found) == pytest.approx(current_a)
    assert any("IEC 60204-1 (B2), the same method" in text for text in found.assumptions)
    assert rate("building-iec-c", mm2(size), "PVC 70 °C", 40.0).allowed_a is None
    assert not any(
        "IEC 60204-1" in text for text in rate("building-iec", mm2("1.5"), "PVC 70 °C", 40.0).assumptions
    )
