"""The main job over HTTP: one reading set in, one assessment out, whole, for a screen, or as a note for people."""

import time
from functools import partial

from litestar import Response, post
from litestar.di import NamedDependency

from feedproof.advice.texts import FALLBACK_LANGUAGE, offered_languages
from feedproof.api.bodies import QUERIES, AnyRequest, choose, require_content, whole_body
from feedproof.api.executor import Executor
from feedproof.api.representations import (
    FOR_SCREEN,
    JSON,
    REPRESENTATIONS,
    Representation,
    best_language,
)
from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.parsing import read_request
from feedproof.settings import Settings
from feedproof.stages import stage
from feedproof.telemetry.metrics import Metrics
from feedproof.telemetry.middleware import note

VIEWS = ("whole", "screen")
NOTES = tuple(media_type for media_type in REPRESENTATIONS if media_type != JSON)


def language_of(request: AnyRequest) -> str:
    """Language that the caller asks for, of those on offer."""
    return best_language(request.headers.get("accept-language"), offered_languages())


def in_languages(language: str) -> dict[str, str]:
    """Name the languages of an answer: the safety texts are translated, what else it says in words is English."""
    both = language if language == FALLBACK_LANGUAGE else f"{language}, {FALLBACK_LANGUAGE}"
    return {"Content-Language": both, "Vary": "Accept, Accept-Language", "Cache-Control": "no-store"}


def assess_bytes(raw: bytes, language: str) -> Assessment:
    """Assess the reading set of a body."""
    with stage("parse"):
        given = read_request(raw)
    return assess(*given, language)


def count(metrics: Metrics, assessment: Assessment) -> None:
    """Count what was found."""
    metrics.findings.labels(assessment.finding.fault, assessment.determination, assessment.confidence.level).inc()


def _assess_and_render(raw: bytes, form: Representation, language: str) -> tuple[Assessment, bytes, float]:
    begun = time.perf_counter()
    assessment = assess_bytes(raw, language)
    return assessment, form.render(assessment), time.perf_counter() - begun


async def _answer(
    request: AnyRequest, form: Representation, executor: Executor, metrics: Metrics, settings: Settings
) -> Response[bytes]:
    language = language_of(request)
    raw = await whole_body(request, settings.max_body_bytes)
    assessment, body, seconds = await executor.run(partial(_assess_and_render, raw, form, language))
    count(metrics, assessment)
    note(
        request.scope,
        fault=assessment.finding.fault,
        determination=assessment.determination,
        model=assessment.model.version,
        engine_ms=round(seconds * 1e3, 3),
    )
    return Response(body, media_type=form.content_type, headers={**form.headers, **in_languages(language)})


@post(
    "/v1/assessments", name="assess", status_code=200, summary="Assess one reading set", opt={QUERIES: {"view": VIEWS}}
)
async def assess_reading_set(
    request: AnyRequest,
    executor: NamedDependency[Executor],
    metrics: NamedDependency[Metrics],
    settings: NamedDependency[Settings],
) -> Response[bytes]:
    """Tell from one visit's readings whether the electrical supply is at fault.

    The request is a pure function of its body: nothing is stored, it is safe to send again, and the same body to
    the same model version gives the same bytes. An empty list of readings is answered with what to read first.
    Beside the bounds of the schema, a visit as a whole has bounds: on its unknowns (loads, meters, wires) and on its
    work. One that is too large is refused with its figures, the bound, and what to send by itself (codes
    `too_many_unknowns`, `too_much_work`).
    Cautions and hazards come in the language that Accept-Language asks for, where people have translated them all.
    With `?view=screen` the answer is that of `/v1/assessments/screen`, and with another Accept that of
    `/v1/assessments/note`: they are operations of their own so that generated clients have one type for each.
    """
    require_content(request, JSON)
    if request.query_params.get("view") == "screen":
        choose(request, (JSON,))
        form = FOR_SCREEN
    else:
        form = REPRESENTATIONS[choose(request, tuple(REPRESENTATIONS))]
    return await _answer(request, form, executor, metrics, settings)


@post(
    "/v1/assessments/screen",
    name="assess_for_screen",
    status_code=200,
    summary="Assess one reading set, for a small screen",
)
async def assess_for_screen(
    request: AnyRequest,
    executor: NamedDependency[Executor],
    metrics: NamedDependency[Metrics],
    settings: NamedDependency[Settings],
) -> Response[bytes]:
    """Give what a screen shows first of an assessment, and no more: 4 kB or less, whatever was sent.

    Where there is no room for all, `left_out` counts what is missing: readings to take next and checks first, notices
    and warnings after them, dangers never. What the answer rests on is in the whole assessment alone.
    """
    require_content(request, JSON)
    choose(request, (JSON,))
    return await _answer(request, FOR_SCREEN, executor, metrics, settings)


@post(
    "/v1/assessments/note",
    name="render_note",
    status_code=200,
    summary="Assess one reading set, and give the hand-off note",
)
async def render_note(
    request: AnyRequest,
    executor: NamedDependency[Executor],
    metrics: NamedDependency[Metrics],
    settings: NamedDependency[Settings],
) -> Response[bytes]:
    """Give the assessment in a form for people, by Accept: a page that prints (the default), PDF, Markdown and others.

    The note says what the assessment of the same body says.
    """
    require_content(request, JSON)
    return await _answer(request, REPRESENTATIONS[choose(request, NOTES)], executor, metrics, settings)
