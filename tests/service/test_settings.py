"""Settings: defaults, a file, the environment; what means nothing is refused, and so is being open by accident."""

import tomllib
from pathlib import Path

import pytest

from feedproof.attribute_docs import attribute_docs
from feedproof.settings import (
    LISTS,
    Settings,
    check_exposure,
    describe,
    is_loopback,
    load,
)

DIGEST = "ab" * 32


def test_nothing_set_gives_the_defaults_on_loopback() -> None:
    assert load({"PATH": "/bin"}).settings == Settings()
    assert Settings().host == "127.0.0.1"


def test_each_setting_is_read_with_its_type() -> None:
    given = {"FEEDPROOF_PORT": "9000", "FEEDPROOF_CORS_ORIGINS": "https://a.example,https://b.example"}
    settings = load(given).settings
    assert settings.port == 9000
    assert settings.cors_origins == ("https://a.example", "https://b.example")
    assert {"api_keys", "cors_origins", "trusted_proxies"} == LISTS


@pytest.mark.parametrize(
    "given",
    [
        {"FEEDPROOF_PROT": "9000"},
        {"FEEDPROOF_PORT": "http"},
        {"FEEDPROOF_PORT": "70000"},
        {"FEEDPROOF_WORKERS": "0"},
        {"FEEDPROOF_LOG_FORMAT": "xml"},
        {"FEEDPROOF_QUEUE_SECONDS": "0"},
        {"FEEDPROOF_API_KEYS": "the key itself"},
        {"FEEDPROOF_TRUSTED_PROXIES": "not an address"},
        {"FEEDPROOF_TRUSTED_PROXIES": "10.0.0.1,*"},
        {"FEEDPROOF_TRUSTED_PROXIES": "10.0.0.1/8"},
        {"FEEDPROOF_TRUSTED_PROXIES": "300.0.0.1"},
        {"FEEDPROOF_CORS_ORIGINS": "nonsense"},
        {"FEEDPROOF_CORS_ORIGINS": '["https://a.example", "https://b.example"]'},
        {"FEEDPROOF_CORS_ORIGINS": "https://a.example/"},
        {"FEEDPROOF_CORS_ORIGINS": "https://A.example"},
    ],
)
def test_a_setting_that_means_nothing_is_refused(given: dict[str, str]) -> None:
    with pytest.raises(ValueError, match="FEEDPROOF") as refusal:
        load(given)
    assert "the key itself" not in str(refusal.value)


def test_lists_may_have_blanks_and_networks() -> None:
    """RFC 4632 and RFC 4291, 2.3 (networks); RFC 6454, 6.2 (the text of an origin)."""
    given = {
        "FEEDPROOF_TRUSTED_PROXIES": "10.0.0.1, 127.0.0.1 ,10.1.0.0/16, ::1,fd00::/8,",
        "FEEDPROOF_CORS_ORIGINS": "https://a.example:8443, http://[::1]:8080, app://localhost, *",
    }
    settings = load(given).settings
    assert settings.trusted_proxies == ("10.0.0.1", "127.0.0.1", "10.1.0.0/16", "::1", "fd00::/8")
    assert settings.cors_origins == ("https://a.example:8443", "http://[::1]:8080", "app://localhost", "*")
    assert load({"FEEDPROOF_TRUSTED_PROXIES": "*"}).settings.trusted_proxies == ("*",)


def test_what_clients_read_is_no_setting_of_the_service() -> None:
    assert load({"FEEDPROOF_API_KEY": "x", "FEEDPROOF_BASE_URL": "https://x.example"}).settings == Settings()


def test_the_environment_goes_before_the_file_and_the_file_before_the_default(tmp_path: Path) -> None:
    file = tmp_path / "feedproof.toml"
    file.write_text('port = 9001\nqueue = 7\nqueue_seconds = 2\ncors_origins = ["https://a.example"]\n')
    effective = load({"FEEDPROOF_CONFIG": str(file), "FEEDPROOF_PORT": "9002"})
    assert (effective.settings.port, effective.settings.queue, effective.settings.workers) == (
        9002,
        7,
        Settings().workers,
    )
    assert effective.settings.queue_seconds == 2.0
    assert effective.settings.cors_origins == ("https://a.example",)
    assert [effective.sources[name] for name in ("port", "queue", "workers")] == ["environment", "file", "default"]


@pytest.mark.parametrize("text", ["prot = 1\n", 'port = "9000"\n', "port = \n", "[server]\nport = 1\n"])
def test_a_file_that_means_nothing_is_refused_by_name(tmp_path: Path, text: str) -> None:
    file = tmp_path / "feedproof.toml"
    file.write_text(text)
    with pytest.raises(ValueError, match="feedproof\\.toml"):
        load({"FEEDPROOF_CONFIG": str(file)})


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="No such file"):
        load({"FEEDPROOF_CONFIG": str(tmp_path / "none")})


def test_what_is_printed_reads_back_to_the_same_settings(tmp_path: Path) -> None:
    effective = load({"FEEDPROOF_KEY_FILE": '/run/"keys"\\', "FEEDPROOF_RATE_PER_SECOND": "2.5"})
    file = tmp_path / "feedproof.toml"
    file.write_text(describe(effective))
    assert load({"FEEDPROOF_CONFIG": str(file)}).settings == effective.settings
    assert set(tomllib.loads(file.read_text())) == set(Settings.__struct_fields__)


def test_secrets_are_masked() -> None:
    printed = describe(load({"FEEDPROOF_API_KEYS": f"{DIGEST},{DIGEST}"}))
    assert DIGEST[:8] not in printed
    assert 'api_keys = ["***", "***"]' in printed


def test_every_setting_says_what_it_does() -> None:
    assert set(attribute_docs(Settings)) == set(Settings.__struct_fields__)
    assert all(meaning.endswith(".") for meaning in attribute_docs(Settings).values())


@pytest.mark.parametrize("host", ["127.0.0.1", "127.9.9.9", "::1", "localhost"])
def test_loopback_needs_no_key(host: str) -> None:
    assert is_loopback(host)
    check_exposure(Settings(host=host))


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "", "192.0.2.1", "kiosk.example", "127.0.0.1.example"])  # noqa: S104
def test_beyond_loopback_a_key_or_the_word_for_none_is_needed(host: str) -> None:
    with pytest.raises(ValueError, match="FEEDPROOF_KEY_FILE"):
        check_exposure(Settings(host=host))
    check_exposure(Settings(host=host, anonymous=True))
    check_exposure(Settings(host=host, api_keys=(DIGEST,)))
    check_exposure(Settings(host=host, key_file="/run/keys"))
