"""What takes long and many tests look at is made once for a whole run, whichever worker needs it first."""

from __future__ import annotations

import os
import pickle
import time
from collections.abc import Callable
from contextlib import chdir
from pathlib import Path
from typing import TypeVar

import pytest

from loadloom.graph.model.results import Results
from loadloom.plugin.demo import DRAWINGS
from loadloom.plugin.pipeline import analyse_file

ROOT = Path(__file__).resolve().parents[1]
OBSERVATORY = ROOT / "fixtures" / "observatory"
LONGEST_S = 900.0
"""A worker that died while it made something is not waited for longer."""

Made = TypeVar("Made")


def once(folder: Path, name: str, make: Callable[[], Made]) -> Made:
    """What ``make`` returns, made by one of the processes that share ``folder`` and read by the others."""
    done, begun = folder / f"{name}.pickle", folder / f"{name}.begun"
    end = time.monotonic() + LONGEST_S
    while not done.exists():
        try:
            begun.mkdir(parents=True)
        except FileExistsError:
            if time.monotonic() < end:
                time.sleep(0.1)
                continue
        try:
            made = make()
        except BaseException:
            begun.rmdir()
            raise
        written = folder / f"{name}.{os.getpid()}"
        written.write_bytes(pickle.dumps(made))
        written.replace(done)
        return made
    kept: Made = pickle.loads(done.read_bytes())
    return kept


def shared_folder(factory: pytest.TempPathFactory) -> Path:
    """One folder for a run of pytest, the same for all its workers."""
    base = factory.getbasetemp()
    return (base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base) / "made_once"


def analyse_demo(version: str) -> Results:
    """The demo's drawing as the repository holds it, named by its path from the repository's root."""
    with chdir(ROOT):
        return analyse_file((OBSERVATORY / version).relative_to(ROOT) / drawing_name(version))


def drawing_name(version: str) -> str:
    """``dome_power.kicad_sch`` or ``cart.kicad_sch``."""
    return DRAWINGS[version]
