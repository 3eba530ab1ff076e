"""The two commands of README: they are there, need nothing but Python, and the first one answers from a fresh clone."""

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

COMMANDS = ["python3 examples/first_answer.py", "python3 tests/run.py"]
SCRIPTS = ["examples/first_answer.py", "tests/run.py", ".ci/environment.py"]


def test_readme_gives_two_set_up_commands_in_their_order(root: Path) -> None:
    readme = (root / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```(?:sh|console|bash)\n(.*?)^```", readme, re.MULTILINE | re.DOTALL)
    assert [block.strip() for block in blocks[:2]] == COMMANDS


def test_continuous_integration_runs_them(root: Path) -> None:
    script = (root / ".ci" / "run").read_text(encoding="utf-8")
    assert all(re.search(rf"{re.escape(command)}$", script, re.MULTILINE) for command in COMMANDS)


@pytest.mark.parametrize("script", SCRIPTS)
def test_the_scripts_import_the_standard_library_only(root: Path, script: str) -> None:
    imported = set()
    for node in ast.walk(ast.parse((root / script).read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            imported.add((node.module or "").split(".")[0])
    assert imported - {"environment"} <= sys.stdlib_module_names


@pytest.mark.slow
def test_the_first_command_answers_from_a_fresh_clone(root: Path, tmp_path: Path) -> None:
    clone = tmp_path / "clone"
    for part in ("service", "examples", ".ci"):
        shutil.copytree(root / part, clone / part, ignore=shutil.ignore_patterns("__pycache__", "dist"))
    command = [sys.executable, "examples/first_answer.py"]
    first = subprocess.run(command, cwd=clone, capture_output=True, text=True, timeout=900, check=False)
    assert first.returncode == 0, first.stdout + first.stderr
    assert re.search(r"^(Branch n|N)eutral bad: .*open$", first.stdout, re.MULTILINE)
    assert "CAUTIONS" in first.stdout
    shown = first.stdout[first.stdout.index("READ  ") :]
    assert shown in (root / "README.md").read_text(encoding="utf-8"), "run .ci/readme.py: README shows an older answer"
    again = subprocess.run(command, cwd=clone, capture_output=True, text=True, timeout=120, check=False)
    assert again.returncode == 0, again.stdout + again.stderr
    assert "Setting up" not in again.stdout

    def answer(text: str) -> str:
        return text[text.index("READ  ") :]

    assert answer(again.stdout) == answer(first.stdout)
