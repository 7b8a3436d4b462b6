"""mypy on the whole package, without a link: the folders of the repository are told to it by their import names.

``graph/``, ``reports/`` and ``plugin/`` stand at the top level and are imported as ``loadloom.graph`` and so on.
mypy finds no package by a name that no folder has, so each module is handed to it with its name. The settings are
those of ``pyproject.toml``; the exit code is 0 where nothing is found.
"""

from __future__ import annotations

import sys
from pathlib import Path

from mypy.build import build
from mypy.errors import CompileError
from mypy.main import process_options
from mypy.modulefinder import BuildSource

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = ("graph", "reports", "plugin")


def module_name(path: Path) -> str:
    """``loadloom.graph.circuit.solve`` for ``graph/circuit/solve.py``."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(("loadloom", *(parts[:-1] if parts[-1] == "__init__" else parts)))


def sources() -> list[BuildSource]:
    """Every module of the package, and the package itself, which has no code."""
    files = [path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))]
    return [
        BuildSource(None, "loadloom", "", str(ROOT)),
        *(BuildSource(str(path.relative_to(ROOT)), module_name(path), None, str(ROOT)) for path in files),
    ]


def main() -> int:
    """Print what mypy finds."""
    _, options = process_options(["--config-file", str(ROOT / "pyproject.toml"), "-c", "pass", *sys.argv[1:]])
    try:
        found = build(sources(), options).errors
    except CompileError as error:
        found = error.messages
    print("\n".join(found) or f"mypy finds nothing in {len(sources())} modules")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
