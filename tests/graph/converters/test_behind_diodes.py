"""A converter behind outputs that share through diodes: one of them may have to give all of its input."""

import numpy as np
from test_variants import Sketch

from loadloom.graph.model.settings import AnalysisSettings

RHO = 0.017241
"""Annealed copper at 20 °C, Ω·mm²/m (IEC 60028)."""


def one_output_a(own_v: float, other_v: float, power_w: float) -> float:
    """What one of two outputs of 20 mΩ gives through 0.5 V, 1 mΩ and 3 m of 2.5 mm² into a constant power.

    By a fixed point on the voltage of the bus that both feed; a diode that would carry backwards carries nothing.
    """
    ohm = 0.021 + RHO * 3.0 / 2.5
    low, high = 1.0, max(own_v, other_v)
    for _ in range(80):
        bus_v = (low + high) / 2.0
        given_a = sum(max(0.0, (v - 0.5 - bus_v) / ohm) for v in (own_v, other_v))
        low, high = (bus_v, high) if given_a > power_w / bus_v else (low, bus_v)
    return max(0.0, (own_v - 0.5 - bus_v) / ohm)


def test_one_output_may_give_all_of_the_input_at_a_voltage_between_the_ends() -> None:
    draw = Sketch()
    for k in (0, 1):
        unit = {"Limit": "60 A", "Trip": "66 A", "Delay": "1 ms", "Tolerance": "5 %", "Resistance": "20 mΩ"}
        draw(f"PS{k}", "output", f"p{k} m", "24 V", fields=unit)
        diode = {"Forward drop": "0.5 V", "Rating": "80 A", "Resistance": "1 mΩ"}
        draw(f"D{k}", "diode", f"q{k} p{k}", pins="1:K 2:A", fields=diode)
        draw(f"W{k}", "wire", f"q{k} bus", "2.5 mm²", Length="3 m", Rating="40 A")
    made = {"Voltage": "12 V", "Limit": "20 A", "Trip": "22 A", "Delay": "1 ms", "Efficiency": "90 %"}
    made |= {"No-load power": "0 W", "Input minimum": "9 V", "Input maximum": "36 V"}
    draw("DC1", "converter", "bus m o g", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=made)
    draw("L1", "load", "o g", Load="8 A")
    found = draw.results(AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper"))
    most_a = max(one_output_a(v, 22.8, 12.0 * 8.0 / 0.9) for v in np.linspace(22.8, 25.2, 97).tolist())
    (row,) = [row for row in found.conductors if row.id == "W0"]
    assert row.current_a is not None
    assert most_a <= row.current_a * 1.001
    assert row.current_a <= 1.03 * most_a
    assert row.is_bound
