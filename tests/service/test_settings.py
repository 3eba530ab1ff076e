"""Settings: defaults, the environment, and refusal of what is unknown."""

import pytest

from feedproof.settings import Settings, from_environment


def test_nothing_set_gives_the_defaults_on_loopback() -> None:
    assert from_environment({"PATH": "/bin"}) == Settings()
    assert Settings().host == "127.0.0.1"


def test_each_setting_is_read_with_its_type() -> None:
    given = {"FEEDPROOF_PORT": "9000", "FEEDPROOF_CORS_ORIGINS": "https://a.example,https://b.example"}
    settings = from_environment(given)
    assert settings.port == 9000
    assert settings.cors_origins == ("https://a.example", "https://b.example")


@pytest.mark.parametrize(
    "given",
    [{"FEEDPROOF_PROT": "9000"}, {"FEEDPROOF_PORT": "http"}, {"FEEDPROOF_PORT": "70000"}, {"FEEDPROOF_WORKERS": "0"}],
)
def test_a_setting_that_means_nothing_is_refused(given: dict[str, str]) -> None:
    with pytest.raises(ValueError, match="FEEDPROOF"):
        from_environment(given)
