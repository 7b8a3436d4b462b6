"""What the command line refuses: one sentence, exit code 2, and before any work is done."""

from __future__ import annotations

import os
import subprocess
import sys
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
    monkeypatch.setattr(pipeline, "analyse_file", None)
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
    assert capsys.readouterr().err == "loadloom: nowhere.json: can't be read: no such file or directory\n"


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
