"""The cover note of the flawed dome and of the flawed cart: each question has its one answer, from the rows."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from loadloom.graph.model.figures import figures, floored, raised
from loadloom.graph.model.results import Results
from loadloom.reports.cover_note import EACH_TOLD, SETTINGS, WIRE_TO_ORDER, CoverLine, cover_note
from loadloom.reports.order_list import OrderList
from loadloom.reports.setting_words import setting_lines


@pytest.fixture
def flawed_cart(demo_results: Callable[[str], Results]) -> Results:
    return demo_results("cart_flawed")


@pytest.fixture
def flawed_dome(demo_results: Callable[[str], Results]) -> Results:
    return demo_results("flawed")


def lines(results: Results, order: OrderList | None = None) -> dict[str, CoverLine]:
    return {line.head: line for line in cover_note(results, order)}


def test_the_worst_part_is_the_one_furthest_over(flawed_cart: Results) -> None:
    row = max(
        (r for r in flawed_cart.conductors if r.protected is False),
        key=lambda r: (r.sustained_fault_a or 0.0) / (r.allowed_a or 1.0),
    )
    share = (row.sustained_fault_a or 0.0) / (row.allowed_a or 1.0)
    (said,) = lines(flawed_cart)["Worst part"].texts
    assert said.startswith(f"{row.id}, ")
    assert said.endswith(f"a fault can hold {figures(share)} times its allowed current on it.")


def test_each_fuse_is_told_with_its_range(flawed_cart: Results) -> None:
    line = lines(flawed_cart)["Settings"]
    fuses = [row for row in flawed_cart.devices if row.kind == "fuse"]
    assert 0 < len(fuses) <= EACH_TOLD and line.to == SETTINGS
    assert [text.split(" ")[0] for text in line.texts] == [row.id for row in fuses]
    for row, text in zip(fuses, line.texts, strict=True):
        assert f"({figures(row.setting_a or 0.0)} A)" in text
        if row.setting_low_a is not None and row.setting_high_a is not None:
            assert (
                f"may be {figures(raised(row.setting_low_a))} to {figures(floored(row.setting_high_a))} A" in text
            )


def test_a_channel_without_a_range_tells_both_ends(flawed_dome: Results) -> None:
    told = {text.split(" ")[0]: text for text in lines(flawed_dome)["Settings"].texts}
    row = next(row for row in flawed_dome.devices if row.id == "CH2")
    assert (
        row.setting_low_a is not None and row.setting_high_a is not None and row.setting_low_a > row.setting_high_a
    )
    assert f"at least {figures(raised(row.setting_low_a))} A to carry the load" in told["CH2"]
    assert f"at most {figures(floored(row.setting_high_a))} A to protect {row.setting_high_by}" in told["CH2"]


def test_many_channels_are_told_by_where_they_stand(flawed_dome: Results, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("loadloom.reports.cover_note.EACH_TOLD", 2)
    (said,) = lines(flawed_dome)["Settings"].texts
    channels = [line.id for line in setting_lines(flawed_dome) if line.kind == "limiter"]
    assert len(channels) > 2 and all(name in said or " to " in said for name in channels)
    assert "no setting both carries the load and protects what is behind" in said


def test_without_an_order_list_nothing_is_said_of_wire(flawed_cart: Results) -> None:
    assert all(line.to != WIRE_TO_ORDER for line in cover_note(flawed_cart))


def test_a_part_that_is_as_badly_off_is_named_beside_the_worst(flawed_dome: Results) -> None:
    """W3 and W4 are feed and return of one load through one channel that is off: 110 A on both, of 6.04 A."""
    (said,) = lines(flawed_dome)["Worst part"].texts
    assert said.startswith("W3, ") and said.endswith(" on it. The same holds for W4.")


def test_one_step_tells_both_the_fault_and_the_short_circuit_that_it_answers(flawed_dome: Results) -> None:
    note = lines(flawed_dome)
    (why,), (do,) = note["Why"].texts, note["What to change"].texts
    assert "CH4 before it is not active" in why and "In a short circuit PS1 takes up to 0.5 s to open" in why
    assert do.startswith("Make CH4 active")


def test_an_upper_end_that_is_not_known_is_told_with_what_a_part_asks(flawed_cart: Results) -> None:
    """W11 is allowed 24.8 A: a fuse FU4 is certain to carry its rating, so that 24.8 A is the most for W11."""
    told = {line.id: line.range for line in setting_lines(flawed_cart)}
    assert told["FU4"] == "from 10.5 A, at most 24.8 A for W11; the upper end for all is not determined"
    assert {line.id: line.stands for line in setting_lines(flawed_cart)}["FU4"] == "too high"


def test_an_output_is_told_with_what_it_leaves_unprotected(flawed_dome: Results) -> None:
    line = next(line for line in setting_lines(flawed_dome) if line.id == "PS1")
    held = {f.id for f in flawed_dome.faults if f.held_by == "PS1"}
    rows = (*flawed_dome.conductors, *flawed_dome.contacts, *flawed_dome.splices, *flawed_dome.switches)
    exposed = [r.id for r in rows if r.protected is False and r.sustained_fault in held]
    assert len(exposed) > 4
    assert (
        line.high_why.startswith("a fault can hold too much on ")
        and f"and {len(exposed) - 4} more" in line.high_why
    )
    assert line.remedy.startswith("What ") and "Nothing" not in line.remedy
