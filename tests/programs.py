"""Programs that some tests need: skipped with a plain reason where missing, failed where CI promises them."""

import os
import shutil

import pytest


def need(program: str) -> str:
    """Path of a program; skips the test where it is missing, and fails it under ``CI=true``."""
    path = shutil.which(program)
    if path is None:
        reason = f"{program} is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(f"{reason}, and CI must have it")
        pytest.skip(reason)
    return path
