"""What stands on stdout: the report, nothing of a solver, and with ``--only errors`` the open errors alone."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from loadloom.plugin import cli

FAILING = next((Path(__file__).resolve().parents[2] / "fixtures" / "case_05_thin_pair_pooled").glob("*.kicad_sch"))


def test_what_a_library_prints_does_not_reach_stdout(capfd: pytest.CaptureFixture[str]) -> None:
    os.write(1, b"before ")
    with cli._nothing_from_solvers():
        os.write(1, b"HiGHS says something")
    os.write(1, b"after")
    assert capfd.readouterr().out == "before after"


def test_only_errors_prints_the_verdict_and_the_errors(capsys: pytest.CaptureFixture[str]) -> None:
    cli.main(["report", str(FAILING), "--only", "errors", "--fail-on", "never"])
    short = capsys.readouterr().out
    cli.main(["report", str(FAILING), "--fail-on", "never"])
    whole = capsys.readouterr().out
    assert short.startswith("FAIL") and "\nERROR " in short and "→" in short
    for word in ("WARNING ", "Assumptions", "worst first"):
        assert word not in short
    assert "worst first" in whole and len(short) < len(whole)
