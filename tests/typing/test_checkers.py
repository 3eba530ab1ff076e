"""mypy and pyright find nothing in the SDK, in the examples, and in what users write: `sdk_api.py`.

Both report an ignored error that is none, so each line there that must be wrong is seen to be wrong.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

CHECKED = ("sdk/src", "examples", "tests/typing/sdk_api.py")


def run(root: Path, *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", *command], cwd=root, capture_output=True, text=True, timeout=600, check=False
    )


@pytest.fixture
def pyright_settings(root: Path, tmp_path: Path) -> Path:
    """Give settings as strict as there are."""
    settings = tmp_path / "pyrightconfig.json"
    settings.write_text(
        json.dumps(
            {
                # Only relative ones are taken.
                "include": [os.path.relpath(root / part, tmp_path) for part in CHECKED],
                # Run on engines that are installed by hand, over libraries that are not wholly typed; mypy reads them.
                "exclude": [os.path.relpath(root / "examples" / "fleet", tmp_path)],
                "extraPaths": [str(root / part) for part in ("sdk/src", ".ci", "examples/field_form")],
                "typeCheckingMode": "strict",
                "reportUnnecessaryTypeIgnoreComment": "error",
                "enableTypeIgnoreComments": False,
                # Private to the package, not to each of its modules.
                "reportPrivateUsage": "none",
                # pint is not wholly typed.
                "reportMissingTypeStubs": "none",
            }
        )
    )
    return settings


def test_mypy(root: Path) -> None:
    done = run(root, "mypy", *CHECKED)
    assert done.returncode == 0, done.stdout + done.stderr


def test_mypy_on_what_the_pages_show(root: Path, tmp_path: Path) -> None:
    """Each block by itself, with the settings of this project, which are strict."""
    blocks = [
        block
        for page in ("README.md", "PLATFORMS.md")
        for block in re.findall(r"^```python\n(.*?)^```", (root / "sdk" / page).read_text(), re.MULTILINE | re.DOTALL)
    ]
    for number, block in enumerate(blocks):
        (tmp_path / f"block_{number}.py").write_text(block)
    done = run(root, "mypy", str(tmp_path))
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(blocks)} source files" in done.stdout


@pytest.mark.slow
def test_pyright(root: Path, pyright_settings: Path) -> None:
    done = run(root, "pyright", "--project", str(pyright_settings), "--pythonpath", sys.executable, "--outputjson")
    report = json.loads(done.stdout)
    found = [
        f"{Path(one['file']).name}:{one['range']['start']['line'] + 1}: {one['message']} ({one.get('rule')})"
        for one in report["generalDiagnostics"]
    ]
    assert found == []
    assert report["summary"]["filesAnalyzed"] > 20


def test_a_wrong_use_is_seen(root: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    wrong.write_text("from feedproof_sdk import Client\n\nClient().assess(3)\n")
    done = run(root, "mypy", str(wrong))
    assert done.returncode == 1
    assert "arg-type" in done.stdout
