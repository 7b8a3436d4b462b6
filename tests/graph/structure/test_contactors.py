"""Contactors and transistors: poles, coil, breaking, body diode, and what a welded contact lets happen."""

from __future__ import annotations

import pytest
from drawings import build, net
from test_variants import AT_20_C, Sketch, found, rows

from loadloom.graph.model.findings import Severity, Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.structure.welded import welded

OUTPUT = {
    **{"Voltage": "24 V", "Limit": "20 A", "Trip": "24 A ±5 %", "Delay": "1 ms", "Behaviour": "latch-off"},
    **{"Tolerance": "2 %", "Resistance": "5 mΩ"},
}


def switched(behind: str = "8 A", **fields: str) -> Results:
    """A load of 60 W behind both poles of a contactor, its coil before them; wires behind allowed ``behind``."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    for name, nets in (("W1", "p a"), ("W2", "b m"), ("W9", "a ca")):
        draw(name, "wire", nets, "6 mm²", Length="1 m", Rating="30 A")
    stated = {"Path": "1-5; 2-6", "Rating": "30 A", "Breaking capacity": "10 A", "Resistance": "1…3 mΩ"}
    stated |= {"Coil": "5 W", "Coil minimum": "18 V", "Voltage rating": "60 V", **fields}
    draw("K1", "contactor", "a e b f ca b", pins="1 5 2 6 A1 A2", fields=stated)
    for name, nets in (("W3", "e g"), ("W4", "h f")):
        draw(name, "wire", nets, "2.5 mm²", Length="1 m", Rating=behind)
    draw("L1", "load", "g h", fields={"Load": "60 W", "Minimum voltage": "18 V", "Maximum voltage": "30 V"})
    return draw.results(AT_20_C)


def test_an_open_contactor_protects_nothing() -> None:
    """The output's 24 A + 5 % reach the wires behind a welded contact: 25.2 A, open in every arrangement or not."""
    for state in ({"State": "open"}, {"State": "open", "State@run": "closed"}, {"State@park": "open"}):
        results = switched(**{name.replace("_", " "): text for name, text in state.items()})
        wires = rows(results)
        assert wires["W3"].sustained_fault_a == pytest.approx(25.2)
        assert wires["W3"].protected is False
        assert "W3" in found(results, "path-unprotected")


def test_off_on_purpose_is_no_fault_where_the_wires_bear_it() -> None:
    results = switched(behind="30 A", **{"State@park": "open"})
    assert results.verdict is Verdict.PASS, [f.message for f in results.findings]
    by_id = {load.id: load for load in results.loads}
    assert by_id["L1"].currents_a["nominal / park"] == 0.0
    coil_a = 5.0 / by_id["K1.COIL"].voltage_v if by_id["K1.COIL"].voltage_v else 0.0
    assert by_id["K1.COIL"].current_a == pytest.approx(coil_a, rel=1e-2)
    assert {row.id for row in results.switches} == {"K1.1", "K1.2"}


def test_never_closed_leaves_its_load_unfed() -> None:
    assert "L1" in found(switched(behind="30 A", State="open"), "load-unfed")


def test_what_it_interrupts_is_held_against_its_breaking_capacity() -> None:
    assert found(switched(behind="30 A"), "contactor-breaking") == {}
    over = found(switched(behind="30 A", **{"Breaking capacity": "2 A"}), "contactor-breaking")
    # 60 W at 24 V - 2 %, less the drop: at least 60 / 23.52 = 2.55 A.
    assert over["K1.1"].value > 2.55 and over["K1.1"].limit == 2.0


def stalling(breaks: str, **motor: str) -> Results:
    """A motor of 5 A, 40 A at standstill at 24 V, behind a contactor; a load of 2 A beside it."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields={**OUTPUT, "Limit": "60 A", "Trip": "100 A ±5 %", "Tolerance": "0 %"})
    stated = {"Rating": "60 A", "Breaking capacity": breaks, "Resistance": "2 mΩ", "Voltage rating": "60 V"}
    draw("K1", "contactor", "p a", pins="1 2", fields=stated)
    draw("W1", "wire", "a b", "16 mm²", Length="1 m", Rating="150 A", Resistance="3 mΩ")
    fields = {"Load": "5 A", "Stalled current": "40 A", "Stated at": "24 V", "Stalled time": "2 h", **motor}
    draw("M1", "load", "b m", fields={key: text for key, text in fields.items() if text})
    draw("L2", "load", "b m", fields={"Load": "2 A"})
    return draw.results(AT_20_C)


def test_a_contactor_interrupts_a_motor_that_stands_still() -> None:
    """24 V on 5 + 2 + 3 mΩ and 0.6 Ω beside 2 A: (24 - 10 mΩ · 2 A) / 610 mΩ + 2 A = 41.3 A."""
    amps = (24.0 - 0.010 * 2.0) / 0.610 + 2.0
    over = found(stalling("41 A"), "contactor-breaking")["K1"]
    assert over.value == pytest.approx(amps, rel=1e-6) and over.limit == 41.0 and "M1 is stalled" in over.message
    assert found(stalling("42 A"), "contactor-breaking") == {}
    assert (
        found(
            stalling("10 A", **{"Stalled current": "", "Stated at": "", "Stalled time": ""}), "contactor-breaking"
        )
        == {}
    )


def test_a_contactor_that_opens_into_a_short_circuit() -> None:
    """24 V / (5 + 2 mΩ) = 3429 A just behind it: a warning, since a device before it opens first."""
    told = found(stalling("1 kA"), "contactor-opens-into-fault")["K1"]
    assert told.value == pytest.approx(24.0 / 0.007, rel=1e-6) and told.limit == 1000.0
    assert told.severity is Severity.WARNING
    assert found(stalling("4 kA"), "contactor-opens-into-fault") == {}


def test_a_path_that_names_no_pin_is_a_clash() -> None:
    assert "K1" in found(switched(Path="1-5; 2-7"), "pin-clash")
    results = switched(Path="")
    assert "K1" in found(results, "pin-clash") and results.verdict is not Verdict.PASS


def backwards(**fields: str) -> Results:
    """Two batteries of 24 V and 12 V, a transistor from the lower to the higher one, which is off."""
    draw = Sketch()
    battery = {"Limit": "20 A", "Trip": "30 A ±5 %", "Delay": "1 ms", "Behaviour": "latch-off"}
    draw("PS1", "output", "p m", fields={**battery, "Voltage": "12 V", "Tolerance": "1 %", "Resistance": "20 mΩ"})
    draw("PS2", "output", "q m", fields={**battery, "Voltage": "24 V", "Tolerance": "1 %", "Resistance": "20 mΩ"})
    stated = {"Rating": "30 A", "Breaking capacity": "30 A", "Resistance": "1…3 mΩ", "State": "open", **fields}
    draw("Q1", "contactor", "p a", pins="1 2", fields=stated)
    draw("W1", "wire", "a q", "6 mm²", Resistance="0.1 Ω", Length="1 m", Rating="30 A")
    draw("L1", "load", "q m", fields={"Load": "1 A"})
    return draw.results(AT_20_C)


def test_the_body_diode_of_a_transistor_that_is_off_conducts_backwards() -> None:
    """(24 - 12 - 0.6) V / (0.1 + 0.02 + 0.02) Ω and 1 A of load: about 81 A; none without a body diode."""
    with_diode = backwards(**{"Body diode": "0.6 V"})
    volts, ohm = 24.0 - 12.0 - 0.6, 0.1 + 0.02 + 0.02
    # The load's ampere takes its share of 20 mΩ off the higher source.
    expected = (volts - 0.02 * 1.0) / ohm
    nominal = next(row for row in with_diode.conductors if row.id == "W1")
    assert nominal.current_a == pytest.approx(expected, rel=0.05)  # 1 % of 24 V and 12 V apart at the corner
    assert next(row for row in backwards().conductors if row.id == "W1").current_a == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    "state", [{"State": "open"}, {"State@park": "open"}, {"State": "open", "State@run": "closed"}]
)
def test_a_plain_switch_that_is_off_protects_nothing(state: dict[str, str]) -> None:
    """The output holds 24 A + 5 % = 25.2 A on what lies behind a switch, whatever its drawn state."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    draw("S1", "switch", "p a", fields={"Rating": "30 A", "Resistance": "1…3 mΩ", **state})
    for name, nets in (("W3", "a g"), ("W4", "h m")):
        draw(name, "wire", nets, "2.5 mm²", Length="1 m", Rating="8 A")
    draw("L1", "load", "g h", fields={"Load": "2 A"})
    results = draw.results(AT_20_C)
    assert rows(results)["W3"].sustained_fault_a == pytest.approx(25.2)
    assert rows(results)["W3"].protected is False
    assert results.verdict is Verdict.FAIL


def test_a_switch_that_is_not_fitted_joins_nothing() -> None:
    """Behind a symbol marked as not fitted there is no source, so that no fault is held there."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    draw("S1", "switch", "p a", fields={"Rating": "30 A", "Resistance": "1…3 mΩ"}, dnp=True)
    draw("W3", "wire", "a g", "2.5 mm²", Length="1 m", Rating="8 A")
    draw("W5", "wire", "p k", "4 mm²", Length="1 m", Rating="30 A")
    draw("L2", "load", "k m", fields={"Load": "2 A"})
    draw("L1", "load", "g m", fields={"Load": "2 A"})
    results = draw.results(AT_20_C)
    assert not rows(results)["W3"].sustained_fault_a
    assert "L1" in found(results, "load-unfed")


def branches(switches: str, **fields: str) -> Results:
    """A load behind each of some switches that are off while parked; ``switches``: pairs of joints."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    for k, ends in enumerate(switches.split("; "), start=1):
        draw(f"S{k}", "switch", ends, fields={"Rating": "30 A", "Resistance": "2 mΩ", "State@park": "open"})
    for k, joint in enumerate(dict.fromkeys(ends.split()[1] for ends in switches.split("; ")), start=1):
        draw(f"W{k}", "wire", f"{joint} l{k}", "2.5 mm²", Length="1 m", Rating="8 A")
        draw(f"L{k}", "load", f"l{k} m", fields={"Load": "1 A"})
    return draw.results(AT_20_C)


def test_switches_that_close_no_loop_are_closed_together() -> None:
    """Three branches of one bus: one state of all closed says as much as three of one closed each."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    for k in (1, 2, 3):
        draw(f"S{k}", "switch", f"p a{k}", fields={"Rating": "30 A", "Resistance": "2 mΩ", "State@park": "open"})
        draw(f"L{k}", "load", f"a{k} m", fields={"Load": "1 A"})
    nets = [net(" ".join(pins), name) for name, pins in draw.pins.items()]
    drawn = build(draw.symbols, nets, AT_20_C)
    assert len(list(welded(drawn, "park"))) == 1 and not list(welded(drawn, None))
    here = rows(branches("p a; p b; p c"))
    assert [here[name].sustained_fault_a for name in ("W1", "W2", "W3")] == [pytest.approx(25.2)] * 3


def test_switches_side_by_side_are_closed_one_by_one_as_well() -> None:
    """One of two equal ones that is welded carries all of the fault, and not half of it."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=OUTPUT)
    for k in (1, 2):
        draw(f"S{k}", "switch", f"p a{k}", fields={"Rating": "30 A", "Resistance": "2 mΩ", "State": "open"})
        draw(f"W{k}", "wire", f"a{k} b", "2.5 mm²", Length="1 m", Rating="20 A", Resistance="10 mΩ")
    draw("L1", "load", "b m", fields={"Load": "1 A"})
    here = rows(draw.results(AT_20_C))
    assert here["W1"].sustained_fault_a == pytest.approx(25.2)
    assert here["W2"].sustained_fault_a == pytest.approx(25.2)
