"""What is installed is locked: every package with its hash, one version of each in all files."""

import ast
import re
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

EVERYTHING = "tests/requirements.lock"
ENGINES = "tests/engines.lock"
GENERATORS = "tests/generators.lock"
LOCKS = [EVERYTHING, "service/requirements.lock", ".ci/build.lock"]


def normal(name: str) -> str:
    """Name of a distribution as indexes compare it (packaging specification, name normalization)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def declared(root: Path, folder: str, *, with_extras: bool = False) -> set[str]:
    """Distributions that a distribution says it needs, always or for its extras too."""
    project = tomllib.loads((root / folder / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project.get("optional-dependencies", {}).values() if with_extras else []
    wanted = [*project["dependencies"], *(requirement for extra in extras for requirement in extra)]
    return {normal(re.split(r"[\s\[<>=!~;]", requirement)[0]) for requirement in wanted}


def imported(folder: Path) -> set[str]:
    """Top names of all modules that the Python files of a folder import."""
    found: set[str] = set()
    for path in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                found.add(node.module.split(".")[0])
    return found


def entries(root: Path, lock: str) -> dict[str, tuple[str, int]]:
    """Version and number of hashes of each locked package."""
    text = (root / lock).read_text(encoding="utf-8")
    found: dict[str, tuple[str, int]] = {}
    for entry in re.split(r"\n(?=[\w#])", text):
        if match := re.match(r"([\w.-]+)==([^\s;\\]+)", entry):
            assert normal(match[1]) not in found, f"{match[1]} has more than one version"
            found[normal(match[1])] = (match[2], entry.count("--hash=sha256:"))
        else:
            assert entry.startswith("#"), entry
    return found


@pytest.mark.parametrize("lock", [*LOCKS, ENGINES, GENERATORS])
def test_every_package_has_hashes(root: Path, lock: str) -> None:
    found = entries(root, lock)
    assert found
    assert all(hashes for _, hashes in found.values())


@pytest.mark.parametrize("lock", LOCKS[1:])
def test_narrow_locks_hold_the_versions_that_are_tested(root: Path, lock: str) -> None:
    everything = entries(root, EVERYTHING)
    assert entries(root, lock).items() <= everything.items()


@pytest.mark.parametrize(
    ("described", "lock"),
    [("service", "service/requirements.lock"), ("service", EVERYTHING), ("sdk", EVERYTHING)],
)
def test_every_dependency_is_locked(root: Path, described: str, lock: str) -> None:
    with_extras = lock == EVERYTHING
    assert declared(root, described, with_extras=with_extras) <= set(entries(root, lock))


@pytest.mark.parametrize(("folder", "package"), [("service", "feedproof"), ("sdk", "feedproof_sdk")])
def test_every_import_is_declared(root: Path, folder: str, package: str) -> None:
    homes = packages_distributions()
    found = imported(root / folder / "src")
    assert found
    foreign = found - set(sys.stdlib_module_names) - {package}
    needed = {normal(homes[name][0]) if name in homes else name for name in foreign}
    assert needed <= declared(root, folder, with_extras=True)


def test_the_development_group_is_locked(root: Path) -> None:
    groups = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["dependency-groups"]
    for name, group in groups.items():
        wanted = {normal(re.split(r"[\s\[<>=!~;]", one)[0]) for one in group if isinstance(one, str)}
        assert wanted <= set(entries(root, {"engines": ENGINES, "generators": GENERATORS}.get(name, EVERYTHING)))
