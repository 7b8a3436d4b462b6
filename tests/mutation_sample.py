"""Mutation testing of ``graph`` on a sample, by hand: ``python tests/mutation_sample.py -n 300 --seed 1 >> found``.

A mutant is one small fault in one file: a comparison turned, a sign, a factor, a condition. The tests of the file's
own folder are run on it; a mutant that they do not notice is printed as survived. The sample is drawn from all
places in a random order, so that a run that is stopped early is a smaller sample of the same kind. Each mutant is
run in a process of its own, split off from one that has loaded the libraries; no file of the repository is changed.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import itertools
import json
import os
import random
import resource
import sys
import time
from collections.abc import Iterator
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType

ROOT = Path(__file__).resolve().parents[1]
GRAPH = ROOT / "graph"
TESTS = ROOT / "tests" / "graph"
CPU_S = 240
"""A mutant that computes for longer hangs; it counts as noticed, and is told apart."""

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


def mutant_of(file: Path, wanted: int) -> tuple[int, str, CodeType]:
    """Line, words and code of a mutant, counted as ``count_of`` counts them."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    each = ((node, new) for node in places(tree) for new in changes_of(node))
    old, new = next(itertools.islice(each, wanted, None))
    line = getattr(old, "lineno", 0)
    words = f"{ast.unparse(old).splitlines()[0]}  ->  {ast.unparse(new).splitlines()[0]}"
    mutant = ast.fix_missing_locations(Replacing(old, new).visit(tree))
    return line, words, compile(mutant, str(file), "exec")


def count_of(file: Path) -> int:
    return sum(1 for node in places(ast.parse(file.read_text(encoding="utf-8"))) for _ in changes_of(node))


def tests_of(file: Path) -> list[Path]:
    """The tests of the file's own folder; those that name the file come first."""
    folder = file.relative_to(GRAPH).parts[0] if file.parent != GRAPH else ""
    homes = {"rules": ("judging", "rule_sets", ""), "curves": ("ratings", "")}.get(folder, (folder,))
    found = [path for home in homes for path in sorted((TESTS / home).glob("test_*.py"))]
    return sorted(found, key=lambda path: file.stem not in path.read_text(encoding="utf-8"))


def judged(file: Path, code: CodeType) -> str:
    """``noticed``, ``hangs`` or ``survived``."""
    child = os.fork()
    if child == 0:
        with contextlib.suppress(BaseException):
            os._exit(_run(file, code))
        os._exit(1)
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        return "hangs"
    return "survived" if os.waitstatus_to_exitcode(status) == 0 else "noticed"


def _run(file: Path, code: CodeType) -> int:
    import pytest

    resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S))
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    plain = SourceFileLoader.get_code

    def get_code(loader: SourceFileLoader, name: str) -> CodeType | None:
        return code if Path(loader.path).resolve() == file else plain(loader, name)

    SourceFileLoader.get_code = get_code  # type: ignore[method-assign, assignment]
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-o", "addopts=--import-mode=importlib"]
    return int(pytest.main([*options, *map(str, tests_of(file))]))


def main() -> None:
    """Draw the sample, judge it, print a line of JSON for each mutant."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("-n", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--skip", type=int, default=0, help="as many of the sample were judged before")
    asked.add_argument("--folder", action="append", help="of graph; '.' is graph itself (default: all)")
    options = asked.parse_args()
    files = [path.resolve() for path in sorted(GRAPH.rglob("*.py")) if tests_of(path)]
    if options.folder:
        folders = {str(Path(folder)) for folder in options.folder}
        files = [path for path in files if path.parent.relative_to(GRAPH).as_posix() in folders]
    everywhere = [(file, k) for file in files for k in range(count_of(file))]
    sample = random.Random(options.seed).sample(everywhere, options.n)
    import hypothesis, networkx, numpy, pint, scipy.optimize, scipy.sparse.csgraph, scipy.sparse.linalg  # noqa: E401, F401, I001

    print(f"{len(everywhere)} mutants of {len(files)} files", file=sys.stderr)
    for number, (file, k) in enumerate(sample):
        if number < options.skip:
            continue
        line, words, code = mutant_of(file, k)
        begun = time.monotonic()
        found = {"file": str(file.relative_to(ROOT)), "line": line, "mutant": words, "is": judged(file, code)}
        print(json.dumps(found | {"seconds": round(time.monotonic() - begun, 1)}, ensure_ascii=False), flush=True)


if __name__ == "__main__":
    main()
