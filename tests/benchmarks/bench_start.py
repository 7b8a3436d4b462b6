"""How fast the command line answers: ``loadloom --help``, and the report of the demo after a first start.

Run by hand: ``python tests/benchmarks/bench_start.py``. Targets on an idle machine with two cores: 0.3 s and 3 s.
Each number is the median of several runs after one that does not count. A fixed loop in the same interpreter is
timed beside each, since the speed of a shared machine varies by more than what is measured.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5
LOOP_TURNS = 10_000_000


def calibration_s() -> float:
    """CPU time of a fixed loop."""
    start = time.process_time()
    total = 0
    for i in range(LOOP_TURNS):
        total += i * i
    return time.process_time() - start


def median_s(*arguments: str) -> float:
    """Median wall-clock time of several runs, after one that does not count."""
    times = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "loadloom.plugin.cli", *arguments], stdout=subprocess.DEVNULL, check=False
        )
        if done.returncode not in (0, 1):
            raise SystemExit(f"{' '.join(arguments)} ended with exit code {done.returncode}")
        times.append(time.perf_counter() - start)
    return statistics.median(times[1:])


def line(title: str, target_s: float, *arguments: str) -> None:
    """Print one measurement, with the loop's time just before it."""
    loop_s = calibration_s()
    print(f"{title:30s} {median_s(*arguments):.2f} s (target {target_s:g} s); loop {loop_s:.2f} s CPU", flush=True)


def main() -> None:
    """Print the times."""
    print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; wall clock, median of {RUNS} runs")
    line("--help", 0.3, "--help")
    with tempfile.TemporaryDirectory() as folder:
        outputs = [word for suffix in ("xlsx", "json") for word in ("-o", f"{folder}/load.{suffix}")]
        for version in ("sound", "flawed"):
            drawing = ROOT / "fixtures" / "observatory" / version / "dome_power.kicad_sch"
            line(f"report of the demo, {version}", 3.0, "report", str(drawing), *outputs)


if __name__ == "__main__":
    main()
