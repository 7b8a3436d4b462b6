"""How fast the command line answers: ``loadloom --help``, and the report of the demo after a first start.

Run by hand: ``python tests/benchmarks/bench_start.py``. Targets on an idle machine with two cores: 0.3 s and 3 s.
"""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5


def best_s(*arguments: str) -> float:
    """Least wall-clock time of several runs, after one that does not count."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "loadloom.plugin.cli", *arguments], stdout=subprocess.DEVNULL, check=False
        )
        if done.returncode not in (0, 1):
            raise SystemExit(f"{' '.join(arguments)} ended with exit code {done.returncode}")
        times.append(time.perf_counter() - start)
    return min(times[1:])


def main() -> None:
    """Print the times."""
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"--help                         {best_s('--help'):.2f} s (target 0.3 s)")
    with tempfile.TemporaryDirectory() as folder:
        outputs = [word for suffix in ("xlsx", "json") for word in ("-o", f"{folder}/load.{suffix}")]
        for version in ("sound", "flawed"):
            drawing = ROOT / "fixtures" / "observatory" / version / "dome_power.kicad_sch"
            taken = best_s("report", str(drawing), *outputs)
            print(f"report of the demo, {version:6s}     {taken:.2f} s (target 3 s), .xlsx and .json written")


if __name__ == "__main__":
    main()
