"""The shape of the house: imports run one way, every package is listed, nothing strays to the top level."""

import ast
import importlib.util
import subprocess
import tomllib
from collections.abc import Iterator, Mapping
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from shared_results import once

from loadloom.graph.verdict import registry

ROOT = Path(__file__).resolve().parent.parent
ALLOWED = {
    "graph": {"graph"},
    "reports": {"graph", "reports"},
    "plugin": {"graph", "reports", "plugin"},
}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "plugin", "graph", "reports", "tests", "fixtures"}
DATA_PACKAGES = {"loadloom.observatory": "fixtures/observatory"}
TOP_LEVEL_EXTRA = {"LICENSE", "CHANGELOG.md"}


def imported_folders(source: str) -> Iterator[str]:
    """Folders under ``loadloom`` that a module's source imports from, at any depth of the code."""
    for node in ast.walk(ast.parse(source)):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
            if node.module == "loadloom":
                names = [f"loadloom.{alias.name}" for alias in node.names]
        for name in names:
            if name.startswith("loadloom."):
                yield name.split(".")[1]


def wrong_imports(folder: str, source: str) -> set[str]:
    return set(imported_folders(source)) - ALLOWED[folder]


@pytest.mark.parametrize("folder", ALLOWED)
def test_imports_run_one_way(folder: str) -> None:
    wrong = {
        str(path.relative_to(ROOT)): names
        for path in (ROOT / folder).rglob("*.py")
        if (names := wrong_imports(folder, path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


def test_the_import_check_can_fail() -> None:
    assert wrong_imports("graph", "def f():\n    from loadloom.reports import x\n") == {"reports"}
    assert wrong_imports("reports", "import loadloom.plugin.cli") == {"plugin"}
    assert wrong_imports("graph", "from loadloom import plugin") == {"plugin"}


def folder_of(module: str) -> str:
    """``faults`` of ``loadloom.graph.faults.piece``, and ``analysis`` of the module directly in ``graph``."""
    return [*module.split("."), "", ""][2]


def imports_between_folders(sources: Mapping[str, str]) -> dict[str, set[str]]:
    """What each folder of ``graph`` imports from its others, from the sources of its modules by dotted name."""
    found: dict[str, set[str]] = {}
    for module, source in sources.items():
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("loadloom.graph"):
                names = [f"{node.module}.{alias.name}" for alias in node.names]
                found.setdefault(folder_of(module), set()).update(map(folder_of, names))
    return {folder: names - {folder, ""} for folder, names in found.items() if folder}


def test_folders_of_graph_import_in_no_circle() -> None:
    sources = {
        ".".join(["loadloom", *path.relative_to(ROOT).with_suffix("").parts]): path.read_text(encoding="utf-8")
        for path in (ROOT / "graph").rglob("*.py")
    }
    order = list(TopologicalSorter(imports_between_folders(sources)).static_order())
    assert order.index("circuit") < order.index("faults") < order.index("rules")


def test_analysis_alone_stands_outside_of_the_folders_of_graph() -> None:
    assert {path.name for path in (ROOT / "graph").glob("*.py")} == {"__init__.py", "analysis.py"}


def test_the_circle_check_can_fail() -> None:
    circle = {
        "loadloom.graph.circuit.a": "from loadloom.graph.faults import b",
        "loadloom.graph.faults.b": "from loadloom.graph.circuit.a import c",
    }
    with pytest.raises(CycleError):
        TopologicalSorter(imports_between_folders(circle)).prepare()


SEARCHING = (
    "faults",
    "setting_ranges",
    "open_circuits",
    "short_circuits",
    "circuit",
    "sizing",
    "facts",
    "analysis",
)
"""Folders and modules of ``graph`` that search or solve."""


def functions_that_search(source: str) -> set[str]:
    """Functions and modules of the searching folders that a source imports; types are only what was found."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.split(".")[0] == "scipy"}
        if not isinstance(node, ast.ImportFrom):
            continue
        parts = (node.module or "").split(".")
        if parts[0] == "scipy":
            found.add(node.module or "")
        for alias in node.names:
            inside = [*parts[2:], alias.name] if parts[:2] == ["loadloom", "graph"] else []
            if inside and inside[0] in SEARCHING and not alias.name[0].isupper():
                found.add(f"{node.module}.{alias.name}")
    return found


def test_rules_rows_and_reports_only_look_at_facts() -> None:
    """A rule is a pure function of facts: nothing is searched or solved again to word it."""
    graph = ROOT / "graph"
    files = [*(graph / "rules").glob("*.py"), *(graph / "judging").glob("*.py")]
    files += (graph / "result_rows").glob("*.py")
    files += [*(ROOT / "reports").rglob("*.py")]
    wrong = {
        str(path.relative_to(ROOT)): found
        for path in files
        if (found := functions_that_search(path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


def test_the_check_on_searching_can_fail() -> None:
    assert functions_that_search("from loadloom.graph.circuit.solve import solve\n")
    assert functions_that_search("from loadloom.graph.facts import find_facts\n")
    assert functions_that_search("import scipy.optimize\n") and functions_that_search("from scipy import sparse\n")
    assert not functions_that_search("from loadloom.graph.circuit.solution import Solution\n")


def test_every_package_is_listed() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    setuptools = project["tool"]["setuptools"]
    found = {
        "loadloom." + ".".join(init.parent.relative_to(ROOT).parts)
        for folder in ALLOWED
        for init in (ROOT / folder).rglob("__init__.py")
    }
    folders = {name: name.partition(".")[2].replace(".", "/") for name in found} | DATA_PACKAGES
    assert set(setuptools["packages"]) == set(folders)
    roots = {name: folder for name, folder in folders.items() if name.count(".") == 1}
    assert setuptools["package-dir"] == roots, "the folders of subpackages follow from these"


def test_two_rules_of_one_name_are_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second one would take the first one's place, and what that judges would pass unseen."""
    folder = tmp_path / "twice"
    folder.mkdir()
    text = (ROOT / "graph" / "rules" / "wire_overload.py").read_text(encoding="utf-8")
    for name in ("__init__", "one", "two"):
        (folder / f"{name}.py").write_text("" if name == "__init__" else text, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(registry, "rules_package", importlib.import_module("twice"))
    with pytest.raises(ValueError, match=r"two rules are named wire-overload; the second one stands in twice\.two"):
        registry.all_rules.__wrapped__()
    (folder / "two.py").unlink()
    assert list(registry.all_rules.__wrapped__()) == ["wire-overload"]


def test_no_link_is_needed() -> None:
    """A clone on a system without symbolic links has every file: git holds no link, and the finder needs none."""
    listed = subprocess.run(["git", "ls-files", "-s"], cwd=ROOT, capture_output=True, check=False, text=True).stdout
    assert not [line for line in listed.splitlines() if line.startswith("120000")]


def test_tools_that_draw_imports_find_every_package_where_it_stands() -> None:
    """They ask Python's own machinery for the file of a package, and read the folder that it lies in."""
    for folder in ALLOWED:
        spec = importlib.util.find_spec(f"loadloom.{folder}")
        assert spec is not None and spec.origin is not None
        inside = {path.name for path in Path(spec.origin).parent.iterdir() if path.suffix == ".py"}
        assert inside == {path.name for path in (ROOT / folder).glob("*.py")}


def test_top_level_is_the_design_card() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False, text=True
    ).stdout.split("\0")
    names = {name.split("/")[0] for name in listed if name}
    if not names:
        pytest.skip("not a git checkout")
    visible = {name for name in names if not name.startswith(".")}
    assert visible - TOP_LEVEL_EXTRA <= TOP_LEVEL


def test_what_many_tests_look_at_is_made_once(tmp_path: Path) -> None:
    """By the first that asks; where that fails, the next one tries again."""
    made: list[int] = []

    def make() -> str:
        made.append(len(made))
        if len(made) == 1:
            raise OSError("the first one fails")
        return "made"

    with pytest.raises(OSError, match="the first one fails"):
        once(tmp_path / "shared", "x", make)
    assert [once(tmp_path / "shared", "x", make) for _ in range(3)] == ["made"] * 3
    assert made == [0, 1]
