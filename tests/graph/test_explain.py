"""The derivation of a part, line by line, against the same done by hand here."""

import re
from dataclasses import replace
from typing import Any

import pytest
from wired import analysed, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Tolerance
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import Ambient, AnalysisSettings

COPPER = AnalysisSettings(
    basis="building-iec",
    conductor_temperature_c=20.0,
    resistance_table="copper",
    default_ambient=Ambient(20.0, 30.0),
)


def lines(drawn: Harness, part: str, settings: AnalysisSettings = COPPER) -> list[str]:
    results = analysed(drawn, settings)
    row = next(r for r in (*results.conductors, *results.contacts) if r.id == part)
    return [line.strip() for line in row.explanation]


def loop(**trip: Any) -> Harness:
    return harness(
        output(
            "PS1", "p", "m", 12.0, tolerance=Tolerance.even(0.05), limit_a=60.0, trip_a=90.0, resistance_ohm=0.01
        ),
        limiter("CH1", "p", "a", 10.0, delay_s=1e-3),
        wire("W1", "a", "lp", mm2=1.5, length_m=10.0, insulation="PVC 70 °C"),
        wire("W2", "lm", "m", mm2=1.5, length_m=10.0, insulation="PVC 70 °C"),
        load("L1", "lp", "lm", 3.0),
    )


def test_a_loop_is_written_as_its_sum() -> None:
    """12.6 V, 10 mΩ and 2 × 10 m of 1.5 mm² at 0.017241 Ω·mm²/m (115 mΩ each): 0.24 Ω, 52.5 A; 10 A at 1.02 Ω."""
    told = lines(loop(), "W1")
    ohm = 0.01 + 2 * 10.0 * 0.017241 / 1.5
    assert "source PS1: 12.6 V at the highest" in told
    assert any("PS1 10 mΩ + W1 114.94 mΩ + W2 114.94 mΩ" in line for line in told)
    assert f"= {1e3 * ohm:.6g} mΩ in the loop" in told
    assert f"a short circuit there: 12.6 V / {1e3 * ohm:.6g} mΩ = {12.6 / ohm:.4g} A" in told
    assert any(
        line.startswith(f"with a fault of {12.6 / 10.0 - ohm:.6g} Ω") and line.endswith("= 10 A") for line in told
    )
    assert "CH1 lets 10 A pass continuously and stays just below tripping" in told


def test_an_allowed_current_is_written_with_its_factors_and_sources() -> None:
    """IEC 60364-5-52 table B.52.4: 1.5 mm², B2, PVC, three loaded: 15 A at 30 °C (second-hand copy)."""
    told = lines(loop(), "W1")
    assert told[0] == "Allowed current of W1 (1.5 mm², PVC 70 °C), by building-iec:"
    base = next(line for line in told if "IEC 60364-5-52" in line and "A:" in line)
    allowed = next(line for line in told if line.startswith("allowed:"))
    assert float(base.split()[0]) >= float(allowed.split()[1])


def test_a_band_is_written_with_both_ends() -> None:
    told = lines(loop(), "W1", AnalysisSettings(default_ambient=Ambient(20.0, 30.0)))
    # IEC 60228: 13.7 mΩ/m is the greatest of 1.5 mm²; 0.017241/1.5 = 11.5 mΩ/m the least
    assert any(line.startswith("least, for fault currents: 11.494 mΩ/m × 10 m = 114.9 mΩ") for line in told)
    assert any(line.startswith("greatest, for voltage drop: 13.7 mΩ/m × 10 m = 137 mΩ") for line in told)


def test_parallel_paths_are_not_written_as_a_sum_that_is_not_theirs() -> None:
    drawn = harness(
        output("BT1", "p", "m", 12.0, never_trips=True, resistance_ohm=0.01),
        fuse("F1", "p", "a", 10.0, "UL 248-14"),
        fuse("F2", "p", "b", 10.0, "UL 248-14"),
        wire("W1", "a", "lp", mm2=1.5, length_m=2.0, rated=20.0),
        wire("W2", "b", "lp", mm2=1.5, length_m=3.0, rated=20.0),
        wire("W3", "lm", "m", mm2=6.0, length_m=2.0, rated=40.0),
        load("L1", "lp", "lm", 3.0),
    )
    told = lines(drawn, "W1")
    total = [line for line in told if line.startswith("= ") and "in the loop" in line]
    solved = [line for line in told if "a network is solved" in line]
    assert bool(total) != bool(solved)


def test_what_is_not_known_is_said() -> None:
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=90.0),
        wire("W1", "a", "p", length_m=1.0),
        wire("W2", "lm", "m", length_m=1.0),
        load("L1", "a", "lm", 3.0),
    )
    assert lines(drawn, "W1")[0].startswith("Allowed current of W1: not determined")


def value(text: str) -> float:
    """``a × b`` or ``a / (b + c)`` of numbers with units, in A, V, Ω and m."""
    plain = text.replace(" mΩ/m", "e-3").replace(" mΩ", "e-3").replace("×", "*").replace("Ω", "")
    return float(eval(re.sub(r" (?:V|A|m)(?= |\)|$)", "", plain)))


def equations(told: list[str]) -> list[tuple[str, float, float]]:
    """Every line that has something before an equals sign, the chain of factors as one, with both sides."""
    found, product = [], None
    for line in told:
        if base := re.match(r"([\d.]+) A: ", line):
            product = float(base[1])
        elif (factor := re.match(r"× ([\d.]+) ", line)) and product is not None:
            product *= float(factor[1])
        elif (result := re.match(r"= ([\d.]+) A$", line)) and product is not None:
            found.append((line, product, float(result[1])))
        elif line.startswith("= ") and line.endswith(" in the loop"):
            terms = told[told.index(line) - 1].split(": ")[1]
            ohm = value(" + ".join(re.findall(r"[\d.]+ m?Ω", terms)))
            found.append((line, ohm, value(line[2:].removesuffix(" in the loop"))))
        elif side := re.match(r".*: (.*\d.*) = ([\d.]+ (?:mΩ|Ω|A))(?: \(.*)?$", line):
            found.append((line, value(side[1]), value(side[2])))
    return found


@pytest.mark.parametrize("tolerance", [0.0, 0.05])
@pytest.mark.parametrize("ambient", [Ambient(20.0, 30.0), Ambient(-25.0, 43.0)])
@pytest.mark.parametrize("basis", ["building-iec", "vehicle", "avionics-free-air", "general-equipment"])
def test_what_stands_before_an_equals_sign_gives_what_stands_behind_it(
    basis: str, ambient: Ambient, tolerance: float
) -> None:
    """The numbers as printed, multiplied out: within half of the last figure that is shown."""
    settings = AnalysisSettings(
        basis=basis, default_ambient=ambient, length_tolerance=tolerance, margin=0.15, altitude_m=2635.0
    )
    for part in ("W1", "W2"):
        told = lines(loop(), part, settings)
        found = equations(told)
        for line, left, right in found:
            assert left == pytest.approx(right, rel=6e-4), line
        assert sum("mΩ/m" in line for line, _, _ in found) == 2
        assert any(line.startswith("a short circuit there") for line, _, _ in found), told
        # The loop's wires have the resistance of their own lines, at the least ambient.
        cold = [right for line, _, right in found if line.startswith("at ")]
        least = [right for line, _, right in found if line.startswith("least")]
        loop_line = next(line for line in told if line.startswith("loop, "))
        (shown,) = re.findall(rf"{part} ([\d.]+) mΩ", loop_line)
        assert float(shown) * 1e-3 == pytest.approx((cold or least)[0], rel=6e-4)
        allowed = float(re.findall(r"allowed: ([\d.]+) A", "\n".join(told))[0])
        caps = [float(a) for a in re.findall(r"at most ([\d.]+) A:", "\n".join(told))]
        product = next(left for line, left, _ in found if re.fullmatch(r"= [\d.]+ A", line))
        assert allowed == pytest.approx(min(product, *caps, product), rel=6e-4)


@pytest.mark.parametrize("part", ["W1", "W2"])
def test_every_line_is_short_of_nothing(part: str) -> None:
    assert all(line and "None" not in line and "nan" not in line for line in lines(loop(), part))


@pytest.mark.parametrize(("channel_a", "words"), [(10.0, "no more than"), (20.0, "above")])
def test_what_a_fault_holds_is_held_against_what_is_allowed(channel_a: float, words: str) -> None:
    """A fault holds what its channel lets pass; IEC 60364-5-52 B.52.4 allows 1.5 mm² 15 A (second-hand copy)."""
    drawn = loop()
    channel = limiter("CH1", "p", "a", channel_a, delay_s=1e-3)
    told = lines(replace(drawn, devices=(channel,)), "W1")
    assert f"sustained fault current: {channel_a:g} A, {words} the allowed 15 A" in told
