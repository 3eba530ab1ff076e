"""The SDK's types, written by hand, are those of the committed document, and bear what a later service may answer."""

import copy
import inspect
import json
from collections.abc import Callable, Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Any, get_args, get_type_hints

import httpx
import msgspec
import pytest

import feedproof_sdk.names
from feedproof_sdk import Client, errors
from feedproof_sdk._requests import Form
from feedproof_sdk.types import assessment, catalogue, problem, request, screen, simulation
from feedproof_sdk.types.answer import Note
from support.shapes import Schema, differences, written_out

RENAMED = {"ReadingSet": "AssessmentRequest"}
"""The trade's word in the SDK, HTTP's in the document."""
NOT_IN_THE_SDK = {"Health"}
"""Read by those who run the service, not by its callers."""
MODULES = (request, assessment, screen, catalogue, problem, simulation)


@pytest.fixture(scope="module")
def document(root: Path) -> dict[str, Any]:
    """Give the committed document."""
    read: dict[str, Any] = json.loads((root / "openapi" / "openapi.json").read_bytes())
    return read


def sdk_types() -> list[type[msgspec.Struct]]:
    """Every type that the SDK sends or reads."""
    return [
        member
        for module in MODULES
        for name, member in vars(module).items()
        if isinstance(member, type)
        and issubclass(member, msgspec.Struct)
        and member.__module__ == module.__name__
        and member not in {request.Sent, request.Under}
        and not name.startswith("_")
    ]


def sdk_components() -> dict[str, Schema]:
    _, components = msgspec.json.schema_components(sdk_types(), ref_template="#/components/schemas/{name}")
    return components


def published(document: dict[str, Any]) -> dict[str, Schema]:
    components: dict[str, Schema] = document["components"]["schemas"]
    return {name: schema for name, schema in components.items() if name not in NOT_IN_THE_SDK}


def aliases(schemas: dict[str, Schema]) -> dict[str, Schema]:
    """Components that name a list of words, by name."""
    return {name: schema for name, schema in schemas.items() if "enum" in schema}


def test_the_types_are_those_of_the_committed_document(document: dict[str, Any]) -> None:
    assert differences(sdk_components(), written_out(published(document)), RENAMED) == []
    assert len(sdk_components()) > 50


def _add_field(schemas: dict[str, Schema]) -> None:
    schemas["Assessment"]["properties"]["tariff"] = {"type": "string"}


def _remove_field(schemas: dict[str, Schema]) -> None:
    del schemas["Caution"]["properties"]["basis"]


def _retype_field(schemas: dict[str, Schema]) -> None:
    schemas["Estimate"]["properties"]["value"]["type"] = "string"


def _require_field(schemas: dict[str, Schema]) -> None:
    schemas["AssessmentRequest"]["required"].append("supply")


def _let_be_null(schemas: dict[str, Schema]) -> None:
    field = schemas["Finding"]["properties"]["probability"]
    field["type"] = [field["type"], "null"]


def _add_value(schemas: dict[str, Schema]) -> None:
    schemas["LoadStateKind"]["enum"].append("cooking")


def _change_default(schemas: dict[str, Schema]) -> None:
    schemas["Voltmeter"]["properties"]["resolution"]["default"] = 0.1


def _add_member(schemas: dict[str, Schema]) -> None:
    schemas["Reading"]["discriminator"]["mapping"]["thermal"] = "#/components/schemas/Run"


def _add_component(schemas: dict[str, Schema]) -> None:
    schemas["Invoice"] = {"type": "object", "properties": {}, "required": []}


def _remove_component(schemas: dict[str, Schema]) -> None:
    del schemas["UnitCatalogue"]


def _point_elsewhere(schemas: dict[str, Schema]) -> None:
    schemas["Evidence"]["properties"]["observed"] = {"$ref": "#/components/schemas/Estimate"}


def _find(node: Any, key: str) -> Schema:
    """The first schema below that has the key."""
    waiting = [node]
    while waiting:
        one = waiting.pop()
        if isinstance(one, dict):
            if key in one:
                return one
            waiting += one.values()
        elif isinstance(one, list):
            waiting += one
    raise AssertionError(key)


@pytest.mark.parametrize(
    "drift",
    [
        _add_field,
        _remove_field,
        _retype_field,
        _require_field,
        _let_be_null,
        _add_value,
        _change_default,
        _add_member,
        _add_component,
        _remove_component,
        _point_elsewhere,
    ],
)
def test_each_kind_of_drift_is_seen(document: dict[str, Any], drift: Callable[[dict[str, Schema]], None]) -> None:
    drifted = copy.deepcopy(published(document))
    drift(drifted)
    assert differences(sdk_components(), written_out(drifted), RENAMED)


def test_every_closed_list_has_its_name_in_the_sdk(document: dict[str, Any]) -> None:
    lists = aliases(published(document))
    assert len(lists) > 10
    for name, schema in lists.items():
        assert set(get_args(getattr(request, name))) == set(schema["enum"]), name


def calls_of_the_client(arguments: Mapping[str, Any]) -> Iterator[tuple[str, httpx.Request, Any]]:
    """Every method of the client that asks the service, what it sends, and what it gives back."""
    sent: list[httpx.Request] = []

    def refuse(asked: httpx.Request) -> httpx.Response:
        sent.append(asked)
        return httpx.Response(404)

    client = Client(http_client=httpx.Client(transport=httpx.MockTransport(refuse)))
    for name, method in inspect.getmembers(Client, inspect.isfunction):
        if name.startswith("_") or name in {"assess_many", "close", "with_options"}:
            continue
        parameters = [*inspect.signature(method).parameters][1:]
        for form in get_args(Form) if "form" in parameters else [None]:
            given = [form if one == "form" else arguments[one] for one in parameters]
            with pytest.raises(errors.NotFound):
                getattr(client, name)(*given)
            yield name, sent.pop(), get_type_hints(method)["return"]


def test_every_call_is_an_operation_that_gives_what_the_call_reads(document: dict[str, Any]) -> None:
    seen: dict[str, set[str]] = {}
    for name, asked, reads in calls_of_the_client({"reading_set": b"{}", "simulation": b"{}"}):
        operation = document["paths"][asked.url.path][asked.method.lower()]
        offered = operation["responses"]["200"]["content"]
        accept = asked.headers["accept"]
        assert accept in offered, name
        if reads is not Note:
            assert offered[accept]["schema"] == {"$ref": f"#/components/schemas/{reads.__name__}"}, name
        if asked.content:
            assert asked.headers["content-type"] in operation["requestBody"]["content"], name
        seen.setdefault(asked.url.path, set()).add(accept)
    # Every form of an assessment that the document offers can be asked for.
    path = "/v1/assessments/note"
    assert seen[path] == set(document["paths"][path]["post"]["responses"]["200"]["content"])
    versioned = {path for path in document["paths"] if path.startswith("/v1/")}
    assert versioned - set(seen) == {"/v1/assessments/batch"}


def test_the_words_known_today_are_those_of_the_document(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    called = {"Fault": "FaultCode", "MeterKind": "MeterCode", "Party": "PartyCode"}
    members = vars(feedproof_sdk.names).items()
    lists = {name: kind for name, kind in members if isinstance(kind, type) and issubclass(kind, StrEnum) and len(kind)}
    assert len(lists) > 6
    for name, words in lists.items():
        assert set(words) == set(schemas[called.get(name, name)]["x-known-values"]), name


def later(node: Any, *, own_words: bool = False) -> Any:
    """The same answer from a later service: another field in every object, another word in every open list.

    What is the caller's own words given back stays: an older client asks for no readings that it does not know.
    """
    if isinstance(node, dict):
        simulated = "readings" in node and "assumptions" in node
        made = {
            # A map from names to numbers has no fields: a later service has further names in it.
            name: value | {"fault_of_tomorrow": 0.0}
            if name == "base_rates"
            else later(value, own_words=own_words or (simulated and name == "readings"))
            for name, value in node.items()
        }
        return made | {"of_tomorrow": {"deep": [1, None, "x"]}}
    if isinstance(node, list):
        return [later(value, own_words=own_words) for value in node]
    return f"{node}_of_tomorrow" if isinstance(node, str) and not own_words else node


def recorded(document: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """Every answer that the document shows as an example, by component."""
    for path, operations in document["paths"].items():
        for operation in operations.values():
            media = operation["responses"]["200"]["content"].get("application/json", {})
            component = media.get("schema", {}).get("$ref", "").rpartition("/")[2]
            for example in media.get("examples", {}).values():
                if path.startswith("/v1/"):
                    yield component, example["value"]
    for name in ("Problem",):
        for response in document["components"]["responses"].values():
            for media in response.get("content", {}).values():
                for example in media.get("examples", {}).values():
                    yield name, example["value"]


def test_an_older_client_reads_the_answers_of_a_later_service(document: dict[str, Any]) -> None:
    by_name = {kind.__name__: kind for kind in sdk_types()}
    seen = set()
    for component, answer in recorded(document):
        kind = by_name[component]
        today = _plain(msgspec.convert(answer, kind))
        tomorrow = _plain(msgspec.json.decode(msgspec.json.encode(later(answer)), type=kind))
        # Nothing is lost of what both know: the same answer, with the same words changed.
        assert tomorrow == _only(later(today))
        seen.add(component)
    assert seen >= {"Assessment", "FaultCatalogue", "CautionCatalogue", "MeterCatalogue", "UnitCatalogue", "Problem"}


def _plain(answer: msgspec.Struct) -> Any:
    return msgspec.json.decode(msgspec.json.encode(answer))


def _only(node: Any) -> Any:
    """Without the fields of tomorrow."""
    if isinstance(node, dict):
        return {name: _only(value) for name, value in node.items() if name != "of_tomorrow"}
    if isinstance(node, list):
        return [_only(value) for value in node]
    return node
