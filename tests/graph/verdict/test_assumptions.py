"""What is said of the walls of an enclosure, and of what the settings leave to the reader."""

from __future__ import annotations

import pytest
from test_variants import Sketch

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.settings import Ambient, AnalysisSettings, Case, Enclosure, OwnTableRow

CUBE = "as of a cube of that surface"
BEYOND = "and this one is beyond"
STATED = "as stated"
COEFFICIENT = Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5)


def said(enclosure: Enclosure, heat_w: float) -> str:
    """What is assumed of a zone in which a load turns a power to heat."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="90 A", Trip="99 A")
    draw("W1", "wire", "p a", "2.5 mm²", Length="1 m", Rating="90 A")
    draw("W2", "wire", "b m", "2.5 mm²", Length="1 m", Rating="90 A")
    draw("L1", "load", "a b", fields={"Load": f"{heat_w:g} W", "Zone": "box"})
    settings = AnalysisSettings(zones={"box": Ambient(0.0, 20.0)}, enclosures={"box": enclosure})
    (sentence,) = (words for words in draw.results(settings).assumptions if words.startswith("Zone box is"))
    return sentence


@pytest.mark.parametrize(
    ("enclosure", "heat_w", "told", "not_told"),
    [
        (Enclosure(surface_m2=1.0), 30.0, [CUBE], [BEYOND, STATED]),
        (Enclosure(size_m=(0.4, 0.4, 0.4)), 30.0, ["face by face;"], [CUBE, BEYOND]),
        (Enclosure(size_m=(0.4, 0.4, 9.0)), 30.0, ["face by face;", BEYOND], [CUBE]),
        (Enclosure(surface_m2=200.0), 30.0, [CUBE, BEYOND], []),
        (Enclosure(surface_m2=0.15), 90.0, [CUBE, BEYOND], []),
        (
            Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5),
            30.0,
            [STATED, "5.5 W/(m²K)"],
            [CUBE, BEYOND],
        ),
        (Enclosure(air_flow_m3_per_s=0.01), 30.0, ["are made in it"], ["walls", CUBE, STATED, BEYOND]),
    ],
)
def test_what_is_said_of_the_walls(
    enclosure: Enclosure, heat_w: float, told: list[str], not_told: list[str]
) -> None:
    sentence = said(enclosure, heat_w)
    assert all(words in sentence for words in told), sentence
    assert not any(words in sentence for words in not_told), sentence


def test_the_balance_can_be_recomputed_from_the_sentence() -> None:
    """55 W over 1 m² · 5.5 W/(m²K) are 10 K above 20 °C."""
    sentence = said(Enclosure(surface_m2=1.0, surface_coefficient_w_per_m2k=5.5), 55.0)
    assert sentence.startswith(
        "Zone box is 30 °C inside at most: 55 W are made in it (55 W by loads), 5.5 W/K carry"
    )
    assert "them off to 20 °C outside" in sentence


def unprotected() -> Sketch:
    """25 A can be held on a wire of 8 A in an otherwise plain loop with the chassis at the plus side."""
    draw = Sketch()
    draw("PS1", "output", "g n", "12 V", Limit="20 A", Trip="25 A", Delay="1 ms", Resistance="10 mΩ")
    draw("W1", "wire", "n ln", "0.75 mm²", Length="1 m", Rating="8 A", Insulation="PVC 70 °C")
    draw("W2", "wire", "g lg", "2.5 mm²", Length="1 m", Insulation="PVC 70 °C")
    draw("L1", "load", "lg ln", Load="3 A")
    draw("CH1", "chassis", "g")
    return draw


def test_severities_that_the_settings_lower_are_told() -> None:
    """A verdict that passes by the settings alone says so; one raised is no matter."""
    settings = AnalysisSettings(severity={"path-unprotected": Severity.NOTE, "dead-end": Severity.ERROR})
    results = unprotected().results(settings)
    assert "Findings of path-unprotected count as note, not as error, by the settings." in results.assumptions
    assert results.verdict is not Verdict.FAIL and not any("dead-end" in words for words in results.assumptions)


@pytest.mark.parametrize("altitude_m", [0.0, 3000.0])
def test_what_has_no_factor_for_altitude_is_told(altitude_m: float) -> None:
    """A wire's own rating and a row of the user's table hold as they stand; thinner air is the user's to judge."""
    rows = (OwnTableRow("mm²", "2.5", 20.0, 70.0, 40.0, ""),)
    results = unprotected().results(AnalysisSettings(basis="own-table", own_table=rows, altitude_m=altitude_m))
    assert {c.id: c.allowed_a for c in results.conductors} == {"W1": 8.0, "W2": 20.0}
    words = (
        "W1: allowed currents that are stated",
        "W2: your table's value is taken to hold at 3000 m above the sea",
    )
    for word in words:
        assert any(said.startswith(word) for said in results.assumptions) is (altitude_m > 0.0)


def test_a_chassis_at_the_plus_side_is_not_said_to_float() -> None:
    """W1, the return, pinched against the chassis takes 25 A: the chassis is the other pole, not nothing."""
    results = unprotected().results()
    (said,) = (f.message for f in results.findings if f.rule == "chassis-floating")
    assert "bonded to the plus side of PS1" in said and "goes unseen" not in said
    assert {c.id: c.sustained_fault_a for c in results.conductors}["W1"] == pytest.approx(25.0)


@pytest.mark.parametrize(
    ("cases", "left"),
    [
        (None, None),
        ((Case("a", None, None), Case("b", "slew", "pooled")), None),
        ((Case("a", None, None),), "state slew and arrangement pooled"),
        ((Case("b", "slew", "pooled"),), "the state nominal and the arrangement as drawn"),
    ],
)
def test_what_the_load_cases_leave_out_is_told(cases: tuple[Case, ...] | None, left: str | None) -> None:
    """A state in which a load draws ten times as much, and an arrangement without protection, are told."""
    draw = unprotected()
    draw("L2", "load", "lg ln", fields={"Load": "0.1 A", "Load@slew": "1 A"})
    draw("CH2", "limiter", "g lg", "2 A", fields={"Trip@pooled": "none"})
    told = [
        words for words in draw.results(AnalysisSettings(cases=cases)).assumptions if words.startswith("Drawn, but")
    ]
    wanted = f"Drawn, but in no load case, so that nothing is judged in them: {left}, by the settings."
    assert told == ([wanted] if left is not None else [])
