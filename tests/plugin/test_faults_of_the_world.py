"""Faults that no drawing has: a full disk, a device for a file, links in a circle, odd dates, a terminal of ASCII.

Each is made for real. Whatever happens ends in exit code 2 and one sentence, and what stood there before stands
there after.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from programs import need

from loadloom.plugin import cli

CASE = Path(__file__).resolve().parents[2] / "fixtures/case_16_handbook_drop"
posix = pytest.mark.skipif(sys.platform == "win32", reason="links, devices and mounts are another matter there")

Refused = Callable[..., str]


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A copy of a project; its root schematic."""
    shutil.copytree(CASE, tmp_path / "p")
    return tmp_path / "p" / "harness.kicad_sch"


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Refused:
    """Runs a command that has to be refused; its one sentence."""
    monkeypatch.setenv("LOADLOOM_KICAD_CLI", "none")

    def run(*words: str | Path) -> str:
        assert cli.main([str(word) for word in words]) == cli.EXIT_UNUSABLE
        said = capsys.readouterr()
        assert said.out == "" and said.err.count("\n") == 1 and "internal error" not in said.err, said.err
        return said.err

    return run


# ---- the disk ------------------------------------------------------------------------------------------------

ON_A_SMALL_DISK = """
import contextlib, io, json, os, shutil, subprocess, sys
from pathlib import Path
from loadloom.plugin.cli import main
from loadloom.plugin.kicad import running

running.PROGRAMS = frozenset()  # a KiCad that another test runs at this moment is not what is tried here
disk, project = Path(sys.argv[1]), Path(sys.argv[2])
drawing = project / "harness.kicad_sch"
mount = ["mount", "-t", "tmpfs", "-o"]
subprocess.run([*mount, "size=1m", "none", disk], check=True)

def state():
    return {str(f.relative_to(disk)): f.read_bytes() for f in sorted(disk.rglob("*")) if f.is_file()}

def tried(*words):
    before, told = state(), io.StringIO()
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(told):
        code = main([str(word) for word in words])
    return {"code": code, "told": told.getvalue(), "kept": state() == before}

json_file, page = disk / "x.json", disk / "x.html"
found = {"room": tried("report", drawing, "-o", json_file)}
shutil.copytree(project, disk / "p")
config = disk / "home" / ".config" / "kicad" / "9.0"
config.mkdir(parents=True)
for name in ("eeschema.json", "kicad_common.json"):
    (config / name).write_text("{}")
with contextlib.suppress(OSError), (disk / "full").open("wb", buffering=0) as filler:
    while filler.write(bytes(4096)):
        pass
os.environ["HOME"] = str(disk / "home")
attempts = {
    "report": ("report", drawing, "-o", json_file, "-o", page),
    "csv": ("report", drawing, "-o", disk / "x.csv"),
    "workbook": ("report", drawing, "-o", disk / "x.xlsx"),
    "annotate": ("annotate", drawing, "-o", disk / "copy.kicad_sch"),
    "annotate in place": ("annotate", disk / "p" / "harness.kicad_sch", "--in-place"),
    "size": ("size", drawing, "--apply", disk / "sized.kicad_sch"),
    "fields": ("fields", drawing, "-o", disk / "fields.csv"),
    "demo": ("demo", disk / "demo"),
    "kicad": ("kicad", "add"),
}
for name, words in attempts.items():
    found[name] = tried(*words)
subprocess.run([*mount, "remount,ro", disk], check=True)
for name in ("report", "annotate", "fields", "kicad"):
    found[f"{name}, read-only"] = tried(*attempts[name])
print(json.dumps(found))
"""


@posix
def test_a_full_and_a_read_only_disk(project: Path, tmp_path: Path) -> None:
    """A file system of its own, of 1 MB, filled to the last block, then mounted read-only."""
    (tmp_path / "disk").mkdir()
    command = [need("unshare"), "-rm", sys.executable, "-c", ON_A_SMALL_DISK, tmp_path / "disk", project.parent]
    environment = {**os.environ, "LOADLOOM_KICAD_CLI": "none", "XDG_CONFIG_HOME": ""}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode and os.environ.get("CI") != "true" and "mount" in done.stderr:
        pytest.skip("no file system can be mounted here")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    assert found.pop("room")["code"] != cli.EXIT_UNUSABLE, "with room left it is written"
    for name, attempt in found.items():
        assert attempt["code"] == cli.EXIT_UNUSABLE, (name, attempt)
        assert attempt["told"].count("\n") == 1 and "internal error" not in attempt["told"], (name, attempt)
        cause = "read-only" if "read-only" in name else "no space left on device"
        assert cause in attempt["told"].lower(), (name, attempt)
        assert attempt["kept"], (name, attempt)
    assert len(found) == 13


# ---- what comes in -------------------------------------------------------------------------------------------

READ_AS = ("settings.toml", "old.json", "drawing.kicad_sch", "drawing.net", "wires.csv", "wires.xlsx", "fields.csv")


def reading(file: Path, project: Path) -> list[str | Path]:
    """A command that reads a file for what its name says."""
    return {
        "settings.toml": ["report", project, "--settings", file],
        "old.json": ["compare", file, project],
        "fields.csv": ["fields", project, "--from", file, "-o", project.parent / "new.kicad_sch"],
    }.get(file.name, ["report", file])


@posix
@pytest.mark.parametrize("name", READ_AS)
def test_a_device_without_end_is_not_read(name: str, project: Path, tmp_path: Path, refused: Refused) -> None:
    (tmp_path / name).symlink_to("/dev/zero")
    assert "is not a regular file" in refused(*reading(tmp_path / name, project))


@posix
@pytest.mark.parametrize("name", READ_AS)
def test_a_pipe_that_nobody_writes_into_is_not_waited_for(
    name: str, project: Path, tmp_path: Path, refused: Refused
) -> None:
    os.mkfifo(tmp_path / name)
    assert "is not a regular file" in refused(*reading(tmp_path / name, project))


@posix
@pytest.mark.parametrize("name", ["loadloom.toml", "harness.kicad_pro"])
def test_nor_one_that_lies_beside_a_drawing(name: str, project: Path, refused: Refused) -> None:
    project.with_name(name).unlink()
    os.mkfifo(project.with_name(name))
    assert name in refused("report", project)


@pytest.mark.parametrize("name", READ_AS)
def test_a_file_of_gigabytes_is_not_read(name: str, project: Path, tmp_path: Path, refused: Refused) -> None:
    with (tmp_path / name).open("wb") as file:
        file.truncate(3 << 30)
    assert "is larger than" in refused(*reading(tmp_path / name, project))


@posix
@pytest.mark.parametrize("name", READ_AS)
def test_a_link_in_a_circle_is_not_followed(name: str, project: Path, tmp_path: Path, refused: Refused) -> None:
    (tmp_path / name).symlink_to(tmp_path / name)
    assert "links" in refused(*reading(tmp_path / name, project))


@posix
@pytest.mark.parametrize("to", ["nowhere", "itself", "a folder"])
@pytest.mark.parametrize("name", ["loadloom.toml", "harness.kicad_pro"])
def test_what_lies_beside_a_drawing_and_can_not_be_read_is_not_passed_over(
    name: str, to: str, project: Path, refused: Refused
) -> None:
    """The drawing would be judged by other settings than its author's."""
    beside = project.with_name(name)
    beside.unlink()
    if to == "a folder":
        beside.mkdir()
    else:
        beside.symlink_to(beside if to == "itself" else "nowhere")
    assert name in refused("report", project)


@posix
def test_parts_of_a_wire_list_that_can_not_be_read_are_not_passed_over(tmp_path: Path, refused: Refused) -> None:
    (tmp_path / "w.csv").write_text("Wire,From,To\nW1,A,B\n", encoding="utf-8")
    (tmp_path / "w.parts.csv").symlink_to("nowhere")
    assert "w.parts.csv: there is no such file" in refused("report", tmp_path / "w.csv")


# ---- what goes out -------------------------------------------------------------------------------------------


def writing(target: Path, project: Path) -> list[tuple[str | Path, ...]]:
    """Every command that writes a file, each with one of its own kind: ``target`` with the suffix."""
    return [
        *(("report", project, "-o", target.with_suffix(s)) for s in (".json", ".xlsx", ".html", ".csv")),
        ("size", project, "-o", target.with_suffix(".json")),
        ("size", project, "--apply", target.with_suffix(".kicad_sch")),
        ("annotate", project, "-o", target.with_suffix(".kicad_sch")),
        ("fields", project, "-o", target.with_suffix(".csv")),
        ("compare", project, project, "-o", target.with_suffix(".json")),
    ]


SUFFIXES = (".json", ".xlsx", ".html", ".csv", ".kicad_sch")


@posix
def test_no_command_writes_through_a_link_in_a_circle(project: Path, tmp_path: Path, refused: Refused) -> None:
    targets = [tmp_path / f"loop{suffix}" for suffix in ("", *SUFFIXES)]
    for target in targets:
        target.symlink_to(target)
    for words in (
        *writing(tmp_path / "loop", project),
        ("report", project, "-o", tmp_path / "loop" / "x.json"),
        ("size", project, "--apply", tmp_path / "loop" / "x.kicad_sch"),
        ("demo", tmp_path / "loop"),
    ):
        assert "can't be written" in refused(*words), words
    assert all(target.is_symlink() for target in targets)


@posix
@pytest.mark.parametrize("force", [False, True])
def test_no_command_writes_into_a_pipe_a_device_a_folder_or_out_of_the_folder(
    force: bool, project: Path, tmp_path: Path, refused: Refused
) -> None:
    """Opening a pipe that nobody reads from would wait for ever."""
    (tmp_path / "elsewhere").mkdir()
    for suffix in SUFFIXES:
        os.mkfifo(tmp_path / f"pipe{suffix}")
        (tmp_path / f"folder{suffix}").mkdir()
        (tmp_path / f"device{suffix}").symlink_to("/dev/null")
        (tmp_path / f"away{suffix}").symlink_to(tmp_path / "elsewhere" / f"x{suffix}")
    for name, why in (
        ("pipe", "a device or a pipe|not a regular file"),
        ("folder", "is a folder"),
        ("device", "leads out of its folder|not a regular file"),
        ("away", "leads out of its folder"),
    ):
        for words in writing(tmp_path / name, project):
            said = refused(*words, *(["--force"] if force else []))
            assert re.search(why, said), (words, said)
    assert list((tmp_path / "elsewhere").iterdir()) == []


@posix
def test_a_circle_in_the_search_path_of_another_program_stops_nothing(project: Path, tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    done = command("rules", PYTHONPATH=str(tmp_path / "loop"))
    assert done.returncode == 0 and done.stderr == b""


@pytest.mark.parametrize("date", ["0001-01-01", "1969-12-31", "2108-01-01", "9999-12-31"])
def test_dates_beyond_the_formats(date: str, project: Path, tmp_path: Path) -> None:
    """A zip archive, and so a workbook, holds the years 1980 to 2107 (PKWARE's APPNOTE, 4.4.6)."""
    outputs = [tmp_path / f"x{suffix}" for suffix in (".xlsx", ".html", ".json", ".sarif", ".junit.xml", ".csv")]
    asked = [word for output in outputs for word in ("-o", str(output))]
    assert cli.main(["report", str(project), "--fail-on", "never", "--date", date, *asked]) == cli.EXIT_PASS
    assert json.loads(outputs[2].read_text(encoding="utf-8"))["date"] == date
    with zipfile.ZipFile(outputs[0]) as book:
        assert book.testzip() is None
        assert {item.date_time[0] for item in book.infolist()} == {min(max(int(date[:4]), 1980), 2107)}


@pytest.mark.parametrize("seconds", [-3e9, 0.0, 2e10])
def test_files_saved_at_odd_times(seconds: float, project: Path, tmp_path: Path) -> None:
    for file in project.parent.iterdir():
        os.utime(file, (seconds, seconds))
    outputs = ["-o", str(tmp_path / "x.xlsx"), "-o", str(tmp_path / "x.html")]
    assert cli.main(["report", str(project), "--fail-on", "never", *outputs]) == cli.EXIT_PASS


# ---- the terminal --------------------------------------------------------------------------------------------


def command(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """A run in a process of its own, with nothing to read from."""
    return subprocess.run(
        [sys.executable, "-m", "loadloom.plugin.cli", *map(str, words)],
        env={**os.environ, "LOADLOOM_KICAD_CLI": "none", **environment},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        check=False,
    )


ASCII = {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""}
COMMANDS: dict[str, tuple[Callable[[Path], list[str | Path]], int]] = {
    "report": (lambda project: ["report", project, "-o", project.with_name("x.html")], 1),
    "compare": (lambda project: ["compare", project, project], 0),
    "size": (lambda project: ["size", project], 1),
    "setup": (lambda project: ["setup", project], 0),
    "rules": (lambda _: ["rules"], 0),
    "nothing there": (lambda project: ["report", project.with_name("a “b” Ω.kicad_sch")], 2),
}
"""What is printed with characters beyond ASCII, and the exit code."""


@posix
@pytest.mark.parametrize("name", COMMANDS)
def test_a_terminal_of_ascii_alone(name: str, project: Path) -> None:
    words, code = COMMANDS[name]
    done = command(*words(project), **ASCII)
    assert done.returncode == code
    assert (done.stdout + done.stderr).isascii()
    assert b"Traceback" not in done.stderr and b"internal error" not in done.stderr


@posix
@pytest.mark.parametrize("name", ["report", "rules"])
def test_a_reader_of_the_output_that_goes_away_at_once(name: str, project: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    words = [sys.executable, "-m", "loadloom.plugin.cli", *map(str, COMMANDS[name][0](project))]
    environment = {**os.environ, "LOADLOOM_KICAD_CLI": "none"}
    done = subprocess.run(
        words, env=environment, stdin=subprocess.DEVNULL, stdout=writing, stderr=subprocess.PIPE, check=False
    )
    os.close(writing)
    assert done.stderr == b""


# ---- KiCad's configuration -----------------------------------------------------------------------------------

NULLS = {
    "eeschema.json": [
        *("null", "[]", "3", '{"bom": null}', '{"netlist": null}', '{"bom": {"plugins": null}}'),
        *('{"netlist": {"plugins": {}}}', "[" * 100_000),
    ],
    "kicad_common.json": ["null", "[]", '{"api": null}', '{"api": []}', '{"api": 3}'],
}


@pytest.mark.parametrize(("file", "text"), [(file, text) for file, texts in NULLS.items() for text in texts])
def test_null_where_kicad_writes_an_object_or_a_list(
    file: str, text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refused: Refused
) -> None:
    config = tmp_path / ".config" / "kicad" / "9.0"
    config.mkdir(parents=True)
    for name in NULLS:
        (config / name).write_text(text if name == file else "{}", encoding="utf-8")
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", "")
    monkeypatch.setattr("loadloom.plugin.kicad.running.PROGRAMS", frozenset())
    before = {f: f.read_bytes() for f in tmp_path.rglob("*") if f.is_file()}
    assert file in refused("kicad", "add")
    assert {f: f.read_bytes() for f in tmp_path.rglob("*") if f.is_file()} == before
