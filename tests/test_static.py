"""The whole tree is clean for the static tools, as the contributor guide asks."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.mark.parametrize("command", ["-m ruff check .", "-m ruff format --check .", ".ci/check_types.py"])
def test_static_tools_find_nothing(command: str) -> None:
    done = subprocess.run(
        [sys.executable, *command.split()], cwd=ROOT, capture_output=True, text=True, timeout=600, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
