"""Generators of clients: an environment of their own, and how each of them is run on the published document."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

from support.contract_tools import HOME, require_tools

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = ROOT / "openapi" / "openapi.json"
CALLERS = ROOT / "tests" / "generators" / "callers"
LINES_AS_BYTES = (
    "content_type_overrides:\n  application/x-ndjson: application/octet-stream\n"
    "  application/jsonl: application/octet-stream\n"
    "project_name_override: feedproof-client\npackage_name_override: feedproof_client\npost_hooks: []\n"
)
"""For openapi-python-client, which knows no lines of JSON: to be sent as they are."""


def provide() -> Path:
    """Folder of the programs, installed where they are not there yet."""
    code = "import environment; print(environment.provide_generators())"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT / ".ci", capture_output=True, text=True, timeout=600, check=True
    )
    return Path(done.stdout.splitlines()[-1]).parent


def run(*command: str | Path, folder: Path, programs: Path | None = None) -> str:
    """Run a program and give what it prints; what it complains of fails the test."""
    path = os.environ["PATH"] if programs is None else f"{programs}{os.pathsep}{os.environ['PATH']}"
    done = subprocess.run(
        [str(part) for part in command],
        cwd=folder,
        env=os.environ | {"PATH": path, "NO_COLOR": "1"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]
    return done.stdout


def compile_typescript(folder: Path, source: str) -> Path:
    """Compile a caller strictly, with all that it imports, and give the script that node runs."""
    require_tools()
    (folder / "node_modules").symlink_to(HOME / "node_modules")
    (folder / "package.json").write_text('{"type": "module"}', encoding="ascii")
    shutil.copy(CALLERS / source, folder)
    strict = ("--strict", "--target", "es2022", "--module", "es2022", "--moduleResolution", "bundler")
    run("node", HOME / "node_modules" / ".bin" / "tsc", *strict, "--outDir", "out", source, folder=folder)
    return folder / "out" / source.replace(".ts", ".js")
