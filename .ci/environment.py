"""Isolated Python environments under `.environments/`, made with nothing but the standard library and pip."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import venv
from collections.abc import Iterable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".environments"
OLDEST = (3, 11)


def digest(paths: Iterable[Path]) -> str:
    """Digest of files, and of all files in folders, that an environment was made from."""
    total = hashlib.sha256(f"{sys.version}\0{ROOT}\0".encode())
    for path in paths:
        found = [path] if path.is_file() else sorted(f for f in path.rglob("*") if "__pycache__" not in f.parts)
        for file in found:
            if file.is_file():
                total.update(f"{file.relative_to(ROOT)}\0".encode())
                total.update(file.read_bytes())
    return total.hexdigest()


def provide(name: str, installs: list[list[str]], made_from: Iterable[Path]) -> Path:
    """Make the environment, or leave it as it is where nothing it was made from has changed.

    Parameters
    ----------
    name : str
        Name of the environment; the Python version is added to it.
    installs : list of list of str
        Arguments of each `pip install`, in order.
    made_from : iterable of Path
        Files and folders whose change calls for a new installation.

    Returns
    -------
    Path
        The environment's Python.
    """
    if sys.version_info < OLDEST:
        sys.exit(f"Python {OLDEST[0]}.{OLDEST[1]} or later is needed; this is {sys.version.split()[0]}")
    place = FOLDER / f"{name}-{sys.version_info[0]}.{sys.version_info[1]}"
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    stamp = place / "made-from"
    wanted = digest(made_from)
    if python.exists() and stamp.exists() and stamp.read_text(encoding="ascii") == wanted:
        return python

    print(f"Setting up {place.relative_to(ROOT)} (once, one to some minutes) ...", flush=True)
    stamp.unlink(missing_ok=True)
    if not python.exists():
        shutil.rmtree(place, ignore_errors=True)
        # Some systems ship pip and venv without ensurepip: then the pip at hand installs into the environment.
        venv.create(place, with_pip=importlib.util.find_spec("ensurepip") is not None)
    own = importlib.util.find_spec("ensurepip") is not None
    pip = [str(python), "-m", "pip"] if own else [sys.executable, "-m", "pip", "--python", str(python)]
    for arguments in installs:
        command = [*pip, "--disable-pip-version-check", "--quiet", "install", *arguments]
        done = subprocess.run(command, cwd=ROOT, stdin=subprocess.DEVNULL, check=False)
        if done.returncode:
            sys.exit(f"pip install {' '.join(arguments)} failed")
    stamp.write_text(wanted, encoding="ascii")
    return python


def provide_service() -> Path:
    """Provide an environment that holds the service as a user would install it, and nothing else."""
    service = ROOT / "service"
    return provide(
        "service",
        [
            ["--require-hashes", "-r", ".ci/build.lock", "-r", "service/requirements.lock"],
            ["--no-deps", "--no-build-isolation", "--force-reinstall", "./service"],
        ],
        [ROOT / ".ci" / "build.lock", service],
    )


def provide_tests() -> Path:
    """Provide an environment that holds both distributions, editable, and all that tests and gates need."""
    return provide(
        "tests",
        [
            ["--require-hashes", "-r", "tests/requirements.lock"],
            ["--no-deps", "--no-build-isolation", "-e", "./service", "-e", "./sdk"],
        ],
        [ROOT / "tests" / "requirements.lock", ROOT / "service" / "pyproject.toml", ROOT / "sdk" / "pyproject.toml"],
    )


def provide_generators() -> Path:
    """Provide an environment that holds generators of clients, and nothing of this project."""
    lock = ROOT / "tests" / "generators.lock"
    return provide("generators", [["--require-hashes", "-r", str(lock)]], [lock])


def provide_engines() -> Path:
    """Provide an environment that holds the service, editable, and the engines that fleets are tested on."""
    return provide(
        "engines",
        [
            ["--require-hashes", "-r", "tests/engines.lock"],
            ["--no-deps", "--no-build-isolation", "-e", "./service"],
        ],
        [ROOT / "tests" / "engines.lock", ROOT / "service" / "pyproject.toml"],
    )
