"""What a client is set up with: by argument, by environment, by default; what cannot be used is refused at once."""

import math
from typing import Any

import pytest

from feedproof_sdk import AsyncClient, Client, Limits, Retries, Timeouts, errors
from feedproof_sdk._settings import LOOPBACK, settle


def base_url(given: str | None = None) -> str:
    return settle(given, None, None, None, None, None, None).base_url


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
    assert settle(None, None, None, None, None, None, None).api_key == "from-environment"
    assert settle(None, "by-argument", None, None, None, None, None).api_key == "by-argument"
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
        {"timeouts": 0},
        {"timeouts": math.inf},
        {"timeouts": -1.0},
        {"timeouts": math.nan},
        {"retries": -1},
        {"headers": {"x": "\u2013"}},
    ],
    ids=str,
)
@pytest.mark.parametrize("kind", [Client, AsyncClient])
def test_what_cannot_be_used_is_refused_when_the_client_is_made(kind: Any, given: dict[str, Any]) -> None:
    with pytest.raises(errors.BadSetting):
        kind(**given)


@pytest.mark.parametrize(
    "given",
    [
        {"first_wait": -1.0},
        {"longest_wait": -1.0},
        {"attempts": 0},
    ],
    ids=str,
)
def test_retries_that_make_no_sense_are_refused(given: dict[str, Any]) -> None:
    with pytest.raises(errors.BadSetting):
        Retries(**given)


def test_limits_that_make_no_sense_are_refused() -> None:
    with pytest.raises(errors.BadSetting):
        Limits(connections=0)


def test_numbers_stand_for_the_whole_call_and_the_attempts_after_the_first() -> None:
    settings = settle(None, None, 2.5, 0, None, None, None)
    assert settings.timeouts == Timeouts(connect=2.5, read=2.5, total=2.5)
    assert settings.retries.attempts == 1


def test_there_are_timeouts_by_default() -> None:
    for limit in (Timeouts().connect, Timeouts().read, Timeouts().total):
        assert 0.0 < limit <= 60.0
