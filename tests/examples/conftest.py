"""The service and the back end of the field form, each in a process of its own."""

from collections.abc import Iterator

import pytest

from support.field_form import BackEnd
from support.service_process import LiveService, running_service


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveService]:
    with running_service(tmp_path_factory.mktemp("service") / "log", log_level="error") as live:
        yield live


@pytest.fixture(scope="module")
def back_end(service: LiveService, tmp_path_factory: pytest.TempPathFactory) -> Iterator[BackEnd]:
    back_end = BackEnd(service.url, tmp_path_factory.mktemp("back_end") / "log")
    back_end.start()
    try:
        yield back_end
    finally:
        back_end.stop()
