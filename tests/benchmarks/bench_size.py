"""How long ``loadloom size`` takes, whole, as a ratio to a fixed piece of work on the same machine.

By hand: ``python bench_size.py`` for all of ``sizing.SIZED``, ``python bench_size.py radial_20 mesh_30`` for some.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from bench_reports import fixed_work, used_s
from sizing import SIZED
from trees import netlist


def size_s(drawing: Path) -> float:
    """CPU seconds of a whole sizing, its processes included."""
    before = used_s(resource.RUSAGE_CHILDREN)
    loadloom = Path(sys.executable).with_name("loadloom")
    command = [loadloom, "size", drawing, "-o", drawing.with_suffix(".json"), "--fail-on", "never"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return used_s(resource.RUSAGE_CHILDREN) - before


def main(names: tuple[str, ...]) -> None:
    """Print a line for every harness."""
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            drawing = Path(folder) / f"{name}.xml"
            drawing.write_text(netlist(SIZED[name]()), encoding="utf-8")
            before = used_s(resource.RUSAGE_SELF)
            fixed_work()
            unit_s = used_s(resource.RUSAGE_SELF) - before
            print(f"{name}: {size_s(drawing) / unit_s:.1f} times the fixed work", flush=True)


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or tuple(SIZED))
