"""A slow device clears a short circuit only after the 5 s of IEC 60364-4-43 434.5.2 (from memory): a finding."""

import pytest
from wired import found, fuse, harness, limiter, load, output, wire


def behind(acting, rated: float, insulation: str | None = "PVC 70 °C", ohm: float = 0.2):
    wires = {"mm2": 2.5, "length_m": 2.0, "insulation": insulation, "rated": rated}
    return harness(
        output("BT1", "p", "m", 24.0, limit_a=200.0, never_trips=True, resistance_ohm=ohm),
        acting,
        wire("W1", "a", "d", **wires),
        wire("R1", "e", "m", **wires),
        load("L1", "d", "e", 3.0),
    )


@pytest.mark.parametrize(("delay_s", "damaged"), [(0.01, False), (4.9, False), (5.1, False), (60.0, True)])
def test_by_the_delay_of_a_limiter_the_temperature_is_known(delay_s: float, damaged: bool) -> None:
    """117 A through 2.5 mm² of 12 A in PVC: 115·2.5/√5 = 129 A for 5 s, far less for 60 s."""
    drawn = behind(limiter("Q1", "p", "a", 10.0, delay_s=delay_s), 12.0)
    assert found("cleared-late", drawn) == []
    assert bool(found("damage-before-clearing", drawn)) is damaged


def test_by_the_delay_of_a_limiter_where_the_insulation_is_not_known() -> None:
    drawn = behind(limiter("Q1", "p", "a", 10.0, delay_s=60.0), 12.0, insulation=None)
    (got,) = found("cleared-late", drawn)
    assert (got.subject.id, got.value) == ("Q1", 60.0)


@pytest.mark.parametrize(("rating_a", "determined"), [(5.0, True), (10.0, True), (13.0, True), (13.3, False)])
def test_by_the_gate_of_a_fuse_its_heat_is_bounded(rating_a: float, determined: bool) -> None:
    """UL 248-14: at twice the rating within 120 s, so (2·10)²·120 = 48 kA²s at any greater current. 2.5 mm² in PVC
    withstands (115·2.5)² = 82.7 kA²s, that of 13.1 A. Some 500 A are cleared within 120·(2·13.1/500)² = 0.3 s."""
    drawn = behind(fuse("F1", "p", "a", rating_a, "UL 248-14", breaking_capacity_a=10e3), 18.0, ohm=0.02)
    assert found("cleared-late", drawn) == found("damage-before-clearing", drawn) == []
    assert bool(found("device-not-determined", drawn)) is not determined


def test_not_where_the_part_is_allowed_that_current() -> None:
    assert found("cleared-late", behind(limiter("Q1", "p", "a", 10.0, delay_s=60.0), 121.0)) == []
