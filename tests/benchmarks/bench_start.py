"""How fast the command line answers: ``loadloom --help``, and the report of the demo after a first start.

Run by hand: ``python tests/benchmarks/bench_start.py``. Targets on an idle machine with two cores: 0.3 s and 3 s.
A loop of plain Python is timed beside them, since a shared machine can be at half its speed for an hour.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5
COMPILED_ONCE = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
"""A first start leaves compiled modules behind, as it does for a user."""


def best_s(*arguments: str) -> float:
    """Least wall-clock time of several runs, after one that does not count."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "loadloom.plugin.cli", *arguments],
            stdout=subprocess.DEVNULL,
            env=COMPILED_ONCE,
            check=False,
        )
        if done.returncode not in (0, 1):
            raise SystemExit(f"{' '.join(arguments)} ended with exit code {done.returncode}")
        times.append(time.perf_counter() - start)
    return min(times[1:])


def python_loop_s() -> float:
    """Least CPU time of ten million additions of squares."""
    times = []
    for _ in range(3):
        start = time.process_time()
        total = 0
        for k in range(10_000_000):
            total += k * k
        times.append(time.process_time() - start)
    return min(times)


def main() -> None:
    """Print the times."""
    print(f"ten million additions in Python {python_loop_s():.2f} s")
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"--help                         {best_s('--help'):.2f} s (target 0.3 s)")
    with tempfile.TemporaryDirectory() as folder:
        outputs = [word for suffix in ("xlsx", "json") for word in ("-o", f"{folder}/load.{suffix}")]
        for drawing in sorted((ROOT / "fixtures" / "observatory").glob("*/dome_power.kicad_sch"), reverse=True):
            taken = best_s("report", str(drawing), *outputs)
            print(f"demo, {drawing.parent.name:8s}                 {taken:.2f} s (target 3 s), .xlsx and .json")


if __name__ == "__main__":
    main()
