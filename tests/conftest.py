"""Settings that all tests share."""

from collections import Counter
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# No deadline: the first call of a compiled function takes seconds. Derandomized: the same commit gives the same
# result everywhere; `--hypothesis-profile=explore` looks further.
settings.register_profile("everyday", deadline=None, derandomize=True, max_examples=50)
settings.register_profile("explore", deadline=None, max_examples=1000)
settings.load_profile("everyday")


@pytest.fixture(scope="session")
def root() -> Path:
    """Give the top folder of the project."""
    return ROOT


@pytest.fixture(scope="session")
def example_requests() -> dict[str, bytes]:
    """Give the shipped example requests by file name without suffix."""
    return {path.stem: path.read_bytes() for path in sorted((ROOT / "examples" / "requests").glob("*.json"))}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Refuse long proofs that share a name: of those, `--dist loadfile` runs one and says nothing of the others."""
    names = Counter(i.nodeid for i in items if i.get_closest_marker("slow") and not i.get_closest_marker("alone"))
    if twice := [name for name, count in names.items() if count > 1]:
        raise pytest.UsageError(f"tests that share a name: {twice}")
