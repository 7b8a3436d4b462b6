"""Where nobody says what a conductor withstands in a short circuit, that is told and never a pass."""

import pytest
from wired import AT_20_C, found, harness, load, output, wire

from loadloom.graph.model.elements import Element

# 24 V over 10 mΩ: 2400 A just behind the output, off after 100 ms: 576,000 A²s.
RULE = "withstand-not-determined"


def told(first: Element, delay_s: float = 0.1) -> list[str]:
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=9.0, trip_a=10.0, delay_s=delay_s, resistance_ohm=0.01),
        first,
        wire("W2", "g", "m", mm2=25.0, length_m=1.0, rated=80.0, insulation="PVC 70 °C"),
        load("L1", "l", "g", 5.0),
    )
    return [f"{f.subject.id} {f.subject.field}" for f in found(RULE, drawn, AT_20_C)]


def test_a_conductor_with_no_gauge() -> None:
    assert told(wire("W1", "p", "l", ohm=0.01, rated=20.0)) == ["W1 Gauge"]
    assert told(wire("W1", "p", "l", ohm=0.01, rated=3000.0)) == []  # allowed more than can flow


@pytest.mark.parametrize(
    ("mm2", "insulation", "kept"),
    [
        # 0.576 MA²s: 759 A·√s. k = 87.6 (PVC 105 °C) needs 8.67 mm², k = 115 (PVC 70 °C) 6.60 mm².
        (10.0, None, True),
        (8.0, None, False),
        (8.0, "PVC 70 °C", True),
        (6.0, None, True),  # damage-before-clearing says so
    ],
)
def test_an_insulation_that_nobody_states(mm2: float, insulation: str | None, kept: bool) -> None:
    first = wire("W1", "p", "l", mm2=mm2, length_m=1.0, rated=60.0, insulation=insulation)
    assert told(first) == ([] if kept else ["W1 Insulation"])
    assert told(first, delay_s=0.01) == []
