"""Sustained fault currents where the voltages of joined outputs have a band: by hand (Ohm and Kirchhoff).

Two outputs both give all that they let through where each stands above the joint by its own limit times its lead's
resistance. If the bands allow that difference, a fault behind the joint holds the sum of both.
"""

from __future__ import annotations

import pytest
from test_variants import Sketch

from loadloom.graph.model.settings import AnalysisSettings

SETTINGS = AnalysisSettings(basis_stated=True)
WIRE = {"Length": "1 m", "Rating": "60 A", "Resistance": "5 mΩ", "Insulation": "PVC 70 °C"}


def behind_the_joint(*outputs: dict[str, str], diodes: bool = True) -> dict[str, float]:
    """Sustained fault currents in A by wire: W1 is fed by all outputs, P1, P2, … by one each without diodes."""
    draw = Sketch()
    for k, fields in enumerate(outputs, start=1):
        draw(f"PS{k}", "output", f"p{k} m", fields={"Delay": "1 ms", **fields})
        if diodes:
            fields = {"Forward drop": "0.4 V", "Rating": "80 A", "Resistance": "2 mΩ"}
            draw(f"D{k}", "diode", f"p{k} q", pins="1:A 2:K", fields=fields)
        else:
            draw(f"P{k}", "wire", f"p{k} q", "10 mm²", **WIRE)
    draw("W1", "wire", "q a", "10 mm²", **WIRE)
    draw("L1", "load", "a b", "2 A")
    draw("W2", "wire", "b m", "10 mm²", **WIRE)
    rows = draw.results(SETTINGS).conductors
    return {row.id: row.sustained_fault_a for row in rows if row.sustained_fault_a is not None}


def of(volts: str, trip_a: float, milliohm: float, tolerance: str | None = "5 %", **more: str) -> dict[str, str]:
    fields = {"Voltage": volts, "Limit": f"{trip_a - 1} A", "Trip": f"{trip_a} A", "Resistance": f"{milliohm} mΩ"}
    return fields | ({"Tolerance": tolerance} if tolerance else {}) | more


@pytest.mark.parametrize("diodes", [True, False])
@pytest.mark.parametrize(
    ("outputs", "most_a"),
    [
        # 10 A over 5 and 100 mΩ: the second 0.95 V above the first, and the bands are ±1.2 V
        ((of("24 V", 10, 5), of("24 V", 10, 100)), 20.0),
        # set 0.6 V apart
        ((of("24 V", 10, 5), of("24.6 V", 10, 5)), 20.0),
        # 25 A over 20 mΩ and 10 A over 5 mΩ, set 1 V apart
        ((of("24 V", 25, 20), of("25 V", 10, 5)), 35.0),
        # 25.2 V at most and 28.5 V at least: one alone
        ((of("24 V", 10, 5), of("30 V", 10, 5)), 10.0),
        # the two that come together; the third is blocked, or has opened
        ((of("24 V", 10, 5), of("24.6 V", 10, 5), of("30 V", 10, 5)), 20.0),
        # a battery from empty to full, and a charger that holds 10.5 A
        (
            (
                of("22…28.8 V", 40, 8, None),
                of("28.4 V", 10.5, 5, None, Behaviour="constant-current"),
            ),
            50.5,
        ),
    ],
)
def test_joined_outputs_give_together_what_their_bands_allow(
    outputs: tuple[dict[str, str], ...], most_a: float, diodes: bool
) -> None:
    assert behind_the_joint(*outputs, diodes=diodes)["W1"] == pytest.approx(most_a, rel=1e-5)


def test_exact_voltages_share_by_their_leads_alone() -> None:
    """24 V over 5 + 2 mΩ and 100 + 2 mΩ: 10 A in the first are 0.07 V, which drive 0.686 A through the second."""
    exact = of("24 V", 10, 5, None), of("24 V", 10, 100, None)
    assert behind_the_joint(*exact)["W1"] == pytest.approx(10.0 + 0.07 / 0.102, rel=1e-5)


def test_no_high_end_is_told_that_other_voltages_would_break() -> None:
    """Limits of 10 A and leads of 50 mΩ before a wire of 25 A: 15 A for one of them is the most, 10 A beside it.

    At the voltages of 10 A each, which are equal, 17.3 A would pass.
    """
    draw = Sketch()
    for k in (1, 2):
        draw(f"PS{k}", "output", f"p{k} m", fields=of("24 V", 70, 50, Delay="5 ms"))
        draw(f"Q{k}", "limiter", f"p{k} c{k}", "10 A", Delay="1 ms", Resistance="1 mΩ")
        fields = {"Forward drop": "0.4 V", "Rating": "80 A", "Resistance": "2 mΩ"}
        draw(f"D{k}", "diode", f"c{k} q", pins="1:A 2:K", fields=fields)
    draw("W1", "wire", "q a", "10 mm²", **{**WIRE, "Rating": "25 A"})
    draw("L1", "load", "a b", "5 A")
    draw("W2", "wire", "b m", "10 mm²", **{**WIRE, "Rating": "25 A"})
    rows = {row.id: row for row in draw.results(SETTINGS).devices}
    for name in ("Q1", "Q2"):
        assert rows[name].setting_high_a is None
        assert "joined outputs" in rows[name].setting_range_note


def test_a_lead_takes_back_what_the_others_give() -> None:
    """12 V without a diode beside 24 V and 24.6 V: a fault near to it draws both through its lead, 10 A each."""
    outputs = of("24 V", 10, 5), of("24.6 V", 10, 5), of("12 V", 10, 5)
    assert behind_the_joint(*outputs, diodes=False)["P3"] == pytest.approx(20.0, rel=1e-4)
