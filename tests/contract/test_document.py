"""The published document: what the code gives, whole, honest, and with examples that hold."""

import json
from collections.abc import Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

import jsonschema_rs
import msgspec
import pytest
from litestar.testing import TestClient

from feedproof.api.naming import name_of_quantity
from feedproof.api.openapi import EXAMPLES, document, document_bytes
from feedproof.api.problems import PROBLEM_TYPES
from feedproof.api.routes import ROUTES
from feedproof.app import create_app
from feedproof.contract.quantities import QUANTITIES
from feedproof.contract.request import AssessmentRequest
from feedproof.settings import Settings
from feedproof.units import Refusal, convert
from support.openapi_nodes import enumerations, fields, reachable

DOCUMENT: dict[str, Any] = json.loads(document_bytes())
SCHEMAS: dict[str, Any] = DOCUMENT["components"]["schemas"]
OPERATIONS = [
    (f"{method.upper()} {path}", about)
    for path, methods in DOCUMENT["paths"].items()
    for method, about in methods.items()
]
ASKED = reachable(SCHEMAS, "AssessmentRequest") | reachable(SCHEMAS, "SimulationRequest")
ANSWERED = set(SCHEMAS) - ASKED


@pytest.fixture(scope="module")
def client() -> Iterator[TestClient[Any]]:
    with TestClient(create_app(Settings(warm_up=False))) as client:
        yield client


def validator(name: str) -> Any:
    """Validator of one component."""
    return jsonschema_rs.Draft202012Validator(
        {"$ref": f"#/components/schemas/{name}", "components": {"schemas": SCHEMAS}}
    )


def resolve(node: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in node:
        found: Any = DOCUMENT
        for part in node["$ref"].removeprefix("#/").split("/"):
            found = found[part]
        node = found
    return node


def test_the_committed_file_is_what_the_code_gives(root: Path) -> None:
    committed = (root / "openapi" / "openapi.json").read_bytes()
    assert committed == document_bytes(), "run: feedproof openapi --write openapi/openapi.json"


def test_the_service_serves_the_committed_file(client: TestClient[Any], root: Path) -> None:
    assert client.get("/openapi.json").content == (root / "openapi" / "openapi.json").read_bytes()


def test_it_is_a_valid_document() -> None:
    # Imported here: it builds the grammars of all its formats, which takes as long as collecting everything else.
    from openapi_spec_validator import OpenAPIV31SpecValidator  # noqa: PLC0415

    OpenAPIV31SpecValidator(document()).validate()


def test_every_route_is_published_and_nothing_else() -> None:
    routes = {
        f"{method} {path.replace(':str', '')}"
        for handler in ROUTES
        for path in handler.paths
        for method in handler.http_methods
    }
    assert {name for name, _ in OPERATIONS} == routes


def test_operation_ids_are_frozen() -> None:
    # Generated clients name their functions after these. Add to them, never rename.
    assert [about["operationId"] for _, about in OPERATIONS] == [
        "assess",
        "assess_for_screen",
        "render_note",
        "assess_batch",
        "simulate",
        "list_faults",
        "list_cautions",
        "list_supply_systems",
        "list_meters",
        "list_conductors",
        "list_receptacles",
        "list_observations",
        "list_units",
        "show_model",
        "list_limits",
        "describe_problem",
        "show_docs",
        "show_document",
        "live",
        "ready",
        "metrics",
    ]


@pytest.mark.parametrize(("name", "about"), OPERATIONS, ids=[name for name, _ in OPERATIONS])
def test_every_operation_says_what_it_does_with_examples_and_all_statuses(name: str, about: dict[str, Any]) -> None:
    assert about["summary"]
    assert len(about["description"]) > 20
    if name.startswith("POST"):
        assert all(media["examples"] for media in about["requestBody"]["content"].values())
    for status, answer in about["responses"].items():
        resolved = resolve(answer)
        assert resolved["description"]
        assert {"Request-Id", "traceparent"} <= set(resolved["headers"])
        if status == "200":
            assert all(m.get("examples") or "schema" in m for m in resolved["content"].values())
        elif int(status) >= 400:
            (media,) = resolved["content"].items()
            assert media[0] == "application/problem+json"
            examples = [example["value"] for example in media[1]["examples"].values()]
            assert [example["type"] for example in examples] == [
                k.uri for k in PROBLEM_TYPES if k.status == int(status)
            ]
            assert {example["status"] for example in examples} == {int(status)}


def test_every_field_is_described_with_an_example_that_it_accepts() -> None:
    for name, schema in SCHEMAS.items():
        assert schema["description"], name
        for field, node in fields(schema):
            assert len(node.get("description", "")) > 5, (name, field)
            assert node.get("examples"), (name, field)
            check = jsonschema_rs.Draft202012Validator(node | {"components": {"schemas": SCHEMAS}})
            for example in node["examples"]:
                assert check.is_valid(example), (name, field, example)


def test_every_number_says_its_unit() -> None:
    # Answers name it in brackets, or hold it in the field `unit` beside; requests in words.
    for name, field, node in ((name, *field) for name, schema in SCHEMAS.items() for field in fields(schema)):
        beside = "unit" in SCHEMAS[name].get("properties", {})
        kinds = json.dumps(node.get("type", [k.get("type") for k in node.get("anyOf", [])]))
        if '"number"' in kinds and field not in {"status", "line"}:
            words = node["description"]
            named = "x-unit" in node or "[" in words or "percent" in words or "counts" in words or "`unit`" in words
            said = beside or named or "unit of the reading" in words or "in the unit" in words or "value" in field
            assert said, f"{name}.{field}: {words}"


def test_requests_are_closed_and_answers_are_open() -> None:
    for name in ASKED:
        assert SCHEMAS[name].get("additionalProperties", "properties" in SCHEMAS[name]) is False, name
    for name in ANSWERED:
        assert "additionalProperties" not in SCHEMAS[name], name
        assert not list(enumerations(SCHEMAS[name])), f"{name} has a closed list"
    assert {tuple(e) for name in ASKED for e in enumerations(SCHEMAS[name])} >= {("G", "L1", "L2", "N")}


@pytest.mark.parametrize("union", ["readings", "meters"])
def test_tagged_unions_show_their_discriminator(union: str) -> None:
    node = SCHEMAS["AssessmentRequest"]["properties"][union]
    items = resolve(node["items"] if "items" in node else node["additionalProperties"])
    assert items["discriminator"]["propertyName"] == "kind"
    assert len(items["discriminator"]["mapping"]) == len(items["oneOf"]) == 4
    for tag, target in items["discriminator"]["mapping"].items():
        kind = resolve({"$ref": target})["properties"]["kind"]
        assert (kind["const"], kind["type"]) == (tag, "string")


def nodes(node: Any, way: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema below, with the way to it."""
    if isinstance(node, dict):
        yield way, node
        for key, value in node.items():
            if key not in {"examples", "example"}:
                yield from nodes(value, f"{way}/{key}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from nodes(value, f"{way}/{index}")


def test_what_generators_make_a_type_of_is_a_component() -> None:
    for way, node in nodes(SCHEMAS):
        assert node.get("default", ...) is not None, f"{way}: a field that may be left out has no value then"
        if "enum" in node or "oneOf" in node or "maxLength" in json.dumps(node.get("anyOf", [])):
            assert way.count("/") == 1, f"{way}: written out in place"
        if "discriminator" in node and "propertyName" in node["discriminator"]:
            assert "anyOf" not in node, way


@pytest.mark.parametrize("name", sorted(QUANTITIES))
def test_every_quantity_is_a_component_that_takes_what_the_door_takes(name: str) -> None:
    kind = QUANTITIES[name]
    check = validator(name_of_quantity(name))
    written = (f"{kind.high} {kind.dimension.unit}", "OL", "247 VAC", "1e309 V")
    for value in (kind.low, kind.high, kind.high * 1.1, *written):
        taken = not isinstance(convert(value, kind), Refusal)
        # A pattern tells how a string is written; its bounds are checked when it is parsed.
        if not isinstance(value, str) or taken:
            assert check.is_valid(value) == taken, value


def test_every_example_request_is_answered_as_published(client: TestClient[Any]) -> None:
    check = validator("Assessment")
    for path, media_type in (
        ("/v1/assessments", "application/json"),
        ("/v1/assessments/batch", "application/x-ndjson"),
    ):
        content = DOCUMENT["paths"][path]["post"]["requestBody"]["content"][media_type]
        for example in content["examples"].values():
            value = example["value"]
            body = value.encode() if isinstance(value, str) else json.dumps(value).encode()
            answer = client.post(path, content=body, headers={"content-type": media_type})
            assert answer.status_code == 200
            for line in answer.text.splitlines():
                assert not list(check.iter_errors(json.loads(line)))


def form_of(value: object, place: str = "") -> set[tuple[str, str]]:
    """Places and kinds of all values, whatever the values are and however many a list has."""
    match value:
        case dict():
            return {(place, "object")}.union(*(form_of(item, f"{place}/{name}") for name, item in value.items()))
        case list():
            return {(place, "list")}.union(*(form_of(item, f"{place}/*") for item in value))
        case bool() | str() | None:
            return {(place, type(value).__name__)}
    return {(place, "number")}


PUBLISHED_ANSWER = DOCUMENT["paths"]["/v1/assessments"]["post"]["responses"]["200"]["content"]["application/json"][
    "examples"
]["assessment"]["value"]
RECORD = "run: python tests/support/record_example.py; feedproof openapi --write openapi/openapi.json"


def test_the_published_answer_has_the_form_that_the_service_gives(client: TestClient[Any]) -> None:
    request = EXAMPLES["requests"]["low_impedance"]["value"]
    given = client.post("/v1/assessments", json=request).json()
    assert form_of(PUBLISHED_ANSWER) == form_of(given), RECORD
    # Numbers may move with the machine and with the model's small changes; what it found may not.
    for field in ("reference", "determination", "disposition", "assumptions", "supply"):
        assert PUBLISHED_ANSWER[field] == given[field], RECORD
    assert PUBLISHED_ANSWER["finding"]["fault"] == given["finding"]["fault"], RECORD
    assert PUBLISHED_ANSWER["model"]["version"] == given["model"]["version"], RECORD
    assert {c["code"] for c in PUBLISHED_ANSWER["cautions"]} == {c["code"] for c in given["cautions"]}, RECORD


@pytest.mark.parametrize(
    ("cut", "put"),
    [
        ('"conductor":', '"on":'),
        ('"priors_digest":', '"priors":'),
        ('"unit":"V"', '"in":"V"'),
        ('"bits":', '"weight":'),
        ('"determination":"established"', '"determination":3'),
        ('"bound":', '"ends":'),
    ],
)
def test_an_answer_of_another_form_is_told(cut: str, put: str) -> None:
    text = json.dumps(PUBLISHED_ANSWER, separators=(",", ":"))
    assert cut in text
    assert form_of(json.loads(text.replace(cut, put))) != form_of(PUBLISHED_ANSWER)


def test_other_numbers_are_the_same_form() -> None:
    other = deepcopy(PUBLISHED_ANSWER)
    other["finding"]["probability"] = 0
    other["candidates"].append(other["candidates"][0])
    assert form_of(other) == form_of(PUBLISHED_ANSWER)


def test_every_answer_example_is_valid() -> None:
    for _, about in OPERATIONS:
        for media in resolve(about["responses"]["200"])["content"].values():
            if "$ref" in media["schema"]:
                check = validator(media["schema"]["$ref"].rpartition("/")[2])
                for example in media["examples"].values():
                    assert not list(check.iter_errors(example["value"]))
    problem = validator("Problem")
    for answer in DOCUMENT["components"]["responses"].values():
        for media in answer.get("content", {}).values():
            for example in media["examples"].values():
                assert not list(problem.iter_errors(example["value"]))


@pytest.mark.parametrize("path", [path for path, about in DOCUMENT["paths"].items() if "Catalogues" in str(about)])
def test_an_example_of_a_catalogue_is_of_what_is_served(client: TestClient[Any], path: str) -> None:
    """RFC 9110, 9.3.1 and OpenAPI 3.1, Example Object: the first of each list that a caller gets."""
    (example,) = DOCUMENT["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["examples"].values()
    given = client.get(path).json()
    assert example["value"] == {key: value[:1] if isinstance(value, list) else value for key, value in given.items()}


def test_the_schema_takes_what_the_decoder_takes(example_requests: dict[str, bytes]) -> None:
    check = validator("AssessmentRequest")
    for raw in example_requests.values():
        msgspec.json.decode(raw, type=AssessmentRequest)
        assert not list(check.iter_errors(json.loads(raw)))


@pytest.mark.parametrize(
    "change",
    [
        {"colour": "red"},
        {"readings": [{"kind": "voltage"}]},
        {"readings": [{"kind": "smell"}]},
        {"supply": {"frequency": "60 V"}},
        {"supply": {"frequency": 400}},
        {"meters": {"m": {"kind": "voltmeter", "input_impedance": -1}}},
        {"meters": {"m": {"kind": "proximity_detector", "input_impedance": 1000}}},
        {"reference": "x" * 201},
        {"reference": "\u0000"},
        {"supply": {"receptacle": "14-51R"}},
        {"supply": {"neutral": "unknown"}},
        {"appliance": {"kind": "toaster"}},
        {"observations": ["ghosts"]},
        {"observations": [{"code": "works_when_moved", "colour": "red"}]},
        {"meters": {"m": {"kind": "clamp_ammeter", "proved": {}}}},
    ],
)
def test_the_schema_refuses_what_the_door_refuses(change: dict[str, Any]) -> None:
    assert list(validator("AssessmentRequest").iter_errors({"readings": [], **change}))


def test_security_is_shown_where_a_key_may_be_asked_for() -> None:
    schemes = DOCUMENT["components"]["securitySchemes"]
    assert {name: scheme["type"] for name, scheme in schemes.items()} == {"bearer": "http", "api_key": "apiKey"}
    for name, about in OPERATIONS:
        assert bool(about["security"]) == (" /v1/" in name)
        assert ("401" in about["responses"]) == (" /v1/" in name)
