"""Solar strings: sources that hold a current, the fuses in them, and what flows back into one."""

from __future__ import annotations

import pytest
from test_variants import AT_20_C, Sketch, found, rows

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import Results

ISC_A = 9.0
MODULE = {
    **{"Open-circuit voltage": "45 V", "Short-circuit current": f"{ISC_A} A", "Working voltage": "37 V"},
    **{"Working current": "8.4 A", "Reverse current": "15 A"},
}
FUSE = {"Curve": "UL248-14", "Voltage rating": "60 V", "Breaking capacity": "1 kA", "Resistance": "5 mΩ"}


def strings(count: int, fuse: str | None = "15 A", allowed: str = "30 A", **module: str) -> Results:
    """Strings side by side on one bus, each behind a fuse of its own or none; a load of 6 A for each."""
    draw = Sketch()
    for k in range(1, count + 1):
        fields = {name: text for name, text in {**MODULE, **module}.items() if text}
        draw(f"PV{k}", "solar", f"p{k} m{k}", pins="1:+ 2:-", fields=fields)
        if fuse is not None:
            draw(f"F{k}", "fuse", f"p{k} q{k}", fields={"Rating": fuse, **FUSE})
        lead = f"q{k}" if fuse is not None else f"p{k}"
        draw(f"W{k}", "wire", f"{lead} a", "4 mm²", Length="1 m", Rating=allowed)
        draw(f"R{k}", "wire", f"b m{k}", "4 mm²", Length="1 m", Rating=allowed)
    draw("W9", "wire", "a c", "10 mm²", Length="1 m", Rating="60 A")
    draw("R9", "wire", "d b", "10 mm²", Length="1 m", Rating="60 A")
    wants = {"Minimum voltage": "20 V", "Maximum voltage": "60 V"}
    draw("L1", "load", "c d", fields={"Load": f"{6 * count} A", **wants})
    return draw.results(AT_20_C)


@pytest.mark.parametrize("fuse", ["12 A", "15 A", "20 A"])
def test_a_single_string_never_opens_a_fuse_of_125_percent(fuse: str) -> None:
    """UL 248-14 lets a fuse carry its rating; the string gives 1.25 × 9 A = 11.25 A at most."""
    results = strings(1, fuse)
    assert "F1" in found(results, "device-never-opens")
    assert rows(results)["W1"].sustained_fault_a == pytest.approx(1.25 * ISC_A)


def test_three_strings_side_by_side_open_it() -> None:
    """Two others drive 22.5 A back into the third, more than the 1.35 × 15 A at which its fuse surely opens."""
    results = strings(3)
    assert found(results, "device-never-opens") == {}
    back = found(results, "back-feed")
    assert [finding.value for finding in back.values()] == [pytest.approx(1.35 * 15.0)] * 3
    assert results.verdict is Verdict.PASS, [f.message for f in results.findings]


def test_two_strings_do_not_open_it_either() -> None:
    assert set(found(strings(2), "device-never-opens")) == {"F1", "F2"}


def test_conductors_bear_125_percent_of_the_short_circuit_current() -> None:
    assert "W1" in found(strings(1, None, "11.2 A"), "path-unprotected")
    assert "W1" not in found(strings(1, None, "11.3 A"), "path-unprotected")


def test_what_flows_back_through_a_string_is_held_against_its_modules() -> None:
    """Without fuses three strings of 9 A drive 22.5 A back, over 1.35 × 15 A; two drive 11.25 A."""
    over = found(strings(3, None), "solar-reverse-current")
    assert set(over) == {"PV1", "PV2", "PV3"} and over["PV1"].value == pytest.approx(2 * 1.25 * ISC_A)
    assert found(strings(2, None), "solar-reverse-current") == {}
    assert found(strings(3), "solar-reverse-current") == {}
    unknown = strings(2, None, **{"Reverse current": ""})
    assert "PV1" in found(unknown, "solar-reverse-unknown") and unknown.verdict is not Verdict.PASS


def test_modules_in_series_and_beside_each_other() -> None:
    """Two in series and two beside each other: 90 V, 18 A, so 22.5 A to a fault."""
    results = strings(1, None, Series="2", Parallel="2", allowed="30 A")
    (output,) = results.outputs
    assert output.voltage_v == pytest.approx(90.0)
    assert rows(results)["W1"].sustained_fault_a == pytest.approx(1.25 * 2 * ISC_A)


def test_strings_of_one_symbol_feed_back_into_one_of_them() -> None:
    """Three beside each other: two give 22.5 A to the third, over 1.35 × 15 A; of twice two it is 33.75 A."""
    over = found(strings(1, None, Parallel="3", allowed="40 A"), "solar-reverse-current")
    assert over["PV1"].value == pytest.approx(2 * 1.25 * ISC_A)
    assert found(strings(1, None, Parallel="2", allowed="40 A"), "solar-reverse-current") == {}
    both = found(strings(2, None, Parallel="2", allowed="40 A"), "solar-reverse-current")
    assert both["PV1"].value == pytest.approx(3 * 1.25 * ISC_A)
    unknown = strings(1, None, Parallel="2", **{"Reverse current": ""})
    assert "PV1" in found(unknown, "solar-reverse-unknown")


def test_strings_on_the_very_same_joints_feed_back_as_well() -> None:
    draw = Sketch()
    for k in (1, 2, 3):
        draw(f"PV{k}", "solar", "p m", pins="1:+ 2:-", fields=MODULE)
    draw("W9", "wire", "p c", "10 mm²", Length="1 m", Rating="60 A")
    draw("R9", "wire", "d m", "10 mm²", Length="1 m", Rating="60 A")
    draw("L1", "load", "c d", fields={"Load": "18 A"})
    over = found(draw.results(AT_20_C), "solar-reverse-current")
    assert set(over) == {"PV1", "PV2", "PV3"} and over["PV1"].value == pytest.approx(2 * 1.25 * ISC_A)
