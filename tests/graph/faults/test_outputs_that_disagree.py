"""Outputs of other voltages on one joint without any resistance: no current satisfies them (Kirchhoff).

That such a drawing is an error, and stays open where it is accepted, is tested with the rules.
"""

from __future__ import annotations

import pytest
from test_variants import Sketch

from loadloom.graph.model.findings import Verdict
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


@pytest.mark.parametrize("tolerances", [("1 %", "2 %"), ("1 %", "1 %")])
@pytest.mark.parametrize(("resistance", "told"), [("0 Ω", True), ("1 mΩ", False)])
def test_outputs_that_disagree_within_their_tolerances_alone_pass_nothing(
    tolerances: tuple[str, str], resistance: str, told: bool
) -> None:
    """Two outputs of 12 V on one joint, each of which holds up to its trip of 200 A: at equal voltages a fault
    takes 400 A of both through W1, which may carry 300 A. With ± 1 % and ± 2 % and 0 Ω, 200 A were told and passed.
    """
    draw = Sketch()
    for k, tolerance in enumerate(tolerances, start=1):
        fields = {"Voltage": "12 V", "Limit": "190 A", "Trip": "200 A", "Delay": "1 ms", "Tolerance": tolerance}
        draw(f"PS{k}", "output", "p m", fields={**fields, "Resistance": resistance})
    thick = {"Length": "0.2 m", "Rating": "300 A", "Insulation": "PVC 70 °C"}
    draw("W1", "wire", "p a", "95 mm²", **thick)
    draw("L1", "load", "a b", "2 A")
    draw("W2", "wire", "b m", "95 mm²", **thick)
    results = draw.results(SETTINGS)
    found = {finding.subject.id for finding in results.findings if finding.rule == "outputs-conflict"}
    assert found == ({"PS1", "PS2"} if told else set())
    assert results.verdict is Verdict.FAIL
    if not told:  # at 1 mΩ each the highest voltages lie 0.12 V apart at the most, and a fault draws 200 A of each
        w1 = next(row for row in results.conductors if row.id == "W1")
        assert w1.sustained_fault_a == pytest.approx(400.0, rel=1e-6)


def test_diodes_of_no_stated_drop_may_block_as_well() -> None:
    """Outputs of 12 V and 12.2 V, each ± 1 %, behind a diode each, that hold up to their trip of 12 A. Within their
    tolerances they may be equal (12.12 V), and a fault takes 24 A of both: 12 A were told, as
    if voltages disagreed through the diodes.
    """
    draw = Sketch()
    for k, volts in enumerate(("12 V", "12.2 V"), start=1):
        fields = {"Voltage": volts, "Limit": "10 A", "Trip": "12 A", "Delay": "1 ms", "Tolerance": "1 %"}
        draw(f"PS{k}", "output", f"o{k} m", fields={**fields, "Resistance": "0 Ω"})
        draw(f"D{k}", "diode", f"o{k} p", pins="1:A 2:K", fields={"Rating": "20 A"})
    draw("W1", "wire", "p a", "10 mm²", Length="0.2 m", Insulation="PVC 70 °C")
    draw("L1", "load", "a b", "2 A")
    draw("W2", "wire", "b m", "10 mm²", Length="0.2 m", Insulation="PVC 70 °C")
    results = draw.results(SETTINGS)
    assert not any(SAID in sentence for sentence in results.assumptions)
    w1 = next(row for row in results.conductors if row.id == "W1")
    assert w1.sustained_fault_a == pytest.approx(24.0, rel=1e-6)
