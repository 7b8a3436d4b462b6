"""What is said of the walls of an enclosure: how they were found, and for which boxes that is meant."""

from __future__ import annotations

import pytest
from test_variants import Sketch

from loadloom.graph.model.settings import Ambient, AnalysisSettings, Enclosure

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
