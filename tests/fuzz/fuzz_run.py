"""Fuzzing by hand: ``python tests/fuzz/fuzz_run.py reports -n 10000``, ``reads -n 100000 --kind trees``, ``texts``.

``texts`` reads single values, each by every reader of values; ``reads`` reads whole drawings with their settings
and builds their harness; ``reports`` writes the report on each, twice. Prints every input that is not judged sound
as ``kind seed fault``, and the count so far after every piece of the work; ``--keep FOLDER`` keeps the files of
what was found. An input is made again by its kind and seed alone. Each piece runs in a process of its own, split
off from one that has loaded the libraries, so that what ends the interpreter itself is found as well. Exit code 1
where a fault was found.
"""

from __future__ import annotations

import argparse
import math
import mmap
import os
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[1])]

from fuzz_inputs import KINDS, made, made_text  # noqa: E402  # the two folders above come first
from fuzz_judge import CPU_S, faults_of_reading, faults_of_report, faults_of_text, written  # noqa: E402

PIECES = {"texts": 10_000, "reads": 1_000, "reports": 100}
BEYOND = 3
"""So many times the limit an input may compute before the system ends its process: code that is not Python's, and
asks for no signal, is stopped by this alone."""


@dataclass(frozen=True)
class Asked:
    """What is to be judged: inputs number ``first`` and on, the kinds in turn."""

    what: str
    kinds: tuple[str, ...]
    seed: int
    cpu_s: float
    keep: Path | None
    again: int = 1
    """Every so manieth report is made a second time, and compared."""

    def kind_and_seed(self, number: int) -> tuple[str, int]:
        """The kind and seed of an input by its number."""
        return self.kinds[number % len(self.kinds)], self.seed + number // len(self.kinds)


def judge(asked: Asked, number: int, folder: Path) -> list[str]:
    """What is wrong with one input; its files are kept where that is asked for."""
    kind, seed = asked.kind_and_seed(number)
    if asked.what == "texts":
        return faults_of_text(made_text(seed))
    given = made(kind, seed)
    if asked.what == "reads":
        faults = faults_of_reading(given, folder / "in", cpu_s=asked.cpu_s)
    else:
        faults = faults_of_report(given, folder / "in", cpu_s=asked.cpu_s, twice=number % asked.again == 0)
    if faults and asked.keep:
        written(given, asked.keep / f"{kind}_{seed}")
    return faults


def piece(
    first: int, end: int, cpu_s: float, judge_one: Callable[[int], list[str]], say: Callable[[int, str], None]
) -> int:
    """Judge the inputs of a piece, each in its turn; how many have a fault.

    They run in another process; where that dies, the input at which it died has a fault, and the next goes on.
    """
    counts = mmap.mmap(-1, 16)
    found = 0
    while first < end:
        counts[:] = first.to_bytes(8, "little") + bytes(8)
        child = os.fork()
        if child == 0:
            _judge_all(first, end, cpu_s, judge_one, say, counts)
        status = os.waitpid(child, 0)[1]
        at, faulty = (int.from_bytes(counts[k : k + 8], "little") for k in (0, 8))
        found += faulty
        if status == 0:
            break
        say(at, f"the process died ({os.waitstatus_to_exitcode(status)})")
        found, first = found + 1, at + 1
    return found


def _judge_all(
    first: int,
    end: int,
    cpu_s: float,
    judge_one: Callable[[int], list[str]],
    say: Callable[[int, str], None],
    counts: mmap.mmap,
) -> None:
    """Ends the process."""
    faulty, code = 0, 1
    try:
        for number in range(first, end):
            limit_s = math.ceil(time.process_time() + BEYOND * cpu_s)
            resource.setrlimit(resource.RLIMIT_CPU, (limit_s, resource.RLIM_INFINITY))
            counts[:8] = number.to_bytes(8, "little")
            if faults := judge_one(number):
                faulty += 1
                say(number, "\n".join(faults))
            counts[8:] = faulty.to_bytes(8, "little")
        code = 0
    finally:
        sys.stdout.flush()
        os._exit(code)


def main() -> int:
    """Judge as many inputs as asked for."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("what", choices=("texts", "reads", "reports"))
    words.add_argument("-n", type=int, default=1000)
    words.add_argument("--seed", type=int, default=0, help="first seed")
    words.add_argument("--kind", choices=sorted(KINDS), action="append")
    words.add_argument("--cpu", type=float, default=CPU_S, help="seconds of processor time for an input")
    words.add_argument("--keep", type=Path)
    words.add_argument("--again", type=int, default=1, help="make every so manieth report twice")
    options = words.parse_args()
    kinds = ("text",) if options.what == "texts" else tuple(options.kind or KINDS)
    asked = Asked(options.what, kinds, options.seed, options.cpu, options.keep, options.again)

    def say(number: int, fault: str) -> None:
        print(*asked.kind_and_seed(number), fault, flush=True)

    found = 0
    with tempfile.TemporaryDirectory(prefix="fuzz-") as name:
        for first in range(0, options.n, PIECES[options.what]):
            end = min(options.n, first + PIECES[options.what])
            found += piece(first, end, options.cpu, lambda number: judge(asked, number, Path(name)), say)
            print(
                f"{end} {options.what} of {'/'.join(kinds)} from seed {options.seed}: {found} with a fault",
                flush=True,
            )
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
