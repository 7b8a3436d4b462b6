"""What CI installs is locked, what an install brings along is listed, a build holds nothing of an earlier one."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from importlib.machinery import SourceFileLoader
from importlib.metadata import version
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.version import Version
from programs import need

ROOT = Path(__file__).resolve().parents[1]


def of_ci(name: str) -> ModuleType:
    path = next(p for p in (ROOT / ".ci" / f"{name}.py", ROOT / ".ci" / name) if p.is_file())
    loader = SourceFileLoader(name, str(path))
    spec = importlib.util.spec_from_loader(name, loader)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    loader.exec_module(module)
    return module


def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def locked() -> dict[str, Version]:
    lines = (ROOT / ".ci" / "lock.txt").read_text(encoding="utf-8").splitlines()
    pairs = [line.split("==") for line in lines if line and not line.startswith("#")]
    return {plain(name): Version(number) for name, number in pairs}


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def test_every_requirement_is_locked_in_a_version_that_it_allows() -> None:
    found = project()
    lines = [*found["project"]["dependencies"], *found["build-system"]["requires"]]
    lines += found["project"]["optional-dependencies"]["test"]
    pins = locked()
    wrong = [line for line in lines if (r := Requirement(line)) and not r.specifier.contains(pins[plain(r.name)])]
    assert wrong == []


def test_every_dependency_says_its_lowest_version() -> None:
    """``.ci/installs`` tries the quick tests with just these."""
    for line in project()["project"]["dependencies"]:
        assert [s.operator for s in Requirement(line).specifier] == [">="], line


def test_ci_installs_what_is_locked() -> None:
    text = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert text.index('PIP_CONSTRAINT="$PWD/.ci/lock.txt"') < text.index('bash -euo pipefail -c "$command"')


MAIN = """Types: deb
URIs: http://mirror.example/debian
Suites: bookworm bookworm-updates
Components: main
Signed-By: /usr/share/keyrings/debian-archive-keyring.gpg
"""
BACKPORTS = MAIN.replace("bookworm bookworm-updates", "bookworm-backports")
ENTRY = "deb http://mirror.example/debian/ bookworm-backports main"


@pytest.mark.parametrize(
    ("listed", "entry"),
    [
        ({"debian.sources": MAIN}, ENTRY),
        ({"debian.sources": MAIN, "other.list": f"# {ENTRY}"}, ENTRY),
        ({"debian.sources": MAIN, "other.sources": f"Enabled: no\n{BACKPORTS}"}, ENTRY),
        ({"debian.sources": MAIN.replace("-updates", "-updates bookworm-backports")}, ""),
        ({"debian.sources": MAIN, "other.sources": BACKPORTS}, ""),
        ({"debian.list": "deb [trusted=yes] http://mirror.example/debian bookworm main"}, ENTRY),
        ({"debian.sources": MAIN, "other.list": ENTRY}, ""),
    ],
)
def test_ci_lists_the_backports_suite_once(listed: dict[str, str], entry: str, tmp_path: Path) -> None:
    """apt refuses to work with a suite that is listed twice and signed in two ways."""
    need("apt-get")

    def apt(*command: str | Path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)

    sources = tmp_path / "sources"
    sources.mkdir()
    (tmp_path / "apt.conf").write_text(f'Dir::Etc::sourcelist "/dev/null"; Dir::Etc::sourceparts "{sources}";')
    environment = {**os.environ, "APT_CONFIG": str(tmp_path / "apt.conf")}
    for name, text in listed.items():
        (sources / name).write_text(text + "\n")
    done = apt(ROOT / ".ci" / "backports_entry")
    assert (done.returncode, done.stdout.strip(), done.stderr) == (0, entry, "")
    (sources / "added.list").write_text(done.stdout)
    assert apt("apt-get", "indextargets").returncode == 0
    if not entry and "other.list" not in listed:
        signed = ENTRY.replace("deb ", "deb [signed-by=/usr/share/keyrings/other.gpg] ")
        (sources / "added.list").write_text(signed + "\n")
        assert "Conflicting values" in apt("apt-get", "indextargets").stderr, "two entries are refused"


def test_the_bill_of_materials_lists_all_that_an_install_brings_along() -> None:
    materials = of_ci("bill_of_materials")
    kept = json.loads((ROOT / ".ci" / "bill_of_materials.cdx.json").read_text(encoding="utf-8"))
    listed = {entry["name"]: entry for entry in kept["components"]}
    pins = locked()
    assert all(Version(e["version"]) == pins[n] for n, e in listed.items() if e["purl"].startswith("pkg:pypi/"))
    assert all(entry["licenses"][0]["expression"] != "not stated" for entry in listed.values())
    assert {"d3", "@dagrejs/dagre"} <= listed.keys()
    direct = {plain(Requirement(line).name) for line in project()["project"]["dependencies"]}
    assert direct <= listed.keys()
    here = materials.closure("loadloom").keys() - {"loadloom"}
    if any(Version(version(name)) != pins.get(name) for name in here):
        pytest.skip("other versions than those of the lock file are installed")
    assert kept == materials.bill(), "python .ci/bill_of_materials.py > .ci/bill_of_materials.cdx.json"


def test_a_deleted_rule_does_not_live_on_in_a_wheel(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("setuptools")
    backend = of_ci("build_backend")
    left = tmp_path / "build" / "lib" / "loadloom" / "graph" / "rules" / "deleted.py"
    left.parent.mkdir(parents=True)
    left.write_text("", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    seen: list[bool] = []
    monkeypatch.setattr(backend.build_meta, "build_wheel", lambda *_: seen.append(left.exists()) or "x.whl")
    assert backend.build_wheel("out") == backend.build_wheel("out") == "x.whl"
    assert seen == [False, False]
    assert project()["build-system"]["build-backend"] == "build_backend"


FOR_A_WHEEL = (
    "graph",
    "reports",
    "plugin",
    "fixtures/observatory",
    ".ci",
    "pyproject.toml",
    "README.md",
    "LICENSE",
)


def test_a_wheel_holds_what_the_source_holds_and_no_more(tmp_path: Path) -> None:
    """Every module, table and page, the marks of typed packages, the licence; a change is seen."""
    if Version(pytest.importorskip("setuptools").__version__) < Version("77"):
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)("this setuptools can't build the project")
    source, out = tmp_path / "source", tmp_path / "out"
    for name in FOR_A_WHEEL:
        # What only the documentation shows comes along where git says what there is.
        ignored = shutil.ignore_patterns("__pycache__", "pictures", "guide", "page.png")
        copy = source / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, copy, ignore=ignored)
        else:
            shutil.copy(ROOT / name, copy)
    made = "import sys; sys.path.insert(0, '.ci'); import build_backend; build_backend.build_wheel(sys.argv[1])"
    out.mkdir()
    subprocess.run([sys.executable, "-c", made, out], cwd=source, check=True, capture_output=True)
    shutil.rmtree(source / "build", ignore_errors=True)
    (wheel,) = out.glob("*.whl")
    differences = of_ci("installs").differences
    assert differences(wheel, source) == []
    with zipfile.ZipFile(wheel) as archive:
        inside = archive.namelist()
    assert {f"loadloom/{part}/py.typed" for part in ("graph", "reports", "plugin")} <= set(inside)
    assert [name for name in inside if name.endswith("LICENSE")] != []
    (source / "graph" / "rules" / "wire_overload.py").unlink()
    (source / "graph" / "ratings" / "added.csv").write_text("size\n", encoding="utf-8")
    assert differences(wheel, source) == [
        "loadloom/graph/rules/wire_overload.py is not as in the source",
        "loadloom/graph/ratings/added.csv is missing",
    ]
