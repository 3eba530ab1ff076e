"""Imports run one way. The contracts stand in the root pyproject.toml; here they are kept, and shown to bite."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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
        ("service/src/feedproof/inference/__init__.py", "import litestar", "know nothing of HTTP"),
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
