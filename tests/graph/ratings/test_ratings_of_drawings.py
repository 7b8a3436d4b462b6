"""From what is drawn to the allowed current and the verdict: fields as people write them, through the whole
analysis."""

import pytest
from drawings import build, net, symbol
from wired import analysed

from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import Ambient, AnalysisSettings


def rated(gauge: str, basis: str, max_c: float, amperes: float, **fields: str) -> Results:
    """A 24 V output with a trip of its own, a load, and a wire there and back that state these fields."""
    wires = [symbol(name, "wire", Gauge=gauge, Length="1 m", **fields) for name in ("W1", "W2")]
    trip = f"{1.2 * amperes:g} A"
    unit = {
        "Voltage": "24 V",
        "Limit": trip,
        "Trip": trip,
        "Delay": "1 ms",
        "Resistance": "100 mΩ",
        "Tolerance": "0 %",
    }
    parts = [
        symbol("PS1", "output", **unit),
        symbol("LD1", "load", Load=f"{amperes:g} A"),
        *wires,
    ]
    nets = [net("PS1.1 W1.1"), net("W1.2 LD1.1"), net("LD1.2 W2.1"), net("W2.2 PS1.2")]
    settings = AnalysisSettings(basis=basis, default_ambient=Ambient(20.0, max_c))
    return analysed(build(parts, nets), settings)


def allowed(results: Results) -> float | None:
    first, second = (row.allowed_a for row in results.conductors)
    assert first == second
    return first


def rules(results: Results) -> set[str]:
    return {finding.rule for finding in results.findings}


@pytest.mark.parametrize(
    "text",
    ["PVC 300 V", "PVC 1000 V", "PVC 300/500 V", "PVC 105 V", "PVC 90 mm²", "PVC 200 A", "PVC 105 AWG", "PVC"],
)
def test_no_voltage_size_or_current_makes_pvc_any_hotter(text: str) -> None:
    # 33 CFR 183.425 table 5, 18 AWG in the column of 60 °C: 10 A; √((60 − 50)/(60 − 30)) in engine spaces.
    results = rated("18 AWG", "vehicle", 40.0, 14.0, Insulation=text)
    assert allowed(results) == pytest.approx(10.0 * (10 / 30) ** 0.5)
    assert {"wire-overload", "return-overload"} <= rules(results)


@pytest.mark.parametrize("text", ["PVC 300", "PVC 300 °C", "PVC 150 °C", "PVC 70 °C 105 °C", "105", "felt", ""])
def test_a_class_that_nobody_knows_never_passes(text: str) -> None:
    results = rated("18 AWG", "vehicle", 40.0, 0.1, Insulation=text)
    assert results.verdict.value == "incomplete"
    assert "insulation-unknown" in rules(results)
    assert text == "" or allowed(results) is None


def test_terminals_nobody_states_are_60_degrees() -> None:
    # NEC 310.16, 8 AWG: 40 A at 60 °C, 50 A at 75 °C, 55 A at 90 °C (110.14(C)(1), value from memory).
    def at(**fields: str) -> float | None:
        return allowed(rated("8 AWG", "building-nec", 30.0, 30.0, Insulation="90 °C", **fields))

    assert at() == 40.0
    assert at(Terminal="75 °C") == 50.0
    assert at(Terminal="167 °F") == 50.0
    assert at(Terminal="90 °C") == 55.0
    assert at(Terminal="75") == 40.0  # no unit: a finding, and the default
    assert "field-unreadable" in rules(rated("8 AWG", "building-nec", 30.0, 1.0, Insulation="90 °C", Terminal="75"))


def test_thin_wire_and_a_thin_pair_stay_within_the_published_rows() -> None:
    # VDE 0891-1 (1990-05), PVC at 30 °C, the lower of two copies: 0.05 mm² 1 A in a cable, 2 A alone; 0.25 mm² 4 A.
    thin = allowed(rated("30 AWG", "general-equipment", 40.0, 0.1, Insulation="105 °C"))
    assert thin is not None
    assert 0.6 * 2.0 * 0.87 <= thin <= 1.2
    pair = rated("0.25 mm²", "general-equipment", 30.0, 5.0, Insulation="PVC 70 °C", Bundle="K1")
    assert allowed(pair) == pytest.approx(4.0)
    assert "wire-overload" in rules(pair)


def test_other_metal_never_passes() -> None:
    results = rated("4 mm²", "general-equipment", 30.0, 0.1, Insulation="PVC 70 °C", Material="aluminium")
    assert results.verdict.value == "incomplete"
    assert allowed(results) is None
    copper = rated("4 mm²", "general-equipment", 30.0, 0.1, Insulation="PVC 70 °C", Material="tinned copper")
    assert copper.verdict.value == "pass"


def test_a_layout_counts_where_the_method_has_a_factor() -> None:
    # IEC 60204-1 table 6 (E), 1.5 mm² 16.1 A at 40 °C; B.52.17: one circuit of two conductors has no reduction, and
    # the method in conduit (B2, 13.1 A) has bunched factors only.
    open_tray = {"Insulation": "PVC 70 °C", "Bundle": "B", "Layout": "tray"}
    assert allowed(rated("1.5 mm²", "general-equipment-open", 40.0, 1.0, **open_tray)) == 16.1
    in_conduit = rated("1.5 mm²", "general-equipment", 40.0, 1.0, **open_tray)
    assert allowed(in_conduit) == 13.1
    assert any("Layout tray has no grouping factor" in line for line in in_conduit.assumptions)
