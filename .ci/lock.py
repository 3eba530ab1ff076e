"""Lock every package that the project installs, with hashes: `python3 .ci/lock.py [--upgrade]`.

Needs `uv` on the path. Run it after a change of any `dependencies` or `dependency-groups` entry; without `--upgrade`
what is locked already stays as it is. One set of versions serves all supported Pythons, so that an answer does not
depend on which one runs. The files name no package index: each machine uses the one it is set up for.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
HEAD = "# Written by `python3 .ci/lock.py`; not to be edited.\n"

EVERYTHING = ROOT / "tests" / "requirements.lock"
SERVICE = ROOT / "service" / "requirements.lock"
ENGINES = ROOT / "tests" / "engines.lock"
GENERATORS = ROOT / "tests" / "generators.lock"
BUILD = ROOT / ".ci" / "build.lock"


def lock(target: Path, *sources: str, options: list[str]) -> None:
    """Resolve `sources` into `target`, keeping what it has locked already unless `options` say otherwise."""
    command = [
        *("uv", "pip", "compile", "--quiet", "--universal", "--python-version", "3.11"),
        *("--fork-strategy", "fewest", "--generate-hashes", "--no-header", "--no-annotate"),
        *("--no-emit-index-url", "--no-emit-find-links", "--output-file", str(target)),
        *options,
        *sources,
    ]
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    target.write_text(HEAD + target.read_text(encoding="utf-8").removeprefix(HEAD), encoding="utf-8")
    print(f"wrote {target.relative_to(ROOT)}")


def pins(locked: Path) -> str:
    """Give the locked versions without their hashes, to hold another resolution to them."""
    lines = locked.read_text(encoding="utf-8").splitlines()
    return "\n".join(line.removesuffix("\\").strip() for line in lines if "==" in line)


def main() -> None:
    """Write the files, the narrower ones held to the versions of the widest."""
    options = sys.argv[1:]
    lock(EVERYTHING, "service/pyproject.toml", "sdk/pyproject.toml", "--group", "pyproject.toml:dev", options=options)
    with tempfile.TemporaryDirectory() as folder:
        constraint = Path(folder) / "pins.txt"
        constraint.write_text(pins(EVERYTHING), encoding="utf-8")
        held = ["--upgrade", "--constraint", str(constraint)]
        lock(SERVICE, "service/pyproject.toml", options=held)
        engines = ("--extra", "fleet", "--group", "pyproject.toml:engines", "--group", "pyproject.toml:build")
        lock(ENGINES, "service/pyproject.toml", *engines, options=held)
        lock(GENERATORS, "--group", "pyproject.toml:generators", options=options)
        lock(BUILD, "--group", "pyproject.toml:build", options=held)


if __name__ == "__main__":
    main()
