"""The service behind the SDK: in the same process, and as a process of its own."""

from collections.abc import Iterator

import httpx
import pytest

from feedproof.app import create_app
from feedproof.settings import Settings
from feedproof_sdk import Client, ReadingSet, Visit, Voltmeter, _retry
from support.gateway import Gateway, gateway
from support.in_process import InProcess, in_process
from support.service_process import LiveService, running_service


@pytest.fixture(autouse=True)
def _quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Wait less between attempts than a caller would."""
    monkeypatch.setattr(_retry, "FIRST_WAIT", 0.01)
    monkeypatch.setattr(_retry, "LONGEST_WAIT", 0.05)


@pytest.fixture(autouse=True)
def _no_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep settings of whoever runs the tests out of them."""
    monkeypatch.delenv("FEEDPROOF_BASE_URL", raising=False)
    monkeypatch.delenv("FEEDPROOF_API_KEY", raising=False)


@pytest.fixture(scope="session")
def transport() -> Iterator[InProcess]:
    """Give a transport to the application in this process."""
    with in_process(create_app(Settings(warm_up=False, log_level="error"))) as transport:
        yield transport


@pytest.fixture
def client(transport: InProcess) -> Client:
    """Give a client of the application in this process."""
    return Client(http_client=httpx.Client(transport=transport))


@pytest.fixture(scope="session")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveService]:
    """Give the service over loopback."""
    with running_service(tmp_path_factory.mktemp("service") / "log", log_level="error") as live:
        yield live


@pytest.fixture
def elsewhere() -> Iterator[Gateway]:
    """Give a server that answers whatever it is told to."""
    with gateway() as server:
        yield server


@pytest.fixture(scope="session")
def unplugged() -> Visit:
    """Give the invented visit: a range unplugged, 3 kohm voltmeter, nothing behind the neutral."""
    visit = Visit("INVENTED lakeside campground, cabin 12, range")
    loz = visit.meter("loz", Voltmeter(input_impedance="3 kohm"))
    visit.disconnected().voltage("L1", "L2", "247 V", loz).voltage("L1", "N", 7, loz).voltage("L2", "N", 7, loz)
    return visit


@pytest.fixture(scope="session")
def reading_set(unplugged: Visit) -> ReadingSet:
    """Give the same as it is sent."""
    return unplugged.reading_set()
