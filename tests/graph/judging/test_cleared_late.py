"""A slow device clears a short circuit only after the 5 s of IEC 60364-4-43 434.5.2 (from memory): a finding."""

import pytest
from wired import found, fuse, harness, limiter, load, output, wire


def behind(acting, rated: float, insulation: str | None = "PVC 70 °C"):
    wires = {"mm2": 2.5, "length_m": 2.0, "insulation": insulation, "rated": rated}
    return harness(
        output("BT1", "p", "m", 24.0, limit_a=200.0, never_trips=True, resistance_ohm=0.2),
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


def test_by_the_gate_of_a_fuse() -> None:
    """UL 248-14: at twice the rating within 120 s. 24 V behind 0.2 Ω are 120 A, ten times 12 A."""
    (got,) = found("cleared-late", behind(fuse("F1", "p", "a", 10.0, "UL 248-14"), 12.0))
    assert got.value == 120.0 and "10 times" in got.message


def test_not_where_the_part_is_allowed_that_current() -> None:
    assert found("cleared-late", behind(limiter("Q1", "p", "a", 10.0, delay_s=60.0), 121.0)) == []
