"""Which model answers, and the sizes and rates to keep to: as they are in force, on every answer and on request."""

import json
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.contract import catalogue
from feedproof.faults.priors import MODEL_VERSION
from feedproof.settings import Settings

Client = TestClient[Any]


@pytest.fixture(scope="module")
def small() -> Iterator[Client]:
    """A service with limits of its own."""
    settings = Settings(
        warm_up=False, max_body_bytes=2000, max_line_bytes=1000, rate_per_second=100.0, rate_burst=40, anonymous=True
    )
    with TestClient(create_app(settings)) as client:
        yield client


def limits(client: Client) -> dict[str, catalogue.LimitEntry]:
    made = msgspec.json.decode(client.get("/v1/limits").content, type=catalogue.LimitCatalogue)
    return {entry.code: entry for entry in made.limits}


def test_the_model_is_the_one_of_the_answers(client: Client) -> None:
    told = msgspec.json.decode(client.get("/v1/model").content, type=catalogue.ModelDescription)
    assert told.model.version == MODEL_VERSION
    # The digest is of the published priors, which the catalogue of faults gives as well.
    assert client.get("/v1/faults").json()["model"] == msgspec.to_builtins(told.model)
    assert sum(told.base_rates.values()) == pytest.approx(1.0, abs=1e-9)
    request = {"readings": [], "base_rates": told.base_rates}
    assert client.post("/v1/assessments", json=request).status_code == 200


@pytest.mark.parametrize("path", ["/v1/model", "/v1/nothing", "/docs", "/health/live", "/"])
def test_every_answer_names_the_model(client: Client, path: str) -> None:
    answer = client.get(path, follow_redirects=False)
    assert answer.headers["model-version"] == MODEL_VERSION


def test_what_is_within_a_limit_is_taken_and_what_is_beyond_has_its_status(small: Client) -> None:
    told = limits(small)
    body = told["body"]
    assert (body.value, body.unit) == (2000.0, "byte")
    request = json.dumps({"readings": []}).encode()
    headers = {"content-type": "application/json"}
    within = request + b" " * (int(body.value) - len(request))
    assert small.post("/v1/assessments", content=within, headers=headers).status_code == 200
    beyond = small.post("/v1/assessments", content=within + b" ", headers=headers)
    assert beyond.status_code == body.status
    assert str(int(body.value)) in beyond.json()["detail"]
    line = told["line"]
    long = small.post("/v1/assessments/batch", content=b"x" * 1500, headers={"content-type": "application/x-ndjson"})
    assert json.loads(long.content)["status"] == line.status
    assert str(int(line.value)) in json.loads(long.content)["detail"]


@pytest.mark.parametrize(
    ("code", "field", "one"),
    [
        (
            "readings",
            "readings",
            {"kind": "proximity", "at": "N", "detected": True, "meter": "m", "load_state": "idle"},
        ),
        ("observations", "observations", "works_when_moved"),
    ],
)
def test_a_count_beyond_its_limit_is_a_fault(client: Client, code: str, field: str, one: object) -> None:
    told = limits(client)[code]
    answer = client.post("/v1/assessments", json={"readings": [], field: [one] * (int(told.value) + 1)})
    assert answer.status_code == told.status
    assert answer.json()["errors"][0]["code"] == "wrong_length"


def test_rates_are_listed_where_they_are_limited(client: Client, small: Client) -> None:
    assert {"rate", "burst"} & set(limits(client)) == set()
    assert (limits(small)["rate"].value, limits(small)["burst"].value) == (100.0, 40.0)


def test_the_bare_address_leads_to_the_documentation(client: Client) -> None:
    answer = client.get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (307, "/docs")
    assert client.get("/").headers["content-type"].startswith("text/html")
