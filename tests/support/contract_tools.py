"""The linters of the published document: pinned programs from the registry of Node.js packages."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

HOME = Path(__file__).resolve().parents[1] / "contract" / "tools"
QUIET = {"REDOCLY_TELEMETRY": "off", "REDOCLY_SUPPRESS_UPDATE_NOTICE": "true", "NO_COLOR": "1"}


def _absent(what: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{what}, and under CI it has to be there")
    pytest.skip(f"{what}; under CI this fails instead")


def require_tools() -> Path:
    """Folder of the programs; installs them where npm is there, skips the test where it is not, never under CI."""
    programs = HOME / "node_modules" / ".bin"
    if shutil.which("node") is None:
        _absent("node is not installed (apt-get install nodejs npm)")
    if (programs / "redocly").exists() and (programs / "spectral").exists():
        return programs
    npm = shutil.which("npm")
    if npm is None:
        _absent("npm is not installed (apt-get install nodejs npm)")
    installed = subprocess.run(
        [str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund"],
        cwd=HOME,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    if installed.returncode:
        _absent(f"npm could not install the linters: {installed.stderr[-500:]}")
    return programs


def run(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run one of the programs in its folder."""
    return subprocess.run(
        [str(require_tools() / program), *arguments],
        cwd=HOME,
        env=os.environ | QUIET,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
