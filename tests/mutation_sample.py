"""Mutation testing of ``graph`` on a sample, by hand.

``python tests/mutation_sample.py record map.jsonl`` runs the tests of ``graph`` once and notes for each which
lines it executes and how long it takes. ``python tests/mutation_sample.py judge map.jsonl
-n 300 --seed 1 >> found.jsonl`` draws the sample and judges it.

A mutant is one small fault in one file: a comparison turned, a sign, a factor, a condition. Of the tests of the
file's own folder those that execute the changed line are run on it, up to the first that fails: those that name the
module first, then one of every function, the quickest first. A mutant that none of them notices is printed as
survived. The sample is drawn from all places in a random order, so that a run that is stopped early is a smaller
sample of the same kind. Each mutant is run in a process of its own, split off from one that has loaded the
libraries and ``graph``; no file of the repository is changed.
"""

from __future__ import annotations

import argparse
import ast
import builtins
import contextlib
import gc
import importlib
import itertools
import json
import math
import os
import random
import re
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType

import pytest

ROOT = Path(__file__).resolve().parents[1]
GRAPH = ROOT / "graph"
TESTS = ROOT / "tests" / "graph"

LEAST_CPU_S = 20
TIMES_OWN_CPU = 5
"""A mutant on which the tests compute for more than so many times their own time hangs: noticed, and told apart."""

FIRST = 12
"""So many of the quickest tests are tried before the rest: most mutants fall to them, and few files are loaded."""

MEMORY_BYTES = 4 << 30

TURNED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
OTHER: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any"}


def changes_of(node: ast.AST) -> Iterator[ast.AST]:
    """The node with one small fault, each one that there is for it."""
    match node:
        case ast.Compare():
            for k, operator in enumerate(node.ops):
                for turned in TURNED[type(operator)]:
                    yield ast.Compare(node.left, [*node.ops[:k], turned(), *node.ops[k + 1 :]], node.comparators)
        case ast.BinOp() if type(node.op) in OTHER and not isinstance(node.left, ast.JoinedStr):
            yield ast.BinOp(node.left, OTHER[type(node.op)](), node.right)
        case ast.BoolOp():
            yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.Call(func=ast.Name(id=name)) if name in NAMES:
            yield ast.Call(ast.Name(NAMES[name], ast.Load()), node.args, node.keywords)
        case ast.Constant(value=bool()):
            yield ast.Constant(not node.value)
        case ast.Constant(value=int() | float()):
            yield ast.Constant(1 if node.value == 0 else node.value * 2)
        case ast.If():
            yield ast.If(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)
        case ast.IfExp():
            yield ast.IfExp(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)


def places(tree: ast.AST) -> Iterator[ast.AST]:
    """Every node that computes something: no annotations, and nothing that runs for the type checker alone."""
    for name, value in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for node in value if isinstance(value, list) else [value]:
            if isinstance(node, ast.AST) and not isinstance(
                node, ast.TypeAlias if sys.version_info >= (3, 12) else ()
            ):
                yield node
                yield from places(node)


class Replacing(ast.NodeTransformer):
    """Replaces one node by another."""

    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        return ast.copy_location(self.new, node) if node is self.old else self.generic_visit(node)


@dataclass(frozen=True)
class Mutant:
    """One small fault; ``lines`` are those of what is changed, ``around`` those of the statement it stands in."""

    file: Path
    lines: range
    around: range
    words: str
    code: CodeType


def mutant_of(file: Path, wanted: int) -> Mutant:
    """The mutant of a number, counted as ``count_of`` counts them."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    each = ((node, new) for node in places(tree) for new in changes_of(node))
    old, new = next(itertools.islice(each, wanted, None))
    lines, around = _lines(old), _around(tree, old)
    words = f"{ast.unparse(old).splitlines()[0]}  ->  {ast.unparse(new).splitlines()[0]}"
    mutant = ast.fix_missing_locations(Replacing(old, new).visit(tree))
    return Mutant(file, lines, around, words, compile(mutant, str(file), "exec"))


def _lines(node: ast.AST) -> range:
    """A condition stands for its ``if``, not for the branches."""
    node = node.test if isinstance(node, ast.If) else node
    first = getattr(node, "lineno", 0)
    return range(first, getattr(node, "end_lineno", first) + 1)


def _around(tree: ast.AST, node: ast.AST) -> range:
    """The innermost statement around a node; of one with a body of its own the head."""
    *_, innermost = (
        statement
        for statement in ast.walk(tree)  # from the outside to the inside
        if isinstance(statement, ast.stmt) and any(each is node for each in ast.walk(statement))
    )
    return _head(innermost)


def _head(statement: ast.stmt) -> range:
    body = getattr(statement, "body", None)
    end = body[0].lineno - 1 if body else getattr(statement, "end_lineno", statement.lineno)
    return range(statement.lineno, max(statement.lineno, end) + 1)


def count_of(file: Path) -> int:
    return sum(1 for node in places(ast.parse(file.read_text(encoding="utf-8"))) for _ in changes_of(node))


def is_own(test: Path, file: Path) -> bool:
    """Whether a file of tests is in the folder for a file's own; of what lies in ``graph`` itself, ``tests/graph``.

    A rule judges what any folder has found out, and has no folder of tests but all of ``tests/graph``. What every
    stage uses, brings together or ends in (facts, model, result rows, verdict) is looked at by the tests of whole
    analyses in ``tests/graph`` itself as well, and what rules share (judging) by those of the rules and rule books.
    """
    folder = file.relative_to(GRAPH).parts[0] if file.parent != GRAPH else ""
    of_all = {name: (name, "") for name in ("facts", "model", "result_rows", "verdict")}
    elsewhere = {"rules": None, "judging": ("judging", "rule_books", "rules"), **of_all}
    homes = elsewhere.get(folder, (folder,))
    return homes is None or test.parent in {TESTS / home for home in homes}


@dataclass(frozen=True)
class Ran:
    """What is noted of a test: its name as pytest gives it, processor time, and the lines of ``graph`` by file."""

    name: str
    seconds: float
    lines: dict[str, frozenset[int]]

    @property
    def file(self) -> Path:
        return ROOT / self.name.partition("::")[0]


def read_map(path: Path) -> list[Ran]:
    """Every test that passed, the quickest first."""
    found = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    tests = [
        Ran(one["test"], one["seconds"], {name: frozenset(lines) for name, lines in one["lines"].items()})
        for one in found
    ]
    return sorted(tests, key=lambda ran: (ran.seconds, ran.name))


def tests_on(mutant: Mutant, known: Sequence[Ran]) -> list[Ran]:
    """The tests of the mutant's own folder that execute it, in the order in which they are run.

    A line that runs as the file is loaded (a constant, a default) is executed for every test that uses or names the
    file, and where none does for every test of the folder.
    """
    name = str(mutant.file.relative_to(ROOT))
    own = [ran for ran in known if is_own(ran.file, mutant.file)]
    if _runs_as_loaded(mutant):
        using = [ran for ran in own if name in ran.lines or _names(ran.file, mutant)]
        return in_turn(using or own, mutant)
    for lines in (mutant.lines, mutant.around):
        if found := [ran for ran in own if not ran.lines.get(name, frozenset()).isdisjoint(lines)]:
            return in_turn(found, mutant)
    return []


def in_turn(tests: Sequence[Ran], mutant: Mutant) -> list[Ran]:
    """Tests of files that name the module or rule, then the others; of each the quickest, with one of every
    function before a second one: the same function with another parameter mostly notices the same.
    """
    of_function: Counter[str] = Counter()
    turns = []
    for ran in sorted(tests, key=lambda ran: ran.seconds):
        function = ran.name.partition("[")[0]
        turns.append((not _names(ran.file, mutant), of_function[function], ran.seconds, ran.name, ran))
        of_function[function] += 1
    return [ran for *_, ran in sorted(turns, key=lambda turn: turn[:4])]


def _names(test: Path, mutant: Mutant) -> bool:
    """Whether a file of tests imports a mutant's module, or has the name of the rule that it is."""
    return bool(_words_of(test) & _called(mutant.file))


@cache
def _called(file: Path) -> frozenset[str]:
    """The names of a module: its file's, and that of its rule where it is one."""
    return frozenset((file.stem, *re.findall(r'\bRule\(\s*"([\w-]+)"', file.read_text(encoding="utf-8"))))


@cache
def _words_of(file: Path) -> frozenset[str]:
    return frozenset(re.findall(r"[\w-]+", file.read_text(encoding="utf-8")))


def within(tests: Sequence[Ran], budget_s: float) -> list[Ran]:
    """The first tests that take no longer together; at least one."""
    spent = itertools.accumulate(ran.seconds for ran in tests)
    return [ran for number, (ran, s) in enumerate(zip(tests, spent, strict=True)) if s <= budget_s or number == 0]


def _runs_as_loaded(mutant: Mutant) -> bool:
    """Whether a mutant stands outside every function."""
    functions = (
        node
        for node in ast.walk(ast.parse(mutant.file.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef | ast.Lambda)
    )
    return not any(_within(mutant.lines, node) for node in functions)


def _within(lines: range, node: ast.FunctionDef | ast.Lambda) -> bool:
    first = node.body[0].lineno if isinstance(node, ast.FunctionDef) else node.body.lineno
    return first <= lines.start and lines.stop - 1 <= (node.end_lineno or 0)


def judged(mutant: Mutant, tests: Sequence[Ran]) -> str:
    """``noticed``, ``hangs``, ``survived``, or ``not executed`` where no test of the folder comes by."""
    for some in (tests[:FIRST], tests[FIRST:]):
        if some:
            limit_s = int(LEAST_CPU_S + TIMES_OWN_CPU * sum(ran.seconds for ran in some))
            status = _apart(lambda some=some, limit_s=limit_s: _run(mutant, some, limit_s))  # type: ignore[misc]
            if os.WIFSIGNALED(status):
                return "hangs"
            if os.waitstatus_to_exitcode(status) != 0:
                return "noticed"
    return "survived" if tests else "not executed"


def _apart(work: Callable[[], int]) -> int:
    """The status of a process that does some work and ends with the code it returns."""
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            os._exit(work())
        os._exit(1)
    return os.waitpid(child, 0)[1]


def _run(mutant: Mutant, tests: Sequence[Ran], limit_s: int) -> int:
    resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    if not _put_into_function(mutant):
        _load_anew(mutant)
    return _pytest(sorted({str(ran.file) for ran in tests}), Only([ran.name for ran in tests]))


FUNCTIONS: dict[tuple[str, str, int], list[FunctionType]] = {}
"""Every function of ``graph`` that is loaded, by file, name and first line."""


def load_graph() -> None:
    """Load every module of ``graph`` once, for all processes that are split off, and note its functions."""
    for path in sorted(GRAPH.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        importlib.import_module(".".join(["loadloom", *(part for part in parts if part != "__init__")]))
    for thing in gc.get_objects():
        if isinstance(thing, FunctionType) and thing.__code__.co_filename.startswith(str(GRAPH)):
            FUNCTIONS.setdefault(_place(thing.__code__), []).append(thing)


def _place(code: CodeType) -> tuple[str, str, int]:
    return (str(Path(code.co_filename).resolve()), code.co_qualname, code.co_firstlineno)


def _put_into_function(mutant: Mutant) -> bool:
    """Hand the loaded function around a mutant the mutant's code; False where it stands outside every function.

    What has been loaded and noted stays in use, so that the modules need not be loaded anew.
    """
    if _runs_as_loaded(mutant):
        return False
    outermost = [
        code
        for code in _functions_in(mutant.code)
        if {line for *_, line in code.co_lines() if line} & {*mutant.around}
    ]
    loaded = [(function, code) for code in outermost for function in FUNCTIONS.get(_place(code), ())]
    if not loaded or len({id(code) for _, code in loaded}) < len(outermost):
        return False
    for function, code in loaded:
        function.__code__ = code
    return True


def _functions_in(code: CodeType) -> Iterator[CodeType]:
    """The functions of a module, those inside classes too; not those inside functions."""
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            # A class body is no function: it has no fast local names.
            yield from [inner] if inner.co_flags & 1 else _functions_in(inner)


def _load_anew(mutant: Mutant) -> None:
    """Forget all that is loaded of loadloom, and have the mutant's code in place of its file's from now on."""
    for name in [name for name in sys.modules if name.partition(".")[0] == "loadloom"]:
        del sys.modules[name]
    _load_with(lambda path: mutant.code if path == mutant.file else None)


def _load_with(code_of: Callable[[Path], CodeType | None]) -> None:
    """From now on have other code in place of a file's of ``graph``, where there is one."""
    plain = SourceFileLoader.get_code

    def get_code(loader: SourceFileLoader, name: str) -> CodeType | None:
        path = Path(loader.path).resolve()
        return (code_of(path) if path.is_relative_to(GRAPH) else None) or plain(loader, name)

    SourceFileLoader.get_code = get_code  # type: ignore[method-assign, assignment]


def _pytest(files: Sequence[str], plugin: object) -> int:
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=--import-mode=importlib"]
    with tempfile.TemporaryDirectory(prefix="mutant-") as folder:
        return int(pytest.main([*options, f"--basetemp={folder}/tests", *files], plugins=[plugin]))


class Only:
    """Of what pytest finds, the tests of these names, in their order."""

    def __init__(self, names: Sequence[str]) -> None:
        self.order = {name: place for place, name in enumerate(names)}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = sorted(
            (item for item in items if item.nodeid in self.order), key=lambda item: self.order[item.nodeid]
        )


def _cpu_s() -> float:
    """Processor time of this process and of the programs that it has run, such as ngspice."""
    return sum(os.times()[:4])


BLOCKS: list[tuple[str, tuple[int, ...]]] = []
"""File and lines of every run of statements that is entered at its first one alone, by the number of its mark."""


class Marking(ast.NodeTransformer):
    """Puts a mark at the start of every run of statements inside functions: tracing lines costs many times more."""

    def __init__(self, file: Path) -> None:
        self.name = str(file.relative_to(ROOT))

    def generic_visit(self, node: ast.AST) -> ast.AST:
        lists = ("body", "orelse", "finalbody") if not isinstance(node, ast.Module | ast.ClassDef) else ()
        runs = {name: run for name in lists if isinstance(run := getattr(node, name, None), list) and run}
        super().generic_visit(node)
        for name, run in runs.items():
            setattr(node, name, self.marked(run, keep_first=name == "body" and isinstance(node, ast.FunctionDef)))
        return node

    def marked(self, run: list[ast.stmt], *, keep_first: bool) -> list[ast.stmt]:
        """A docstring stays the first statement of its function."""
        mark = ast.parse(f"__ran__.add({len(BLOCKS)})").body[0]
        for node in ast.walk(mark):
            ast.copy_location(node, run[0])
        lines = {line for statement in run for line in _head(statement)}
        BLOCKS.append((self.name, tuple(sorted(lines))))
        place = int(keep_first and ast.get_docstring(ast.Module(run, []), clean=False) is not None)
        return [*run[:place], mark, *run[place:]]


def load_marked() -> None:
    """Load ``graph`` with its marks, once for all files of tests; they note what ran in ``builtins.__ran__``."""
    builtins.__ran__ = set()  # type: ignore[attr-defined]
    _load_with(
        lambda path: compile(Marking(path).visit(ast.parse(path.read_text(encoding="utf-8"))), str(path), "exec")
    )
    load_graph()


class Noting:
    """Notes for every test that passes the marks that it comes by."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.ran: dict[str, set[int]] = {}
        self.failed: set[str] = set()

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        marks: set[int] = builtins.__ran__  # type: ignore[attr-defined]
        marks.clear()
        begun = _cpu_s()
        yield
        self.seconds[item.nodeid] = _cpu_s() - begun
        self.ran[item.nodeid] = set(marks)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if not report.passed:
            self.failed.add(report.nodeid)


def record(path: Path, files: Sequence[Path]) -> None:
    """Run the tests of ``graph``, every file in a process of its own, and append what is noted of them.

    What a file has kept from another would hide that a test executes it.
    """
    load_marked()
    gc.freeze()
    for file in files:
        begun = time.monotonic()
        status = _apart(lambda file=file: _noted(file, path))  # type: ignore[misc]
        print(f"{file.relative_to(ROOT)}: {status} {time.monotonic() - begun:.0f} s", file=sys.stderr, flush=True)


def _noted(file: Path, path: Path) -> int:
    noting = Noting()
    code = _pytest([str(file)], noting)
    rows = []
    for name, seconds in noting.seconds.items():
        if name in noting.failed:
            continue
        lines: dict[str, set[int]] = {}
        for mark in noting.ran[name]:
            lines.setdefault(BLOCKS[mark][0], set()).update(BLOCKS[mark][1])
        found = {each: sorted(lines[each]) for each in sorted(lines)}
        rows.append(json.dumps({"test": name, "seconds": round(seconds, 3), "lines": found}) + "\n")
    with path.open("a", encoding="utf-8") as out:
        out.write("".join(rows))
    return code


def sample(n: int, seed: int) -> list[Mutant]:
    """Mutants drawn from every place in ``graph``."""
    files = [path.resolve() for path in sorted(GRAPH.rglob("*.py"))]
    everywhere = [(file, k) for file in files for k in range(count_of(file))]
    print(f"{len(everywhere)} mutants of {len(files)} files", file=sys.stderr)
    return [mutant_of(file, k) for file, k in random.Random(seed).sample(everywhere, n)]


def main() -> None:
    """Record the map, or draw a sample, judge it, and print a line of JSON for each mutant."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("what", choices=("record", "judge"))
    asked.add_argument("map", type=Path)
    asked.add_argument("-n", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--skip", type=int, default=0, help="as many of the sample were judged before")
    asked.add_argument("--part", default="0/1", help="of the work, as 0/2 and 1/2 for two processes")
    asked.add_argument("--file", action="append", help="only mutants (or tests) of files whose path has this in it")
    asked.add_argument(
        "--budget", type=float, default=math.inf, help="seconds of tests for a mutant; what they miss has survived"
    )
    options = asked.parse_args()
    part, parts = map(int, options.part.split("/"))
    import hypothesis, networkx, numpy, pint, scipy.optimize, scipy.sparse.csgraph, scipy.sparse.linalg  # noqa: E401, F401, I001

    def asked_for(path: Path) -> bool:
        return not options.file or any(word in str(path.relative_to(ROOT)) for word in options.file)

    if options.what == "record":
        record(options.map, [path for path in sorted(TESTS.rglob("test_*.py")) if asked_for(path)][part::parts])
        return
    work = [
        (number, mutant)
        for number, mutant in enumerate(sample(options.n, options.seed))
        if number >= options.skip and number % parts == part and asked_for(mutant.file)
    ]
    known = read_map(options.map)
    plan = [
        (number, mutant, [replace(ran, lines={}) for ran in within(tests_on(mutant, known), options.budget)])
        for number, mutant in work
    ]
    load_graph()
    del known  # some 500 MB, of which each process split off would copy what it touches
    gc.collect()
    gc.freeze()
    for number, mutant, tests in plan:
        begun = time.monotonic()
        found = {
            "number": number,
            "file": str(mutant.file.relative_to(ROOT)),
            "line": mutant.lines.start,
            "mutant": mutant.words,
            "tests": len(tests),
            "is": judged(mutant, tests),
            "seconds": round(time.monotonic() - begun, 1),
        }
        print(json.dumps(found, ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
