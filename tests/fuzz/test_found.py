"""What the fuzzing found, each as small as it can be."""

from __future__ import annotations

from pathlib import Path

from fuzz_inputs import netlist
from fuzz_judge import faults_of_report
from test_fields_matter import starting


def test_a_load_on_one_pin_beside_one_with_a_start(tmp_path: Path) -> None:
    """Its open end is a node that only the load has, and a network without loads does not (found as lists 1)."""
    draw = starting()
    draw.pins["n"].remove("L4.2")
    assert faults_of_report(netlist(draw), tmp_path / "in") == []


def test_a_load_that_may_stall_on_one_pin(tmp_path: Path) -> None:
    draw = starting()
    draw.pins["n"].remove("L3.2")
    assert faults_of_report(netlist(draw), tmp_path / "in") == []
