"""The top of the project is fixed, and each distribution carries what it needs to stand alone."""

import ast
import io
import tokenize
import tomllib
from pathlib import Path

import pytest

TOP = {
    "CHANGELOG.md": False,
    "DEVELOPERS.md": True,
    "LICENSE": True,
    "README.md": True,
    "docker": False,
    "examples": True,
    "openapi": False,
    "pyproject.toml": True,
    "sdk": True,
    "service": True,
    "tests": True,
}
# Made by tools, never committed.
MADE = {"build", "dist", "node_modules", "uv.lock"}
# Lines; a longer file has more than one subject.
LONGEST = 500

#: Lines of code of a function (docstring, comments and blank lines left out); a longer one does several things.
LONGEST_FUNCTION = 60
#: Those that are longer: the kernel is one loop that the compiler keeps in registers.
LONGER_FUNCTIONS = {"feedproof/circuit/forward.py: predict"}

SOURCES = [("service", "feedproof"), ("sdk", "feedproof_sdk")]


def test_the_top_level_holds_what_is_decided_and_nothing_else(root: Path) -> None:
    there = {path.name for path in root.iterdir() if not path.name.startswith(".")} - MADE
    assert there <= set(TOP)
    assert {name for name, needed in TOP.items() if needed} <= there


@pytest.mark.parametrize(("folder", "package"), SOURCES)
def test_a_distribution_is_typed_licensed_and_keeps_a_changelog(root: Path, folder: str, package: str) -> None:
    home = root / folder
    assert (home / "src" / package / "py.typed").exists()
    assert (home / "LICENSE").read_bytes() == (root / "LICENSE").read_bytes()
    assert (home / "README.md").read_text(encoding="utf-8").startswith(f"# {package.replace('_', '-')}\n")
    version = tomllib.loads((home / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
    headings = [
        line for line in (home / "CHANGELOG.md").read_text(encoding="utf-8").splitlines() if line.startswith("## ")
    ]
    assert headings[0] == "## Unreleased" or headings[0].startswith(f"## {version} ")


def test_both_distributions_have_one_version(root: Path) -> None:
    versions = {
        tomllib.loads((root / folder / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]
        for folder, _ in SOURCES
    }
    assert len(versions) == 1


@pytest.mark.parametrize(("folder", "package"), SOURCES)
def test_every_module_says_what_it_is_for_and_stays_readable(root: Path, folder: str, package: str) -> None:
    for path in sorted((root / folder / "src" / package).rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        assert ast.get_docstring(ast.parse(text)), f"{path} has no docstring"
        assert len(text.splitlines()) <= LONGEST, f"{path} is longer than {LONGEST} lines"


def lines_of_code(text: str, tree: ast.Module) -> set[int]:
    """Numbers of the lines that hold code: no docstring, no comment, no blank."""
    told = {
        line
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
        for line in range(node.lineno, (node.end_lineno or node.lineno) + 1)
    }
    layout = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER}
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    code = {n for t in tokens if t.type not in layout for n in range(t.start[0], t.end[0] + 1)}
    return code - told


def test_a_function_is_no_longer_than_a_screen(root: Path) -> None:
    long = set()
    for folder, package in SOURCES:
        source = root / folder / "src"
        for path in (source / package).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            tree = ast.parse(text)
            code = lines_of_code(text, tree)
            for node in ast.walk(tree):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    own = code.intersection(range(node.lineno, (node.end_lineno or 0) + 1))
                    if len(own) > LONGEST_FUNCTION:
                        long.add(f"{path.relative_to(source).as_posix()}: {node.name}")
    assert long == LONGER_FUNCTIONS


def test_test_files_of_the_service_mirror_its_packages(root: Path) -> None:
    packages = {path.name for path in (root / "service" / "src" / "feedproof").iterdir() if path.is_dir()}
    tested = {path.name for path in (root / "tests" / "service").iterdir() if path.is_dir()} - {"__pycache__"}
    assert tested <= packages


def test_the_workflow_runs_what_anyone_can_run(root: Path) -> None:
    """So that nothing is checked in one place and not in the other."""
    workflow = (root / ".github" / "workflows" / "checks.yml").read_text(encoding="utf-8")
    commands = [line.split()[-1] for line in workflow.splitlines() if line.strip().startswith("- run:")]
    assert commands == [".ci/run"]


def test_hooks_run_from_the_environment_of_the_tests(root: Path) -> None:
    lines = [line.strip() for line in (root / ".pre-commit-config.yaml").read_text(encoding="utf-8").splitlines()]
    assert [line for line in lines if line.startswith("- repo:")] == ["- repo: local"]
    entries = [line for line in lines if line.startswith("entry:")]
    assert entries
    assert all(entry.startswith("entry: python3 tests/run.py --with ") for entry in entries)
