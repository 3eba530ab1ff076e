"""Safety texts in the caller's language: with a language made up for the test, since only English is shipped."""

import json
import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.advice import texts
from feedproof.api import catalogues

Client = TestClient[Any]

JSON = {"content-type": "application/json"}
NDJSON = {"content-type": "application/x-ndjson"}

# From the range that language codes leave to private use (ISO 639-2, qaa to qtz; from memory).
MADE_UP = "qaa"


def marked(text: str) -> str:
    return f"({MADE_UP}) {text}"


def _forget() -> None:
    texts.safety_texts.cache_clear()
    catalogues._encoded.cache_clear()


def _write(folder: Path, languages: str) -> None:
    (folder / "data").mkdir()
    (folder / "data" / "cautions.toml").write_text(languages, encoding="utf-8")


@pytest.fixture
def shipped() -> str:
    return files("feedproof.advice").joinpath("data/cautions.toml").read_text(encoding="utf-8")


@pytest.fixture
def second_language(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shipped: str) -> Iterator[None]:
    _write(tmp_path, re.sub(r'^en = "(.*)"$', rf'\g<0>\n{MADE_UP} = "({MADE_UP}) \1"', shipped, flags=re.MULTILINE))
    monkeypatch.setattr(texts, "files", lambda _: tmp_path)
    _forget()
    yield
    monkeypatch.undo()
    _forget()


def test_only_english_is_shipped() -> None:
    assert texts.offered_languages() == ("en",)


@pytest.mark.usefixtures("second_language")
def test_cautions_and_hazards_come_in_the_language_asked_for(
    client: Client, example_requests: dict[str, bytes]
) -> None:
    raw = example_requests["unloaded_high_impedance"]
    english = client.post("/v1/assessments", content=raw, headers=JSON)
    other = client.post("/v1/assessments", content=raw, headers=JSON | {"accept-language": f"fr, {MADE_UP}-US;q=0.9"})
    assert english.headers["content-language"] == "en"
    assert other.headers["content-language"] == f"{MADE_UP}, en"
    for answer in (english, other):
        assert {"Accept", "Accept-Language"} <= set(answer.headers["vary"].split(", "))
    plain, translated = english.json(), other.json()
    for caution in plain["cautions"]:
        for part in ("title", "text", "because"):
            caution[part] = marked(caution[part])
    for reading in plain["next_readings"]:
        for hazard in reading["hazards"]:
            hazard["text"] = marked(hazard["text"])
    # Nothing but the safety texts differs, figures in them included.
    assert translated == plain
    assert "%" in json.dumps([caution["because"] for caution in translated["cautions"]])
    assert any(reading["hazards"] for reading in translated["next_readings"])


@pytest.mark.usefixtures("second_language")
@pytest.mark.parametrize("accepted", ["", "en", "fr", "*", f"{MADE_UP};q=0", f"en, {MADE_UP};q=0.5"])
def test_whoever_asks_for_nothing_else_gets_english(client: Client, accepted: str) -> None:
    answer = client.post("/v1/assessments", content=b'{"readings": []}', headers=JSON | {"accept-language": accepted})
    assert answer.headers["content-language"] == "en"
    assert MADE_UP not in answer.text


@pytest.mark.usefixtures("second_language")
def test_every_form_and_the_batch_follow(client: Client) -> None:
    ask = {"accept-language": MADE_UP}
    single = client.post("/v1/assessments", content=b'{"readings": []}', headers=JSON | ask)
    batch = client.post("/v1/assessments/batch", content=b'{"readings": []}', headers=NDJSON | ask)
    assert batch.content == single.content + b"\n"
    assert batch.headers["content-language"] == single.headers["content-language"] == f"{MADE_UP}, en"
    assert {"Accept", "Accept-Language"} <= set(batch.headers["vary"].split(", "))
    for form in ("text/html", "text/markdown", "text/plain"):
        answer = client.post("/v1/assessments", content=b'{"readings": []}', headers=JSON | ask | {"accept": form})
        assert f"({MADE_UP})" in answer.text.replace("\\", ""), form


@pytest.mark.usefixtures("second_language")
def test_the_catalogue_follows_under_an_etag_of_its_own(client: Client) -> None:
    english, other = (client.get("/v1/cautions", headers={"accept-language": tag}) for tag in ("en", MADE_UP))
    assert other.json()["language"] == other.headers["content-language"] == MADE_UP
    assert all(caution["text"].startswith(f"({MADE_UP})") for caution in other.json()["cautions"])
    assert english.headers["etag"] != other.headers["etag"]


def test_a_language_that_lacks_one_text_is_not_offered(
    client: Client, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, shipped: str
) -> None:
    _write(tmp_path, re.sub(r'^en = "(Prove .*)"$', rf'\g<0>\n{MADE_UP} = "\1"', shipped, flags=re.MULTILINE))
    monkeypatch.setattr(texts, "files", lambda _: tmp_path)
    _forget()
    try:
        answer = client.get("/v1/cautions", headers={"accept-language": MADE_UP})
        assert f"{MADE_UP} = " in (tmp_path / "data" / "cautions.toml").read_text(encoding="utf-8")
    finally:
        monkeypatch.undo()
        _forget()
    assert answer.headers["content-language"] == "en"
