"""Limiters that a fault drives backwards: told, since many act on a forward current only."""

from __future__ import annotations

import pytest
from wired import analysed, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band, Element

WORDS = "from the load side back to the source side"


def fed(*more: Element, turned: bool = False) -> list[str]:
    """What is said of CH1, in the lead of an output with others beside it."""
    ends = ("b", "p1") if turned else ("p1", "b")
    parts = (
        output("PS1", "p1", "m", limit_a=50.0, trip_a=Band.exact(60.0)),
        limiter("CH1", *ends, 10.0),
        wire("W1", "b", "a", ohm=0.01, rated=20.0),
        load("L1", "a", "m", 1.0),
        *more,
    )
    return [words for words in analysed(harness(*parts)).assumptions if WORDS in words]


SECOND = output("PS2", "p2", "m", limit_a=50.0, trip_a=Band.exact(60.0))


@pytest.mark.parametrize("turned", [False, True])
def test_a_limiter_that_another_output_reaches_from_behind_is_told(turned: bool) -> None:
    """A short circuit at PS1's terminal draws PS2's current through FU2 and then through CH1 from b to p1; one at
    the load draws PS1's from p1 to b. Both directions, by Kirchhoff's laws on a drawing of three joints.
    """
    (words,) = fed(SECOND, fuse("FU2", "p2", "b", 10.0, "UL 248-14"), turned=turned)
    assert words.startswith("CH1: ")


@pytest.mark.parametrize("turned", [False, True])
def test_a_limiter_on_the_only_path_is_not(turned: bool) -> None:
    """With one output every fault draws its current away from it, whichever pin comes first."""
    assert not fed(turned=turned)


def test_a_fuse_in_that_place_is_not() -> None:
    """The element of a fuse melts by the heat of the current, which has no direction (common practice, no
    published source). FU2 is driven back by a fault at PS2, CH1 by one at PS1; only CH1 is named.
    """
    (words,) = fed(SECOND, fuse("FU2", "p2", "b", 10.0, "UL 248-14"))
    assert "FU2" not in words
