"""The service as a process of its own on the loopback interface."""

from collections.abc import Iterator

import pytest

from support.operated_service import Service, running


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """Give a service that is ready."""
    with running(tmp_path_factory.mktemp("service"), warm_up="false") as service:
        yield service
