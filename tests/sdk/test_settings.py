"""What a client is set up with: by argument, by environment, by default; what cannot be used is refused at once."""

import math
from typing import Any

import pytest

from feedproof_sdk import AsyncClient, Client, errors
from feedproof_sdk._settings import LOOPBACK, settle


def base_url(given: str | None = None) -> str:
    return settle(given).base_url


def test_the_address_comes_by_argument_then_environment_then_loopback(monkeypatch: pytest.MonkeyPatch) -> None:
    assert base_url() == LOOPBACK
    monkeypatch.setenv("FEEDPROOF_BASE_URL", "https://feedproof.example/")
    assert base_url() == "https://feedproof.example"
    assert base_url("http://other.example/below/") == "http://other.example/below"


def test_the_loopback_default_is_where_the_command_listens() -> None:
    from feedproof.settings import Settings  # noqa: PLC0415 - beside what it is compared with

    assert f"http://{Settings().host}:{Settings().port}" == LOOPBACK


def test_the_key_comes_by_argument_then_environment_and_is_never_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FEEDPROOF_API_KEY", "from-environment")
    assert settle().api_key == "from-environment"
    assert settle(api_key="by-argument").api_key == "by-argument"
    for client in (Client(), AsyncClient(), Client(api_key="by-argument")):
        assert "***" in repr(client)
        assert "from-environment" not in repr(client)
        assert "by-argument" not in repr(client)


@pytest.mark.parametrize(
    "given",
    [
        {"base_url": "feedproof.example"},
        {"base_url": "ftp://feedproof.example"},
        {"base_url": "http://"},
        {"base_url": "http://feedproof.example/?x=1"},
        {"base_url": "http://feedproof.example:port"},
        {"api_key": ""},
        {"api_key": "two\nlines"},
        {"api_key": "schlüssel"},
        {"timeout": 0},
        {"timeout": math.inf},
        {"timeout": -1.0},
        {"timeout": math.nan},
        {"max_retries": -1},
        {"headers": {"x": "\u2013"}},
    ],
    ids=str,
)
@pytest.mark.parametrize("kind", [Client, AsyncClient])
def test_what_cannot_be_used_is_refused_when_the_client_is_made(kind: Any, given: dict[str, Any]) -> None:
    with pytest.raises(errors.BadSetting):
        kind(**given)


def test_there_is_a_time_limit_by_default() -> None:
    assert 0.0 < settle().timeout <= 60.0
