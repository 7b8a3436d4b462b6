"""A verdict on nothing is never a pass: drawings that lack a source, a load, a conductor or a current."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from test_variants import Sketch, found

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.plugin.cli import EXIT_FINDING, exit_code
from loadloom.reports.terminal import text
from loadloom.reports.verdict_words import meaning

WIRE = {"Length": "1 m", "Rating": "20 A"}
CONTACT = {"Contact rating": "13 A", "Contact resistance": "3 mΩ"}


def source(draw: Sketch, nets: str = "p m", **fields: str) -> None:
    draw(
        "PS1",
        "output",
        nets,
        "12 V",
        **{"Tolerance": "2 %", "Limit": "8 A", "Trip": "9 A", "Delay": "10 ms", **fields},
    )


def load(draw: Sketch, nets: str = "a b", value: str = "5 A", **fields: str) -> None:
    draw("L1", "load", nets, value, **{"Minimum voltage": "10 V", "Maximum voltage": "14 V", **fields})


def wires(draw: Sketch) -> None:
    draw("W1", "wire", "p a", "1.5 mm²", **WIRE)
    draw("W2", "wire", "b m", "1.5 mm²", **WIRE)


def sound(draw: Sketch) -> None:
    source(draw)
    wires(draw)
    load(draw)


def nothing_but_ignored(draw: Sketch) -> None:
    for name, nets in (("PS1", "p m"), ("W1", "p a"), ("L1", "a m")):
        draw(name, "ignore", nets, "12 V", pins="1 2")


def no_source(draw: Sketch) -> None:
    wires(draw)
    load(draw)


def source_not_fitted(draw: Sketch) -> None:
    draw("PS1", "output", "p m", "12 V", dnp=True)  # type: ignore[arg-type]
    wires(draw)
    load(draw)


def source_without_voltage(draw: Sketch) -> None:
    draw("PS1", "output", "p m", "twelve volts", Limit="8 A")
    wires(draw)
    load(draw)


def only_connectors(draw: Sketch) -> None:
    draw("J1", "through", "p q", pins="1A 1B", fields=CONTACT)
    draw("J2", "through", "q p", pins="1A 1B", fields=CONTACT)


def only_a_source(draw: Sketch) -> None:
    source(draw)


def no_load(draw: Sketch) -> None:
    source(draw)
    wires(draw)


def load_not_fitted(draw: Sketch) -> None:
    source(draw)
    wires(draw)
    draw("L1", "load", "a b", "5 A", dnp=True)  # type: ignore[arg-type]


def load_of_nothing(draw: Sketch) -> None:
    source(draw)
    wires(draw)
    load(draw, value="0 A")


def load_unreadable(draw: Sketch) -> None:
    source(draw)
    wires(draw)
    load(draw, value="five amps")


def no_conductor(draw: Sketch) -> None:
    source(draw)
    draw("F1", "fuse", "p a", "5 A", Curve="UL 248-14", fields={"Voltage rating": "32 V"})
    load(draw, "a m")


def conductor_not_fitted(draw: Sketch) -> None:
    source(draw)
    draw("F1", "fuse", "p a", "5 A", Curve="UL 248-14", fields={"Voltage rating": "32 V"})
    draw("W1", "wire", "a m", "1.5 mm²", dnp=True, **WIRE)  # type: ignore[arg-type]
    load(draw, "a m")


def conductors_carry_nothing(draw: Sketch) -> None:
    source(draw)
    draw("F1", "fuse", "p a", "5 A", Curve="UL 248-14", fields={"Voltage rating": "32 V"})
    load(draw, "a m")
    draw("W1", "wire", "x y", "1.5 mm²", **WIRE)
    draw("W2", "wire", "x y", "1.5 mm²", **WIRE)


LACKING: list[tuple[Callable[[Sketch], None], str]] = [
    (lambda draw: None, "the drawing has no output"),
    (nothing_but_ignored, "the drawing has no output"),
    (no_source, "the drawing has no output"),
    (source_not_fitted, "the only output, PS1, is not fitted"),
    (source_without_voltage, "the voltage of PS1 is not known"),
    (only_connectors, "the drawing has no output"),
    (only_a_source, "the drawing has no load"),
    (no_load, "the drawing has no load"),
    (load_not_fitted, "the only load, L1, is not fitted"),
    (load_of_nothing, "what L1 takes is not known"),
    (load_unreadable, "what L1 takes is not known"),
    (no_conductor, "the drawing has no wire"),
    (conductor_not_fitted, "the drawing has no wire"),
    (conductors_carry_nothing, "no conductor lies between an output and a load"),
]


def results_of(sketch: Callable[[Sketch], None]) -> Results:
    draw = Sketch()
    sketch(draw)
    return draw.results()


@pytest.mark.parametrize(("sketch", "lack"), LACKING, ids=[f"{s.__name__}-{n}" for n, (s, _) in enumerate(LACKING)])
def test_what_is_missing_first_is_said_once(sketch: Callable[[Sketch], None], lack: str) -> None:
    results = results_of(sketch)
    assert results.verdict is Verdict.INCOMPLETE, [f.message for f in results.findings]
    (finding,) = (f for f in results.findings if f.rule == "nothing-judged")
    assert lack in finding.message and finding.subject.id == "harness"
    assert [f.rule for f in results.findings if f.severity is Severity.ERROR] == []
    assert exit_code(results, "error") == EXIT_FINDING
    assert lack in meaning(results) and text(results, 1000).startswith("INCOMPLETE")
    assert f"nothing was judged: {lack}" in text(results, 1000)


def test_a_sound_harness_is_judged() -> None:
    results = results_of(sound)
    assert results.verdict is Verdict.PASS, [f.message for f in results.findings]
    assert found(results, "nothing-judged") == {}


def test_a_load_that_nothing_feeds_is_an_error_where_there_is_a_source() -> None:
    draw = Sketch()
    source(draw)
    draw("W1", "wire", "p a", "1.5 mm²", **WIRE)
    draw("SW1", "switch", "a s", Rating="10 A", State="open")
    draw("W2", "wire", "b m", "1.5 mm²", **WIRE)
    load(draw, "s b")
    results = draw.results()
    assert results.verdict is Verdict.FAIL
    assert "no load gets current" in found(results, "nothing-judged")["harness"].message
    assert "L1" in found(results, "load-unfed")


@pytest.mark.parametrize("back", [True, False])
def test_a_piece_that_no_source_reaches_is_not_judged(back: bool) -> None:
    """Beside a sound harness, wires joined to each other alone: a ring, or a row with contacts between."""
    draw = Sketch()
    sound(draw)
    draw("W3", "wire", "x y", "1.5 mm²", **WIRE)
    draw("J3", "through", "y z", pins="1A 1B", fields=CONTACT)
    draw("W4", "wire", "z x" if back else "z q", "1.5 mm²", **WIRE)
    results = draw.results()
    assert results.verdict is Verdict.INCOMPLETE
    (finding,) = (f for f in results.findings if f.rule == "nothing-judged")
    assert finding.message.startswith("No output reaches J3.1, W3 and W4,")


def test_spare_cores_and_bonds_of_a_floating_chassis_need_no_source() -> None:
    draw = Sketch()
    sound(draw)
    draw("C1", "cable", "p a b m s1 s2", "1.5 mm²", pins="1A 1B 2A 2B 3A 3B", **WIRE)
    draw("W5", "wire", "c1 c2", "1.5 mm²", **WIRE)
    draw("GND1", "chassis", "c1", pins="1")
    draw("GND2", "chassis", "c2", pins="1")
    assert found(draw.results(), "nothing-judged") == {}
