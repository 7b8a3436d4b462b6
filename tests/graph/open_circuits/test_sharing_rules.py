"""The rules on single open circuits and on uneven sharing, each on a harness that passes and one that fails."""

from dataclasses import replace

import numpy as np
import pytest
from wired import AT_20_C, analysed, contact, facts, harness, limiter, load, output, wire

from loadloom.graph.facts.facts import Facts
from loadloom.graph.model.elements import Band, Diode
from loadloom.graph.model.findings import Finding, Severity, Subject
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.open_circuits.after_opening import worst_after_opening
from loadloom.graph.open_circuits.case_spread import spread_cases
from loadloom.graph.open_circuits.single_open_circuits import single_open_circuits
from loadloom.graph.verdict.registry import all_rules


def shared(drawn: Harness, settings: AnalysisSettings = AT_20_C) -> Facts:
    """Facts with breaks and spread."""
    plain = facts(drawn, settings)
    open_circuits = {
        case: tuple(single_open_circuits(s, opened=np.ones(len(s.network.edge_ids), dtype=np.bool_)) for s in each)
        for case, each in plain.continuous.items()
    }
    spread = spread_cases(drawn, plain.cases, plain.continuous, {}, plain.ratings, settings)
    rated = [part for part in drawn.two_ended if part.id in plain.ratings]
    after = worst_after_opening(rated, open_circuits, {}, plain.ratings)
    return replace(plain, open_circuits=open_circuits, after_opening=after, spread=spread)


def found(rule: str, drawn: Harness, settings: AnalysisSettings = AT_20_C) -> list[Finding]:
    check = all_rules()[rule].check
    assert check is not None
    return list(check(shared(drawn, settings)))


def six_contacts(rated_a: float, resistance: Band | None = None) -> Harness:
    """50 A over six contacts side by side."""
    band = resistance or Band.exact(6e-3)
    return harness(
        *(contact(f"P1.{k}", "u", "x", rated=rated_a, resistance_ohm=band) for k in range(1, 7)),
        output("U", "u", "m", limit_a=60.0),
        load("L", "x", "m", 50.0),
    )


def two_wires(first: tuple[str, float], second: tuple[str, float]) -> Harness:
    """20 A over two wires (gauge, length in m)."""
    (awg_1, length_1), (awg_2, length_2) = first, second
    return harness(
        wire("W1", "u", "x", awg=int(awg_1), length_m=length_1, rated=30.0),
        wire("W2", "u", "x", awg=int(awg_2), length_m=length_2, rated=30.0),
        output("U", "u", "m", limit_a=30.0),
        load("L", "x", "m", 20.0),
    )


def test_one_of_six_open_is_over_the_rating() -> None:
    """8.33 A each of 9.2 A; with one open 10.0 A (W34 and W38 of the worked examples)."""
    findings = found("open-circuit-overload", six_contacts(9.2))
    assert [f.subject.id for f in findings] == [f"P1.{k}" for k in range(1, 7)]
    assert all(f.value == pytest.approx(10.0) and f.limit == 9.2 for f in findings)
    assert findings[0].severity is Severity.WARNING
    assert findings[0].message == "P1.1 would carry 10 A, 1.09 times its allowed 9.2 A, if P1.2 opened."


def test_one_of_six_open_within_the_rating() -> None:
    assert found("open-circuit-overload", six_contacts(11.0)) == []


def test_already_over_the_rating_is_no_matter_of_breaks() -> None:
    assert found("open-circuit-overload", six_contacts(8.0)) == []


def test_unequal_lengths_share_unevenly() -> None:
    """13.3 and 6.67 A instead of 10 and 10."""
    (got,) = found("uneven-sharing", two_wires(("16", 0.5), ("16", 1.0)))
    assert got.subject.id == "W1"
    assert got.value == pytest.approx(4 / 3)
    assert (got.limit, got.unit) == (1.2, "1")


def test_equal_lengths_share_evenly() -> None:
    assert found("uneven-sharing", two_wires(("16", 1.0), ("16", 1.0))) == []
    assert found("uneven-sharing", two_wires(("16", 0.9), ("16", 1.1))) == []  # 1.1 times, within the setting


def test_the_setting_moves_the_limit() -> None:
    assert found("uneven-sharing", two_wires(("16", 0.9), ("16", 1.1)), replace(AT_20_C, uneven_sharing=1.05))


def test_spread_of_contacts_over_the_rating() -> None:
    """One of six at 2 mΩ, the others at 10 mΩ: 50 · 0.5 / (0.5 + 5 · 0.1) = 25 A."""
    findings = found("uneven-sharing", six_contacts(20.0, Band(6e-3, 2e-3, 10e-3)))
    assert len(findings) == 6
    assert all(f.value == pytest.approx(25.0) and f.limit == 20.0 for f in findings)
    assert found("uneven-sharing", six_contacts(26.0, Band(6e-3, 2e-3, 10e-3))) == []


def test_mixed_gauges() -> None:
    (got,) = found("mixed-gauges", two_wires(("16", 1.0), ("18", 1.0)))
    assert got.subject.id == "W2"
    assert "W1 16 AWG, W2 18 AWG" in got.message
    assert found("mixed-gauges", two_wires(("16", 0.5), ("16", 1.0))) == []


def test_gauges_in_series_are_not_mixed() -> None:
    drawn = harness(
        *(wire(f"W{k}", "u", f"j{k}", awg=16, length_m=1.0, rated=30.0) for k in (1, 2)),
        *(wire(f"V{k}", f"j{k}", "x", awg=18, length_m=1.0, rated=30.0) for k in (1, 2)),
        output("U", "u", "m", limit_a=30.0),
        load("L", "x", "m", 20.0),
    )
    assert found("mixed-gauges", drawn) == []


@pytest.mark.parametrize(
    ("amperes", "rated_a", "most_a", "what"),
    [
        # Half of 16 A is within 10 A; nothing makes the two share it.
        (16.0, 10.0, 16.0, "carry 16 A together"),
        # 4 A of load are within it, the 14 A that CH1 may hold are not, though 7 A of each would be.
        (4.0, 9.0, 14.0, "can be made to carry 14 A together"),
        (4.0, 14.5, None, ""),
    ],
)
def test_diodes_side_by_side_carry_all_of_it_alone(
    amperes: float, rated_a: float, most_a: float | None, what: str
) -> None:
    trip_a = 14.0 if amperes < 14.0 else 18.0
    plain = Diode(id="D1", subject=Subject("D1"), node_a="a", node_b="b", forward_drop_v=0.5, rating_a=rated_a)
    plain = replace(plain, resistance_ohm=Band.exact(0.01))
    diodes = [plain, replace(plain, id="D2", subject=Subject("D2"))]
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=60.0, trip_a=90.0),
        limiter("CH1", "p", "a", trip_a, delay_s=0.01),
        *diodes,
        wire("W1", "b", "l", ohm=0.01, rated=40.0),
        wire("W2", "n", "m", ohm=0.01, rated=40.0),
        load("L1", "l", "n", amperes),
    )
    got = {f.subject.id: f for f in analysed(drawn).findings if f.rule == "uneven-sharing"}
    assert sorted(got) == ([] if most_a is None else ["D1", "D2"])
    for finding in got.values():
        assert (finding.value, finding.limit) == (pytest.approx(most_a), rated_a)
        assert what in finding.message and finding.severity is Severity.ERROR
