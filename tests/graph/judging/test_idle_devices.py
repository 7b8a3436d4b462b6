"""Who reads that a wire is unprotected is told of the channel before it that does not act."""

from dataclasses import replace

from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings


def unprotected(drawn: Harness) -> dict[str, Finding]:
    done = analysed(drawn, AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper"))
    return {f.subject.id: f for f in done.findings if f.rule == "path-unprotected"}


def two_channels(**more: object) -> Harness:
    """An output that trips above 50 A and two channels, each with a feed and a return of 10 A to a load of 2 A; the
    second channel is changed by ``more``."""
    off = replace(limiter("CH2", "p", "b", 9.0), **more)
    return harness(
        output("PS1", "p", "m", limit_a=40.0, trip_a=50.0),
        limiter("CH1", "p", "a", 9.0),
        off,
        wire("W1", "a", "c", ohm=0.01, rated=10.0),
        wire("W2", "b", "d", ohm=0.01, rated=10.0),
        wire("W3", "e", "m", ohm=0.01, rated=10.0),
        wire("W4", "f", "m", ohm=0.01, rated=10.0),
        load("L1", "c", "e", 2.0),
        load("L2", "d", "f", 2.0),
    )


def test_a_channel_that_is_off_is_named_in_finding_and_remedy() -> None:
    found = unprotected(two_channels(active=False, trip_a=None))
    assert set(found) == {"W2", "W4"}
    assert all("This comes through CH2, which is not active." in f.message for f in found.values())
    assert found["W2"].remedy.startswith(
        "Make CH2 active, set so that it is certain to open above 10 A, tolerance included, or put a device"
    )
    # The return may be reached by a fault of another feed: the channel is named, and not promised to be enough.
    assert found["W4"].remedy.startswith("Make CH2 active")
    assert "CH2 would stop this fault; W4 lies behind no single feed" in found["W4"].remedy
    assert found["W4"].remedy.endswith("a new report tells.")


def test_followed_it_protects() -> None:
    assert unprotected(two_channels()) == {}


def test_a_channel_that_is_off_in_one_arrangement_is_named_with_it() -> None:
    found = unprotected(two_channels(by_word={"pooled": {"active": False}}))
    assert "W2" in found
    assert "This comes through CH2, which is not active in " in found["W2"].message
    assert "pooled" in found["W2"].message and "pooled" in found["W2"].remedy
    assert "CH1" not in found["W2"].message


def test_a_channel_that_is_off_beside_another_feed_is_not_named() -> None:
    """The wire is fed around it: to let it act would not be enough."""
    drawn = two_channels(active=False, trip_a=None)
    around = wire("W9", "p", "b", ohm=0.01, rated=60.0)
    found = unprotected(replace(drawn, conductors=(*drawn.conductors, around)))
    assert "W2" in found and "CH2" not in found["W2"].message + found["W2"].remedy


def test_no_device_is_asked_for_that_would_open_under_the_load() -> None:
    """12 A of load on a wire that is allowed 10 A: a device that opens above 10 A would open at once."""
    drawn = two_channels(active=False, trip_a=None)
    more = replace(drawn, loads=(drawn.loads[0], load("L2", "d", "f", 12.0)))
    remedy = unprotected(more)["W2"].remedy
    assert remedy.startswith(
        "W2 carries 12 A of load alone, more than it is allowed, so that no device can protect"
    )
    assert "above 10 A" not in remedy
