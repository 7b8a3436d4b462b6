"""The width that a track of a board needs, by IPC-2221's formula solved for the section and by k²S² for the heat.

I = k ΔT^0.44 A^0.725 with A in square mil (IPC-2221, 6.2), so A = (I / (k ΔT^0.44))^(1 / 0.725).
"""

from __future__ import annotations

import math
import re

import pytest
from wired import harness, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.model.elements import Band, Conductor, ConductorKind, Track
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import Ambient, AnalysisSettings
from loadloom.graph.sizing.track_width import track_words

SETTINGS = AnalysisSettings(default_ambient=Ambient(20.0, 40.0))
COPPER_MM = 0.035


def width_mm(amperes: float, rise_k: float, outer: bool) -> float:
    square_mil = (amperes / ((0.048 if outer else 0.024) * rise_k**0.44)) ** (1.0 / 0.725)
    return square_mil * 0.0254**2 / COPPER_MM


def words(
    width: float | None = 3.5,
    trip_a: float = 8.0,
    outer: bool = True,
    load_a: float = 5.0,
    delay_s: float | None = 0.0,
    limit_c: float | None = 105.0,
) -> str:
    """12 V behind 10 mΩ, a track of 100 mm on the way out, 5 mΩ of wire back; what is said of its width."""
    track = Track(None if width is None else width * 1e-3, COPPER_MM * 1e-3, outer, limit_c)
    drawn = harness(
        output(
            "PS1",
            "p",
            "m",
            resistance_ohm=0.01,
            limit_a=0.9 * trip_a,
            trip_a=Band.exact(trip_a),
            delay_s=delay_s,
        ),
        Conductor(
            id="TR1",
            subject=Subject("TR1"),
            node_a="p",
            node_b="a",
            kind=ConductorKind.TRACK,
            length_m=0.1,
            track=track,
        ),
        wire("W2", "r", "m", ohm=0.005, rated=60.0),
        load("L1", "a", "r", load_a),
    )
    facts, _ = explore(drawn, SETTINGS, lambda _: None)
    return track_words(facts, drawn.conductors[0])


def least_mm(said: str) -> float:
    found = re.search(r"at least ([\d.]+) mm", said)
    assert found, said
    return float(found[1])


@pytest.mark.parametrize(("trip_a", "outer"), [(2.0, True), (8.0, True), (8.0, False), (12.0, True)])
def test_the_width_carries_what_a_fault_holds(trip_a: float, outer: bool) -> None:
    """105 °C at 40 °C leave 65 K. The next hundredth of a millimetre up is said."""
    wanted = width_mm(trip_a, 65.0, outer)
    said = words(trip_a=trip_a, outer=outer, load_a=1.0)
    assert least_mm(said) == pytest.approx(wanted, abs=0.0101) and least_mm(said) >= wanted
    assert f"for the {trip_a:g} A that it carries or a fault can hold on it" in said
    assert said.endswith("3.5 mm is wide enough" if wanted <= 3.5 else "3.5 mm is too narrow")


def test_a_smaller_rise_asks_for_more() -> None:
    assert least_mm(words(limit_c=60.0)) == pytest.approx(width_mm(8.0, 20.0, True), abs=0.0101)


def test_a_width_at_the_edge_of_what_is_needed() -> None:
    wanted = width_mm(8.0, 65.0, True)
    assert words(width=wanted * 1.001).endswith("is wide enough")
    assert words(width=wanted * 0.999).endswith("is too narrow")


def test_the_heat_until_a_short_circuit_is_cleared_counts_where_it_asks_for_more() -> None:
    """A short at the track's very beginning, straight back to the output, draws 12 V / 10 mΩ = 1200 A through it
    for 50 ms; it withstands (k S)² with k = 226 √ln((234.5 + 160) / (234.5 + 105)) (IEC 60364-4-43 434.5.2 for the
    form, the constants of copper from memory).
    """
    k = 226.0 * math.sqrt(math.log(394.5 / 339.5))
    said = words(width=1.0, delay_s=0.05)
    assert "for the heat of a short circuit until it is cleared" in said
    assert least_mm(said) == pytest.approx(1200.0 * math.sqrt(0.05) / (k * COPPER_MM), abs=0.011)


def test_what_no_track_carries_and_what_is_not_stated() -> None:
    """The chart of IPC-2221 ends at 10.16 mm: as an inner track that is 12.8 A with 65 K."""
    most_a = 0.024 * 65.0**0.44 * (10.16 * COPPER_MM / 0.0254**2) ** 0.725
    assert "no width within the chart" in words(trip_a=most_a * 1.01, outer=False)
    assert "at least" in words(trip_a=most_a * 0.99, outer=False)
    for said in (words(width=None), words(limit_c=None)):
        assert said.endswith("not all that its width follows from is stated")
