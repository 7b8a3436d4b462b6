"""What the command line refuses: one sentence, exit code 2, and before any work is done."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from loadloom.plugin import cli, pipeline
from loadloom.plugin.settings_file import read_settings

DRAWING = Path(__file__).resolve().parents[2] / "fixtures/case_16_handbook_drop/harness.kicad_sch"


@pytest.mark.parametrize("command", ["report", "size"])
@pytest.mark.parametrize(("place", "why"), [("none/x.html", "there is no folder"), ("x.html", "is a folder")])
def test_a_place_that_takes_no_file_is_refused_before_any_work(
    command: str,
    place: str,
    why: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    (tmp_path / "x.html").mkdir()
    monkeypatch.setattr(pipeline, "analyse_drawing", None)
    monkeypatch.setattr("loadloom.plugin.advise.advise_drawing", None)
    assert cli.main([command, str(DRAWING), "-o", str(tmp_path / place)]) == cli.EXIT_UNUSABLE
    assert why in capsys.readouterr().err


@pytest.mark.parametrize("epoch", ["soon", "1e9", "9" * 20])
def test_a_time_that_is_none_is_said(
    epoch: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    assert cli.main(["report", str(DRAWING)]) == cli.EXIT_UNUSABLE
    assert f"SOURCE_DATE_EPOCH in the environment is “{epoch}”" in capsys.readouterr().err


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_behind_the_terminal_output_is_one_sentence() -> None:
    with Path("/dev/full").open("w", encoding="utf-8") as full:
        done = subprocess.run(
            [sys.executable, "-m", "loadloom.plugin.cli", "rules"], stdout=full, stderr=subprocess.PIPE, text=True
        )
    assert done.returncode == cli.EXIT_UNUSABLE
    assert done.stderr.splitlines() == ["loadloom: the output can't be written: No space left on device"]


def test_results_that_are_not_there_are_said_without_numbers_of_the_system(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert cli.main(["compare", "nowhere.json", str(DRAWING)]) == cli.EXIT_UNUSABLE
    assert capsys.readouterr().err == "loadloom: nowhere.json: there is no such file\n"


def test_a_path_without_a_suffix_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["report", "-"]) == cli.EXIT_UNUSABLE
    assert "has no suffix (give a .kicad_sch" in capsys.readouterr().err


def test_all_names_of_a_short_list_are_told(tmp_path: Path) -> None:
    settings = tmp_path / "loadloom.toml"
    settings.write_text('basis = "nec"\n', encoding="utf-8")
    with pytest.raises(Exception, match=r"nearest is building-nec, of general-equipment, .*own-table"):
        read_settings(settings)


@pytest.mark.parametrize("way", ["", "/../{name}"], ids=["plain", "with a way back in it"])
def test_modules_of_another_program_are_not_ours(way: str, tmp_path: Path) -> None:
    """KiCad sets PYTHONPATH to its own modules for its jobs; its numpy is for another Python.

    KiCad 9 writes it as ``/usr/bin/../lib/python3/dist-packages``.
    """
    for name in ("numpy", "scipy", "networkx", "openpyxl", "rich"):
        (tmp_path / f"{name}.py").write_text("raise ImportError('made for another Python')\n", encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": f"{tmp_path}{way.format(name=tmp_path.name)}", "LOADLOOM_KICAD_CLI": "none"}
    command = [sys.executable, "-m", "loadloom.plugin.cli", "report", str(DRAWING), "--fail-on", "never"]
    done = subprocess.run(
        [*command, "-o", str(tmp_path / "r.xlsx")], env=env, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "r.xlsx").is_file()


def test_a_report_is_not_written_over_what_somebody_else_wrote(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "mine.json"
    target.write_text("mine", encoding="utf-8")
    command = ["report", str(DRAWING), "--fail-on", "never", "-o", str(target), "-o", str(tmp_path / "other.csv")]
    assert cli.main(command) == cli.EXIT_UNUSABLE
    assert "was not written by loadloom, or was changed since" in capsys.readouterr().err
    assert target.read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "other.csv").exists()
    assert cli.main([*command, "--force"]) == cli.EXIT_PASS
    assert cli.main(command) == cli.EXIT_PASS, "now it is loadloom's own"


@pytest.mark.skipif(sys.platform == "win32", reason="no pipes with names there")
@pytest.mark.parametrize("name", ["settings.toml", "old.json", "drawing.kicad_sch"])
def test_a_pipe_in_place_of_a_file_is_refused_and_not_waited_for(name: str, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / name)
    arguments = {
        "settings.toml": ["report", str(DRAWING), "--settings", name],
        "old.json": ["compare", name, str(DRAWING)],
        "drawing.kicad_sch": ["report", name],
    }[name]
    done = subprocess.run(
        [sys.executable, "-m", "loadloom.plugin.cli", *arguments],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == cli.EXIT_UNUSABLE
    assert done.stderr == f"loadloom: {name}: is not a regular file\n"


RUN_WITH_INTERRUPTS = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.SIG_DFL)
os.execv(sys.argv[1], sys.argv[1:])
"""

HANGING = """#!/bin/sh
sleep 300 &
echo $! > "$PIDS"
echo $$ >> "$PIDS"
wait
"""


@pytest.mark.skipif(sys.platform == "win32", reason="signals are another matter there")
def test_an_interrupt_ends_at_once_with_all_that_was_started(tmp_path: Path) -> None:
    """A kicad-cli that hangs, and a process that it started, end with the run; nothing is left on the disk."""
    program, pids, temporary = tmp_path / "kicad-cli", tmp_path / "pids", tmp_path / "tmp"
    program.write_text(HANGING, encoding="utf-8")
    program.chmod(0o755)
    temporary.mkdir()
    output = tmp_path / "x.json"
    environment = {
        **os.environ,
        "LOADLOOM_KICAD_CLI": str(program),
        "PIDS": str(pids),
        "TMPDIR": str(temporary),
    }
    command = [sys.executable, "-m", "loadloom.plugin.cli", "report", str(DRAWING), "-o", str(output)]
    # A test run in the background may have been told to ignore interrupts, which is inherited.
    own = subprocess.Popen(
        [sys.executable, "-c", RUN_WITH_INTERRUPTS, *command], env=environment, stderr=subprocess.PIPE, text=True
    )
    with own as run:
        _wait_until(lambda: pids.is_file() and len(pids.read_text().split()) == 2)
        started = [int(word) for word in pids.read_text().split()]
        time.sleep(2.0)  # by now it waits for kicad-cli, on a busy machine too
        asked = time.monotonic()
        run.send_signal(signal.SIGINT)
        _, said = run.communicate(timeout=30)
    assert time.monotonic() - asked < 20
    assert (run.returncode, said) == (cli.EXIT_UNUSABLE, "loadloom: stopped; nothing was written\n")
    _wait_until(lambda: not any(_runs(process) for process in started))
    assert not output.exists() and list(temporary.iterdir()) == []


def _wait_until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 30
    while not true():
        assert time.monotonic() < deadline
        time.sleep(0.05)


def _runs(process: int) -> bool:
    """Whether a process lives; one that has ended and is not yet fetched by its parent does not."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
