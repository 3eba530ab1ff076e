"""The recipes run as they stand, by the programs that they name, beside a live service."""

import json
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from support.live_service import live_service


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with live_service() as address:
        yield address


def blocks(root: Path, language: str) -> list[str]:
    text = (root / "openapi" / "recipes.md").read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.MULTILINE | re.DOTALL)


def need(program: str) -> str:
    found = shutil.which(program)
    if found is None:
        pytest.skip(f"{program} is not installed")
    return found


def test_those_by_curl(root: Path, tmp_path: Path, address: str) -> None:
    need("curl")
    told = [
        subprocess.run(
            ["sh", "-eu", "-c", recipe],  # noqa: S607
            cwd=tmp_path,
            env={"FEEDPROOF": address, "PATH": "/usr/local/bin:/usr/bin:/bin"},
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        ).stdout
        for recipe in blocks(root, "sh")
    ]
    whole, screen, note, batch, wrong, limits = told
    assert json.loads(whole)["finding"]["fault"] == "open_neutral"
    assert len(screen.encode()) <= 4096
    assert json.loads(screen)["headline"] == json.loads(whole)["headline"]
    assert note.strip() == "1"
    first, second = [json.loads(line) for line in batch.splitlines()]
    assert first["finding"] == json.loads(whole)["finding"]
    assert (second["status"], second["line"], second["reference"]) == (422, 2, "INVENTED/cabin-13")
    assert {fault["pointer"] for fault in json.loads(wrong)["errors"]} == {"/readings/0/value", "/readings/0/meter"}
    head, _, catalogue = limits.partition("\n")
    assert head.lower().startswith("model-version: ")
    assert {limit["code"] for limit in json.loads(catalogue)["limits"]} >= {"body", "unpacked", "work", "readings"}


def test_those_by_fetch(root: Path, tmp_path: Path, address: str) -> None:
    node = need("node")
    script = tmp_path / "recipes.mjs"
    script.write_text(f"const FEEDPROOF = {address!r};\n" + "\n".join(blocks(root, "js")), encoding="utf-8")
    done = subprocess.run([node, script], capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    headline, action, *others = done.stdout.splitlines()
    assert headline
    assert action
    # ECMA-262, ToString: what a field that the answer does not have is printed as.
    assert "undefined" not in done.stdout
    assert any(re.fullmatch("danger: [A-Z].{9,}", line) for line in others)
    assert others[-1] == "2"
