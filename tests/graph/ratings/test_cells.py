"""Every cell of every basis' own table: the allowed current is the cell, with its factors and nothing else.

What is expected is worked out here from the printed rows alone, by the publication's own rule.
"""

import itertools
import math
from collections.abc import Iterator

import pytest

from loadloom.graph.model.elements import Conductor, Gauge, GaugeSystem
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.results import Rating
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings import tables
from loadloom.graph.ratings.bundles import LAYOUTS
from loadloom.graph.ratings.chain import Terminal
from loadloom.graph.ratings.conductor_rating import rate_conductor

ANY_TERMINAL = Terminal(260.0, True)
COUNTS = (1, 2, 3, 4, 6, 7, 9, 10, 15, 18, 20, 21, 24, 25, 30, 31, 40, 41)
Cell = tuple[Gauge, float, float, int, float]
"""Gauge, insulation and ambient in °C, loaded conductors, and the current in A."""


def gauge(system: GaugeSystem, size: str) -> Gauge:
    if system is GaugeSystem.MM2:
        return Gauge(system, size, float(size))
    n = 1 - int(size.split("/")[0]) if "/" in size else int(size)
    return Gauge(system, size, math.pi / 4 * (0.127 * 92 ** ((36 - n) / 39)) ** 2)  # ASTM B258


def awg(size: str) -> Gauge:
    return gauge(GaugeSystem.AWG, size)


def mm2(size: str) -> Gauge:
    return gauge(GaugeSystem.MM2, size)


def rate(
    basis: str,
    size: Gauge,
    insulation_c: float,
    ambient_c: float,
    loaded: int = 1,
    *,
    share: float | None = None,
    terminal: Terminal | None = None,
    cable: str | None = None,
    layout: str | None = None,
) -> Rating:
    conductor = Conductor(
        id="W1",
        subject=Subject("W1"),
        node_a="a",
        node_b="b",
        gauge=size,
        length_m=1.0,
        insulation=f"{insulation_c:g} °C",
        cable=cable,
    )
    settings = AnalysisSettings(basis=basis)
    return rate_conductor(conductor, loaded, share, ambient_c, settings, terminal_by_code=terminal, layout=layout)


def allowed_a(rating: Rating) -> float:
    assert rating.allowed_a is not None, rating.missing
    return rating.allowed_a


def upto(file: str, column: str, count: float, factor: str = "factor") -> float | None:
    """The factor of the first row that a count does not exceed; None beyond the last."""
    for row in tables.rows(file):
        last = row[column].rstrip("+").split("-")[-1]
        if row[column].endswith("+") or count <= float(last):
            return float(row[factor]) if row[factor] else None
    return None


def circuits(loaded: int) -> int:
    """Two or three loaded conductors are one circuit; of more, every two."""
    return 1 if loaded <= 3 else -(-loaded // 2)


# ---- NEC 310.16 and 310.17 ----


def nec_cells(file: str) -> Iterator[Cell]:
    for row, column, ambient_c, loaded in itertools.product(
        tables.rows(file), ("60", "75", "90"), range(5, 91, 5), COUNTS
    ):
        factor = upto("nec_ambient", "upto_c", ambient_c, column)
        adjust = 1.0 if loaded <= 3 else upto("nec_adjustment", "conductors", loaded)
        if row[column] and factor is not None and adjust is not None and ambient_c < float(column):
            yield awg(row["size"]), float(column), float(ambient_c), loaded, float(row[column]) * factor * adjust


@pytest.mark.parametrize(
    ("basis", "file"), [("building-nec", "nec_310_16"), ("building-nec-free-air", "nec_310_17")]
)
def test_nec(basis: str, file: str) -> None:
    printed = {row["size"]: row for row in tables.rows("nec_310_16")}
    seen = 0
    for size, insulation_c, ambient_c, loaded, cell_a in nec_cells(file):
        seen += 1
        at_any = rate(basis, size, insulation_c, ambient_c, loaded, terminal=ANY_TERMINAL)
        assert allowed_a(at_any) == pytest.approx(cell_a), (size, insulation_c, ambient_c, loaded)
        assert not at_any.estimate
        # 110.14(C)(1): with terminals of 60 °C the cell of 310.16 at 60 °C, with no factor, is the most.
        default = rate(basis, size, insulation_c, ambient_c, loaded)
        if ambient_c >= 60.0:
            assert default.allowed_a is None
        elif printed[size.size]["60"]:
            assert allowed_a(default) == pytest.approx(min(cell_a, float(printed[size.size]["60"])))
    assert seen > 5000


@pytest.mark.parametrize("loaded", [1, 3, 5])
def test_a_core_of_a_cable_is_no_single_conductor_in_free_air(loaded: int) -> None:
    """NEC 310.17 is for single insulated conductors; cables go by 310.16."""
    for row, insulation_c in itertools.product(tables.rows("nec_310_16"), (60.0, 75.0, 90.0)):
        if not row[f"{insulation_c:g}"]:
            continue
        in_cable, by_310_16 = (
            rate(basis, awg(row["size"]), insulation_c, 35.0, loaded, terminal=ANY_TERMINAL, cable="C1")
            for basis in ("building-nec-free-air", "building-nec")
        )
        assert allowed_a(in_cable) == allowed_a(by_310_16)
        assert any("core of a cable" in text for text in in_cable.assumptions)


def test_equipment_in_awg_is_nec_and_aircraft() -> None:
    for size, insulation_c, ambient_c, loaded, cell_a in nec_cells("nec_310_16"):
        if size.size not in ("18", "16"):
            at_any = rate("general-equipment", size, insulation_c, ambient_c, loaded, terminal=ANY_TERMINAL)
            assert allowed_a(at_any) == pytest.approx(cell_a)
    for row in tables.rows("ac43_13_table_11_9"):
        if row["size"] in ("24", "22", "20", "18", "16"):
            for column in ("105", "150", "200"):
                found = rate("general-equipment", awg(row["size"]), float(column), 40.0)
                assert allowed_a(found) == float(row[column])


# ---- IEC, VDE ----


@pytest.mark.parametrize(
    ("basis", "method", "layouts"),
    [("general-equipment", "B2", ()), ("general-equipment-open", "E", ("tray", "ladder"))],
)
def test_iec_60204(basis: str, method: str, layouts: tuple[str, ...]) -> None:
    for row, insulation_c, ambient_c, loaded, layout in itertools.product(
        tables.rows("iec60204_table_6"), (70.0, 90.0, 105.0), range(20, 61, 5), COUNTS, LAYOUTS
    ):
        together = upto(
            "iec60364_grouping", "circuits", circuits(loaded), layout if layout in layouts else "bunched"
        )
        found = rate(basis, mm2(row["size"]), insulation_c, ambient_c, loaded, layout=layout)
        if together is None:
            assert found.allowed_a is None
            continue
        factor = upto("iec60204_ambient", "upto_c", ambient_c, "70")
        assert factor is not None
        assert allowed_a(found) == pytest.approx(float(row[method]) * factor * together)
        assert not found.estimate


@pytest.mark.parametrize(
    ("basis", "file", "layouts"),
    [("building-iec", "iec60364_b2", ()), ("building-iec-c", "iec60364_c", ("wall",))],
)
def test_iec_60364(basis: str, file: str, layouts: tuple[str, ...]) -> None:
    for row, (ambient_c, column), loaded, layout in itertools.product(
        tables.rows(file),
        ((20.0, "30"), (30.0, "30"), (35.0, "40"), (40.0, "40"), (45.0, "45"), (50.0, "50"), (55.0, "55")),
        COUNTS,
        LAYOUTS,
    ):
        together = upto(
            "iec60364_grouping", "circuits", circuits(loaded), layout if layout in layouts else "bunched"
        )
        found = rate(basis, mm2(row["size"]), 70.0, ambient_c, loaded, layout=layout)
        if together is None:
            assert found.allowed_a is None
            continue
        assert allowed_a(found) == pytest.approx(float(row[column]) * together)
    assert rate(basis, mm2("10"), 70.0, 56.0).allowed_a is None


# VDE 0298-4 (2013-06, 2023-06), PVC at 30 °C: one flexible conductor in free air, a core of two or three loaded
# ones; below 0.5 mm² VDE 0891-1 (1990-05), the lower of two copies that differ. Read second-hand.
FLEXIBLE = {
    "0.05": (2, 1), "0.08": (3, 2), "0.14": (3.5, 2), "0.25": (6, 4), "0.34": (8, 5),
    "0.5": (12, 9), "0.75": (15, 12), "1": (19, 15), "1.5": (24, 18), "2.5": (32, 26), "4": (42, 34), "6": (54, 44),
    "10": (73, 61), "16": (98, 82),
    "25": (129, 108), "35": (158, 135), "50": (198, 168), "70": (245, 207), "95": (292, 250), "120": (344, 292),
}  # fmt: skip

# IEC 60364-5-52 table B.52.17 = BS 7671:2008 table 4C1, two to nine circuits; read second-hand.
LAYOUT_FACTORS = {
    "bunched": (0.8, 0.7, 0.65, 0.6, 0.57, 0.54, 0.52, 0.5),
    "wall": (0.85, 0.79, 0.75, 0.73, 0.72, 0.72, 0.71, 0.7),
    "tray": (0.88, 0.82, 0.77, 0.75, 0.73, 0.73, 0.72, 0.72),
    "ladder": (0.87, 0.82, 0.8, 0.8, 0.79, 0.79, 0.78, 0.78),
}


def test_flexible_cord() -> None:
    assert {row["size"] for row in tables.rows("vde0298_flexible")} == set(FLEXIBLE)
    for (size, (single_a, core_a)), insulation_c, ambient_c in itertools.product(
        FLEXIBLE.items(), (70.0, 90.0), (25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0)
    ):
        # B.52.14 is √((70 − T)/40) to two decimals.
        factor = round(math.sqrt((70.0 - ambient_c) / 40.0) + 1e-9, 2)

        def found(loaded: int, **more: str) -> float:
            return allowed_a(rate("flexible-cord", mm2(size), insulation_c, ambient_c, loaded, **more))  # noqa: B023

        assert found(1) == pytest.approx(single_a * factor, rel=0.01)
        assert found(1, cable="C1") == pytest.approx(core_a * factor, rel=0.01)
        assert found(2) == found(3) == pytest.approx(core_a * factor, rel=0.01)
        for layout, factors in LAYOUT_FACTORS.items():
            for count, together in enumerate(factors, start=2):
                assert found(2 * count, layout=layout) == pytest.approx(core_a * factor * together, rel=0.01)
    assert rate("flexible-cord", mm2("1.5"), 70.0, 61.0).allowed_a is None
    assert rate("flexible-cord", mm2("1.5"), 60.0, 30.0).allowed_a is None
    assert rate("flexible-cord", mm2("1.2"), 70.0, 30.0).allowed_a is None
    assert rate("flexible-cord", awg("18"), 70.0, 30.0).allowed_a is None
    assert rate("flexible-cord", mm2("1.5"), 70.0, 30.0).check_edition


# ---- 33 CFR, AC 43.13-1B, MIL-STD-975M, EEE-INST-002 ----


def test_small_craft() -> None:
    for row, column, loaded in itertools.product(
        tables.rows("33cfr183_table_5"), ("60", "75", "80", "90", "105", "125", "200"), COUNTS
    ):
        if not row[column]:
            continue
        bundle = 1.0 if loaded < 3 else upto("33cfr183_bundle", "conductors", loaded)
        assert bundle is not None
        for basis in ("marine-33cfr", "vehicle"):
            found = rate(basis, awg(row["size"]), float(column), 30.0, loaded)
            assert allowed_a(found) == pytest.approx(float(row[column]) * bundle)
            assert not found.estimate
        if column == "105":  # note 1 of table 5: engine spaces (50 °C) 0.85
            found = rate("marine-33cfr", awg(row["size"]), 105.0, 50.0, loaded)
            assert allowed_a(found) == pytest.approx(float(row[column]) * bundle * 0.85)


def test_aircraft() -> None:
    for row, column, ambient_c in itertools.product(
        tables.rows("ac43_13_table_11_9"), ("105", "150", "200"), (20.0, 55.0, 70.0)
    ):
        count = 33 if float(row["size"].split("/")[0]) > 8 and "/" not in row["size"] else 9
        found = rate("avionics-ac43.13", awg(row["size"]), float(column), ambient_c, count, share=0.2)
        assert allowed_a(found) == float(row[column])
        assert not found.estimate


def test_space() -> None:
    for row, (insulation_c, share), loaded in itertools.product(
        tables.rows("mil_std_975m_wire"), ((105.0, 0.5), (135.0, 0.7), (150.0, 0.8), (200.0, 1.0)), COUNTS
    ):
        bundle = (29 - loaded) / 28 if loaded <= 15 else 0.5
        found = rate("space-975m", awg(row["size"]), insulation_c, 70.0, loaded)
        assert allowed_a(found) == pytest.approx(float(row["single_a"]) * share * bundle)
        if insulation_c == 200.0 and row["bundle_a"]:
            column = row["single_a"] if loaded == 1 else row["bundle_a"]
            assert allowed_a(rate("space-eee-inst-002", awg(row["size"]), 200.0, 70.0, loaded)) == float(column)


# ---- estimates against published rows ----

SMALL_AWG = {"30": "0.05", "28": "0.08", "26": "0.08"}
"""The greatest published size that is not above the section (0.0507, 0.0810, 0.1288 mm²)."""


@pytest.mark.parametrize("basis", ["general-equipment", "general-equipment-open", "vehicle", "avionics-free-air"])
@pytest.mark.parametrize("ambient_c", [30.0, 35.0, 40.0, 50.0, 55.0, 60.0])
def test_small_wires_stay_below_the_published_rows_and_not_far_below(basis: str, ambient_c: float) -> None:
    """VDE 0891-1: 26 to 30 AWG and 0.05 to 0.34 mm² lie between 0.6 and 1.0 of the row of their section."""
    exact = math.sqrt((70.0 - ambient_c) / 40.0)
    printed = round(exact, 2)  # B.52.14
    sizes = [(mm2(size), size) for size in ("0.05", "0.08", "0.14", "0.25", "0.34")]
    sizes += [(awg(size), row) for size, row in SMALL_AWG.items()]
    for (size, row), insulation_c in itertools.product(sizes, (70.0, 80.0, 105.0)):
        for loaded, cable in ((1, None), (2, None), (3, None), (1, "C1"), (2, "C1"), (3, "C1")):
            cell_a = FLEXIBLE[row][0 if loaded == 1 and cable is None else 1]
            found = rate(basis, size, insulation_c, ambient_c, loaded, cable=cable)
            assert found.estimate
            least_a, most_a = 0.6 * cell_a * max(exact, printed), cell_a * printed
            assert least_a <= allowed_a(found) <= most_a * (1 + 1e-12), (size, insulation_c, loaded, cable)
        # Thinner copper never carries more, between the rows as well.
    areas = (0.03, 0.05, 0.07, 0.08, 0.1, 0.14, 0.16, 0.2, 0.22, 0.25, 0.3, 0.34, 0.4)
    between = [mm2(f"{area:.3f}") for area in areas]
    for loaded in (1, 2):
        carried = [allowed_a(rate(basis, size, 105.0, ambient_c, loaded)) for size in between]
        assert carried == sorted(carried)


@pytest.mark.parametrize("size", ["20", "18", "13", "10", "7", "2", "4/0"])
def test_a_cooler_class_never_carries_more_in_a_vehicle(size: str) -> None:
    """Columns of 33 CFR 183.425 that print alike (90 and 105 °C for 18 AWG: 20 A) don't turn the order round."""
    classes = (60.0, 65.0, 70.0, 75.0, 80.0, 85.0, 90.0, 95.0, 100.0, 105.0, 125.0, 150.0, 200.0)
    for ambient_c, loaded in itertools.product((30.0, 40.0, 50.0, 55.0, 60.0, 65.0, 75.0), (1, 2, 8)):
        carried = [
            rate("vehicle", awg(size), limit_c, ambient_c, loaded).allowed_a or 0.0
            for limit_c in classes
            if limit_c > ambient_c
        ]
        assert all(a <= b * (1 + 1e-6) for a, b in itertools.pairwise(carried)), (ambient_c, loaded, carried)


@pytest.mark.parametrize("size", ["26", "20", "16", "10", "2", "4/0"])
def test_a_free_air_estimate_rises_with_the_class_up_to_200_c(size: str) -> None:
    """33 CFR 183.425 ends at 200 °C: hotter insulation is no credit, and none carries more than a warmer one."""
    for ambient_c, loaded in itertools.product((-40.0, 0.0, 30.0, 50.0, 75.0, 120.0), (1, 2, 8)):
        carried = [
            allowed_a(rate("avionics-free-air", awg(size), limit_c, ambient_c, loaded))
            for limit_c in (60.0, 75.0, 90.0, 105.0, 125.0, 140.0, 150.0, 160.0, 175.0, 180.0, 190.0, 200.0)
            if limit_c > ambient_c
        ]
        assert all(a <= b * (1 + 2e-3) for a, b in itertools.pairwise(carried)), (ambient_c, loaded, carried)
        for limit_c in (225.0, 260.0):
            hot = rate("avionics-free-air", awg(size), limit_c, ambient_c, loaded)
            assert allowed_a(hot) == carried[-1]
            assert any("warmest published row" in text for text in hot.assumptions)


@pytest.mark.parametrize("basis", ["general-equipment", "vehicle", "avionics-free-air"])
def test_a_cooler_class_of_a_small_wire_is_no_credit_in_the_cold(basis: str) -> None:
    """IEC 60364-5-52 table B.52.14 ends at 1.06 (25 °C): colder air gives no more, whatever the class."""
    for size, loaded, ambient_c in itertools.product(("30", "28", "26"), (1, 2), (-40.0, -20.0, 0.0, 20.0)):
        cooler, warmer = (allowed_a(rate(basis, awg(size), limit_c, ambient_c, loaded)) for limit_c in (60.0, 70.0))
        assert cooler <= warmer
        single_a, core_a = FLEXIBLE[SMALL_AWG[size]]
        assert warmer <= 1.06 * (single_a if loaded == 1 else core_a)


AS50881_ALL_IN_USE = {2: 0.825, 3: 0.725}
"""Two and three wires with all of the capacity in use, digitised curves of AS50881."""


@pytest.mark.parametrize("ambient_c", range(25, 61, 5))
def test_free_air_estimates_lie_between_0_8_and_1_of_the_published_flexible_rows(ambient_c: int) -> None:
    """VDE 0298-4, 0.5 to 120 mm²: one conductor alone and a cable's core with one, two or three loaded.

    ``avionics-free-air`` has a published factor of its own for a bundle, that of AS50881, and no estimate of it
    stands in: there the free-air current is the estimate, so that with two or three loaded the published row of one
    conductor × that factor is compared, or the row of the cable where that is less.
    """
    factor = round(math.sqrt((70.0 - ambient_c) / 40.0) + 1e-9, 2)  # B.52.14, two decimals
    for (size, (single_a, core_a)), basis in itertools.product(FLEXIBLE.items(), ("vehicle", "avionics-free-air")):
        for loaded, cable in ((1, None), (1, "C1"), (2, None), (3, None), (2, "C1"), (3, "C1")):
            row_a = single_a if loaded == 1 and cable is None else core_a
            if basis == "avionics-free-air" and loaded in AS50881_ALL_IN_USE:
                row_a = min(row_a, single_a * AS50881_ALL_IN_USE[loaded])
            found = rate(basis, mm2(size), 70.0, float(ambient_c), loaded, cable=cable)
            assert found.estimate
            assert 0.8 <= allowed_a(found) / (row_a * factor) <= 1.0, (size, basis, loaded, cable)


@pytest.mark.parametrize("loaded", [2, 3, 6, 19])
def test_the_bundle_factor_of_the_aircraft_basis_is_the_published_one(loaded: int) -> None:
    """The estimate is in the free-air current alone: the bundle's factor is a cell of AS50881, or less."""
    row = next(r for r in tables.rows("as50881_bundle") if r["wires_in_bundle"] == str(loaded))
    for size in ("0.5", "4", "50"):
        one = allowed_a(rate("avionics-free-air", mm2(size), 70.0, 30.0))
        cell_a = one * float(row["100"])
        among = allowed_a(rate("avionics-free-air", mm2(size), 70.0, 30.0, loaded))
        single_a, core_a = FLEXIBLE[size]
        ratio = min(1.0, one * core_a / single_a / cell_a)
        assert among == pytest.approx(cell_a * ratio, rel=1e-3), (size, loaded)


def test_free_air_estimates_lie_between_0_8_and_1_of_nec_and_cfr() -> None:
    """NEC 310.17 at 60, 75 and 90 °C in every ambient, 33 CFR 183.425 table 5 from 105 °C up at 30 °C."""
    for row, column, ambient_c in itertools.product(
        tables.rows("nec_310_17"), ("60", "75", "90"), range(10, 81, 5)
    ):
        factor = upto("nec_ambient", "upto_c", ambient_c, column)
        if row[column] and factor is not None and ambient_c < float(column):
            found = rate("avionics-free-air", awg(row["size"]), float(column), float(ambient_c))
            assert 0.8 <= allowed_a(found) / (float(row[column]) * factor) <= 1.0, (row["size"], column, ambient_c)
    for row, column in itertools.product(tables.rows("33cfr183_table_5"), ("105", "125", "200")):
        found = rate("avionics-free-air", awg(row["size"]), float(column), 30.0)
        assert 0.8 <= allowed_a(found) / float(row[column]) <= 1.0, (row["size"], column)
    for row in tables.rows("33cfr183_table_5"):  # note 1: engine spaces of 50 °C, 0.85 at 105 °C
        found = rate("avionics-free-air", awg(row["size"]), 105.0, 50.0)
        assert 0.8 <= allowed_a(found) / (float(row["105"]) * 0.85) <= 1.0, row["size"]


def test_scaled_sizes_fit_between_the_rows_of_their_table() -> None:
    """Sizes that IEC 60204-1 does not print lie between its rows, and a thick one grows less than its section."""
    for basis, method in (("general-equipment", "B2"), ("general-equipment-open", "E")):
        printed = [(float(r["size"]), float(r[method])) for r in tables.rows("iec60204_table_6")]
        for (thin, thin_a), (thick, thick_a) in itertools.pairwise(printed):
            middle = f"{math.sqrt(thin * thick):.4f}"
            found = rate(basis, mm2(middle), 70.0, 40.0)
            assert found.estimate
            assert 0.9 * thin_a <= allowed_a(found) <= thick_a
        # 120 mm²: 179 and 240 A. IEC 60364-5-52 B2 (from memory) 225 A for 150 mm² at 30 °C, × 0.87 at 40 °C.
        at_150 = allowed_a(rate(basis, mm2("150"), 70.0, 40.0))
        assert printed[-1][1] < at_150 < printed[-1][1] * 150 / 120
    assert allowed_a(rate("general-equipment", mm2("150"), 70.0, 40.0)) <= 225 * 0.87
    # IEC 60364-5-52 B2, PVC, three loaded (from memory), 30 °C: 185 mm² 255 A, 240 mm² 297 A, 300 mm² 339 A.
    for size, memory_a in (("185", 255.0), ("240", 297.0), ("300", 339.0)):
        assert 0.8 <= allowed_a(rate("general-equipment", mm2(size), 70.0, 40.0)) / (memory_a * 0.87) <= 1.0


@pytest.mark.parametrize("size", ["5", "7", "9", "11", "13", "15", "17"])
@pytest.mark.parametrize("insulation_c", [60.0, 70.0, 90.0, 105.0, 200.0])
def test_an_awg_size_without_a_row_has_the_ratio_of_a_cable_as_well(size: str, insulation_c: float) -> None:
    """33 CFR 183.425 has no factor for two; an estimate of a size that it lacks is below a cable's core as well.

    VDE 0298-4: the core of a cable of the next thinner section carries 0.75 to 0.86 of one conductor.
    """
    one, two, three = (allowed_a(rate("vehicle", awg(size), insulation_c, 30.0, n)) for n in (1, 2, 3))
    below = max((s for s in FLEXIBLE if float(s) <= awg(size).area_mm2), key=float)
    single_a, core_a = FLEXIBLE[below]
    assert three <= two <= one * max(core_a / single_a, 0.86)
    assert allowed_a(rate("vehicle", awg(size), insulation_c, 30.0, 1, cable="C1")) == two


def test_two_loaded_conductors_never_carry_what_one_carries() -> None:
    """VDE 0298-4: the ratio of a cable's core to one conductor alone is 0.75 to 0.86 from 0.5 to 120 mm²."""
    for basis in ("vehicle", "avionics-free-air"):
        for size, (single_a, core_a) in FLEXIBLE.items():
            one = rate("avionics-free-air", mm2(size), 70.0, 30.0)
            two = rate(basis, mm2(size), 70.0, 30.0, 2)
            assert allowed_a(two) <= core_a
            assert allowed_a(two) <= allowed_a(one) * core_a / single_a * 1.001
