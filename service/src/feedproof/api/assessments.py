"""The main job over HTTP: one reading set at a time, or a stream of them."""

import asyncio
import time
from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable
from functools import partial

from litestar import Response, post
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException
from litestar.response.streaming import ASGIStreamingResponse
from litestar.types import Receive, Send

from feedproof.advice.texts import FALLBACK_LANGUAGE, offered_languages
from feedproof.api import problems
from feedproof.api.access import Gate
from feedproof.api.bodies import AnyRequest, require_content
from feedproof.api.desk import Desk, Streams
from feedproof.api.ndjson import MEDIA_TYPE as NDJSON
from feedproof.api.ndjson import Line, split_lines
from feedproof.api.negotiation import best_language, best_media_type
from feedproof.api.representations import JSON, REPRESENTATIONS, Representation, encode_json
from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.door import read_request
from feedproof.errors import FeedproofError
from feedproof.settings import Settings
from feedproof.telemetry.logging import logger
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import note, trace_of

LINES_AT_ONCE = 64
"""Lines of a batch that are taken from what has arrived before it is read on."""


def choose(request: AnyRequest) -> Representation:
    """Pick the form of the answer, before any work is done for it.

    Raises
    ------
    HTTPException
        406, naming the media types on offer.
    """
    offered = tuple(REPRESENTATIONS)
    media_type = best_media_type(request.headers.get("accept"), offered)
    if media_type is None:
        raise HTTPException(status_code=406, detail=f"on offer are {', '.join(offered)}")
    return REPRESENTATIONS[media_type]


def _language(request: AnyRequest) -> str:
    return best_language(request.headers.get("accept-language"), offered_languages())


def _in_languages(language: str) -> dict[str, str]:
    """Name the languages of an answer: the safety texts are translated, what else it says in words is English."""
    both = language if language == FALLBACK_LANGUAGE else f"{language}, {FALLBACK_LANGUAGE}"
    return {"Content-Language": both, "Vary": "Accept, Accept-Language", "Cache-Control": "no-store"}


def _assess_bytes(raw: bytes, language: str) -> Assessment:
    return assess(*read_request(raw), language)


def _assess_and_render(raw: bytes, form: Representation, language: str) -> tuple[Assessment, bytes, float]:
    begun = time.perf_counter()
    assessment = _assess_bytes(raw, language)
    return assessment, form.render(assessment), time.perf_counter() - begun


def _count(metrics: Metrics, assessment: Assessment) -> None:
    metrics.findings.labels(assessment.finding.fault, assessment.determination, assessment.confidence.level).inc()


@post(
    "/v1/assessments",
    name="assess",
    status_code=200,
    summary="Assess one reading set",
)
async def assess_reading_set(
    request: AnyRequest, desk: NamedDependency[Desk], metrics: NamedDependency[Metrics]
) -> Response[bytes]:
    """Tell from one visit's readings whether the electrical supply is at fault.

    The request is a pure function of its body: nothing is stored, it is safe to send again, and the same body to
    the same model version gives the same bytes. An empty list of readings is answered with what to read first.
    Beside the bounds of the schema, a visit as a whole has bounds: on its unknowns (loads, meters, wires) and on its
    work. One that is too large is refused with its figures, the bound, and what to send by itself (codes
    `too_many_unknowns`, `too_much_work`).
    Cautions and hazards come in the language that Accept-Language asks for, where people have translated them all.
    """
    require_content(request, JSON)
    form, language = choose(request), _language(request)
    raw = await request.body()
    assessment, body, seconds = await desk.run(partial(_assess_and_render, raw, form, language))
    _count(metrics, assessment)
    note(
        request.scope,
        fault=assessment.finding.fault,
        determination=assessment.determination,
        model=assessment.model.version,
        engine_ms=round(seconds * 1e3, 3),
    )
    return Response(body, media_type=form.content_type, headers={**form.headers, **_in_languages(language)})


class _DuplexASGI(ASGIStreamingResponse):
    """A response that may be written while the request is still being read.

    The framework's own listens for a disconnect on the channel that the request's body comes through, and so
    would swallow lines.
    """

    __slots__ = ()

    async def send_body(self, send: Send, receive: Receive) -> None:  # noqa: ARG002
        await self._stream(send)


class _Duplex(Response[bytes]):
    """Streams an iterator without listening for a disconnect."""

    def __init__(self, iterator: AsyncIterator[bytes], media_type: str, headers: dict[str, str]) -> None:
        super().__init__(b"", media_type=media_type, headers=headers)
        self.iterator = iterator

    def to_asgi_response(self, *_: object, **__: object) -> _DuplexASGI:
        return _DuplexASGI(
            iterator=self.iterator, media_type=self.media_type, headers=dict(self.headers), status_code=200
        )


def _answer_line(line: Line, longest: int, language: str, request_id: str, metrics: Metrics) -> bytes:
    """Answer one line; whatever happens, it gives one line."""
    outcome = "refused"
    try:
        if line.content is None:
            problem = problems.make_problem(413, f"the line is longer than {longest} bytes", request_id)
        else:
            assessment = _assess_bytes(line.content, language)
            answer = encode_json(assessment)
            _count(metrics, assessment)
            metrics.lines.labels("answered").inc()
            return answer + b"\n"
    except FeedproofError as error:
        problem, _ = problems.describe(error, request_id)
    except Exception:  # noqa: BLE001 - one bad line must not end the stream
        logger().exception("failure", request_id=request_id, line=line.number)
        problem = problems.make_problem(500, "the service failed on this line", request_id)
        outcome = "failed"
    metrics.lines.labels(outcome).inc()
    return problems.encode(problems.on_line(problem, line.number)) + b"\n"


async def _answer_group(
    group: list[Line], at_once: int, start: Callable[[Line], Awaitable[bytes]]
) -> AsyncIterator[bytes]:
    """Answer lines, several at a time, in their order."""
    begun: deque[asyncio.Future[bytes]] = deque()
    try:
        for line in group:
            begun.append(asyncio.ensure_future(start(line)))
            if len(begun) >= at_once:
                yield await begun.popleft()
        while begun:
            yield await begun.popleft()
    finally:
        for left in begun:
            left.cancel()


@post(
    "/v1/assessments/batch",
    name="assess_batch",
    status_code=200,
    request_max_body_size=None,
    summary="Assess a stream of reading sets",
)
async def assess_batch(
    request: AnyRequest,
    desk: NamedDependency[Desk],
    metrics: NamedDependency[Metrics],
    settings: NamedDependency[Settings],
    gate: NamedDependency[Gate],
    streams: NamedDependency[Streams],
) -> _Duplex:
    """Assess many reading sets: one per line in, one answer per line out, in the same order.

    Answers are sent while the request is still being read, so memory is bounded whatever the length of the
    stream; a client that sends everything before it reads must send pieces of some hundred lines. A line that
    cannot be answered gives a problem object on its own line, with the line's number, and the rest goes on. Blank
    lines are skipped and not counted. Fewer lines out than in means that the connection was cut.
    """
    require_content(request, NDJSON)
    if best_media_type(request.headers.get("accept"), (NDJSON,)) is None:
        raise HTTPException(status_code=406, detail=f"on offer is {NDJSON}")
    request_id, language = trace_of(request.scope).request_id, _language(request)
    streams.enter(request.scope)

    async def answer(line: Line) -> bytes:
        work = partial(_answer_line, line, settings.max_line_bytes, language, request_id, metrics)
        return await desk.run(work, patient=True)

    async def answers() -> AsyncIterator[bytes]:
        count = 0
        async for group in split_lines(request.stream(), settings.max_line_bytes, LINES_AT_ONCE):
            await asyncio.sleep(gate.pause(request.scope, len(group)))
            async for answered in _answer_group(group, settings.workers, answer):
                yield answered
            count += len(group)
            note(request.scope, lines=count)

    return _Duplex(answers(), NDJSON, _in_languages(language))
