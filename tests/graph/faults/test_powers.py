"""The power that a fault could draw: x (V - R x), by hand, and the classes of published standards."""

from __future__ import annotations

import pytest
from wired import harness, limiter, load, output, wire

from loadloom.graph.analysis import explore
from loadloom.graph.faults.power import power_row
from loadloom.graph.model.elements import Band
from loadloom.graph.model.results import FaultPowerRow
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0)


def powers(trip_a: float, pooled_a: float | None = None, ohm: float = 0.1) -> dict[str, FaultPowerRow]:
    """12 V, a limiter, a feed and a return of ``ohm`` each; ``pooled_a`` is the trip in another arrangement."""
    words = {} if pooled_a is None else {"pooled": {"trip_a": Band.exact(pooled_a)}}
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=300.0, trip_a=400.0),
        limiter("CH1", "p", "a", trip_a, by_word=words),
        wire("W1", "a", "b", ohm=ohm, rated=300.0),
        wire("W2", "r", "m", ohm=ohm, rated=300.0),
        load("L1", "b", "r", 1.0),
    )
    facts, _ = explore(drawn, AT_20_C, lambda _: None)
    return {row.at: row for row in facts.faults.powers}


@pytest.mark.parametrize("trip_a", [5.0, 15.0, 29.0])
def test_what_a_limiter_holds_sets_the_power(trip_a: float) -> None:
    """At the load the loop has 0.2 Ω: I (12 - 0.2 I) while I is below 12 / 0.4 = 30 A."""
    row = powers(trip_a)["L1"]
    assert (row.power_w, row.held_by) == (pytest.approx(trip_a * (12.0 - 0.2 * trip_a)), "CH1")


@pytest.mark.parametrize("trip_a", [31.0, 100.0])
def test_the_matched_load_takes_the_most(trip_a: float) -> None:
    """V² / 4R = 180 W, with nothing opening: half of the voltage stays in the copper."""
    row = powers(trip_a)["L1"]
    assert (row.power_w, row.held_by) == (pytest.approx(144.0 / 0.8), None)


@pytest.mark.parametrize(("drawn_a", "pooled_a"), [(5.0, 15.0), (15.0, 5.0)])
def test_the_worst_arrangement_counts(drawn_a: float, pooled_a: float) -> None:
    assert powers(drawn_a, pooled_a)["L1"].power_w == pytest.approx(15.0 * (12.0 - 0.2 * 15.0))


def test_before_the_limiter_the_output_alone_sets_the_power() -> None:
    """Nothing is between the output's terminals but its trip of 400 A."""
    most = max(powers(5.0).values(), key=lambda row: row.power_w)
    assert (most.power_w, most.held_by) == (pytest.approx(4800.0, rel=1e-6), "PS1")


@pytest.mark.parametrize(
    ("power_w", "within"),
    [
        (15.0, ("15 W", "100 W", "240 VA")),
        (15.1, ("100 W", "240 VA")),
        (100.0, ("100 W", "240 VA")),
        (239.9, ("240 VA",)),
        (240.0, ("240 VA",)),
        (240.1, ()),
    ],
)
def test_classes_of_available_power(power_w: float, within: tuple[str, ...]) -> None:
    """IEC 62368-1, 6.2.2 and annex Q; IEC 60950-1, 1.2.8.10 (values from memory)."""
    row = power_row("x", "nominal", power_w, None)
    assert row.within == within
    assert row.exceeds == tuple(name for name in ("15 W", "100 W", "240 VA") if name not in within)
