"""A bounded piece of the fuzzing: 1,000 values, 180 inputs read, 44 reported on; ``fuzz_run.py`` does many more."""

from __future__ import annotations

import itertools
import json
import os
import signal
import time
from pathlib import Path

import fuzz_judge
import pytest
from fuzz_inputs import DRAWN, KINDS, made, made_text, netlist
from fuzz_judge import faults_of_reading, faults_of_report, faults_of_text, limited, readers_of_values
from fuzz_run import piece

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


def test_whatever_text_stands_for_a_value_is_finite_or_one_reason() -> None:
    assert {"current_a", "resistance_band_ohm", "gauge", "efficiency"} <= readers_of_values().keys()
    found = {seed: faults for seed in range(1000) if (faults := faults_of_text(made_text(seed)))}
    assert found == {}


def test_the_judge_of_texts_can_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = {"a": float, "b": lambda text: (1.0, float(text)), "c": lambda _: object()}
    monkeypatch.setattr(fuzz_judge, "readers_of_values", lambda: wrong)
    faults = faults_of_text("inf")
    assert [fault.partition(" ")[0] for fault in faults] == ["a", "b", "c"]
    assert len(faults_of_text("x")) == 3


def test_an_input_that_ends_the_process_is_found_and_the_next_ones_are_judged(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """A crash outside Python, one that computes on with signals held back, and an ordinary fault."""

    def judge_one(number: int) -> list[str]:
        if number == 3:
            os.kill(os.getpid(), signal.SIGSEGV)
        if number == 5:
            signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGPROF})
            while True:
                pass
        return ["a fault"] if number == 8 else []

    found = piece(0, 10, 0.2, judge_one, lambda number, fault: print(number, fault, flush=True))
    assert found == 3
    assert capfd.readouterr().out.splitlines() == [
        "3 the process died (-11)",
        "5 the process died (-24)",
        "8 a fault",
    ]


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
