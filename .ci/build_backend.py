"""The build of a wheel: that of setuptools, in a folder without leftovers.

setuptools copies the packages into ``build/lib`` and packs all that lies there. A rule that was deleted since the
last build would be packed again, found by the registry and judge on.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from setuptools import build_meta
from setuptools.build_meta import (
    build_editable,
    build_sdist,
    get_requires_for_build_editable,
    get_requires_for_build_sdist,
    get_requires_for_build_wheel,
    prepare_metadata_for_build_editable,
    prepare_metadata_for_build_wheel,
)

__all__ = [
    "build_editable",
    "build_sdist",
    "build_wheel",
    "get_requires_for_build_editable",
    "get_requires_for_build_sdist",
    "get_requires_for_build_wheel",
    "prepare_metadata_for_build_editable",
    "prepare_metadata_for_build_wheel",
]


def build_wheel(
    wheel_directory: str,
    config_settings: Mapping[str, Any] | None = None,
    metadata_directory: str | None = None,
) -> str:
    """Build a wheel in the current folder, as PEP 517 asks, from what stands in the source alone."""
    leftovers = Path("build", "lib")
    if leftovers.exists():
        shutil.rmtree(leftovers)
    return build_meta.build_wheel(wheel_directory, config_settings, metadata_directory)
