"""The same drawing gives the same bytes, wherever and on whatever computer the command is run."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

FIXTURE = Path(__file__).resolve().parents[2] / "fixtures/case_08_fuse_that_never_opens"
SUFFIXES = (".json", ".html", ".xlsx", ".sarif", ".junit.xml", ".csv", ".annotations.txt")


@pytest.fixture
def project(tmp_path: Path) -> Path:
    shutil.copytree(FIXTURE, tmp_path / "repository" / "boards" / "mine")
    (tmp_path / "repository" / ".git").mkdir()
    return tmp_path / "repository" / "boards" / "mine"


def digests(project: Path, cwd: Path, output: Path, **environment: str) -> dict[str, str]:
    output.mkdir()
    drawing = os.path.relpath(project / "harness.kicad_sch", cwd)
    outputs = [word for suffix in SUFFIXES for word in ("-o", str(output / f"r{suffix}"))]
    command = [sys.executable, "-m", "loadloom.plugin.cli", "report", drawing, "--fail-on", "never", *outputs]
    fixed = {"SOURCE_DATE_EPOCH": "1700000000", "LOADLOOM_KICAD_CLI": "none"}
    subprocess.run(command, cwd=cwd, check=True, capture_output=True, env={**os.environ, **fixed, **environment})
    return {suffix: hashlib.sha256((output / f"r{suffix}").read_bytes()).hexdigest() for suffix in SUFFIXES}


def test_folder_hash_seed_locale_and_time_zone_change_nothing(project: Path, tmp_path: Path) -> None:
    first = digests(project, project, tmp_path / "a", PYTHONHASHSEED="1", TZ="UTC")
    second = digests(project, Path("/"), tmp_path / "b", PYTHONHASHSEED="2", TZ="Asia/Tokyo", LC_ALL="C")
    assert second == first
    third = digests(
        project,
        tmp_path / "repository",
        tmp_path / "c",
        PYTHONHASHSEED="3",
        TZ="America/New_York",
        LC_ALL="C.UTF-8",
    )
    assert third == first


def test_sarif_names_the_file_from_the_root_of_its_repository(project: Path, tmp_path: Path) -> None:
    digests(project, project, tmp_path / "a")
    assert '"boards/mine/harness.kicad_sch"' in (tmp_path / "a" / "r.sarif").read_text(encoding="utf-8")
