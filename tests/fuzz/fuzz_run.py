"""Fuzzing by hand: ``python tests/fuzz/fuzz_run.py reports -n 10000`` or ``reads -n 1000000 --kind trees``.

Prints every input that is not judged sound as ``kind seed: fault``; ``--keep FOLDER`` keeps its files. An input is
made again by its kind and seed alone. An interrupt ends with the count so far. Exit code 1 where one was found.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[1])]

from fuzz_inputs import KINDS, made  # noqa: E402  # the two folders above come first
from fuzz_judge import CPU_S, faults_of_reading, faults_of_report, written  # noqa: E402


def main() -> int:
    """Judge as many inputs as asked for, the kinds in turn."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("what", choices=("reads", "reports"))
    asked.add_argument("-n", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=0, help="first seed")
    asked.add_argument("--kind", choices=sorted(KINDS), action="append")
    asked.add_argument("--cpu", type=float, default=CPU_S, help="seconds of processor time for an input")
    asked.add_argument("--keep", type=Path)
    options = asked.parse_args()
    kinds = options.kind or list(KINDS)
    judge = faults_of_reading if options.what == "reads" else faults_of_report
    found: Counter[str] = Counter()
    begun = time.process_time()
    judged = 0
    with tempfile.TemporaryDirectory(prefix="fuzz-") as name, contextlib.suppress(KeyboardInterrupt):
        for number in range(options.n):
            kind, seed = kinds[number % len(kinds)], options.seed + number // len(kinds)
            given = made(kind, seed)
            faults = judge(given, Path(name) / "in", cpu_s=options.cpu)
            judged += 1
            if faults:
                found[kind] += 1
                print(f"{kind} {seed}: " + "\n".join(faults), flush=True)
                if options.keep:
                    written(given, options.keep / f"{kind}_{seed}")
    spent = time.process_time() - begun
    print(
        f"{options.n} {options.what} in {spent:.0f} s of processor time, {found.total()} with a fault {dict(found)}"
    )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
