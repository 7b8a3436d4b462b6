"""What the fuzzing found, each as small as it can be."""

from __future__ import annotations

from pathlib import Path

from fuzz_inputs import made, netlist
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


def test_capacitances_switched_on_with_no_way_back_beside_a_load_that_starves(tmp_path: Path) -> None:
    """Two loads that start together have a joint of their own for minus; another one asks more than it can get."""
    assert faults_of_report(made("graphs", 702_058), tmp_path / "in") == []
