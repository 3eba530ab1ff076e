"""Each distribution is built, installed into an empty environment and imported whole; the SDK brings no server along.

Another checkout of the packages on the path would hide a missing dependency, so nothing of this environment is visible.
"""

import json
import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

DISTRIBUTIONS = {
    "feedproof": ("service", "feedproof"),
    "feedproof-sdk": ("sdk", "feedproof_sdk"),
}
SERVER_ONLY = [
    "feedproof",
    "litestar",
    "llvmlite",
    "numba",
    "numpy",
    "prometheus_client",
    "structlog",
    "typst",
    "uvicorn",
]

IMPORT_ALL = """
import importlib, importlib.util, json, pkgutil, sys
package = importlib.import_module(sys.argv[1])
found = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
names = [module.name for module in found if not module.name.endswith("__main__")]
# What only an extra makes possible is left out: the base installs without it.
names = [name for name in names if not name.startswith(("feedproof.fleet.", "feedproof.telemetry.spans"))]
names += ["feedproof.fleet.command"] * (package.__name__ == "feedproof")
for name in names:
    importlib.import_module(name)
present = [name for name in json.loads(sys.argv[2]) if importlib.util.find_spec(name) is not None]
print(json.dumps({"file": package.__file__, "version": package.__version__, "modules": len(names), "present": present}))
"""


def run(*command: str | Path, cwd: Path) -> str:
    """Run a program apart from this environment and give what it prints."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "VIRTUAL_ENV"))}
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=clean, capture_output=True, text=True, timeout=900, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module", params=DISTRIBUTIONS)
def built(request: pytest.FixtureRequest, root: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Name of a distribution and the folder with its wheel, built from its source archive, and that archive."""
    name: str = request.param
    folder, _ = DISTRIBUTIONS[name]
    out = tmp_path_factory.mktemp(name)
    run(sys.executable, "-m", "hatchling", "build", "-d", out, "-t", "sdist", cwd=root / folder)
    (archive,) = out.glob("*.tar.gz")
    with tarfile.open(archive) as tar:
        tar.extractall(out / "unpacked", filter="data")
    (unpacked,) = (out / "unpacked").iterdir()
    run(sys.executable, "-m", "hatchling", "build", "-d", out, "-t", "wheel", cwd=unpacked)
    return name, out


def test_the_wheel_holds_the_package_its_types_and_its_licence(built: tuple[str, Path], root: Path) -> None:
    name, out = built
    folder, package = DISTRIBUTIONS[name]
    (wheel,) = out.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        held = set(archive.namelist())
    source = root / folder / "src"
    wanted = {
        str(path.relative_to(source))
        for path in (source / package).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    inside = {entry for entry in held if not entry.split("/")[0].endswith(".dist-info")}
    assert f"{package}/py.typed" in inside
    assert inside == wanted
    assert any(entry.endswith("licenses/LICENSE") for entry in held)


def test_it_installs_into_an_empty_environment_and_works_there(
    built: tuple[str, Path], root: Path, tmp_path: Path
) -> None:
    name, out = built
    _, package = DISTRIBUTIONS[name]
    (wheel,) = out.glob("*.whl")
    venv.create(tmp_path / "alone", with_pip=True)
    binaries = tmp_path / "alone" / ("Scripts" if os.name == "nt" else "bin")
    run(binaries / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel, cwd=tmp_path)
    told = json.loads(run(binaries / "python", "-c", IMPORT_ALL, package, json.dumps(SERVER_ONLY), cwd=tmp_path))
    assert Path(told["file"]).is_relative_to(tmp_path)
    assert wheel.name.split("-")[1] == told["version"]
    if name == "feedproof":
        assert told["modules"] > 10
        assert told["present"] == SERVER_ONLY
        request = root / "examples" / "requests" / "low_impedance.json"
        assessment = json.loads(run(binaries / "feedproof", "assess", request, cwd=tmp_path))
        assert assessment["finding"]["fault"] == "open_neutral"
    else:
        assert told["present"] == []
