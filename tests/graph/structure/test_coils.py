"""Contactors whose coils hang on their own contacts: by hand, in the order in which contacts close."""

from __future__ import annotations

import pytest
from test_variants import Sketch, found

from loadloom.graph.model.settings import AnalysisSettings

SETTINGS = AnalysisSettings(basis_stated=True)
POLE = {
    "Rating": "20 A",
    "Breaking capacity": "2 kA",
    "Coil": "100 mA",
    "Coil minimum": "16 V",
    "Resistance": "2 mΩ",
}
WIRE = {"Length": "1 m", "Rating": "20 A", "Resistance": "12 mΩ", "Insulation": "PVC 70 °C"}


def never_fed(*contactors: str, button: str | None = None, converter: str | None = None) -> set[str]:
    """The contactors that can't pull in: each is given as the nets of its contact and of its coil's plus."""
    draw = Sketch()
    draw("PS1", "output", "p m", "24 V", Limit="10 A", Trip="12 A", Delay="10 ms", Resistance="20 mΩ")
    draw("W1", "wire", "p a", "1.5 mm²", **WIRE)
    draw("W2", "wire", "z m", "1.5 mm²", **WIRE)
    for k, nets in enumerate(contactors, start=1):
        draw(f"K{k}", "contactor", f"{nets} z", pins="1 2 A1 A2", fields=POLE)
    if button is not None:
        draw("S1", "switch", button, pins="1 2", Rating="20 A", State="open")
    if converter is not None:
        fields = {"Voltage": "24 V", "Limit": "2 A", "Trip": "3 A", "Efficiency": "90 %", "Delay": "1 ms"}
        draw("DC1", "converter", converter, pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=fields)
    draw("L1", "load", "b z", "3 A")
    return {name.removesuffix(".COIL") for name in found(draw.results(SETTINGS), "coil-never-fed")}


@pytest.mark.parametrize(
    ("contactors", "button", "never"),
    [
        (("a b a",), None, set()),  # before its own contact
        (("a b b",), None, {"K1"}),  # behind it
        (("a b b",), "a b", set()),  # with a start button beside it
        (("a b c", "a c b"), None, {"K1", "K2"}),  # each behind the other
        (("a b c", "a c a"), None, set()),  # K2 first, then K1
        (("a b b", "a c a"), None, {"K1"}),
        (("a b d", "a c a", "c d c"), None, set()),  # one after the other
    ],
)
def test_a_contactor_pulls_in_once_its_coil_has_a_path(
    contactors: tuple[str, ...], button: str | None, never: set[str]
) -> None:
    assert never_fed(*contactors, button=button) == never


def test_a_converter_runs_only_once_it_is_fed() -> None:
    """The coil hangs on a converter that the contact itself feeds; then on one before the contact."""
    assert never_fed("a b v", converter="b z v z") == {"K1"}
    assert never_fed("a b v", converter="a z v z") == set()
