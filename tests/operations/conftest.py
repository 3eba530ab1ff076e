"""What the proofs of operation share."""

from collections.abc import Callable
from pathlib import Path

import pytest

from support.operated_service import Report


@pytest.fixture
def report(request: pytest.FixtureRequest, record_property: Callable[[str, object], None]) -> Report:
    """Give a way to say a figure: in the terminal with `-rP`, and in a JUnit report."""

    def say(text: str) -> None:
        print(f"{request.node.name}: {text}")
        record_property("figure", text)

    return say


@pytest.fixture(scope="session")
def visit(example_requests: dict[str, bytes]) -> bytes:
    """Give one reading set."""
    return example_requests["low_impedance"]


@pytest.fixture(scope="session")
def docker(root: Path) -> Path:
    """Give the folder of the deployment."""
    return root / "docker"
