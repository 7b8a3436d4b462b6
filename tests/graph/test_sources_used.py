"""The list of sources: nothing that a number leans on is left out, and nothing is listed that was not used."""

from __future__ import annotations

from wired import device, harness, load, output, wire

from loadloom.graph.analysis import analyse
from loadloom.graph.elements import DeviceKind
from loadloom.graph.harness import Harness
from loadloom.graph.results import Results
from loadloom.graph.settings import AnalysisSettings

SETTINGS = AnalysisSettings(basis="building-iec", resistance_table="iec-60228-class-5-6")


def analysed(drawn: Harness) -> Results:
    return analyse(
        drawn, SETTINGS, tool_version="test", date="2025-01-01", settings_echo={}, progress=lambda _: None
    )


def fused(**out: float) -> Harness:
    """12 V over a fuse of 10 A and 2.5 mm² to a load of 6 A."""
    return harness(
        output("PS1", "p", "m", 12.0, limit_a=40.0, **out),
        device(DeviceKind.FUSE, "FU1", "p", "a", rating_a=10.0, curve="UL 248-14"),
        wire("W1", "a", "b", mm2=2.5, length_m=2.0, insulation="PVC"),
        wire("W2", "c", "m", mm2=2.5, length_m=2.0, insulation="PVC"),
        load("L1", "b", "c", 6.0),
    )


def test_every_kind_of_source_is_listed() -> None:
    """The citations that graph/ratings/sources.csv and graph/curves/sources.csv give for what this harness uses."""
    results = analysed(fused())
    cited = list(results.sources.values())
    for words in ("IEC 60364-5-52", "IEC 60228", "UL 248-14", "IEC 60949", "60950-1 table 2B", "6.2.2.4"):
        assert any(words in text for text in cited), (words, cited)
    assert len(cited) == len(set(cited))
    assert list(results.sources) == [f"R{n}" for n in range(1, len(cited) + 1)]


def test_sources_of_findings_are_listed() -> None:
    results = analysed(fused(trip_a=60.0))
    stated = {finding.source for finding in results.findings if finding.source}
    assert stated
    assert stated <= set(results.sources.values())
