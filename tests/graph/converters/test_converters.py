"""Converters from the drawing to the verdict: what is told of their input, and what they pass on when they fail."""

from __future__ import annotations

import pytest
from converter_harnesses import converter_tree
from converter_judge import most_a
from test_variants import AT_20_C, Sketch, found, rows
from wired import analysed

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings

SUPPLY = {
    **{"Voltage": "24 V", "Limit": "40 A", "Trip": "50 A ±5 %", "Delay": "0.1 ms", "Behaviour": "latch-off"},
    **{"Tolerance": "2 %", "Resistance": "20 mΩ"},
}
CONVERTER = {
    **{"Voltage": "12 V", "Limit": "10 A", "Trip": "12 A ±5 %", "Delay": "1 ms", "Behaviour": "latch-off"},
    **{"Tolerance": "2 %", "Resistance": "5 mΩ", "Efficiency": "90 %", "No-load power": "1 W"},
    **{"Input minimum": "18 V", "Input maximum": "32 V"},
}
FUSE = {"Curve": "UL248-14", "Voltage rating": "32 V", "Breaking capacity": "10 kA", "Resistance": "2 mΩ"}


def harness(
    behind: str = "13 A",
    fuse: str = "10 A",
    isolated: bool = False,
    bond: bool = False,
    load: dict[str, str] | None = None,
    **fields: str,
) -> Sketch:
    """A supply of 24 V, a fuse, a converter to 12 V and a load of 60 W; wires behind are allowed ``behind``."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=SUPPLY)
    draw("F1", "fuse", "p f", fields={"Rating": fuse, **FUSE})
    wire = {"Length": "1 m", "Insulation": "PVC 70 °C"}
    draw("W1", "wire", "f a", "6 mm²", fields={**wire, "Rating": "40 A"})
    draw("W2", "wire", "b m", "6 mm²", fields={**wire, "Rating": "60 A"})
    minus = "n" if isolated else "b"
    stated = {name: text for name, text in {**CONVERTER, **fields}.items() if text}
    draw("PS2", "converter", f"a b c {minus}", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=stated)
    draw("W3", "wire", "c d", "2.5 mm²", fields={**wire, "Rating": behind})
    draw("W4", "wire", f"e {minus}", "2.5 mm²", fields={**wire, "Rating": behind})
    if bond:
        draw("W5", "wire", f"{minus} m", "2.5 mm²", fields={**wire, "Rating": "60 A"})
    fed = {"Minimum voltage": "10 V", "Maximum voltage": "30 V", **(load or {"Load": "60 W"})}
    draw("L1", "load", "d e", fields=fed)
    return draw


def results(**arguments: object) -> Results:
    return harness(**arguments).results(AT_20_C)  # type: ignore[arg-type]


def test_the_input_draws_the_most_at_the_lowest_voltage() -> None:
    """(60 W and the drop behind) / 0.9 + 1 W at 24 V - 2 % less the drop before it."""
    found_ = results()
    by_id = {load.id: load for load in found_.loads}
    behind_a = by_id["L1"].current_a
    assert behind_a is not None
    terminal_v = 12.0 * 0.98 - 0.005 * behind_a
    power_w = terminal_v * behind_a / 0.9 + 1.0
    ohm = 0.020 + 0.002 + 2 * 0.017241 / 6.0
    volts = 24.0 * 0.98
    current_a = (volts - (volts**2 - 4.0 * ohm * power_w) ** 0.5) / (2.0 * ohm)
    assert rows(found_)["W1"].current_a == pytest.approx(current_a, rel=1e-4)
    assert found_.verdict is Verdict.PASS, [f.message for f in found_.findings]


def test_an_unknown_efficiency_never_passes() -> None:
    for text in ("", "90", "efficient", "0 %"):
        found_ = results(Efficiency=text)
        assert found_.verdict is not Verdict.PASS, text
    assert "PS2" in found(results(Efficiency=""), "efficiency-missing")


@pytest.mark.parametrize(
    "load",
    [
        {"Load": "100 W", "Duty": "25 %", "Period": "100 ms"},
        {"Load": "20 W", "Load@slew": "100 W", "Duration@slew": "1 s"},
        {"Load": "20 W", "Load@slew": "100 W", "Duty@slew": "20 %", "Period@slew": "0.1 s"},
    ],
)
def test_a_pulse_is_held_against_the_input_limit(load: dict[str, str]) -> None:
    """100 W need at least 100 W / 0.9 / 24.48 V = 4.54 A at the input and at most what the lowest voltage and all
    drops ask, 4.9 A; their root mean square, half of that or less, is under the limit of 3 A that cuts them off.
    """
    got = harness(behind="20 A", load=load, **{"Input limit": "3 A"}).results(AT_20_C)
    (told,) = [f for f in got.findings if f.rule == "converter-input-overload"]
    assert told.value is not None and 100.0 / 0.9 / 24.48 < told.value < 4.9
    assert "for a time" in told.message


def test_below_its_input_minimum_its_loads_lose_supply() -> None:
    found_ = results(**{"Input minimum": "23.6 V"})
    assert "PS2" in found(found_, "converter-input-low")
    assert "L1" in found(found_, "load-unfed")
    assert found_.verdict is Verdict.FAIL
    # What flows just before it stops still counts.
    assert rows(found_)["W1"].current_a == pytest.approx(rows(results())["W1"].current_a, rel=1e-6)


def test_input_maximum_and_input_limit() -> None:
    assert "PS2.IN" in found(results(**{"Input maximum": "24 V"}), "voltage-high")
    over = found(results(**{"Input limit": "2.5 A"}), "converter-input-overload")["PS2"]
    assert over.value > 2.8 and over.limit == 2.5
    assert found(results(**{"Input limit": "4 A"}), "converter-input-overload") == {}
    for name in ("Input minimum", "Input maximum"):
        assert results(**{name: ""}).verdict is Verdict.INCOMPLETE


def test_a_constant_current_below_what_its_loads_ask_for_at_their_start() -> None:
    """60 W at 10 V are 6 A; 5.5 A give 60 W at 12 V, and never get there."""
    firm = {"Behaviour": "constant-current", "Trip": "5.5 A ±1 %", "Limit": "5.4 A"}
    assert "PS2" in found(results(**firm), "converter-starts-into-limit")
    assert found(results(**{**firm, "Trip": "6.2 A ±1 %"}), "converter-starts-into-limit") == {}


def test_a_converter_of_one_common_minus_can_fail_from_input_to_output() -> None:
    """F1 alone is left then: 1.35 × 10 A on the wires behind, 1.35 × 20 A with the larger fuse."""
    kept = results(behind="13.6 A")
    assert rows(kept)["W3"].sustained_fault_a == pytest.approx(13.5)
    over = results(fuse="20 A")
    assert rows(over)["W3"].sustained_fault_a == pytest.approx(27.0)
    message = found(over, "path-unprotected")["W3"].message
    assert "once PS2 failed from input to output" in message
    told = found(results(**{"Input maximum": "32 V"}), "converter-passes-through")
    assert told == {}  # the load bears 30 V


def test_the_setting_range_of_the_fuse_before_it_protects_what_lies_behind() -> None:
    """13 A of the wires behind end it, with the overload band; where the converter is isolated, W1's 40 A do."""
    high = {row.id: row.setting_high_a for row in results().devices}
    apart = {row.id: row.setting_high_a for row in results(isolated=True).devices}
    assert high["F1"] == pytest.approx(13.0, rel=1e-3)
    assert apart["F1"] is not None and apart["F1"] > 29.0


def test_an_isolated_converter_separates_faults() -> None:
    """Behind it only its own 12 A + 5 % flow, however large the fuse before it."""
    found_ = results(isolated=True, fuse="30 A")
    assert rows(found_)["W3"].sustained_fault_a == pytest.approx(12.6)
    assert found(found_, "converter-passes-through") == {}


def test_an_isolated_converter_whose_minus_sides_are_joined_elsewhere_is_none() -> None:
    """What joins the minus sides outside lets the supply through as well as a common minus does."""
    found_ = results(isolated=True, bond=True, fuse="20 A")
    assert rows(found_)["W3"].sustained_fault_a == pytest.approx(27.0)
    assert "W3" in found(found_, "path-unprotected")


def test_the_supply_voltage_on_loads_that_do_not_bear_it_is_told() -> None:
    draw = harness()
    draw("L2", "load", "d e", fields={"Load": "1 A", "Minimum voltage": "10 V", "Maximum voltage": "15 V"})
    told = found(draw.results(AT_20_C), "converter-passes-through")["PS2"]
    assert told.value == pytest.approx(24.48) and told.limit == 15.0 and "L2" in told.message


def test_a_converter_of_one_common_plus_fails_on_its_minus_side() -> None:
    """What switches the minus side puts IN- through to OUT-: F1 alone is left again."""
    draw = harness(fuse="20 A", isolated=True)
    draw.pins["a"].append("PS2.3")
    draw.pins["c"].remove("PS2.3")
    draw.pins["a"].append("W3.1")
    draw.pins["c"].remove("W3.1")
    del draw.pins["c"]
    assert rows(draw.results(AT_20_C))["W4"].sustained_fault_a == pytest.approx(27.0)


def behind_a_fuse(**fuse: str) -> Results:
    """The load behind a fuse of its own, at the converter's output."""
    draw = harness(fuse="30 A")
    at = next(k for k, symbol in enumerate(draw.symbols) if symbol.reference == "W3")
    draw.pins["c"] = [pin for pin in draw.pins["c"] if pin != "W3.1"]
    draw.pins["g"] = ["W3.1"]
    assert at >= 0
    draw("F2", "fuse", "c g", fields={"Rating": "8 A", **FUSE, **fuse})
    return draw.results(AT_20_C)


def test_a_device_behind_it_has_to_open_what_the_supply_gives() -> None:
    """Fused for 12 V and 300 A it can't: 24.48 V stand there then, and some 880 A behind 27.7 mΩ."""
    assert rows(behind_a_fuse())["W3"].sustained_fault_a == pytest.approx(1.35 * 8.0)
    low = found(behind_a_fuse(**{"Voltage rating": "16 V"}), "voltage-rating")["F2"]
    assert low.value == pytest.approx(24.48) and "PS2 has failed" in low.message
    weak = found(behind_a_fuse(**{"Breaking capacity": "300 A"}), "breaking-capacity")
    # Of the converter alone: 12.24 V / 7 mΩ = 1.7 kA before it limits, the greater of the two.
    assert weak["F2"].value > 24.48 / (0.020 + 0.002 + 2 * 0.0028735 + 0.002) * 0.98


def test_an_open_circuit_before_a_converter_takes_the_supply_off_its_loads() -> None:
    found_ = results()
    opened = {row.opened: row.loses_supply for row in found_.open_circuits}
    assert set(opened["W1"]) == {"L1", "PS2.IN"} and set(opened["W3"]) == {"L1"}


def test_waste_heat_is_of_the_converter() -> None:
    """Input less output, the no-load power with it; the input is no load that heats by itself."""
    (unit,) = (row for row in results().supplies if row.id == "PS2")
    assert unit.heat_w is not None and unit.power_w is not None
    assert unit.heat_w == pytest.approx(unit.power_w / 0.9 + 1.0 - unit.power_w, rel=1e-6)


def test_efficiency_by_load() -> None:
    """60 W of 120 W: half way between 80 % at 25 % and 90 % at 75 %."""
    found_ = results(Efficiency="25 %: 80 %; 75 %: 90 %")
    (unit,) = (row for row in found_.supplies if row.id == "PS2")
    assert unit.efficiency == pytest.approx(0.85, abs=2e-3)


@pytest.mark.parametrize("seed", [1, 2, 4])
def test_no_fault_beside_converters_contactors_and_batteries_sustains_more(seed: int) -> None:
    """An own judge tries faults one by one (``converter_judge``); a hundred trees are compared by hand."""
    drawn = converter_tree(seed, stages=1 + seed % 2, width=1, mixed=True)
    answer = analysed(drawn, AnalysisSettings())
    judge = most_a(drawn)
    close = 0.0
    for row in answer.conductors:
        assert row.sustained_fault_a is not None
        assert judge[row.id] <= row.sustained_fault_a * (1.0 + 1e-4) + 1e-3, row.id
        close = max(close, judge[row.id] / row.sustained_fault_a)
    assert close > 0.8  # the judge gets near somewhere, so that it can fail


def inverting(behind: str = "28 A", fuse: str = "10 A", at: str = "13.6 A") -> Results:
    """12 V below the common joint: OUT+ on IN-, OUT- through W3 to the minus of the load."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=SUPPLY)
    draw("F1", "fuse", "p f", fields={"Rating": fuse, **FUSE})
    wire = {"Length": "1 m", "Insulation": "PVC 70 °C"}
    draw("W1", "wire", "f a", "6 mm²", fields={**wire, "Rating": "40 A"})
    draw("W2", "wire", "b m", "6 mm²", fields={**wire, "Rating": "60 A"})
    draw("PS2", "converter", "a b b c", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields=CONVERTER)
    draw("W3", "wire", "c d", "2.5 mm²", fields={**wire, "Rating": at})
    draw("W4", "wire", "b e", "2.5 mm²", fields={**wire, "Rating": behind})
    draw("L1", "load", "e d", fields={"Load": "60 W", "Minimum voltage": "10 V", "Maximum voltage": "30 V"})
    return draw.results(AT_20_C)


def test_a_converter_that_inverts_puts_its_input_on_its_minus_when_it_fails() -> None:
    """F1's 1.35 × 10 A then flow through W3 towards the load: more than the converter's own 12.6 A."""
    kept = inverting()
    assert rows(kept)["W3"].sustained_fault_a == pytest.approx(13.5)
    assert rows(kept)["W3"].current_a == pytest.approx(rows(results())["W3"].current_a or 0.0, rel=1e-6)
    assert rows(kept)["W1"].current_a == pytest.approx(rows(results())["W1"].current_a or 0.0, rel=1e-6)
    assert "the wrong way round" in found(kept, "converter-passes-through")["PS2"].message
    over = inverting(fuse="20 A")
    assert rows(over)["W3"].sustained_fault_a == pytest.approx(27.0)
    assert rows(over)["W3"].protected is False and over.verdict is Verdict.FAIL


def test_a_converter_says_what_it_draws_gives_and_loses() -> None:
    """Input power = output power / 0.9 + 1 W in every case, the same current as the wire before it."""
    found = results(**{"Input limit": "4 A"})
    (row,) = found.converters
    there = row.cases["nominal"]
    assert there.running and row.isolated is False and row.case == "nominal"
    assert there.input_w == pytest.approx(there.output_w / 0.9 + 1.0, rel=1e-9)
    assert there.efficiency == pytest.approx(0.9, rel=1e-9)
    assert there.heat_w == pytest.approx(there.input_w - there.output_w)
    wire = next(conductor for conductor in found.conductors if conductor.id == "W1")
    assert there.input_a == pytest.approx(wire.continuous_a or 0.0)
    assert row.utilisation == pytest.approx(there.input_a / 4.0)
    # 12 V + 2 % behind 5 mΩ, up to the trip of 12 A + 5 %, over 90 %, and 1 W.
    most_w = (12.24 - 0.005 * 12.6) * 12.6 / 0.9 + 1.0
    assert row.greatest_input_w == pytest.approx(most_w)


def test_a_converter_that_stops_is_told_so() -> None:
    (row,) = results(**{"Input minimum": "25 V"}).converters
    there = row.cases["nominal"]
    assert not there.running and there.efficiency is None and there.output_w == 0.0
    (row,) = results(isolated=True).converters
    assert row.isolated


def behind_a_transistor(**fields: str) -> Results:
    """24 V through a transistor that is off while parked, its body diode from the converter to the supply."""
    draw = Sketch()
    draw("PS1", "output", "p m", fields=SUPPLY)
    draw("F1", "fuse", "p f", fields={"Rating": "10 A", **FUSE})
    stated = {"Rating": "30 A", "Breaking capacity": "30 A", "Resistance": "1…3 mΩ", "State@parked": "open"}
    draw("Q1", "contactor", "f a", pins="1 2", fields={**stated, "Body diode": "0.7 V"})
    draw("W2", "wire", "b m", "6 mm²", Length="1 m", Rating="60 A")
    draw("PS2", "converter", "a b c n", pins="1:IN+ 2:IN- 3:OUT+ 4:OUT-", fields={**CONVERTER, **fields})
    draw("W3", "wire", "c d", "2.5 mm²", Length="1 m", Rating="28 A")
    draw("W4", "wire", "e n", "2.5 mm²", Length="1 m", Rating="28 A")
    draw("L1", "load", "d e", fields={"Load": "60 W", "Minimum voltage": "10 V", "Maximum voltage": "30 V"})
    return draw.results(AT_20_C)


def test_a_converter_behind_a_transistor_that_is_off_is_off_on_purpose() -> None:
    """The body diode blocks: nothing reaches the input, which is no fault; too low a voltage while on is one."""
    off = behind_a_transistor()
    assert found(off, "converter-input-low") == {}
    (row,) = off.converters
    assert row.cases["nominal"].running
    parked = row.cases["nominal / parked"]
    assert not parked.running and parked.input_v == 0.0 and parked.input_a == 0.0
    assert "PS2" in found(behind_a_transistor(**{"Input minimum": "23.5 V"}), "converter-input-low")


def test_a_fault_at_the_input_of_a_converter_that_has_failed_in_turn() -> None:
    """PS2 inverts and has failed: PS3 behind it gets 50.4 V the wrong way round, and may be a short of 0 Ω there.

    By Ohm's law: the battery's voltage over its own resistance, W1 to PS2, W2 back from it, W6 to PS3, W5 and W7
    side by side back from that.
    """
    drawn = converter_tree(3091, stages=2, width=2, mixed=True, inverting=True)
    answer = analysed(drawn, AnalysisSettings())
    ohm = {wire.id: wire.resistance_ohm.upper for wire in drawn.conductors if wire.resistance_ohm}
    side_by_side = 1.0 / (1.0 / ohm["W5"] + 1.0 / ohm["W7"])
    whole_a = 48.0 * 1.05 / (0.010 + ohm["W1"] + ohm["W2"] + ohm["W6"] + side_by_side)
    told = {row.id: row for row in answer.conductors}
    for name in ("W5", "W7"):
        by_hand = whole_a * side_by_side / ohm[name]
        # The search lets the 2.6 A of the loads behind PS2 flow on while their voltage is turned: the safe side.
        assert by_hand * (1.0 - 1e-6) <= told[name].sustained_fault_a <= by_hand + 2.6
    assert "failed from input to output" in told["W5"].protected_note


@pytest.mark.parametrize("seed", [11, 17, 25])
def test_every_way_in_which_input_and_output_can_have_a_joint_in_common(seed: int) -> None:
    """IN- with OUT-, IN- with OUT+, IN+ with OUT+ and IN+ with OUT-, as the seeds have it; the judge tries faults
    one by one, also with more than one converter failed."""
    drawn = converter_tree(seed, stages=2, width=1, mixed=True, inverting=True, every_pairing=True)
    answer = analysed(drawn, AnalysisSettings())
    judge = most_a(drawn)
    for row in answer.conductors:
        assert row.sustained_fault_a is not None
        assert judge[row.id] <= row.sustained_fault_a * (1.0 + 1e-4) + 1e-3, row.id


@pytest.mark.parametrize("pin", ["PS2.1", "PS2.2", "PS2.3", "PS2.4"])
def test_a_converter_with_a_pin_that_is_joined_to_nothing_is_a_finding(pin: str) -> None:
    draw = harness(isolated=True)
    joint = next(name for name, pins in draw.pins.items() if pin in pins)
    draw.pins[joint].remove(pin)
    assert draw.results(AT_20_C).verdict is Verdict.FAIL


def test_a_converter_has_a_faster_step_as_other_outputs_have() -> None:
    steps = results(**{"Fast trip": "40 A", "Fast delay": "0.01 ms"})
    assert found(steps, "field-not-read") == {} and steps.verdict is Verdict.PASS
    assert results(**{"Fast trip": "4 A", "Fast delay": "0.01 ms"}).verdict is Verdict.FAIL
