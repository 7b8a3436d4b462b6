"""Puts this folder on the path, for helpers that several test modules share."""

import os
import sys
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices, and pytest-xdist has a process for every core

sys.path.insert(0, str(Path(__file__).resolve().parent))
