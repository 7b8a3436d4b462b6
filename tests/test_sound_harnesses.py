"""100 sound harnesses as drawn in practice pass without an error: false alarms teach people to look away."""

import pytest
from sound_harnesses import sound_harness
from wired import analysed

from loadloom.graph.model.findings import Severity
from loadloom.graph.model.settings import AnalysisSettings


@pytest.mark.parametrize("seed", range(100))
def test_a_sound_harness_has_no_error(seed: int) -> None:
    results = analysed(sound_harness(seed), AnalysisSettings(conductor_temperature_c=40.0))
    assert [(f.rule, f.subject.id, f.message) for f in results.findings if f.severity is Severity.ERROR] == []
    assert any(row.sustained_fault_a for row in results.conductors)
