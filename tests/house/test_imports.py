"""Imports run one way. The contracts stand in the root pyproject.toml; here they are kept, and shown to bite."""

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import feedproof.inference

#: What only an engine's own tests know: those that go when it goes.
INSIDE = ("feedproof.inference.", "feedproof.circuit.", "feedproof.faults.sites", "feedproof.faults.places")
OF_THE_ENGINE = (
    "service/inference",
    "service/circuit",
    "service/faults",
    "support/internals",
    # Limits of requests that are the engine's, held against what it builds.
    "service/parsing/test_budget.py",
)
#: Published tables of conductors, which the model uses and does not hide.
OPEN = "feedproof.circuit.conductors"

COMMAND = [
    sys.executable,
    "-c",
    "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()",
]


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    paths = os.pathsep.join(str(folder / part / "src") for part in ("service", "sdk"))
    return subprocess.run(
        [*COMMAND, "--no-cache"],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": paths, "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


def test_all_contracts_are_kept(root: Path) -> None:
    result = lint(root)
    assert result.returncode == 0, result.stdout + result.stderr
    assert " 0 broken" in result.stdout


@pytest.mark.parametrize(
    ("module", "line", "broken"),
    [
        ("service/src/feedproof/circuit/__init__.py", "import feedproof.inference", "imports run one way"),
        ("service/src/feedproof/readings.py", "import feedproof.inference", "imports run one way"),
        ("service/src/feedproof/contract/__init__.py", "import feedproof.readings", "imports run one way"),
        ("service/src/feedproof/advice/__init__.py", "import feedproof.inference.weighing", "its own package alone"),
        ("service/src/feedproof/fleet/__init__.py", "import feedproof.faults.sites", "Only the inference imports"),
        ("service/src/feedproof/inference/__init__.py", "import litestar", "knows nothing of HTTP"),
        ("service/src/feedproof/advice/__init__.py", "import litestar", "knows nothing of HTTP"),
        ("service/src/feedproof/telemetry/metrics.py", "import opentelemetry.trace", "which is optional"),
        ("service/src/feedproof/inference/__init__.py", "import pint", "Nothing imports pint"),
        ("service/src/feedproof/stowaway.py", "", "imports run one way"),
        ("sdk/src/feedproof_sdk/__init__.py", "import feedproof", "know nothing of each other"),
        ("sdk/src/feedproof_sdk/__init__.py", "import httpx", "imports httpx"),
        ("sdk/src/feedproof_sdk/__init__.py", "import numpy", "none of the server's packages"),
    ],
)
def test_a_breach_is_named(root: Path, tmp_path: Path, module: str, line: str, broken: str) -> None:
    shutil.copy(root / "pyproject.toml", tmp_path)
    for part in ("service", "sdk"):
        shutil.copytree(root / part / "src", tmp_path / part / "src", ignore=shutil.ignore_patterns("__pycache__"))
    with (tmp_path / module).open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    result = lint(tmp_path)
    assert result.returncode == 1, result.stdout + result.stderr
    verdict = [text for text in result.stdout.splitlines() if "BROKEN" in text]
    assert any(broken in text for text in verdict), result.stdout


def imported(path: Path) -> set[str]:
    """Every module that a file imports from."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names} | {str(node.module)}
    return found


def inside(path: Path) -> set[str]:
    """What a file imports of an engine's inside; a name that the inference gives itself is none of it."""
    packages = {"feedproof.circuit", "feedproof.faults"}
    given = {f"feedproof.inference.{name}" for name in feedproof.inference.__all__}
    return {
        name
        for name in imported(path) - given - packages
        if f"{name}.".startswith(INSIDE) and name != "feedproof.inference" and not name.startswith(OPEN)
    }


def test_proofs_and_oracles_know_the_inference_by_its_seam_alone(root: Path) -> None:
    """So that another engine behind it is held to the same."""
    breaches = {
        str(path.relative_to(root)): found
        for path in sorted((root / "tests").rglob("*.py"))
        if not str(path.relative_to(root / "tests")).startswith(OF_THE_ENGINE) and (found := inside(path))
    }
    assert breaches == {}


def test_a_test_that_knew_more_would_be_seen(tmp_path: Path) -> None:
    file = tmp_path / "test_more.py"
    for line, breach in (
        ("from feedproof.inference.weighing import weigh", True),
        ("from feedproof.inference import weighing", True),
        ("import feedproof.circuit.forward", True),
        ("from feedproof.circuit import forward", True),
        ("from feedproof.faults.sites import sites", True),
        ("from feedproof.inference import Outcome, infer", False),
        ("from feedproof.circuit.conductors import resistance_per_metre", False),
        ("from feedproof.faults.priors import PRIORS", False),
    ):
        file.write_text(line, encoding="utf-8")
        assert bool(inside(file)) == breach, line
