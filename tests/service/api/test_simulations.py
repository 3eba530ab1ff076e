"""The model run forward over HTTP, and back again."""

import json
from typing import Any

import pytest
from litestar.testing import TestClient

from feedproof.api.openapi import EXAMPLES

Client = TestClient[Any]
REQUEST = EXAMPLES["simulations"]["open_neutral"]["value"]


@pytest.mark.parametrize("name", EXAMPLES["simulations"])
def test_simulated_readings_are_assessed_as_what_they_came_from(client: Client, name: str) -> None:
    request = EXAMPLES["simulations"][name]["value"]
    simulated = client.post("/v1/simulations", json=request)
    assert simulated.status_code == 200
    readings = simulated.json()["readings"]
    assert [reading["kind"] for reading in readings] == [reading["kind"] for reading in request["readings"]]
    kept = {key: request[key] for key in ("supply", "meters", "load_states") if key in request}
    assessed = client.post("/v1/assessments", json={**kept, "readings": readings})
    assert assessed.status_code == 200
    assert request["fault"] in {candidate["fault"] for candidate in assessed.json()["candidates"]}


# Common practice, no source: behind an open neutral a low-impedance meter reads next to nothing to both legs.
def test_an_open_neutral_reads_as_in_the_field(client: Client) -> None:
    legs, first, second = client.post("/v1/simulations", json=REQUEST).json()["readings"]
    assert 235.0 <= legs["value"] <= 250.0
    assert first["value"] < 20.0
    assert second["value"] < 20.0


def test_a_seed_draws_and_the_same_seed_draws_the_same(client: Client) -> None:
    def ask(seed: object) -> bytes:
        return client.post("/v1/simulations", json=REQUEST | {"seed": seed}).content

    assert ask(1) == ask(1) == ask(1.0)
    assert len({ask(seed) for seed in (None, 1, 2, 3)}) > 1


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"fault": "gremlins"}, "/fault", "unknown_fault"),
        ({"conductor": "L1"}, "/conductor", "not_simulated"),
        ({"location": "upstream_of_the_moon"}, "/location", "not_simulated"),
        ({"resistance": "2 ohm"}, "/resistance", "not_simulated"),
        ({"resistance": "2 V"}, "/resistance", "wrong_dimension"),
        ({"fault": "none_found", "resistance": "2 ohm"}, "/resistance", "not_simulated"),
        ({"supply_voltage": "1 V"}, "/supply_voltage", "out_of_bounds"),
        ({"seed": -1}, "/seed", "out_of_bounds"),
        ({"seed": 1.5}, "/seed", "wrong_type"),
        ({"seed": 2**60}, "/seed", "out_of_bounds"),
        ({"reference": "x"}, "/reference", "unknown_field"),
        ({"readings": [{"kind": "voltage", "between": ["L1", "N"]}]}, "/readings/0/load_state", "missing"),
    ],
)
def test_what_the_model_does_not_have_is_refused(
    client: Client, change: dict[str, Any], pointer: str, code: str
) -> None:
    answer = client.post("/v1/simulations", json=REQUEST | change)
    assert answer.status_code == 422, answer.text
    told = answer.json()["errors"]
    assert (pointer, code) in {(fault["pointer"], fault["code"]) for fault in told}


def test_what_a_coarse_meter_shows_is_never_beyond_what_a_request_may_state(client: Client) -> None:
    coarse = {"accuracy_counts": 1000, "resolution": 10}
    request = {
        "fault": "none_found",
        "meters": {"clamp": {"kind": "clamp_ammeter"} | coarse, "dmm": {"kind": "voltmeter"} | coarse},
        "readings": [
            {"kind": "current", "through": "L1", "meter": "clamp", "load_state": "idle"},
            {"kind": "voltage", "between": ["L1", "N"], "meter": "dmm", "load_state": "idle"},
        ],
    }
    shown = []
    for seed in range(5):
        readings = client.post("/v1/simulations", json=request | {"seed": seed}).json()["readings"]
        shown.append([reading["value"] for reading in readings])
        kept = {"meters": request["meters"], "readings": readings}
        assert client.post("/v1/assessments", json=kept).status_code == 200
    # The bounds of a request: 1000 A and 1000 V.
    assert [max(column) for column in zip(*shown, strict=True)] == [1000.0, 1000.0]


def test_a_range_is_kept_to(client: Client) -> None:
    request = {
        "fault": "open_neutral",
        "meters": {"ohms": {"kind": "ohmmeter"}},
        "readings": [
            {
                "kind": "resistance", "between": ["N", "G"], "meter": "ohms",
                "load_state": "disconnected", "highest": "200 ohm",
            },
        ],
    }  # fmt: skip
    (reading,) = client.post("/v1/simulations", json=request).json()["readings"]
    assert (reading["value"], reading["over_range"], reading["supply"]) == (200.0, True, "isolated")
    assert (
        client.post(
            "/v1/simulations",
            content=json.dumps(request | {"readings": []}),
            headers={"content-type": "application/json"},
        ).json()["readings"]
        == []
    )
