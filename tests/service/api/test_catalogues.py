"""The catalogues: whole, sourced, and kept by callers until they change."""

import json
from collections.abc import Iterator
from typing import Any, get_args

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.app import create_app
from feedproof.contract import catalogue
from feedproof.contract.quantities import QUANTITIES
from feedproof.contract.words import LightsWhere, ObservationCode, ReceptacleName
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.priors import MODEL_VERSION
from feedproof.faults.seen import OBSERVED
from feedproof.settings import Settings
from feedproof.units import convert

Client = TestClient[Any]

PATHS = {
    "/v1/faults": catalogue.FaultCatalogue,
    "/v1/cautions": catalogue.CautionCatalogue,
    "/v1/supply-systems": catalogue.SupplySystemCatalogue,
    "/v1/meters": catalogue.MeterCatalogue,
    "/v1/conductors": catalogue.ConductorCatalogue,
    "/v1/receptacles": catalogue.ReceptacleCatalogue,
    "/v1/observations": catalogue.ObservationCatalogue,
    "/v1/units": catalogue.UnitCatalogue,
}


@pytest.mark.parametrize("path", PATHS)
def test_each_is_of_its_published_type_and_not_empty(client: Client, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 200
    made = msgspec.json.decode(answer.content, type=PATHS[path])
    assert getattr(made, made.__struct_fields__[0])


@pytest.mark.parametrize("path", [*PATHS, "/openapi.json"])
def test_a_caller_that_has_it_gets_304(client: Client, path: str) -> None:
    first = client.get(path)
    etag = first.headers["etag"]
    assert etag.startswith('W/"')
    assert "max-age=300" in first.headers["cache-control"]
    for given in (etag, etag.removeprefix("W/"), f'"other", {etag}', "*"):
        again = client.get(path, headers={"if-none-match": given})
        assert again.status_code == 304, given
        assert again.content == b""
        assert again.headers["etag"] == etag
        assert again.headers["cache-control"] == first.headers["cache-control"]
        assert set(again.headers["vary"].split(", ")) <= set(first.headers["vary"].split(", "))
    other = client.get(path, headers={"if-none-match": '"other"'})
    assert (other.status_code, other.content) == (200, first.content)


@pytest.mark.parametrize("path", PATHS)
def test_another_media_type_is_not_acceptable(client: Client, path: str) -> None:
    assert client.get(path, headers={"accept": "text/csv"}).status_code == 406


def test_every_fault_has_meaning_limits_source_and_base_rates_that_sum_to_1(client: Client) -> None:
    faults = client.get("/v1/faults").json()["faults"]
    assert {fault["name"] for fault in faults} == FAULT_NAMES
    assert all(fault["meaning"] and fault["limits"] and fault["source"] for fault in faults)
    assert sum(fault["base_rate"] for fault in faults) == pytest.approx(1.0, abs=1e-9)


def test_every_caution_has_a_basis_and_a_language(client: Client) -> None:
    answer = client.get("/v1/cautions", headers={"accept-language": "de, en;q=0.5"})
    assert answer.headers["content-language"] == answer.json()["language"] == "en"
    assert "Accept-Language" in answer.headers["vary"].split(", ")
    assert all(caution["basis"] and caution["text"] for caution in answer.json()["cautions"])


# ANSI C84.1 nominal systems (from memory): 120/240, 208Y/120, 120/240 delta with a tapped winding.
def test_leg_to_leg_voltages_follow_from_the_legs(client: Client) -> None:
    import cmath  # noqa: PLC0415
    import math  # noqa: PLC0415

    for system in client.get("/v1/supply-systems").json()["supply_systems"]:
        legs = [cmath.rect(leg["voltage"]["value"], math.radians(leg["angle"]["value"])) for leg in system["legs"]]
        if len(legs) == 2:
            assert abs(legs[0] - legs[1]) == pytest.approx(system["between_legs"]["value"], abs=0.2)
        else:
            assert system["between_legs"] is None


def test_every_typical_figure_is_what_a_request_without_it_gets(client: Client) -> None:
    for meter in client.get("/v1/meters").json()["meters"]:
        given: dict[str, Any] = {"kind": meter["kind"]}
        if meter["name"] == "low_impedance_voltmeter":
            given["input_impedance"] = "3 kohm"
        answer = client.post("/v1/assessments", json={"meters": {"m": given}, "readings": []})
        assumed = {a["pointer"]: a["value"] for a in answer.json()["assumptions"]}
        for figure in meter["figures"]:
            if figure["field"] not in given:
                assert assumed[f"/meters/m/{figure['field']}"] == figure["value"]


def test_every_listed_conductor_is_taken_in_a_request(client: Client) -> None:
    for conductor in client.get("/v1/conductors").json()["conductors"]:
        request = {"supply": {"run": {"size": conductor["size"]}}, "readings": []}
        assert client.post("/v1/assessments", json=request).status_code == 200, conductor["size"]


# NEMA WD 6 (public tables were read): contacts by series. On a 10-series there is no ground, on a 6-series no neutral.
SERIES = {"5": "L1 N G", "6": "L1 L2 G", "10": "L1 L2 N", "14": "L1 L2 N G", "L6": "L1 L2 G", "L14": "L1 L2 N G"}


def test_every_receptacle_has_the_contacts_of_its_series_and_its_rating(client: Client) -> None:
    listed = client.get("/v1/receptacles").json()["receptacles"]
    assert {entry["code"] for entry in listed} == set(get_args(ReceptacleName))
    for entry in listed:
        series, _, rating = entry["code"].partition("-")
        if series in SERIES:
            assert entry["conductors"] == SERIES[series].split()
            assert entry["voltage"] == {"5": "125 V", "6": "250 V", "L6": "250 V"}.get(series, "125/250 V")
        if rating:
            assert entry["current"] == {"value": float(rating.removesuffix("R")), "unit": "A"}
        assert [contact["conductor"] for contact in entry["contacts"]] == entry["conductors"]
        assert all(entry[field] for field in ("title", "meaning", "limits", "source"))


def test_every_observation_that_can_be_stated_is_explained(client: Client) -> None:
    listed = client.get("/v1/observations").json()["observations"]
    assert [entry["code"] for entry in listed] == list(get_args(ObservationCode))
    assert {entry["code"]: entry["where"] for entry in listed if entry["where"]} == {
        "lights_brighten_and_dim": list(get_args(LightsWhere))
    }
    assert all(entry[field] for entry in listed for field in ("title", "meaning", "limits", "source"))
    for entry in listed:
        told = {(row["where"] or "", row["place"] or ""): row["probability"] for row in entry["likelihoods"]}
        assert told == {
            (where, place): probability
            for (code, where), at in OBSERVED.items()
            if code == entry["code"]
            for place, probability in at.items()
        }
        assert {where for where, _ in told} == {"", *entry["where"]}


def test_every_published_unit_and_bound_is_kept(client: Client) -> None:
    published = client.get("/v1/units").json()
    spellings = {unit["dimension"]: unit["accepted"] for unit in published["units"]}
    assert {bound["quantity"] for bound in published["bounds"]} == set(QUANTITIES)
    for bound in published["bounds"]:
        kind = QUANTITIES[bound["quantity"]]
        assert convert(bound["low"], kind) == bound["low"]
        assert convert(bound["high"], kind) == bound["high"]
        assert not isinstance(convert(bound["high"] * 1.001, kind), float)
        assert set(spellings[bound["dimension"]]) == set(kind.dimension.units)


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


def test_every_bound_that_a_caller_may_meet_is_listed() -> None:
    own = {"head_seconds", "keep_alive_seconds", "drain_seconds", "stop_seconds"}
    names = [n for n in Settings.__struct_fields__ if n.startswith("max_") or n.endswith("_seconds")]
    # Each with a value of its own, to be found again.
    values: dict[str, Any] = {name: 3600 + k for k, name in enumerate(n for n in names if n not in own)}
    with TestClient(create_app(Settings(warm_up=False, workers=3, queue=5, **values))) as client:
        told = limits(client)
    assert {entry.value for entry in told.values()} >= set(values.values())
    assert told["queue"].value == 3 * 5  # as many for each thread


def test_rates_are_listed_where_they_are_limited(client: Client, small: Client) -> None:
    assert {"rate", "burst"} & set(limits(client)) == set()
    assert (limits(small)["rate"].value, limits(small)["burst"].value) == (100.0, 40.0)


def test_the_bare_address_leads_to_the_documentation(client: Client) -> None:
    answer = client.get("/", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (307, "/docs")
    assert client.get("/").headers["content-type"].startswith("text/html")
