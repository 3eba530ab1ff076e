"""What the tests of the contract share."""

import pytest

from feedproof.assess import assess
from feedproof.parsing import read_request


@pytest.fixture(scope="session", autouse=True)
def compiled_engine(example_requests: dict[str, bytes]) -> None:
    """Compile the engine first, as a service that is ready has: no request is to run into its time limit for that."""
    for name in ("every_kind_of_reading", "legs_apart"):
        assess(*read_request(example_requests[name]))
