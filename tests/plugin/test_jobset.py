"""The jobset of the demo, run by KiCad itself: drawings and load report in one folder."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from programs import need

DEMO = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "sound"


@pytest.fixture
def project(tmp_path: Path) -> Path:
    folder = tmp_path / "project"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("*.html", "*.xlsx", "*.json"))
    return folder


def run(project: Path) -> subprocess.CompletedProcess[str]:
    env = os.environ | {"PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', '')}"}
    jobset, kicad_pro = project / "dome_power.kicad_jobset", project / "dome_power.kicad_pro"
    command = [need("kicad-cli"), "jobset", "run", "-f", str(jobset), str(kicad_pro)]
    return subprocess.run(command, env=env, capture_output=True, text=True, timeout=600, check=False)


def test_drawings_and_load_report_come_together(project: Path) -> None:
    done = run(project)
    assert done.returncode == 0, done.stdout
    review = project / "review"
    assert (review / "dome_power.pdf").read_bytes().startswith(b"%PDF-")
    assert zipfile.is_zipfile(review / "dome_power_loads.xlsx")
    assert "Remote observatory dome" in (review / "dome_power_loads.html").read_text("utf-8")
    copy = review / "with_currents" / "dome_power.kicad_sch"
    assert copy.read_text("utf-8").count('"Solved current"') > 20
    report = review / "erc.json"
    erc = [need("kicad-cli"), "sch", "erc", "--severity-all", "--format", "json", "-o", str(report), str(copy)]
    subprocess.run(erc, check=True, capture_output=True, timeout=120)
    sheets = json.loads(report.read_text("utf-8"))["sheets"]
    assert len(sheets) == 3 and not any(sheet["violations"] for sheet in sheets)
    assert "Solved" not in (project / copy.name).read_text("utf-8")


def test_a_report_that_fails_stops_the_jobset(project: Path) -> None:
    """KiCad gives exit code 6 for a job that fails, and puts nothing into the folder."""
    (project / "loadloom.toml").write_text('basis = "no such basis"\n')
    done = run(project)
    assert done.returncode == 6, done.stdout
    assert not (project / "review" / "dome_power_loads.xlsx").exists()
