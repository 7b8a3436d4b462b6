"""How long ``report x.xml -o x.json`` takes, whole, as a ratio to a fixed piece of work on the same machine.

Then a harness of 112 wires with 77 load cases, the demo from its drawing (with KiCad's own export in it), and how
long the workbook takes in times of a plain write-only workbook of the same cells.

The fixed work: a sparse grid of 90 × 90 joints is factored and solved 48 times with scipy on one thread. By hand:
``python bench_reports.py`` for trees of 1,000 and 3,000 wires, ``python bench_reports.py 10000 30000`` for others.
"""

from __future__ import annotations

import os

os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"

import io
import resource
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla
from openpyxl import Workbook, load_workbook
from trees import SETTINGS, many_cases, netlist, tree

from loadloom.reports.results_json import read_results
from loadloom.reports.workbook.book import render


def fixed_work(side: int = 90, times: int = 48) -> float:
    """The unit: always the same sum."""
    count = side * side
    index = np.arange(count).reshape(side, side)
    a = np.concatenate([index[:, :-1].ravel(), index[:-1, :].ravel()])
    b = np.concatenate([index[:, 1:].ravel(), index[1:, :].ravel()])
    g = 1.0 + (a * 7 + b * 13) % 11
    rows, columns = np.concatenate([a, b, a, b]), np.concatenate([b, a, a, b])
    total = 0.0
    for k in range(times):
        matrix = sp.coo_matrix((np.concatenate([-g, -g, g, g]), (rows, columns)), (count, count)).tocsc()
        matrix = matrix + sp.identity(count, format="csc") * (1e-3 * (k + 1))
        total += float(sla.splu(matrix).solve(np.ones(count)).sum())
    return total


def used_s(who: int) -> float:
    """CPU seconds of this process or of its children."""
    used = resource.getrusage(who)
    return used.ru_utime + used.ru_stime


def report_s(drawing: Path) -> float:
    """CPU seconds of a whole report."""
    before = used_s(resource.RUSAGE_CHILDREN)
    loadloom = Path(sys.executable).with_name("loadloom")
    command = [loadloom, "report", drawing, "-o", drawing.with_suffix(".json"), "--fail-on", "never"]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return used_s(resource.RUSAGE_CHILDREN) - before


def workbook_times(results: Path) -> float:
    """CPU seconds of the workbook of some results over those of a plain workbook of the same cells."""
    read = read_results(results)
    before = used_s(resource.RUSAGE_SELF)
    content = render(read)
    took_s = used_s(resource.RUSAGE_SELF) - before
    written = load_workbook(io.BytesIO(content))
    sheets = {sheet.title: [[c.value for c in row] for row in sheet.iter_rows()] for sheet in written.worksheets}
    before = used_s(resource.RUSAGE_SELF)
    plain = Workbook(write_only=True)
    for title, rows in sheets.items():
        sheet = plain.create_sheet(title)
        for row in rows:
            sheet.append(row)
    plain.save(io.BytesIO())
    return took_s / (used_s(resource.RUSAGE_SELF) - before)


def measure(name: str, drawing: Path) -> None:
    """Print a line for a drawing."""
    before = used_s(resource.RUSAGE_SELF)
    fixed_work()
    unit_s = used_s(resource.RUSAGE_SELF) - before
    print(f"{name}: {report_s(drawing) / unit_s:.1f} times the fixed work", flush=True)


def main(sizes: tuple[int, ...]) -> None:
    """Print a line for every harness."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        (folder / "loadloom.toml").write_text(SETTINGS, encoding="utf-8")
        for wires in sizes:
            drawing = folder / f"tree_{wires}.xml"
            drawing.write_text(netlist(tree(wires)), encoding="utf-8")
            measure(f"tree of {wires} wires", drawing)
            times = workbook_times(drawing.with_suffix(".json"))
            print(f"  its workbook: {times:.2f} times a plain one", flush=True)
        parts, settings = many_cases()
        (folder / "loadloom.toml").write_text(settings, encoding="utf-8")
        (folder / "cases_77.xml").write_text(netlist(parts), encoding="utf-8")
        measure("77 load cases on 112 wires", folder / "cases_77.xml")
        shutil.copytree(FLAWED, folder / "flawed")
        measure("flawed demo from its drawing", folder / "flawed" / "dome_power.kicad_sch")


FLAWED = Path(__file__).resolve().parents[2] / "fixtures" / "observatory" / "flawed"


if __name__ == "__main__":
    main(tuple(int(text) for text in sys.argv[1:]) or (1_000, 3_000))
