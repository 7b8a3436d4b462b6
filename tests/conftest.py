"""Puts this folder on the path, for helpers that several test modules share."""

import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices, and pytest-xdist has a process for every core

sys.path.insert(0, str(Path(__file__).resolve().parent))

from shared_results import analyse_demo, once, shared_folder

from loadloom.graph.model.results import Results


@pytest.fixture(scope="session")
def demo_results(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Results]:
    """The results of a version of the demo, such as ``flawed``: analysed once for the whole run."""
    folder = shared_folder(tmp_path_factory)
    return cache(lambda version: once(folder, f"demo_{version}", lambda: analyse_demo(version)))
