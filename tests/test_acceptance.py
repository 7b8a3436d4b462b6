"""The acceptance cases: what the tool must report for every fixture that says what it expects.

Expected numbers are derived by hand beside each fixture (``README.md`` and the comments of ``expected.toml``).
"""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from loadloom.graph.model.findings import Finding
from loadloom.graph.model.results import Results
from loadloom.plugin.pipeline import analyse_file

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
KINDS = ("value", "some", "finding", "no_finding")
HEAD = ("verdict", "not_verdict")


def drawing_of(folder: Path) -> Path:
    (project,) = folder.glob("*.kicad_pro")
    return project.with_suffix(".kicad_sch")


@cache
def results_of(folder: Path) -> Results:
    return analyse_file(drawing_of(folder))


def every_check() -> list[Any]:
    checks = []
    for file in sorted(FIXTURES.glob("**/expected.toml")):
        folder = file.parent
        name = str(folder.relative_to(FIXTURES))
        expected = tomllib.loads(file.read_text(encoding="utf-8"))
        for key in HEAD:
            if key in expected:
                checks.append(pytest.param(folder, key, expected.pop(key), id=f"{name}-{key}"))
        for kind in KINDS:
            for number, check in enumerate(expected.pop(kind, []), start=1):
                what = check.get("rule") or check.get("list")
                label = "+".join(what) if isinstance(what, list) else what
                checks.append(pytest.param(folder, kind, check, id=f"{name}-{kind}{number}-{label}"))
        assert not expected, f"{file}: unknown keys {sorted(expected)}"
    return checks


def agrees(found: object, wanted: object, rel: float) -> bool:
    if isinstance(wanted, bool) or not isinstance(wanted, int | float):
        return found == wanted
    if found is None or isinstance(found, bool) or not isinstance(found, int | float):
        return False
    return math.isclose(found, wanted, rel_tol=rel, abs_tol=1e-12)


def follow(row: object, key: str) -> object:
    """``key`` of a row; after a dot, the entry of a mapping."""
    name, _, rest = key.partition(".")
    value = getattr(row, name)
    return value[rest] if rest else value


def check_value(results: Results, check: dict[str, Any]) -> None:
    rows = [row for row in getattr(results, check["list"]) if row.id == check["id"]]
    assert len(rows) == 1, f"{check['list']} has {len(rows)} rows {check['id']}"
    found = follow(rows[0], check["key"])
    if check.get("missing"):
        assert found is None
    else:
        assert agrees(found, check["value"], check.get("rel", 1e-9)), f"{check['key']} is {found}"


def check_some(results: Results, check: dict[str, Any]) -> None:
    wanted = {key: value for key, value in check.items() if key not in ("list", "rel")}
    rows = getattr(results, check["list"])
    rel = check.get("rel", 1e-9)
    fitting = [row for row in rows if all(agrees(getattr(row, key), value, rel) for key, value in wanted.items())]
    assert fitting, f"none of {len(rows)} rows of {check['list']} has {wanted}"


def matching(results: Results, check: dict[str, Any]) -> list[Finding]:
    rules = check["rule"] if isinstance(check["rule"], list) else [check["rule"]]
    found = [finding for finding in results.findings if finding.rule in rules]
    for key in ("severity", "case"):
        if key in check:
            found = [finding for finding in found if getattr(finding, key) == check[key]]
    if "subject" in check:
        found = [finding for finding in found if finding.subject.id == check["subject"]]
    if "contains" in check:
        found = [finding for finding in found if check["contains"] in finding.message]
    if "value" in check:
        found = [finding for finding in found if agrees(finding.value, check["value"], check.get("rel", 1e-9))]
    return found


@pytest.mark.parametrize(("folder", "kind", "check"), every_check())
def test_expected(folder: Path, kind: str, check: Any) -> None:
    results = results_of(folder)
    listing = "\n".join(f"{f.rule} {f.subject.id} [{f.case}] {f.message}" for f in results.findings)
    if kind == "verdict":
        assert results.verdict == check, listing
    elif kind == "not_verdict":
        assert results.verdict != check, listing
    elif kind == "value":
        check_value(results, check)
    elif kind == "some":
        check_some(results, check)
    elif kind == "finding":
        assert matching(results, check), listing
    else:
        assert not matching(results, check), listing


def test_every_case_folder_says_what_it_expects() -> None:
    folders = [folder for folder in FIXTURES.iterdir() if folder.name.startswith("case_")]
    assert len(folders) >= 30
    for folder in folders:
        assert {"expected.toml", "loadloom.toml", "README.md"} <= {file.name for file in folder.iterdir()}
