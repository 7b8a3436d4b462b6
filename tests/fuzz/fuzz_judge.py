"""What holds for any input: the judge of the fuzzing, which knows nothing of what an input means."""

from __future__ import annotations

import contextlib
import dataclasses
import inspect
import io
import json
import math
import os
import re
import shutil
import signal
import traceback
from collections.abc import Callable, Iterator
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import FrameType
from typing import Any, NoReturn

from fuzz_inputs import Input
from jsonschema import Draft202012Validator

from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin import values
from loadloom.plugin.building import build_harness
from loadloom.plugin.cli import main
from loadloom.plugin.errors import UnusableError
from loadloom.plugin.pipeline import settings_beside
from loadloom.plugin.reading import read_drawing
from loadloom.plugin.settings_file import read_settings

CPU_S = 20.0
"""Longest that one input may compute."""

NO_NUMBER = re.compile(r"(?<![\w/-])(?:nan|inf)(?![\w/-])")

EXIT_CODES = {"pass": 0, "fail": 1, "incomplete": 1}


class TooSlowError(BaseException):
    """An input computes for longer than ``CPU_S``; no ``except Exception`` on the way takes it for its own."""


@contextlib.contextmanager
def limited(cpu_s: float = CPU_S) -> Iterator[None]:
    """Raises ``TooSlowError`` in the code inside after so much processor time."""

    def end(_number: int, _frame: FrameType | None) -> NoReturn:
        raise TooSlowError

    before = signal.signal(signal.SIGPROF, end)
    signal.setitimer(signal.ITIMER_PROF, cpu_s)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


def faults_of_text(text: str) -> list[str]:
    """What is wrong with how a text is read as each kind of value: anything but finite numbers or one reason."""
    faults = []
    for name, read in readers_of_values().items():
        try:
            found = read(text)
            if not _finite(found):
                faults.append(f"{name} reads {text!r} as {found}")
            if read(text) != found:
                faults.append(f"{name} reads {text!r} otherwise the second time")
        except values.UnreadableValue as error:
            if not error.reason or "\n" in error.reason:
                faults.append(f"{name} says of {text!r}: {error.reason!r}")
        except Exception:
            faults.append(f"{name} of {text!r}: {traceback.format_exc()}")
    return faults


@cache
def readers_of_values() -> dict[str, Callable[[str], Any]]:
    """Every function that reads a value from one text."""
    named = inspect.getmembers(values, inspect.isfunction)
    return {
        name: read
        for name, read in named
        if read.__module__ == values.__name__
        and not name.startswith("_")
        and list(inspect.signature(read).parameters) == ["text"]
    }


def _finite(value: Any) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return all(_finite(getattr(value, field.name)) for field in dataclasses.fields(value))
    return all(map(_finite, value)) if isinstance(value, tuple | list) else True


def faults_of_reading(given: Input, folder: Path, *, cpu_s: float = CPU_S) -> list[str]:
    """What is wrong with reading an input and building its harness: anything but a harness or one sentence."""
    path = written(given, folder)
    try:
        with limited(cpu_s):
            settings_file = settings_beside(path)
            settings, drawn = read_settings(settings_file) if settings_file else (AnalysisSettings(), None)
            drawing = read_drawing(path, kicad_cli="none")
            build_harness(drawing, settings, *([drawn] if drawn is not None else []))
    except UnusableError as error:
        return [] if "\n" not in str(error) else [f"an error of several lines: {error}"]
    except TooSlowError:
        return [f"reads for more than {cpu_s:g} s"]
    except Exception:
        return [traceback.format_exc()]
    return []


def faults_of_report(given: Input, folder: Path, *, cpu_s: float = CPU_S, twice: bool = True) -> list[str]:
    """What is wrong with the report on an input; nothing, where it is as it must be."""
    path = written(given, folder)
    output = folder / "out" / "report.json"
    output.parent.mkdir()
    try:
        with limited(cpu_s):
            code, said, told = _command(path, output)
    except TooSlowError:
        return [f"computes for more than {cpu_s:g} s"]
    faults = []
    if "Traceback" in said + told or "internal error" in told:
        faults.append(told)
    if code == 2:
        if output.exists():
            faults.append("exit code 2, and a report is written")
        if len(told.strip().splitlines()) != 1:
            faults.append(f"exit code 2 with other than one line: {told}")
        return faults
    text = output.read_text(encoding="utf-8") if output.exists() else "null"
    try:
        document = json.loads(text, parse_constant=_no_number)
    except ValueError as error:
        return [*faults, str(error)]
    faults += [f"{error.json_path}: {error.message[:300]}" for error in _schema().iter_errors(document)]
    if isinstance(document, dict):
        verdict = str(document.get("verdict"))
        if EXIT_CODES.get(verdict) != code:
            faults.append(f"verdict {verdict}, exit code {code}")
        if not said.startswith(verdict.upper()):
            faults.append(f"verdict {verdict}, printed {said[:40]}")
    known = set().union(
        *(NO_NUMBER.findall(content.decode("utf-8", "replace")) for content in given.files.values())
    )
    for no_number in NO_NUMBER.finditer(said):
        if no_number[0] not in known:  # a text of the drawing may be “nan”
            faults.append(f"printed: {said[max(0, no_number.start() - 80) : no_number.end() + 40]}")
    if twice and not faults:
        again = output.with_name("again.json")
        _command(path, again)
        if not again.exists() or again.read_bytes() != output.read_bytes():
            faults.append("a second run gives other bytes")
    return faults


def written(given: Input, folder: Path) -> Path:
    """The files of an input in a folder that holds nothing else; the path of the one that is handed in."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir(parents=True)
    for name, content in given.files.items():
        (folder / name).write_bytes(content)
    return folder / given.handed_in


def _command(path: Path, output: Path) -> tuple[int, str, str]:
    """Exit code, what is printed and what is complained of."""
    said, told = io.StringIO(), io.StringIO()
    words = ["report", str(path), "-o", str(output), "--date", "2026-01-31"]
    os.environ["LOADLOOM_KICAD_CLI"] = "none"
    with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
        code = main(words)
    return code, said.getvalue(), told.getvalue()


def _no_number(name: str) -> Any:
    raise ValueError(f"{name} stands in the results")


@cache
def _schema() -> Draft202012Validator:
    text = files("loadloom.reports").joinpath("loadloom-results.schema.json").read_text(encoding="utf-8")
    return Draft202012Validator(json.loads(text))
