"""A return that gets another size than its feed says why."""

from dataclasses import replace

import pytest
from wired import harness, load, output, wire

from loadloom.graph.model.harness import Harness
from loadloom.graph.sizing.advice import SizeRow
from loadloom.graph.sizing.pairs import feeds_of_returns, other_size_words


def two_loads() -> Harness:
    """A feed and a return that both loads share, and for each load a feed and a return of its own."""
    return harness(
        output("PS1", "p", "m", limit_a=40.0, trip_a=50.0),
        wire("W1", "p", "a", mm2=4.0, length_m=1.0),
        wire("W2", "a", "b", mm2=1.5, length_m=1.0),
        wire("W3", "a", "c", mm2=1.5, length_m=1.0),
        wire("W4", "d", "f", mm2=1.5, length_m=1.0),
        wire("W5", "e", "f", mm2=1.5, length_m=1.0),
        wire("W6", "f", "m", mm2=4.0, length_m=1.0),
        load("L1", "b", "d", 2.0),
        load("L2", "c", "e", 3.0),
    )


def test_a_return_belongs_to_the_feed_with_the_same_loads_behind_it() -> None:
    assert feeds_of_returns(two_loads()) == {"W4": "W2", "W5": "W3", "W6": "W1"}


def test_pieces_in_series_are_paired_from_the_load() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=40.0, trip_a=50.0),
        wire("W1", "p", "a", mm2=4.0, length_m=1.0),
        wire("W2", "a", "b", mm2=1.5, length_m=1.0),
        wire("W3", "c", "m", mm2=1.5, length_m=1.0),
        load("L1", "b", "c", 2.0),
    )
    assert feeds_of_returns(drawn) == {"W3": "W2"}


def test_a_return_that_more_loads_share_and_parallel_ones_have_no_feed_of_their_own() -> None:
    drawn = harness(
        output("PS1", "p", "m", limit_a=40.0, trip_a=50.0),
        wire("W1", "p", "b", mm2=1.5, length_m=1.0),
        wire("W2", "p", "c", mm2=1.5, length_m=1.0),
        wire("W3", "d", "m", mm2=4.0, length_m=1.0),
        wire("W4", "d", "m", mm2=4.0, length_m=1.0),
        load("L1", "b", "d", 2.0),
        load("L2", "c", "d", 3.0),
    )
    assert feeds_of_returns(drawn) == {}


def row(name: str, size: float, **more: object) -> SizeRow:
    plain = SizeRow(
        id=name,
        drawn="1 mm²",
        proposed=f"{size:g} mm²",
        area_mm2=size,
        length_m=1.0,
        governed_by="protection",
        why="one size less is not protected",
        current_a=5.0,
        allowed_a=10.0,
        sustained_fault_a=8.0,
        copper_drawn_g=1.0,
        copper_g=1.0,
        loss_drawn_w=1.0,
        loss_w=1.0,
    )
    return replace(plain, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("back", "says"),
    [
        (row("W2", 1.5), ""),
        (
            row("W2", 2.5, governed_by="several overloads at once", sustained_fault_a=12.0),
            "; thicker than its feed W1 of 1.5 mm²: it is governed by several overloads at once, the feed by "
            "protection; 12 A of sustained fault current against 8 A",
        ),
        (
            row("W2", 2.5, governed_by="voltage at the load L1"),
            "; thicker than its feed W1 of 1.5 mm²: it is governed by voltage at the load L1, the feed by "
            "protection",
        ),
        (
            row("W2", 2.5, current_a=7.0),
            "; thicker than its feed W1 of 1.5 mm²: each is the thinnest that does; 7 A of load against 5 A",
        ),
        (
            row("W2", 0.5, governed_by="not sized", why="its length is not known"),
            "; thinner than its feed W1 of 1.5 mm², since it is not sized: its length is not known",
        ),
    ],
)
def test_the_reason_for_another_size_is_said(back: SizeRow, says: str) -> None:
    assert other_size_words(back, row("W1", 1.5)) == says


def test_of_two_governed_by_one_voltage_one_thicker_is_enough() -> None:
    feed, back = (
        row(name, size, governed_by="voltage at the load L1") for name, size in (("W1", 2.5), ("W2", 1.5))
    )
    assert other_size_words(back, feed) == (
        "; thinner than its feed W1 of 2.5 mm²: for the voltage at the load L1 it is enough that one of the two is "
        "thicker"
    )
