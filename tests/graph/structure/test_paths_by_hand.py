"""Resistance and diode drops along a feed, added up by hand."""

from __future__ import annotations

import pytest
from harnesses import network_of
from wired import harness, load, output, wire

from loadloom.graph.circuit.network import GREATEST_FAULT
from loadloom.graph.model.elements import Band, Diode
from loadloom.graph.model.findings import Subject
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.structure.guards import arrange


def diode(name: str, a: str, b: str, drop_v: float) -> Diode:
    return Diode(
        id=name, subject=Subject(name), node_a=a, node_b=b, forward_drop_v=drop_v, resistance_ohm=Band.exact(0.004)
    )


def test_drops_and_resistances_add_up_from_the_output_on() -> None:
    """0.5 V, 10 mΩ, 0.7 V and 20 mΩ in a row, each diode of 4 mΩ; against a diode nothing is reached."""
    drawn = harness(
        output("PS1", "p", "m", 24.0, limit_a=30.0, trip_a=40.0),
        diode("D1", "p", "a", 0.5),
        wire("W1", "a", "b", ohm=0.01),
        diode("D2", "b", "c", 0.7),
        wire("W2", "c", "d", ohm=0.02),
        diode("D3", "e", "p", 0.4),
        load("L1", "d", "m", 2.0),
        load("L2", "e", "m", 1.0),
    )
    network = network_of(drawn, GREATEST_FAULT)
    feed = arrange(drawn, None, network, AnalysisSettings()).outputs[0].feed
    at = network.node_index
    assert [feed.drop_v[at[node]] for node in "pabcd"] == pytest.approx([0.0, 0.5, 0.5, 1.2, 1.2])
    assert [feed.ohm[at[node]] for node in "pabcd"] == pytest.approx([0.0, 0.004, 0.014, 0.018, 0.038])
    assert [feed.reaches(at[node]) for node in "pabcde"] == [True] * 5 + [False]
