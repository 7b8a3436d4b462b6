"""The sensitivity table, held against whole analyses of the same harness under the condition that a row names."""

from __future__ import annotations

from dataclasses import replace

import pytest
from drawings import build, net
from test_fields_matter import SETTINGS, limiter_to_fuse, splice_to_through

from loadloom.graph.analysis import analyse
from loadloom.graph.model.findings import Severity
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results, SensitivityRow
from loadloom.graph.model.settings import Ambient, AnalysisSettings
from loadloom.graph.verdict.sensitivity import RULES
from loadloom.reports.sensitivity_words import worse

NEAR = {"W2": {"Rating": ""}, "L2": {"Minimum voltage": "9 V", "Maximum voltage": "12 V"}}
"""What brings the harness near its limits, so that a worse condition turns something."""


def harness(gauge: str = "4 mm²", bundle: str = "B", **settings: object) -> Harness:
    draw, beside = limiter_to_fuse(), splice_to_through()
    draw.symbols += beside.symbols
    for name, pins in beside.pins.items():
        draw.pins.setdefault(name, []).extend(pins)
    for k, symbol in enumerate(draw.symbols):
        fields = {**symbol.fields, **NEAR.get(symbol.reference, {})}
        if symbol.fields["Role"] in ("wire", "cable"):
            fields |= {"Gauge": gauge, "Bundle": bundle}
        draw.symbols[k] = replace(symbol, fields=fields)
    nets = [net(" ".join(pins), name) for name, pins in draw.pins.items()]
    return build(draw.symbols, nets, SETTINGS)


def results(drawn_so: Harness, settings: AnalysisSettings, *, sensitivity: bool = False) -> Results:
    return analyse(
        drawn_so,
        settings,
        tool_version="test",
        date="2025-01-01",
        settings_echo={},
        progress=lambda _: None,
        sensitivity=sensitivity,
    )


def failing(found: Results) -> set[str]:
    errors = {f.subject.id for f in found.findings if f.rule in RULES and f.severity is Severity.ERROR}
    leaning = {f.subject.id for f in found.findings if f.rule == "overload-band"}
    return errors | leaning | {row.id for row in (*found.conductors, *found.contacts) if row.protected is False}


def row(found: Results, begins: str) -> SensitivityRow:
    (one,) = (each for each in found.sensitivity if each.condition.startswith(begins))
    return one


@pytest.mark.parametrize(("kelvin", "begins"), [(10.0, "ambient 10 K"), (20.0, "ambient 20 K")])
def test_a_warmer_ambient_fails_what_a_whole_analysis_fails(kelvin: float, begins: str) -> None:
    table = results(harness(), SETTINGS, sensitivity=True)
    warm = replace(
        SETTINGS,
        zones={"box": Ambient(10.0, 30.0 + kelvin)},
        default_ambient=Ambient(10.0, 30.0 + kelvin),
    )
    newly = failing(results(harness(), warm)) - failing(table)
    assert row(table, begins).fails == len(newly), (row(table, begins), sorted(newly))
    assert set(row(table, begins).first) <= newly


def test_a_longer_harness_and_a_wider_supply_fail_what_whole_load_states_fail() -> None:
    table = results(harness(), SETTINGS, sensitivity=True)
    longer = failing(results(harness(), replace(SETTINGS, length_tolerance=0.10))) - failing(table)
    assert row(table, "lengths").fails >= len({name for name in longer if name.startswith("L")})
    wide = row(table, "supply 5 %")
    assert (
        "L2" in wide.first
    )  # 12 V + 7 % less 0.4 V is 12.44 V, over the 12 V that L2 stands; with 2 % it is 11.84 V


def test_neighbours_count_only_where_no_bundle_is_stated() -> None:
    bundled = results(harness(), SETTINGS, sensitivity=True)
    assert [row(bundled, f"{n} loaded").fails for n in (2, 4, 10)] == [0, 0, 0]
    alone = results(harness("2.5 mm²", bundle=""), SETTINGS, sensitivity=True)
    counts = [row(alone, f"{n} loaded").fails for n in (2, 4, 10)]
    assert counts == sorted(counts) and counts[-1] > 0, alone.sensitivity


def test_nobody_is_made_to_wait_for_it() -> None:
    assert results(harness(), SETTINGS).sensitivity == ()


def test_a_row_in_words() -> None:
    one = SensitivityRow("ambient 10 K warmer", 4, ("W1", "W6", "W7"), "load states and ratings")
    said = "Ambient 10 K warmer: 4 more parts fail or rely on the overload band (W1, W6, W7, …)"
    assert worse(one) == f"{said}; judged: load states and ratings."
    assert "no further part fails" in worse(replace(one, fails=0, first=()))
