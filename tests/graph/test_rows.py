"""Rows of the results of small drawings, every number by hand: loads, outputs, conductors, converters, starts.

Conductors state their resistance, so that Ohm's law alone gives each value.
"""

from __future__ import annotations

import pytest
from test_variants import AT_20_C, Sketch
from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.model.results import Results

OUTPUT = {"Tolerance": "0 %", "Delay": "1 ms", "Behaviour": "latch-off", "Limit": "20 A", "Trip": "25 A"}
WIRE = {"Length": "2 m", "Rating": "30 A", "Resistance": "0.1 Ω"}


def drawn(*loads: tuple[str, dict[str, str]], **output: str) -> Results:
    """24 V, a feed and a return of 0.1 Ω each, loads side by side."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", fields={**OUTPUT, **output})
    draw("W1", "wire", "p a", "2.5 mm²", fields=WIRE)
    draw("W2", "wire", "b m", "2.5 mm²", fields=WIRE)
    for name, fields in loads:
        draw(name, "load", "a b", fields=fields)
    return draw.results(AT_20_C)


def test_a_loads_row() -> None:
    """3 A + 24 W: x = I of the second with 24 = x (24 - 0.2 (3 + x)), the lower root."""
    results = drawn(
        ("L1", {"Load": "3 A", "Minimum voltage": "20 V", "Maximum voltage": "30 V"}), ("L2", {"Load": "24 W"})
    )
    x = (23.4 - (23.4**2 - 4 * 0.2 * 24.0) ** 0.5) / 0.4
    volts = 24.0 - 0.2 * (3.0 + x)
    one, two = results.loads
    assert (one.demand, one.minimum_v, one.maximum_v, one.fed_by) == ("3 A", 20.0, 30.0, ("PS1",))
    assert (one.voltage_v, one.voltage_high_v, one.current_a) == (
        pytest.approx(volts),
        pytest.approx(24.0),
        pytest.approx(3.0),
    )
    assert one.power_w == pytest.approx(3.0 * volts) and one.drop_v == pytest.approx(24.0 - volts)
    assert (two.demand, two.minimum_v) == ("24 W", None)
    assert two.current_a == pytest.approx(x) and two.power_w == pytest.approx(24.0)
    amperes = 3.0 + x
    assert [part for part, _ in one.profile] == ["PS1", "W1", "L1", "W2", "PS1"]
    behind = [24.0, 24.0 - 0.1 * amperes, 0.1 * amperes, 0.0, 0.0]
    assert [v for _, v in one.profile] == pytest.approx(behind, abs=1e-9)
    (output,) = results.outputs
    assert (output.current_a, output.utilisation) == (pytest.approx(3.0 + x), pytest.approx((3.0 + x) / 20.0))
    assert output.power_w == pytest.approx(24.0 * (3.0 + x)) and (output.limit_a, output.trip_a) == (20.0, 25.0)
    feed, back = results.conductors
    assert feed.current_a == back.current_a == pytest.approx(3.0 + x)
    assert (feed.drop_v, feed.loss_w) == (pytest.approx(0.1 * (3.0 + x)), pytest.approx(0.1 * (3.0 + x) ** 2))
    assert feed.utilisation == pytest.approx((3.0 + x) / 30.0)


def test_a_load_of_a_resistance_and_one_that_states_nothing() -> None:
    results = drawn(("L1", {"Load": "11.8 Ω"}), ("L2", {}))
    one, two = results.loads
    assert (one.demand, one.current_a) == ("11.8 Ω", pytest.approx(24.0 / 12.0))
    assert one.voltage_v == pytest.approx(23.6)
    assert (two.demand, two.current_a, two.power_w) == ("not stated", None, None)


def test_what_loads_draw_when_they_are_switched_on_or_stand_still() -> None:
    """An inrush of 12 A for 20 ms: 144 · 0.02 A²s; a motor that stalls with 10 A at 24 V has 2.4 Ω, behind 0.2 Ω
    9.23 A for 2 s.
    """
    lamp = {"Load": "2 A", "Inrush": "12 A", "Inrush time": "20 ms"}
    motor = {"Load": "1 A", "Stalled current": "10 A", "Stated at": "24 V", "Stalled time": "2 s"}
    results = drawn(("L1", lamp), ("M1", motor))
    rows = {(row.id, row.kind): row for row in results.starts}
    inrush = rows["L1", "inrush"]
    assert (inrush.current_a, inrush.duration_s, inrush.i2t_a2s) == (12.0, 0.02, pytest.approx(2.88))
    stall = rows["M1", "stall"]
    assert stall.current_a is not None and stall.least_a is not None
    # Alone it takes 24 / 2.6 A; beside it the lamp of 2 A drops 0.4 V on the way.
    assert stall.current_a == pytest.approx(24.0 / 2.6, rel=0.1)
    assert stall.least_a <= 24.0 / 2.6 * (1 + 1e-9) and stall.least_a <= stall.current_a
    assert stall.duration_s == 2.0 and stall.i2t_a2s == pytest.approx(stall.current_a**2 * 2.0)
    assert not stall.cleared_by and stall.opens_slowest_s is None
    assert [row.id for row in results.starts] == ["L1", "M1"]


CONVERTER = {"Voltage": "12 V", "Tolerance": "0 %", "Limit": "10 A", "Trip": "12 A", "Input limit": "8 A"}


def converted(load: str, **fields: str) -> Results:
    """24 V behind 0.2 Ω feeds a converter to 12 V; a load right at it."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", fields=OUTPUT)
    draw("W1", "wire", "p a", "2.5 mm²", fields=WIRE)
    draw("W2", "wire", "b m", "2.5 mm²", fields=WIRE)
    made = {**CONVERTER, **fields}
    draw("DC1", "converter", "a b c n", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=made)
    draw("W3", "wire", "c d", "2.5 mm²", fields={**WIRE, "Resistance": "0 Ω"})
    draw("L1", "load", "d n", fields={"Load": load})
    return draw.results(AT_20_C)


def test_a_converters_row() -> None:
    """48 W at 12 V and 80 % ask 60 W, and 1.5 W without load: V² - 24 V + 0.2 · 61.5 = 0, the upper root."""
    (row,) = converted("4 A", **{"Efficiency": "80 %", "No-load power": "1.5 W"}).converters
    volts = (24.0 + (24.0**2 - 4 * 0.2 * 61.5) ** 0.5) / 2.0
    (there,) = row.cases.values()
    assert (row.isolated, row.input_limit_a, row.no_load_w) == (True, 8.0, 1.5)
    assert there.running and there.input_w == pytest.approx(61.5) and there.output_w == pytest.approx(48.0)
    assert (there.input_v, there.input_a) == (pytest.approx(volts), pytest.approx(61.5 / volts))
    assert (there.efficiency, there.heat_w) == (pytest.approx(0.8), pytest.approx(13.5))
    assert row.utilisation == pytest.approx(61.5 / volts / 8.0)
    assert row.greatest_input_w == pytest.approx(12.0 * 12.0 / 0.8 + 1.5, rel=0.02), "at its trip of 12 A"
    assert row.case in row.cases


def test_the_row_of_a_converter_that_does_not_start() -> None:
    """It needs 30 V and gets 24: it draws nothing at all and gives nothing."""
    (row,) = converted("4 A", **{"Efficiency": "80 %", "Input minimum": "30 V"}).converters
    (there,) = row.cases.values()
    assert not there.running and (there.output_w, there.efficiency) == (0.0, None)
    assert there.heat_w == pytest.approx(there.input_w) and row.input_minimum_v == 30.0


@pytest.mark.parametrize(
    ("return_a", "says"), [(200.0, "1 part is not protected (W1)"), (20.0, "2 parts are not protected (W1, W2)")]
)
def test_an_arrangement_in_words(return_a: float, says: str) -> None:
    """Without its limiter of 8 A an output of 90 A holds 4.5 times the 20 A of a wire."""
    channel = limiter("CH1", "p", "a", 8.0, by_word={"pooled": {"active": False, "trip_a": None}})
    rows = analysed(
        harness(
            output("PS1", "p", "m", 12.0, limit_a=90.0, trip_a=90.0),
            channel,
            wire("W1", "a", "b", ohm=0.01, rated=20.0),
            wire("W2", "r", "m", ohm=0.01, rated=return_a),
            load("L1", "b", "r", 2.0),
        )
    ).arrangements
    words = {row.arrangement: row.narrative for row in rows}
    whole = "Every conductor and contact that could be judged is protected."
    assert words["as drawn"] == f"Nothing opens under load. {whole}"
    assert f"{says}; the worst is W1, on which a fault can hold 90 A, 4.5 times" in words["pooled"]
