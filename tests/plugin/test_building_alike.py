"""Names that a slip of the hand made two of; common practice, no published source."""

import pytest
from drawings import build, symbol

from loadloom.graph.model.findings import Finding
from loadloom.plugin.building.alike import one_slip_apart


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("storm", "stom"),
        ("stomr", "storm"),
        ("pooled", "poled"),
        ("Winter", "wimter"),
        ("Mast", "Mst"),
        ("B1", "b1"),
    ],
)
def test_one_slip(one: str, other: str) -> None:
    assert one_slip_apart(one, other) and one_slip_apart(other, one)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("storm", "storm"),
        ("pier A", "pier B"),
        ("trunk_/Pier A/", "trunk_/Pier B/"),
        ("slew1", "slew2"),
        ("slew", "slew 2"),
        ("day", "dry"),
        ("idle", "slew"),
        ("heat", "seat"),
    ],
)
def test_names_that_are_meant_as_two(one: str, other: str) -> None:
    assert not one_slip_apart(one, other)


def alike(**fields: dict[str, str]) -> list[Finding]:
    """What is said of two loads and a limiter with these fields besides what they need."""
    symbols = [
        symbol("LD1", "load", fields={"Load": "1 A", **fields.get("LD1", {})}),
        symbol("LD2", "load", fields={"Load": "1 A", **fields.get("LD2", {})}),
        symbol("CH1", "limiter", fields={"Trip": "5 A", **fields.get("CH1", {})}),
    ]
    return [f for f in build(symbols, []).findings if f.rule == "words-alike"]


def test_a_misspelt_state_is_told_with_who_uses_which() -> None:
    (found,) = alike(LD1={"Load@storm": "2 A"}, LD2={"Load@stom": "2 A"})
    assert "“stom” (LD2)" in found.message and "“storm” (LD1)" in found.message
    assert alike(LD1={"Load@storm": "2 A"}, LD2={"Load@Storm": "2 A"}) == []


def test_a_word_on_a_load_and_on_another_part_is_told() -> None:
    (found,) = alike(LD1={"Load@storm": "2 A"}, CH1={"Trip@storm": "6 A"})
    assert found.subject.id == "CH1" and "only a load names a state" in found.message
    assert alike(LD1={"Load@storm": "2 A"}, CH1={"Trip@pooled": "none"}) == []
