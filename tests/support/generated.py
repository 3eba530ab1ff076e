"""What tests with generated requests share: the schema that they are made from, mending, and checks of each answer."""

import json
from typing import Any

import msgspec
import schemathesis
from hypothesis import reject
from hypothesis.strategies import DrawFn, SearchStrategy, composite
from schemathesis import Case
from schemathesis.core.errors import UnsupportedSchema

from feedproof.api.openapi import document
from feedproof.contract.assessment import Assessment
from feedproof.contract.problem import Problem
from feedproof.contract.screen import MOST_BYTES, Screen
from support import contract_checks as own
from support.contradictions import contradictions

PATH_OF_MAIN_JOB = "/v1/assessments"
PATH_OF_SCREEN = f"{PATH_OF_MAIN_JOB}/screen"
PATH_OF_BATCH = f"{PATH_OF_MAIN_JOB}/batch"
MENDING = {
    PATH_OF_MAIN_JOB: own.mend,
    PATH_OF_SCREEN: own.mend,
    f"{PATH_OF_MAIN_JOB}/note": own.mend,
    "/v1/simulations": own.mend_simulation,
}
LINES = ("application/x-ndjson", "application/jsonl")


@schemathesis.serializer(*LINES)
def _lines(_context: Any, value: Any) -> bytes:
    """Write each reading set of a batch on a line of its own; whatever else was generated, on one."""
    if isinstance(value, str):
        return value.encode()
    sets = value if isinstance(value, list) else [value]
    return b"".join(json.dumps(one).encode() + b"\n" for one in sets)


@schemathesis.hook
def before_generate_body(_context: Any, strategy: SearchStrategy[Any]) -> SearchStrategy[Any]:
    """Leave out the few bodies that the generator cannot make: it has no opposite of "one of these objects"."""

    @composite
    def makeable(draw: DrawFn) -> Any:
        try:
            return draw(strategy)
        except UnsupportedSchema:
            return reject()

    return makeable()


def without_lifespan(app: Any) -> Any:
    """Keep the transport from starting and stopping the application round every request."""

    async def lasting(scope: Any, receive: Any, send: Any) -> None:
        if scope["type"] != "lifespan":
            await app(scope, receive, send)
            return
        for stage in ("startup", "shutdown"):
            await receive()
            await send({"type": f"lifespan.{stage}.complete"})

    return lasting


def schema_of_all(text: str | None = None) -> Any:
    """Make the schema of all operations, from the document that the code gives or from another."""
    told = json.loads(text or json.dumps(document()))
    # The document says of a batch that it is text, and beside it of what each line is: here it is a list of those.
    for media in told["paths"][PATH_OF_BATCH]["post"]["requestBody"]["content"].values():
        media["schema"] = {"type": "array", "maxItems": 2, "items": {"$ref": media["schema"]["x-line-schema"]["$ref"]}}
        media["examples"] = {"none": {"summary": "No visit", "value": []}}
    return schemathesis.openapi.from_dict(told)


def is_valid(case: Case[Any]) -> bool:
    return case.meta is not None and case.meta.generation.mode.is_positive


def body_of(case: Case[Any]) -> dict[str, Any]:
    assert isinstance(case.body, dict)
    return case.body


def mend(case: Case[Any]) -> None:
    """Mend a valid case where the document cannot say all that is needed, see `contract_checks.mend`."""
    if case.path == PATH_OF_BATCH and is_valid(case) and isinstance(case.body, list):
        case.body = [own.mend(one) for one in case.body if isinstance(one, dict)]
    rule = MENDING.get(case.path)
    if rule is not None and is_valid(case) and isinstance(case.body, dict):
        case.body = rule(case.body)


def check(case: Case[Any], response: Any) -> None:
    """Check what a schema cannot say."""
    content_type = response.headers["content-type"][0] if response.headers.get("content-type") else ""
    if response.status_code >= 400:
        assert content_type == "application/problem+json", content_type
        problem = msgspec.json.decode(response.content, type=Problem)
        assert problem.status == response.status_code
        assert problem.type.startswith("/problems/")
        assert problem.instance == f"urn:uuid:{response.headers['request-id'][0]}"
        assert (problem.status == 422) == bool(problem.errors)
    elif case.path == PATH_OF_MAIN_JOB and content_type == "application/json":
        assessment = msgspec.json.decode(response.content, type=Assessment)
        own.check_numbers(assessment)
        own.check_words(assessment, body_of(case))
        found = contradictions(assessment)
        assert found == [], (found, assessment.headline, assessment.next_action)
    elif case.path == PATH_OF_SCREEN and content_type == "application/json":
        assert len(response.content) <= MOST_BYTES
        msgspec.json.decode(response.content, type=Screen)
    elif case.path == PATH_OF_BATCH:
        _check_lines(case, response.content)


def _check_lines(case: Case[Any], content: bytes) -> None:
    """Each line is an assessment, or a problem with its line; of a valid batch each is the set's own assessment."""
    lines = content.splitlines()
    for line in lines:
        if b'"finding":' in line:
            own.check_numbers(msgspec.json.decode(line, type=Assessment))
        else:
            problem = msgspec.json.decode(line, type=Problem)
            assert problem.line is not None
            assert 1 <= problem.line <= max(1, len(lines))
    if is_valid(case) and isinstance(case.body, list):
        assert len(lines) == len(case.body)
        for line, asked in zip(lines, case.body, strict=True):
            assert isinstance(asked, dict)
            own.check_words(msgspec.json.decode(line, type=Assessment), asked)
