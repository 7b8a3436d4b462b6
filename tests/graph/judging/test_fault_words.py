"""What a finding proposes: a remedy that is followed must be enough, so it names every device that is to be set."""

from dataclasses import replace

from wired import harness, limiter, load, output, wire

from loadloom.graph.analysis import analyse
from loadloom.graph.findings import Finding
from loadloom.graph.harness import Harness
from loadloom.graph.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def unprotected(drawn: Harness) -> dict[str, Finding]:
    done = analyse(
        drawn, AT_20_C, tool_version="test", date="2025-01-01", settings_echo={}, progress=lambda _: None
    )
    return {f.subject.id: f for f in done.findings if f.rule == "path-unprotected"}


def common_return(*trips_a: float, trip_a: float = 125.0) -> Harness:
    """A limiter and a load of 3 A for each setting, and one return of 20 A for all of them."""
    parts = []
    for k, setting_a in enumerate(trips_a, 1):
        parts += [
            limiter(f"CH{k}", "p", f"c{k}", setting_a),
            wire(f"W{k}", f"c{k}", f"l{k}", ohm=0.01, rated=30.0),
            load(f"L{k}", f"l{k}", "r", 3.0),
        ]
    source = output("PS1", "p", "m", limit_a=80.0, trip_a=trip_a)
    return harness(source, *parts, wire("W9", "r", "m", ohm=0.01, rated=20.0))


def test_every_device_that_sends_too_much_down_a_common_return_is_named() -> None:
    """Each of four holds 14.5 A beside the 9 A of the other loads: 23.5 A on 20 A; 11 A each is enough."""
    remedy = unprotected(common_return(14.5, 14.5, 14.5, 14.5))["W9"].remedy
    assert "holds no more than 11 A instead of 14.5 A, and likewise CH" in remedy
    assert all(f"CH{k}" in remedy for k in range(1, 5))
    followed = common_return(11.0, 11.0, 11.0, 11.0)
    assert "W9" not in unprotected(followed)
    # The first alone would not have been enough.
    only_one = replace(followed, devices=(followed.devices[0], *common_return(14.5, 14.5, 14.5, 14.5).devices[1:]))
    assert "W9" in unprotected(only_one)


def test_a_device_that_is_low_enough_is_not_named() -> None:
    remedy = unprotected(common_return(14.5, 14.5, 5.0, 5.0))["W9"].remedy
    assert "likewise" in remedy
    assert "CH3" not in remedy and "CH4" not in remedy


def test_what_is_behind_the_device_that_is_set_needs_no_change() -> None:
    """The output holds 30 A against 20 A on the return; set to 20 A it protects it from all limiters behind it."""
    remedy = unprotected(common_return(40.0, 40.0, trip_a=30.0))["W9"].remedy
    assert "PS1 so that it holds no more than 20 A" in remedy and "likewise" not in remedy
