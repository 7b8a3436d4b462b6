"""What a finding proposes: a remedy that is followed must be enough; its settings are ends of setting ranges."""

from wired import analysed, harness, limiter, load, output, wire

from loadloom.graph.model.findings import Finding
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings

AT_20_C = AnalysisSettings(conductor_temperature_c=20.0, resistance_table="copper")


def unprotected(drawn: Harness) -> dict[str, Finding]:
    done = analysed(drawn)
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


def test_no_setting_is_named_where_none_alone_is_enough() -> None:
    """Each of four holds 14.5 A beside the 9 A of the other loads: 23.5 A on 20 A. With one of them shut, another
    still brings 14.5 A + 6 A: no limiter's range has an end there. The output's own trip has one."""
    remedy = unprotected(common_return(14.5, 14.5, 14.5, 14.5))["W9"].remedy
    assert "CH" not in remedy and "set PS1 to at most 20 A instead of 125 A" in remedy


def test_the_one_device_that_is_too_high_is_named() -> None:
    """14.5 A beside 9 A of other loads on 20 A: 11 A is enough, and followed it protects."""
    remedy = unprotected(common_return(14.5, 5.0, 5.0, 5.0))["W9"].remedy
    assert "Set CH1 to at most 11 A instead of 14.5 A" in remedy
    assert "W9" not in unprotected(common_return(11.0, 5.0, 5.0, 5.0))


def test_what_is_behind_the_device_that_is_set_needs_no_change() -> None:
    """The output holds 30 A against 20 A on the return; set to 20 A it protects it from all limiters behind it."""
    remedy = unprotected(common_return(40.0, 40.0, trip_a=30.0))["W9"].remedy
    assert "Set PS1 to at most 20 A" in remedy


def test_where_copper_alone_holds_a_fault_down_a_device_is_asked_for() -> None:
    """12 V over 2 Ω + 2 Ω hold 3 A at the load, on a return that is allowed 2.5 A: above that it has to open."""
    drawn = harness(
        output("PS1", "p", "m", limit_a=80.0, trip_a=90.0),
        wire("W1", "p", "a", ohm=2.0, rated=95.0),
        wire("W2", "r", "m", ohm=2.0, rated=2.5),
        load("L1", "a", "r", 0.5),
    )
    remedy = unprotected(drawn)["W2"].remedy
    own = "Put a device that is certain to open above 2.5 A at m, the end of W2 towards the supply, or "
    assert remedy.startswith(own), remedy
