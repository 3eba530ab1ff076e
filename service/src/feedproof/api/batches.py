"""A stream of reading sets over HTTP: one line in, one line out, while the request is still being read."""

import asyncio
from collections import deque
from collections.abc import AsyncIterator, Awaitable, Callable
from functools import partial

import msgspec
from litestar import Response, post
from litestar.di import NamedDependency
from litestar.response.streaming import ASGIStreamingResponse
from litestar.types import Receive, Send
from msgspec import Struct
from msgspec.structs import replace

from feedproof.api import problems
from feedproof.api.access import Gate
from feedproof.api.assessments import assess_bytes, count, in_languages, language_of
from feedproof.api.bodies import GZIP, AnyRequest, choose, is_packed, packed, require_content, unpacked
from feedproof.api.executor import Executor, Streams
from feedproof.api.ndjson import MEDIA_TYPES, Line, split_lines
from feedproof.api.representations import best_coding
from feedproof.contract.words import MAX_REFERENCE
from feedproof.errors import FeedproofError, RequestError
from feedproof.settings import Settings
from feedproof.telemetry.logging import logger
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import note, trace_of

LINES_AT_ONCE = 64
"""Lines of a batch that are taken from what has arrived before it is read on."""


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


class _Referenced(Struct):
    reference: object = None


def _reference_of(line: Line) -> str | None:
    """The line's own reference, where it has one that can be read: what a clerk finds the visit by."""
    try:
        found = msgspec.json.decode(line.content or b"", type=_Referenced).reference
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
    return found if isinstance(found, str) and len(found) <= MAX_REFERENCE else None


def _answer_line(line: Line, longest: int, language: str, request_id: str, metrics: Metrics) -> bytes:
    """Answer one line; whatever happens, it gives one line."""
    outcome = "refused"
    try:
        if line.content is None:
            problem = problems.make_problem(413, f"the line is longer than {longest} bytes", request_id)
        else:
            assessment = assess_bytes(line.content, language)
            answer = msgspec.json.encode(assessment)
            count(metrics, assessment)
            metrics.lines.labels("answered").inc()
            return answer + b"\n"
    except FeedproofError as error:
        problem, _ = problems.describe(error, request_id)
    except Exception:  # noqa: BLE001 - one bad line must not end the stream
        logger().exception("failure", request_id=request_id, line=line.number)
        problem = problems.make_problem(500, "the service failed on this line", request_id)
        outcome = "failed"
    metrics.lines.labels(outcome).inc()
    return msgspec.json.encode(replace(problem, line=line.number, reference=_reference_of(line))) + b"\n"


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
    executor: NamedDependency[Executor],
    metrics: NamedDependency[Metrics],
    settings: NamedDependency[Settings],
    gate: NamedDependency[Gate],
    streams: NamedDependency[Streams],
) -> _Duplex:
    """Assess many reading sets: one per line in, one answer per line out, in the same order.

    Answers are sent while the request is still being read, so memory is bounded whatever the length of the
    stream; a client that sends everything before it reads must send pieces of some hundred lines. A line that
    cannot be answered gives a problem object on its own line, with the line's number and its reference, and the rest
    goes on. Blank lines are counted and not answered. Fewer lines out than in means that the connection was cut.
    Request and answer may both be packed as gzip; each line of the answer can be unpacked as soon as it is there.
    """
    require_content(request, *MEDIA_TYPES)
    media_type = choose(request, MEDIA_TYPES)
    request_id, language = trace_of(request.scope).request_id, language_of(request)
    coding = best_coding(request.headers.get("accept-encoding"), (GZIP,))
    streams.enter(request.scope, gate.caller_of(request.scope))

    async def answer(line: Line) -> bytes:
        work = partial(_answer_line, line, settings.max_line_bytes, language, request_id, metrics)
        return await executor.run(work, batch=True)

    async def answers() -> AsyncIterator[bytes]:
        lines = last = 0
        sent = request.stream()
        chunks = unpacked(sent, settings.max_unpacked_bytes) if is_packed(request) else sent
        try:
            async for group in split_lines(chunks, settings.max_line_bytes, LINES_AT_ONCE):
                await asyncio.sleep(gate.wait_for(request.scope, len(group) - (lines == 0)))
                async for answered in _answer_group(group, settings.workers, answer):
                    yield answered
                lines += len(group)
                last = group[-1].number
                note(request.scope, lines=lines)
        except RequestError as error:
            # After a broken gzip stream no further line can be read.
            problem, _ = problems.describe(error, request_id)
            yield msgspec.json.encode(replace(problem, line=last + 1)) + b"\n"

    headers = in_languages(language)
    headers["Vary"] += ", Accept-Encoding"
    if coding is None:
        return _Duplex(answers(), media_type, headers)
    return _Duplex(packed(answers()), media_type, headers | {"Content-Encoding": coding})
