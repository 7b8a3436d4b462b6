"""Outputs of other voltages on one joint without any resistance: no current satisfies them (Kirchhoff).

That such a drawing is an error, and stays open where it is accepted, is tested with the rules.
"""

from __future__ import annotations

import pytest
from test_variants import Sketch

from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings

SETTINGS = AnalysisSettings(basis_stated=True)
WIRE = {"Length": "1 m", "Rating": "60 A", "Resistance": "2…10 mΩ", "Insulation": "PVC 70 °C"}
SAID = "PS1 and PS2 feed copper in which outputs of other voltages are joined through 0 Ω"


def joined(other: str, resistance: str = "0 Ω") -> Results:
    """12 V and another output on a joint that a breaker and two wires with a band hang on."""
    draw = Sketch()
    for k, volts in enumerate(("12 V", other), start=1):
        fields = {"Voltage": volts, "Limit": "10 A", "Trip": "12 A", "Delay": "1 ms", "Resistance": resistance}
        draw(f"PS{k}", "output", "p m", fields={**fields, "Tolerance": "0 %"})
    draw("CB1", "breaker", "p q", fields={"Rating": "20 A", "Resistance": "1…2 mΩ"})
    draw("W1", "wire", "q a", "10 mm²", **WIRE)
    draw("W3", "wire", "q a", "10 mm²", **WIRE)
    draw("L1", "load", "a b", "2 A")
    draw("W2", "wire", "b m", "10 mm²", **WIRE)
    return draw.results(SETTINGS)


@pytest.mark.parametrize("other", ["5 V", "12.1 V"])
def test_what_rests_on_placeholders_is_said_and_has_no_range(other: str) -> None:
    results = joined(other)
    assert "outputs-conflict" in {finding.rule for finding in results.findings}
    assert any(sentence.startswith(SAID) for sentence in results.assumptions)
    breaker = next(row for row in results.devices if row.id == "CB1")
    assert breaker.setting_high_a is None
    assert "outputs of other voltages are joined through 0 Ω" in breaker.setting_range_note


@pytest.mark.parametrize(("other", "resistance"), [("12 V", "0 Ω"), ("5 V", "5 mΩ")])
def test_nothing_is_said_where_currents_are_known(other: str, resistance: str) -> None:
    assert not any(SAID in sentence for sentence in joined(other, resistance).assumptions)
