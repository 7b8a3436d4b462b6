"""A bounded piece of the fuzzing: 180 inputs read, 44 reported on; ``fuzz_run.py`` does many more by hand."""

from __future__ import annotations

import itertools
import json
import time
from pathlib import Path

import fuzz_judge
import pytest
from fuzz_inputs import DRAWN, KINDS, made, netlist
from fuzz_judge import faults_of_reading, faults_of_report, limited

READ = 30
REPORTED = {"graphs": 16, "values": 20, "settings": 4, "trees": 4}


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_is_read_ends_in_a_harness_or_one_sentence(kind: str, tmp_path: Path) -> None:
    found = {
        seed: faults for seed in range(READ) if (faults := faults_of_reading(made(kind, seed), tmp_path / "in"))
    }
    assert found == {}


@pytest.mark.parametrize("kind", REPORTED)
def test_whatever_is_reported_on_is_a_report_or_one_sentence(kind: str, tmp_path: Path) -> None:
    seeds = range(REPORTED[kind])
    found = {seed: faults for seed in seeds if (faults := faults_of_report(made(kind, seed), tmp_path / "in"))}
    assert found == {}


def test_what_is_spoilt_passes_before(tmp_path: Path) -> None:
    """Else most inputs would be refused for a reason of their own, and the rest never be reached."""
    for drawn in DRAWN:
        assert faults_of_report(netlist(drawn()), tmp_path / "in", twice=False) == []
        document = json.loads((tmp_path / "in" / "out" / "report.json").read_text(encoding="utf-8"))
        assert document["verdict"] == "pass", drawn.__name__


def test_an_input_is_the_same_for_its_seed() -> None:
    assert all(made(kind, 7) == made(kind, 7) != made(kind, 8) for kind in KINDS)


def test_the_judge_can_fail(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A crash, a number that is none, a verdict that the exit code denies, another report the second time."""
    given, folder = netlist(DRAWN[-1]()), tmp_path / "in"
    run = fuzz_judge._command

    def spoilt(old: str, new: str) -> list[str]:
        def command(path: Path, output: Path) -> tuple[int, str, str]:
            done = run(path, output)
            output.write_text(output.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
            return done

        monkeypatch.setattr(fuzz_judge, "_command", command)
        return faults_of_report(given, folder)

    assert spoilt('"verdict": "pass"', '"verdict": "fail"')
    assert spoilt('"verdict": "pass"', '"verdict": NaN')
    assert spoilt('"verdict": "pass"', '"verdict": "fine"')
    blanks = itertools.cycle((" ", "  "))

    def otherwise(path: Path, output: Path) -> tuple[int, str, str]:
        done = run(path, output)
        output.write_text(output.read_text(encoding="utf-8") + next(blanks), encoding="utf-8")
        return done

    monkeypatch.setattr(fuzz_judge, "_command", otherwise)
    assert faults_of_report(given, folder)
    monkeypatch.setattr(fuzz_judge, "_command", run)
    assert faults_of_report(given, folder) == []
    monkeypatch.setattr("loadloom.plugin.pipeline.analyse_drawing", lambda *_, **__: 1 / 0)
    assert "internal error (ZeroDivisionError" in faults_of_report(given, folder)[0]


def test_what_computes_too_long_is_stopped() -> None:
    begun = time.process_time()
    with pytest.raises(fuzz_judge.TooSlowError), limited(0.05):
        while time.process_time() < begun + 5.0:
            pass
    assert time.process_time() < begun + 1.0
