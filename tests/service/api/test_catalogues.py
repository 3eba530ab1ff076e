"""The catalogues: whole, sourced, and kept by callers until they change."""

from typing import Any, get_args

import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.contract import catalogue
from feedproof.contract.quantities import QUANTITIES
from feedproof.contract.words import LightsWhere, ObservationCode, ReceptacleName
from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.seen import OBSERVED
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
