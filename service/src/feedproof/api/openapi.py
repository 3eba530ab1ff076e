"""The published document: paths from the routes, schemas from the types, and nothing said twice.

References
----------
OpenAPI Specification 3.1.1. JSON Schema 2020-12.
"""

import inspect
import json
from collections.abc import Callable
from functools import cache, partial
from importlib.resources import files
from typing import Any

import msgspec
from litestar.handlers import HTTPRouteHandler

from feedproof.api import entries
from feedproof.api.naming import Schema, reference
from feedproof.api.operations import LINKS, ON_EVERY_ANSWER, OPERATIONS, PROBLEM_HEADERS, SAID, Body
from feedproof.api.problems import BY_STATUS, PROBLEM_TYPES, ProblemType
from feedproof.api.representations import JSON
from feedproof.api.routes import ROUTES
from feedproof.api.schemas import component_schemas, example_of
from feedproof.api.screen import encode_for_screen
from feedproof.contract.assessment import Assessment
from feedproof.contract.problem import MEDIA_TYPE as PROBLEM
from feedproof.errors import RefusedRequest
from feedproof.note.renderers import PDF
from feedproof.parsing import read_request
from feedproof.settings import Settings

EXAMPLES: dict[str, dict[str, Any]] = json.loads(files("feedproof.api").joinpath("data/examples.json").read_bytes())
"""Requests, by what is requested and by name, as the document has them. The scenario, a campground, is invented."""


def refused_example() -> list[dict[str, Any]]:
    """What parsing says of a request with two faults."""
    sound = EXAMPLES["requests"]["looks_right"]["value"]
    reading = sound["readings"][0] | {"value": "5 kV\u00b7A", "meter": "dmn"}
    try:
        read_request(msgspec.json.encode({"meters": sound["meters"], "readings": [reading]}))
    except RefusedRequest as refused:
        return [msgspec.to_builtins(fault) for fault in refused.faults]
    raise AssertionError


_INSTANCE = "urn:uuid:6f3c2c1e-6f0d-4b8e-9a55-0d9d6a1a2f11"


def _text_schema(body: Body) -> Schema:
    schema: Schema = {"type": "string", "description": body.about}
    if body.media_type == PDF:
        schema["format"] = "binary"
    if body.line is not None:
        schema["x-line-schema"] = reference(body.line)
    return schema


def _media(body: Body, schemas: dict[str, Schema], examples: dict[str, Any]) -> Schema:
    if body.schema is None:
        schema = {"type": "object", "description": body.about} if body.media_type == JSON else _text_schema(body)
        return {"schema": schema, **({"examples": examples} if examples else {})}
    if not examples:
        examples = {"example": {"summary": "An answer", "value": example_of(schemas, reference(body.schema))}}
    return {"schema": reference(body.schema), "examples": examples}


def _recorded() -> Any:  # noqa: ANN401
    """An answer that the engine has given to the first example request."""
    return json.loads(files("feedproof.api").joinpath("data/assessment.json").read_bytes())


def _request_examples(body: Body) -> dict[str, Any]:
    if body.line is not None:
        lines = "\n".join(json.dumps(one["value"], ensure_ascii=False) for one in EXAMPLES["requests"].values())
        return {"two_visits": {"summary": "Several visits", "value": lines + "\n"}}
    return EXAMPLES["simulations" if body.schema == "SimulationRequest" else "requests"]


_CATALOGUES: dict[str, Callable[[], msgspec.Struct]] = {
    "list_faults": entries.faults,
    "list_cautions": partial(entries.cautions, "en"),
    "list_supply_systems": entries.supply_systems,
    "list_meters": entries.meters,
    "list_conductors": entries.conductors,
    "list_receptacles": entries.receptacles,
    "list_observations": entries.observations,
    "list_units": entries.units,
    "show_model": entries.model,
    "list_limits": partial(entries.limits, Settings()),
}


def _answer_examples(name: str) -> dict[str, Any]:
    if name == "assess":
        return {"assessment": {"summary": "An open neutral, established", "value": _recorded()}}
    if name == "assess_for_screen":
        recorded = msgspec.convert(_recorded(), Assessment)
        return {"screen": {"summary": "The same, for a screen", "value": json.loads(encode_for_screen(recorded))}}
    if name == "assess_batch":
        return {"one_line": {"summary": "One visit", "value": json.dumps(_recorded(), ensure_ascii=False) + "\n"}}
    if name in _CATALOGUES:
        given = msgspec.to_builtins(_CATALOGUES[name]())
        first = {field: value[:1] if isinstance(value, list) else value for field, value in given.items()}
        return {"example": {"summary": "The first of each list", "value": first}}
    return {}


def _headers(*names: str) -> Schema:
    return {name: {"$ref": f"#/components/headers/{name}"} for name in (*ON_EVERY_ANSWER, *names)}


def _operation(handler: HTTPRouteHandler, schemas: dict[str, Schema]) -> Schema:
    name = str(handler.name)
    operation = OPERATIONS[name]
    answers: Schema = {
        "200": {
            "description": operation.answer,
            "headers": _headers(*operation.headers),
            "content": {
                body.media_type: _media(body, schemas, _answer_examples(name) if body.schema or body.line else {})
                for body in operation.bodies
            },
        }
    }
    if operation.links:
        answers["200"]["links"] = {link: {"$ref": f"#/components/links/{link}"} for link in operation.links}
    if "IfNoneMatch" in operation.parameters:
        answers["304"] = {"$ref": "#/components/responses/NotModified"}
    for status in sorted(operation.problems):
        answers[str(status)] = {"$ref": f"#/components/responses/{_response_name(BY_STATUS[status])}"}
    made: Schema = {
        "operationId": name,
        "tags": [operation.tag],
        "summary": handler.summary,
        "description": inspect.cleandoc(handler.fn.__doc__ or ""),
        "parameters": [{"$ref": f"#/components/parameters/{p}"} for p in ("Traceparent", *operation.parameters)],
        "responses": answers,
        "security": [{}, {"bearer": []}, {"api_key": []}] if operation.keyed else [],
    }
    if operation.requests:
        made["requestBody"] = {
            "required": True,
            "description": operation.requests[0].about or "One visit's readings.",
            "content": {body.media_type: _media(body, schemas, _request_examples(body)) for body in operation.requests},
        }
    if "lifecycle" in handler.opt:
        made["deprecated"] = True
    return made


def _response_name(kind: ProblemType) -> str:
    return "".join(part.capitalize() for part in kind.name.split("-"))


def _problem_example(kind: ProblemType) -> Schema:
    detail = {422: "2 faults in the request; see errors"}.get(kind.status, kind.meaning)
    value: Schema = {
        "type": kind.uri, "title": kind.title, "status": kind.status, "detail": detail, "instance": _INSTANCE,
    }  # fmt: skip
    if kind.status == 422:  # noqa: PLR2004
        value["errors"] = refused_example()
    return {"summary": kind.title, "value": value}


def _problem_response(status: int) -> Schema:
    kinds = [kind for kind in PROBLEM_TYPES if kind.status == status]
    return {
        "description": " ".join(f"{kind.meaning} {kind.remedy} Problem type `{kind.uri}`." for kind in kinds),
        "headers": _headers(*PROBLEM_HEADERS.get(status, ())),
        "content": {
            PROBLEM: {
                "schema": reference("Problem"),
                "examples": {kind.name.replace("-", "_"): _problem_example(kind) for kind in kinds},
            }
        },
    }


@cache
def document() -> Schema:
    """Build the published document."""
    schemas = component_schemas()
    paths: Schema = {}
    for handler in ROUTES:
        for path in sorted(handler.paths):
            shown = path.replace(":str", "")
            for method in sorted(handler.http_methods):
                paths.setdefault(shown, {})[method.lower()] = _operation(handler, schemas)
    return {
        "openapi": "3.1.0",
        "info": SAID["info"],
        "servers": SAID["servers"],
        "tags": [{"name": name, "description": about} for name, about in SAID["tags"].items()],
        "paths": paths,
        "components": {
            "schemas": schemas,
            "parameters": SAID["parameters"],
            "headers": {
                name: {
                    "description": header["description"],
                    "required": name in ON_EVERY_ANSWER,
                    "schema": {"type": "string"},
                    "example": header["example"],
                }
                for name, header in SAID["headers"].items()
            },
            "responses": {
                "NotModified": {
                    "description": "The caller has this version.",
                    "headers": _headers("ETag", "Cache-Control", "Vary"),
                },
                **{_response_name(kind): _problem_response(status) for status, kind in BY_STATUS.items()},
            },
            "links": LINKS,
            "securitySchemes": SAID["security_schemes"],
        },
    }


@cache
def document_bytes() -> bytes:
    """Encode the published document as it is served and committed: UTF-8, indented, LF at the end."""
    return (json.dumps(document(), indent=2, ensure_ascii=False) + "\n").encode()
