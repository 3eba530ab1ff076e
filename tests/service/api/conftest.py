"""The application, as it is put together, over its in-process transport."""

from collections.abc import Iterator
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.settings import Settings

JSON = {"content-type": "application/json"}


@pytest.fixture(scope="session")
def client() -> Iterator[TestClient[Any]]:
    """Give a client of the application with its defaults."""
    with TestClient(create_app(Settings(cors_origins=("https://forms.example",), warm_up=False))) as client:
        yield client
