"""What a caller has to know of this installation: which model answers, and the sizes and rates to keep to."""

from litestar import Response, get
from litestar.di import NamedDependency

from feedproof.api.bodies import AnyRequest
from feedproof.api.catalogues import catalogue
from feedproof.contract import catalogue as wire
from feedproof.contract import words
from feedproof.contract.assessment import ModelRelease
from feedproof.faults.catalogue import FAULTS
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.parsing import budget
from feedproof.settings import Settings


def model() -> wire.ModelDescription:
    """Which model answers, and its base rates."""
    return wire.ModelDescription(
        model=ModelRelease(version=MODEL_VERSION, priors_digest=priors_digest()),
        base_rates={fault.name: fault.base_rate for fault in FAULTS},
    )


def limits(settings: Settings) -> wire.LimitCatalogue:
    """Every size and rate of an installation."""
    rows = [
        ("body", "The body of one request.", settings.max_body_bytes, "byte", 413),
        ("line", "One line of a batch.", settings.max_line_bytes, "byte", 413),
        ("unpacked", "What a batch that comes as gzip unpacks to.", settings.max_unpacked_bytes, "byte", 413),
        ("head", "Line and headers of one request.", settings.max_head_bytes, "byte", 431),
        ("readings", "Readings of one reading set.", words.MAX_READINGS, "1", 422),
        ("meters", "Meters of one reading set.", words.MAX_METERS, "1", 422),
        ("load_states", "Load states of one reading set.", words.MAX_LOAD_STATES, "1", 422),
        ("loads", "Loads of one load state.", words.MAX_LOADS, "1", 422),
        ("unknowns", budget.UNKNOWNS, budget.MOST_UNKNOWNS, "1", 422),
        (
            "simulated_unknowns",
            "The same of a simulation.",
            budget.MOST_SIMULATED,
            "1",
            422,
        ),
        ("work", budget.WORK, budget.MOST_WORK, "1", 422),
        ("observations", "Observations of one reading set.", words.MAX_OBSERVATIONS, "1", 422),
        ("label", "A name of the caller's own.", words.MAX_LABEL, "character", 422),
        ("reference", "The caller's own reference.", words.MAX_REFERENCE, "character", 422),
        ("visit_text", "A text of `visit`.", words.MAX_VISIT_TEXT, "character", 422),
        ("request_time", "From a request's head to its answer, batches excepted.", settings.request_seconds, "s", 500),
        ("silence", "How long nothing of a body may arrive.", settings.idle_seconds, "s", 408),
        ("queue", "Requests that wait for a thread of one process.", settings.queue, "1", 503),
        ("batches", "Batches that one process answers at once.", settings.max_streams, "1", 503),
    ]
    if settings.rate_per_second > 0.0:
        rows += [
            ("rate", "Requests of one key in the long run.", settings.rate_per_second, "1/s", 429),
            ("burst", "Requests of one key at once.", settings.rate_burst, "1", 429),
        ]
    return wire.LimitCatalogue(
        limits=[
            wire.LimitEntry(code=code, meaning=meaning, value=float(value), unit=unit, status=status)
            for code, meaning, value, unit, status in rows
        ]
    )


@get("/v1/model", name="show_model", summary="The model that answers")
async def show_model(request: AnyRequest) -> Response[bytes]:
    """Version and digest of the model, and its base rates in the form that a request takes."""
    return catalogue(request, model)


@get("/v1/limits", name="list_limits", summary="The sizes and rates to keep to")
async def list_limits(request: AnyRequest, settings: NamedDependency[Settings]) -> Response[bytes]:
    """Every size and rate of this installation, with the status of what is beyond it."""
    return catalogue(request, limits, settings)


HANDLERS = (show_model, list_limits)
