"""What the tests of the contract share."""

from collections.abc import Generator
from typing import Any

import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request


@pytest.fixture(scope="session", autouse=True)
def compiled_engine(example_requests: dict[str, bytes]) -> None:
    """Compile the engine first, as a service that is ready has: no request is to run into its time limit for that."""
    for name in ("every_kind_of_reading", "legs_apart"):
        assess(*read_request(example_requests[name]))


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_pycollect_makeitem(collector: pytest.Collector, obj: Any) -> Generator[None, Any, Any]:
    """Leave long proofs out early: generated cases are made when they are collected, and take longer than the rest."""
    long = any(mark.name == "slow" for mark in getattr(obj, "pytestmark", ()))
    found = yield
    return [] if long and collector.config.getoption("markexpr") == "not slow" else found
