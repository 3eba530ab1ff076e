"""Change the code where it matters most, one small thing at a time, and count how many changes the tests notice.

    python3 tests/run.py --with python .ci/mutate.py [--sample N] [--least SHARE] [MODULE ...]

Each mutant runs in a process forked from one that has loaded the libraries, so a mutant costs little more than its
tests. Compiled functions run as plain Python (`NUMBA_DISABLE_JIT`). The sample is the same on every run. What survives
is listed: either a test is missing, or the change changes nothing.

References
----------
R. A. DeMillo, R. J. Lipton, F. G. Sayward, "Hints on test data selection", Computer 11(4) (1978) 34-41: mutation
analysis. A. J. Offutt et al., "An experimental determination of sufficient mutant operators", ACM TOSEM 5(2) (1996)
99-118: few operators (relational, arithmetic, logical, constants) tell nearly as much as many.
"""

import argparse
import ast
import copy
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "service" / "src"

# Tests that speak of each module.
TARGETS = {
    "feedproof.advice.cautions": [
        "tests/service/advice/test_cautions.py",
        "tests/service/advice/test_cautions_among_others.py",
    ],
    "feedproof.advice.determination": ["tests/service/advice/test_determination.py"],
    "feedproof.advice.disposition": ["tests/service/advice/test_disposition.py"],
    "feedproof.circuit.conductors": [
        "tests/service/circuit/test_conductors.py",
        "tests/oracles/test_conductor_tables.py",
    ],
    "feedproof.circuit.kernel": ["tests/service/circuit/test_kernel.py"],
    "feedproof.circuit.topology": ["tests/service/circuit/test_topology.py", "tests/service/circuit/test_kernel.py"],
}
LIBRARIES = ("hypothesis", "msgspec", "numba", "numpy", "pytest", "scipy.linalg")

RELATIONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}

Change = Callable[[ast.AST], None]


def _set(field: str, value: object) -> Change:
    def change(node: ast.AST) -> None:
        setattr(node, field, value)

    return change


def _negate(node: ast.AST) -> None:
    test: ast.expr = node.test  # type: ignore[attr-defined]
    node.test = ast.UnaryOp(ast.Not(), test)  # type: ignore[attr-defined]


def changes(node: ast.AST) -> Iterator[tuple[str, Change]]:
    """Give every small change of one node, with its name."""
    match node:
        case ast.Compare(ops=[operator]) if type(operator) in RELATIONS:
            other = RELATIONS[type(operator)]
            yield f"{type(operator).__name__} -> {other.__name__}", _set("ops", [other()])
        case ast.BinOp(op=operator) | ast.AugAssign(op=operator) if type(operator) in OPERATORS:
            swapped = OPERATORS[type(operator)]
            yield f"{type(operator).__name__} -> {swapped.__name__}", _set("op", swapped())
        case ast.BoolOp(op=ast.And()):
            yield "and -> or", _set("op", ast.Or())
        case ast.BoolOp(op=ast.Or()):
            yield "or -> and", _set("op", ast.And())
        case ast.If() | ast.IfExp() | ast.While():
            yield "condition turned round", _negate
        case ast.Constant(value=bool() as truth):
            yield f"{truth} -> {not truth}", _set("value", not truth)
        case ast.Constant(value=int() | float() | complex() as number):
            yield f"{number} -> {number + 1}", _set("value", number + 1)
        case ast.Call(func=ast.Name(id=name)) if name in CALLS:
            yield f"{name} -> {CALLS[name]}", _set("func", ast.Name(CALLS[name], ast.Load()))
        case ast.Return(value=value) if value is not None and not isinstance(value, ast.Constant):
            yield "returns None", _set("value", ast.Constant(None))


def statements(node: ast.AST) -> Iterator[ast.AST]:
    """Give the parts that run, without annotations and docstrings."""
    for field, value in ast.iter_fields(node):
        # Nor do flags of a class (frozen, keyword only) change what is computed.
        if field in {"annotation", "returns", "decorator_list", "type_params"} or (
            field == "keywords" and isinstance(node, ast.ClassDef)
        ):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not (
                isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
            ):
                yield child
                yield from statements(child)


def _is_type_alias(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Assign)
        and isinstance(node.value, ast.Subscript | ast.BinOp)
        and (
            isinstance(node.targets[0], ast.Name)
            and node.targets[0].id[:1].isupper()
            and not node.targets[0].id.isupper()
        )
    )


def mutants(tree: ast.Module) -> list[tuple[int, int, str]]:
    """List all mutants: number of the node, number of its change, and what it is."""
    found = []
    aliases = {id(inner) for node in tree.body if _is_type_alias(node) for inner in ast.walk(node)}
    for number, node in enumerate(statements(tree)):
        if id(node) in aliases:
            continue
        for which, (name, _) in enumerate(changes(node)):
            found.append((number, which, f"line {getattr(node, 'lineno', 0)}: {name}"))
    return found


def apply(tree: ast.Module, number: int, which: int) -> ast.Module:
    """Give the tree with one change."""
    changed = copy.deepcopy(tree)
    node = list(statements(changed))[number]
    list(changes(node))[which][1](node)
    return ast.fix_missing_locations(changed)


class _Finder(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module from a tree in place of its file."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(
        self,
        fullname: str,
        path: Sequence[str] | None,  # noqa: ARG002
        target: ModuleType | None = None,  # noqa: ARG002
    ) -> importlib.machinery.ModuleSpec | None:
        """Find the module."""
        if fullname != self.name:
            return None
        return importlib.util.spec_from_file_location(fullname, self.path, loader=self)

    def exec_module(self, module: ModuleType) -> None:
        """Run it."""
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)  # noqa: S102 - the project's own code


def passes(name: str, path: Path, tree: ast.Module, tests: list[str], longest: float) -> bool:
    """Run the tests in a fork, with the tree in place of the module; what takes too long has failed."""
    child = os.fork()
    if child == 0:
        os.setsid()
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        sys.meta_path.insert(0, _Finder(name, path, tree))
        status = 70
        try:
            import pytest  # noqa: PLC0415

            # Loaded before pytest could rewrite them; their assertions are not what is looked at.
            quiet = ["-W", "ignore::pytest.PytestAssertRewriteWarning", "-p", "no:cacheprovider"]
            status = int(pytest.main(["-x", "-q", *quiet, *tests]))
        finally:
            os._exit(status)
    deadline = time.monotonic() + longest
    while time.monotonic() < deadline:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.02)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return False


def examine(name: str, sample: int) -> tuple[int, list[str]]:
    """Run mutants of one module; give how many, and those that survive."""
    path = SOURCE / Path(*name.split(".")).with_suffix(".py")
    tree = ast.parse(path.read_text(encoding="utf-8"))
    begin = time.monotonic()
    if not passes(name, path, tree, TARGETS[name], 600.0):
        sys.exit(f"{name}: its tests fail without any change")
    usual = time.monotonic() - begin
    every = mutants(tree)
    chosen = sorted(random.Random(name).sample(every, min(sample, len(every))))  # noqa: S311 - no secret
    survivors = [
        what
        for number, which, what in chosen
        if passes(name, path, apply(tree, number, which), TARGETS[name], 5.0 * usual + 10.0)
    ]
    killed = len(chosen) - len(survivors)
    print(
        f"{name}: {killed} of {len(chosen)} noticed ({len(every)} in all), {time.monotonic() - begin:.0f} s", flush=True
    )
    for what in survivors:
        print(f"    survives {what}", flush=True)
    return len(chosen), survivors


def main() -> int:
    """Examine the modules and compare with the share asked for."""
    parser = argparse.ArgumentParser(description="mutation testing of the cautions and the circuit")
    parser.add_argument("--sample", type=int, default=60, help="mutants per module")
    parser.add_argument("--least", type=float, default=0.0, help="share that must be noticed")
    parser.add_argument("modules", nargs="*", default=list(TARGETS), metavar="MODULE")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"NUMBA_DISABLE_JIT": "1", "HYPOTHESIS_STORAGE_DIRECTORY": folder}
        sys.path.insert(0, str(ROOT / "tests"))
        os.chdir(ROOT)
        for library in LIBRARIES:
            importlib.import_module(library)
        counts = [examine(name, given.sample) for name in given.modules]
    total = sum(count for count, _ in counts)
    noticed = total - sum(len(survivors) for _, survivors in counts)
    print(f"{noticed} of {total} noticed: {noticed / total:.1%}")
    return 0 if noticed >= given.least * total else 1


if __name__ == "__main__":
    sys.exit(main())
