"""Tracks of boards by IPC-2221, and their resistance from geometry."""

from __future__ import annotations

import math

import pytest
from test_variants import Sketch, found, rows

from loadloom.graph.model.elements import Track, Vias
from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Ambient, AnalysisSettings
from loadloom.graph.ratings.board_track import MOST_A, SQUARE_MIL_MM2, rate_track, track_current_a

SETTINGS = AnalysisSettings(basis_stated=True, default_ambient=Ambient(20.0, 40.0))


def test_the_width_that_is_published_for_ten_amperes() -> None:
    """10 A on 1 oz (35 µm) outside with a rise of 10 K needs 7.19 mm (width calculators after IPC-2221, from
    memory)."""
    assert track_current_a(7.19 * 0.035, 10.0, outer=True) == pytest.approx(10.0, rel=0.005)


def test_the_formula_by_hand() -> None:
    """137.8 square mil, 20 K: 0.048 · 20^0.44 · 137.8^0.725 = 6.38 A, half of it inside."""
    by_hand = 0.048 * math.exp(0.44 * math.log(20.0)) * math.exp(0.725 * math.log(137.8))
    area_mm2 = 137.8 * SQUARE_MIL_MM2
    assert track_current_a(area_mm2, 20.0, outer=True) == pytest.approx(by_hand)
    assert by_hand == pytest.approx(6.38, abs=0.01)
    assert track_current_a(area_mm2, 20.0, outer=False) == pytest.approx(by_hand / 2.0)


def track(width_mm: float = 3.5, copper_um: float = 35.0, *, outer: bool = True, limit_c: float = 105.0) -> Track:
    return Track(width_mm * 1e-3, copper_um * 1e-6, outer, limit_c)


def test_the_rise_is_what_the_board_leaves_above_the_ambient() -> None:
    chain = rate_track(track(), (), 40.0)
    assert chain.base_a == pytest.approx(track_current_a(3.5 * 0.035, 65.0, outer=True))
    assert rate_track(track(limit_c=160.0), (), 40.0).base_a == pytest.approx(
        track_current_a(3.5 * 0.035, 100.0, outer=True)
    )  # the chart ends at 100 K


@pytest.mark.parametrize("ambient_c", [95.1, 105.0, 120.0])
def test_a_rise_below_the_chart_has_no_rating(ambient_c: float) -> None:
    assert rate_track(track(), (), ambient_c).allowed_a is None


def test_what_is_larger_than_the_chart_counts_with_its_end() -> None:
    """700 square mil are 0.452 mm²: more copper carries no more, and never more than 35 A."""
    at_end = track_current_a(700.0 * SQUARE_MIL_MM2, 20.0, outer=False)
    wide = rate_track(Track(20e-3, 70e-6, False, 60.0), (), 40.0)
    assert wide.base_a == pytest.approx(min(at_end, MOST_A))
    assert rate_track(Track(20e-3, 70e-6, True, 140.0), (), 40.0).base_a == MOST_A


def test_neighbours_heated_together_count_as_one_track() -> None:
    """Two equal tracks: half of what one of twice the section carries, less than one alone."""
    alone, both = rate_track(track(), (), 40.0), rate_track(track(), (track(),), 40.0)
    assert both.base_a == pytest.approx(0.5 * track_current_a(2 * 3.5 * 0.035, 65.0, outer=True))
    assert (both.base_a or 0.0) < (alone.base_a or 0.0)
    inside = rate_track(track(), (track(outer=False),), 40.0)
    assert inside.base_a == pytest.approx((both.base_a or 0.0) / 2.0)


def test_vias_cap_what_a_track_carries() -> None:
    """Two barrels of π·(0.3 + 0.02)·0.02 = 0.0201 mm² each, as an inner track."""
    with_vias = Track(3.5e-3, 35e-6, True, 105.0, Vias(2, 0.3e-3, 20e-6))
    area = 2.0 * math.pi * 0.32 * 0.02
    assert rate_track(with_vias, (), 40.0).allowed_a == pytest.approx(track_current_a(area, 65.0, outer=False))


def drawn(**changes: str | None) -> Results:
    """12 V, a track of 3.5 mm × 35 µm × 100 mm on the way out, a wire back, 5 A."""
    fields: dict[str, str | None] = {
        "Width": "3.5 mm", "Copper": "35 µm", "Length": "100 mm", "Layer": "outer", "Board limit": "105 °C",
        **{name.replace("_", " "): text for name, text in changes.items()},
    }  # fmt: skip
    draw = Sketch()
    draw(
        "PS1", "output", "p m", "12 V", Limit="7 A", Trip="8 A", Delay="10 ms", Resistance="10 mΩ", Tolerance="0 %"
    )
    draw("TR1", "track", "p r", fields={name: text for name, text in fields.items() if text is not None})
    draw("W2", "wire", "s m", "4 mm²", Length="1 m", Rating="30 A", Resistance="5 mΩ", Insulation="PVC 70 °C")
    draw("L1", "load", "r s", "5 A")
    return draw.results(SETTINGS)


def test_a_track_in_a_harness_has_rating_resistance_and_withstand() -> None:
    """0.017241 Ω·mm²/m · 0.1 m / 0.1225 mm² = 14.07 mΩ at 20 °C, 18.78 mΩ at 105 °C; k from 105 to 160 °C is
    87.3."""
    results = drawn()
    row = rows(results)["TR1"]
    assert row.allowed_a == pytest.approx(track_current_a(3.5 * 0.035, 65.0, outer=True))
    cold = 0.017241 * 0.1 / 0.1225
    assert row.resistance_ohm == pytest.approx(cold * (1.0 + 0.00393 * 85.0))
    (short,) = (s for s in results.short_circuits if s.conductor == "TR1")
    k = 226.0 * math.sqrt(math.log((234.5 + 160.0) / (234.5 + 105.0)))
    assert short.withstand_a2s == pytest.approx((k * 0.1225) ** 2)
    # Thicker copper than stated, and cold, where fault currents are greatest.
    assert short.greatest_a == pytest.approx(12.0 / (0.010 + cold / 1.5 + 0.005), rel=1e-6)


def test_a_track_that_is_too_small_fails() -> None:
    assert "TR1" in found(drawn(Width="0.5 mm"), "wire-overload")
    assert "TR1" not in found(drawn(), "wire-overload")


@pytest.mark.parametrize("name", ["Width", "Copper", "Length", "Layer", "Board_limit"])
def test_what_is_not_stated_is_not_assumed(name: str) -> None:
    results = drawn(**{name: None})
    assert results.verdict is not Verdict.PASS
    assert rows(results)["TR1"].allowed_a is None or name == "Length"
    assert "TR1" in found(results, "rating-missing")


@pytest.mark.parametrize("text", ["1 oz", "35", "35 µ", "-35 µm", "0 µm", "35 mm"])
def test_copper_is_a_finished_thickness(text: str) -> None:
    results = drawn(Copper=text)
    assert results.verdict is not Verdict.PASS
    assert "TR1" in {f.subject.id for f in results.findings if f.rule == "field-unreadable"}


def test_a_track_wider_than_the_chart_counts_with_its_end() -> None:
    """400 mil are 10.16 mm: 12 mm of 18 µm carry what 10.16 mm do."""
    assert rate_track(track(12.0, 18.0), (), 40.0).base_a == pytest.approx(
        track_current_a(10.16 * 0.018, 65.0, outer=True)
    )


def test_a_wire_in_the_bundle_of_a_track_leaves_it_unrated() -> None:
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="10 A", Trip="11 A")
    size = {"Width": "3.5 mm", "Copper": "35 µm", "Length": "80 mm", "Layer": "outer", "Board limit": "105 °C"}
    draw("TR1", "track", "p r", fields={**size, "Bundle": "T"})
    draw("W2", "wire", "r s", "4 mm²", Length="1 m", Rating="30 A", Bundle="T")
    draw("L1", "load", "s m", "5 A")
    results = draw.results(SETTINGS)
    assert rows(results)["TR1"].allowed_a is None and results.verdict is not Verdict.PASS
