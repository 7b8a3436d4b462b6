"""Keeps modules of another program from standing in for our own.

KiCad sets ``PYTHONPATH`` to its own modules for whatever its jobs and dialogs start: its numpy, made for another
Python, was then loaded in place of ours, and the job failed.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path


def prefer_own_modules() -> None:
    """Let what ``PYTHONPATH`` names be looked at after all installed modules, unless loadloom itself is there."""
    # KiCad writes "/usr/bin/../lib/...", which Python takes the ".." out of: only resolved paths can be compared.
    foreign = {os.path.realpath(entry) for entry in os.environ.get("PYTHONPATH", "").split(os.pathsep) if entry}
    moved = [
        entry
        for entry in sys.path
        if os.path.realpath(entry) in foreign and not (Path(entry) / "loadloom").is_dir()
    ]
    sys.path[:] = [entry for entry in sys.path if entry not in moved] + moved
