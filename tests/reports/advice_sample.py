"""Advice on a small harness, for the tests of its formats and of its page."""

from __future__ import annotations

from wired import contact, fuse, harness, limiter, load, output, wire

from loadloom.graph.model.elements import Band
from loadloom.graph.model.harness import Provenance
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.sizing.advise import Advised, advise

HOSTILE = '=cmd|"/c x"!A1 <script>alert(1)</script> \x07'


def small_advice() -> Advised:
    """Two channels, sizes that are too thick and a fuse that is too small."""
    drawn = harness(
        output("PS1", "p", "m", 12.0, limit_a=40.0, trip_a=60.0),
        limiter("CH1", "p", "a", Band(10.0, 9.0, 11.0)),
        limiter("CH2", "p", "b", Band(10.0, 9.0, 11.0)),
        contact("X1.1", "a", "c", rated=20.0),
        fuse("F1", "c", "d", 2.0, "UL 248-14"),
        wire("W1", "d", "l1", mm2=10.0, length_m=2.0, insulation="PVC 70 °C"),
        wire("W2", "a", "l2", mm2=6.0, length_m=2.0, insulation="PVC 70 °C"),
        wire("W3", "m", "n", mm2=6.0, length_m=1.0, insulation="PVC 70 °C"),
        load("L1", "l1", "n", 3.0, minimum_v=11.0),
        load("L2", "l2", "n", 3.0),
        provenance=Provenance(file=HOSTILE, title=HOSTILE, revision="B"),
    )
    echo = {"basis": "general-equipment"}
    return advise(drawn, AnalysisSettings(), tool_version="1.0", date="2026-01-01", settings_echo=echo)
