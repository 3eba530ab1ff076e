"""Every call of the service as a value: what is sent, and how the answer is read.

`client.assess(x)` is `client.send(calls.assess(x)).parse()`, for both clients; `client.send(calls.assess(x))`
alone gives the answer as it came: status, headers, content, request id, attempts.
"""

import json
from collections.abc import Callable, Mapping
from typing import Any, Generic, Literal, Protocol, TypeVar, runtime_checkable

import msgspec
from msgspec import Struct

from feedproof_sdk._exchange import Sent
from feedproof_sdk.errors import BadQuantity
from feedproof_sdk.types import catalogue
from feedproof_sdk.types.assessment import Assessment
from feedproof_sdk.types.request import ReadingSet
from feedproof_sdk.types.screen import Screen
from feedproof_sdk.types.simulation import Simulation, SimulationRequest

T = TypeVar("T")

JSON = "application/json"
NDJSON = "application/x-ndjson"

Form = Literal["html", "svg", "markdown", "text"]
"""Forms of an assessment for people: a hand-off note that prints, a drawing of where the neutral sits between the
legs, the note as Markdown, the answer in plain words."""

PDF = "application/pdf"
_MEDIA_TYPES: Mapping[Form, str] = {
    "html": "text/html",
    "svg": "image/svg+xml",
    "markdown": "text/markdown",
    "text": "text/plain",
}
_ENCODER = msgspec.json.Encoder()


@runtime_checkable
class HasReadingSet(Protocol):
    """Such as a `feedproof_sdk.Visit`."""

    def reading_set(self) -> ReadingSet:
        """Give the reading set."""
        ...


ReadingSetLike = ReadingSet | HasReadingSet | Mapping[str, object] | str | bytes
"""A reading set, a visit, plain values as JSON has them, or JSON itself."""


SimulationLike = SimulationRequest | Mapping[str, object] | str | bytes
"""A simulation request, plain values as JSON has them, or JSON itself."""


class Call(Struct, Generic[T], frozen=True):
    """One call."""

    sent: Sent
    read: Callable[[bytes], T]
    """Reads the content of an answer; raises `msgspec.DecodeError` or `UnicodeError`."""


def encode(given: ReadingSetLike | SimulationLike) -> bytes:
    """Encode a reading set, or a simulation request, for the wire.

    Raises
    ------
    BadQuantity
        If a number is not finite: JSON has no such numbers.
    TypeError
        If it is neither.
    """
    if isinstance(given, ReadingSet | SimulationRequest):
        return _ENCODER.encode(given)
    if isinstance(given, HasReadingSet):
        return _ENCODER.encode(given.reading_set())
    if isinstance(given, str | bytes):
        return given.encode() if isinstance(given, str) else given
    if isinstance(given, Mapping):  # pyright: ignore[reportUnnecessaryIsInstance] - not every caller has types
        try:
            # The standard library's encoder: it can be told to refuse what is not finite.
            return json.dumps(dict(given), allow_nan=False, ensure_ascii=False).encode()
        except ValueError as error:
            raise BadQuantity(str(error)) from None
    raise TypeError(f"a {type(given).__name__} is no reading set: give a ReadingSet, a Visit, a mapping or JSON")


_READERS: dict[type, Callable[[bytes], Any]] = {}


def reader(kind: type[T]) -> Callable[[bytes], T]:
    """Give what reads JSON as a type; each is made once."""
    found = _READERS.get(kind)
    if found is None:
        found = _READERS[kind] = msgspec.json.Decoder(kind).decode
    return found


def _text(content: bytes) -> str:
    return content.decode()


def assess(reading_set: ReadingSetLike) -> Call[Assessment]:
    """Assess one reading set."""
    return Call(Sent("POST", "/v1/assessments", JSON, encode(reading_set), JSON), reader(Assessment))


def screen(reading_set: ReadingSetLike) -> Call[Screen]:
    """Assess one reading set, and take what a screen shows first."""
    return Call(Sent("POST", "/v1/assessments/screen", JSON, encode(reading_set), JSON), reader(Screen))


def plan(reading_set: ReadingSetLike | None = None) -> Call[Assessment]:
    """Ask what to read first: a reading set without its readings."""
    if reading_set is None:
        return assess(ReadingSet(readings=()))
    given = msgspec.json.decode(encode(reading_set))
    return assess({**given, "readings": []})


def simulate(simulation: SimulationLike) -> Call[Simulation]:
    """Take readings of a stated fault."""
    return Call(Sent("POST", "/v1/simulations", JSON, encode(simulation), JSON), reader(Simulation))


def render(reading_set: ReadingSetLike, form: Form) -> Call[str]:
    """Assess one reading set, and take the answer in a form for people."""
    if form not in _MEDIA_TYPES:
        raise ValueError(f"form {form!r}: give one of {', '.join(_MEDIA_TYPES)}")
    return Call(Sent("POST", "/v1/assessments/note", _MEDIA_TYPES[form], encode(reading_set), JSON), _text)


def render_pdf(reading_set: ReadingSetLike) -> Call[bytes]:
    """Assess one reading set, and take the hand-off note as PDF."""
    return Call(Sent("POST", "/v1/assessments/note", PDF, encode(reading_set), JSON), bytes)


def faults() -> Call[catalogue.FaultCatalogue]:
    """List the faults."""
    return _catalogue("/v1/faults", catalogue.FaultCatalogue)


def cautions() -> Call[catalogue.CautionCatalogue]:
    """List the cautions."""
    return _catalogue("/v1/cautions", catalogue.CautionCatalogue)


def supply_systems() -> Call[catalogue.SupplySystemCatalogue]:
    """List the supply systems."""
    return _catalogue("/v1/supply-systems", catalogue.SupplySystemCatalogue)


def meters() -> Call[catalogue.MeterCatalogue]:
    """List the kinds of meter."""
    return _catalogue("/v1/meters", catalogue.MeterCatalogue)


def conductors() -> Call[catalogue.ConductorCatalogue]:
    """List the conductor sizes."""
    return _catalogue("/v1/conductors", catalogue.ConductorCatalogue)


def receptacles() -> Call[catalogue.ReceptacleCatalogue]:
    """List the receptacles."""
    return _catalogue("/v1/receptacles", catalogue.ReceptacleCatalogue)


def observations() -> Call[catalogue.ObservationCatalogue]:
    """List what a person may have seen."""
    return _catalogue("/v1/observations", catalogue.ObservationCatalogue)


def units() -> Call[catalogue.UnitCatalogue]:
    """List the units and bounds."""
    return _catalogue("/v1/units", catalogue.UnitCatalogue)


def model() -> Call[catalogue.ModelDescription]:
    """Tell which model answers."""
    return _catalogue("/v1/model", catalogue.ModelDescription)


def limits() -> Call[catalogue.LimitCatalogue]:
    """List the sizes and rates to keep to."""
    return _catalogue("/v1/limits", catalogue.LimitCatalogue)


def _catalogue(path: str, kind: type[T]) -> Call[T]:
    return Call(Sent("GET", path, JSON), reader(kind))
