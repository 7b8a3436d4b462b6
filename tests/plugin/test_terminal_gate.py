"""Nothing that a drawing, a settings file, a file name or a library says reaches the terminal raw."""

from __future__ import annotations

import os
import subprocess
import sys
import unicodedata
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError

MEAN = {
    "colour": "\x1b[31mred\x1b[0m",
    "title": "\x1b]0;pwn\x07",
    "one byte": "\x9b2J\x85\x90x\x9c",
    "line": "one\nINJECTED two\r\x0bthree\u2028INJECTED\u2029four",
    "direction": "a\u202eb\u2066c\u200fd\u061ce",
    "unseen": "a\u200b\u00ad\ufeff\u2060\U000e0041b",
    "bell": "\a\b\x7f\x00",
    "surrogate": "\ud800x",
    "long": "x\x1b[1m" * 1_500,
}
UNSEEN = {"Cc", "Cf", "Cs", "Zl", "Zp"}

Run = Callable[..., str]


def quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def netlist(mean: str = "", place: str = "") -> str:
    """A sound netlist with a text put into one place."""

    def at(name: str, text: str) -> str:
        return quoted(text + mean if name == place else text)

    def part(reference: str, role: str, value: str, fields: Sequence[tuple[str, str]]) -> str:
        listed = "".join(
            f"(property (name {at('property name', n)}) (value {at('property value', v)}))"
            for n, v in (("Role", role), *fields)
        )
        return f"(comp (ref {at('reference', reference)}) (value {at('value', value)}) {listed})"

    parts = (
        part("PS1", "output", "12 V", [("Limit", "8 A"), ("Trip", "9 A"), ("Supply", "unit")]),
        part("W1", "wire", "1 mm²", [("Length", "1 m"), ("Bundle", "b"), ("Zone", "z"), ("Load@s", "1 A")]),
        part("W2", "wire", "1 mm²", [("Length", "1 m"), ("Colour", "red")]),
        part("L1", "load", "5 A", [("Load@surge", "6 A"), ("Duration@surge", "1 s")]),
    )
    nets = {"/P": ("PS1.1", "W1.1"), "/A": ("W1.2", "L1.1"), "/B": ("L1.2", "W2.1"), "/M": ("W2.2", "PS1.2")}
    joined = "".join(
        f"(net (code {n}) (name {at('net', name)})"
        + "".join(
            f" (node (ref {at('reference', pin.split('.')[0])}) (pin {at('pin', pin.split('.')[1])}))"
            for pin in pins
        )
        + ")"
        for n, (name, pins) in enumerate(nets.items(), start=1)
    )
    block = f"(title_block (title {at('title', 'Dome')}) (company {at('company', '')}) (rev {at('revision', 'A')}))"
    sheet = f'(sheet (number 1) (name "/") (tstamps "/") {block})'
    return (
        f'(export (version "E") (design (source {at("source", "x.kicad_sch")}) {sheet}) '
        f"(components {''.join(parts)}) (nets {joined}))"
    )


PLACES = (
    "property name", "property value", "reference", "value", "net", "pin", "title", "revision", "company", "source",
)  # fmt: skip
SETTINGS = {
    "key": "{key} = 3\n",
    "table": "[{key}]\na = 1\n",
    "value": "margin = {value}\n",
    "basis": "basis = {value}\n",
    "list": "rules = [{value}]\n",
    "accept": '[[accept]]\nrule = {value}\nsubject = "x"\nreason = "x"\nby = "x"\ndate = "2026-01-01"\n',
    "role": "[role.library]\n{key} = {value}\n",
    "file": "ampacity_table = {value}\n",
    "curve": "[curve.{key}]\nfile = {value}\n",
    "case": "[case.{key}]\nstate = {value}\n",
    "zone": '[ambient.{key}]\nmin = "1 °C"\n',
    "severity": "[severity]\n{key} = {value}\n",
    "twice": "{key} = 1\n{key} = 2\n",
    "net": "[net.{key}]\nlength = {value}\n",
    "enclosure": '[enclosure.{key}]\nsurface = "1 m²"\n',
    "raw": "a = {raw}\n",
}


def toml(text: str) -> str:
    return '"' + "".join(f"\\u{ord(c):04x}" if ord(c) < 0x10000 else f"\\U{ord(c):08x}" for c in text) + '"'


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command and gives what it printed, checked: nothing unseen in it, and no line that was made up."""

    def run(*arguments: str | Path) -> str:
        capsys.readouterr()
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as end:
            code = int(end.code or 0)
        told = capsys.readouterr()
        for stream in (told.out, told.err):
            raw = {c for c in stream if c != "\n" and unicodedata.category(c) in UNSEEN}
            assert not raw, (sorted(map(hex, map(ord, raw))), stream[:400])
            assert not [line for line in stream.splitlines() if line.startswith("INJECTED")]
        start = told.err[:300]
        assert "Traceback" not in start and "internal error" not in start
        if code == 2 and "usage:" not in start:
            assert told.err.count("\n") == 1, start
        return told.out + told.err

    return run


def written(path: Path, text: str) -> Path:
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    return path


@pytest.mark.parametrize("kind", MEAN)
@pytest.mark.parametrize("place", PLACES)
def test_text_of_a_drawing(tmp_path: Path, run: Run, place: str, kind: str) -> None:
    mean = MEAN[kind]
    drawing = written(tmp_path / "x.net", netlist(mean, place))
    run("report", drawing)
    run("compare", written(tmp_path / "sound.net", netlist()), drawing)
    if kind in ("colour", "line"):
        run("size", drawing)


@pytest.mark.parametrize("kind", MEAN)
@pytest.mark.parametrize("form", SETTINGS)
def test_text_of_the_settings(tmp_path: Path, run: Run, form: str, kind: str) -> None:
    mean = MEAN[kind] if kind != "surrogate" else "\ufffe"
    text = SETTINGS[form].format(key=toml(mean), value=toml(mean), raw=mean)
    run("report", written(tmp_path / "x.net", netlist()), "--settings", written(tmp_path / "s.toml", text))


@pytest.mark.parametrize("kind", [kind for kind in MEAN if kind != "long"])
@pytest.mark.skipif(os.name == "nt", reason="such names can't be made there")
def test_names_of_files_and_arguments(tmp_path: Path, run: Run, kind: str) -> None:
    mean = MEAN[kind].replace("\x00", "").replace("\ud800", "\udc80")
    sound = written(tmp_path / "sound.net", netlist())
    folder = tmp_path / mean
    folder.mkdir()
    drawing = written(folder / f"{mean}.net", netlist())
    run("report", drawing)
    run("report", tmp_path / f"no{mean}.net")
    run("report", tmp_path / f"no{mean}.kicad_sch")
    run("report", tmp_path / f"no.{mean}")
    run("report", sound, "--settings", folder / "no.toml")
    run("report", sound, "-o", folder / "none" / "x.html")
    run("report", sound, "-o", folder / f"x.{mean}")
    run("report", sound, "--fail-on", mean)
    run("report", sound, "--date", mean)
    run("report", sound, f"--{mean}")
    run("report", sound, mean)
    run(mean)
    run("rules", mean)
    for change in (mean, f"W1.{mean}=1", f"{mean}.Gauge=1", f"W1.Gauge={mean}", f"W1.Length@{mean}=2 m"):
        run("report", sound, "--set", change)
    run("compare", folder / "no.json", sound)
    run("compare", written(folder / f"{mean}.json", "{"), sound)
    run(
        "compare",
        written(folder / "x.json", '{"format": "loadloom-results", "format_version": "\\u001b[1m"}'),
        sound,
    )
    run("size", sound, "--apply", folder / "x.net")
    run("annotate", drawing, "-o", folder / "y")
    run("kicad", "add", "--project", folder / "none")
    run("demo", drawing)


def test_results_that_somebody_wrote(tmp_path: Path, run: Run) -> None:
    """A results file is no more to be trusted than a drawing."""
    old = tmp_path / "old.json"
    run("report", written(tmp_path / "x.net", netlist()), "-o", old)
    text = old.read_text(encoding="utf-8")
    evil = text.replace('"rule": "', '"rule": "\\u001b[31m\\nINJECTED\\u202e').replace('"Dome"', '"\\u0007"')
    run("compare", written(tmp_path / "evil.json", evil.replace('"W1"', '"\\u001bW1"')), tmp_path / "x.net")


def test_an_error_is_one_line_whoever_prints_it() -> None:
    error = UnusableError(
        "cause\n\x1b[31m", file=Path("a\x07b"), line=3, symbol="\u202eW1", field="x" * 5000, hint="try\rthis"
    )
    assert not [c for c in str(error) if unicodedata.category(c) in UNSEEN]
    assert len(str(error)) <= 2000


def test_an_error_of_a_library_passes_the_gate(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("\x1b[31mlibrary\nINJECTED")

    monkeypatch.setattr("loadloom.plugin.pipeline.analyse_drawing", broken)
    for debug in ("", "1"):
        monkeypatch.setenv("LOADLOOM_DEBUG", debug)
        assert main(["report", "x.net"]) == 2
        told = capsys.readouterr().err
        assert "\x1b" not in told and "␛[31mlibrary" in told


@pytest.mark.parametrize("streams", [">&-", "2>&-", ">&- 2>&-"])
@pytest.mark.skipif(os.name == "nt", reason="a shell's way to close a stream")
def test_a_closed_stream_changes_no_exit_code(tmp_path: Path, streams: str) -> None:
    drawing = written(tmp_path / "x.net", netlist())
    for path, code in ((drawing, 1), (tmp_path / "none.net", 2)):
        command = f'"{sys.executable}" -m loadloom.plugin.cli report "{path}" {streams}'
        done = subprocess.run(command, shell=True, capture_output=True, text=True)
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stdout + done.stderr


def test_a_terminal_of_few_characters_gets_a_report(tmp_path: Path) -> None:
    drawing = written(tmp_path / "x.net", netlist())
    done = subprocess.run(
        [sys.executable, "-m", "loadloom.plugin.cli", "report", str(drawing)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
    )
    assert done.returncode == 1 and done.stdout.decode("ascii").startswith("INCOMPLETE")


def test_the_version_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--version"])
    assert capsys.readouterr().out.startswith("loadloom ") and "%" not in capsys.readouterr().out
