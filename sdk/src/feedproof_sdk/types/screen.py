"""What a small screen shows of an assessment, in 4 kB or less."""

from msgspec import Struct

from feedproof_sdk.types.answer import Answer
from feedproof_sdk.types.assessment import _ToTake


class ScreenCaution(Struct, frozen=True, kw_only=True):
    """A caution that applies to this job."""

    code: str
    severity: str
    """One of `names.Severity`."""
    title: str


class ScreenReading(_ToTake, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    hazards: tuple[str, ...]
    """Codes."""


class ScreenCheck(Struct, frozen=True, kw_only=True):
    """Readings that no single circuit can give together."""

    code: str
    readings: tuple[int, ...]
    text: str


class Screen(Answer, frozen=True, kw_only=True):
    """What a screen shows first."""

    reference: str | None
    headline: str
    next_action: str
    refer_to: tuple[str, ...]
    disposition: str
    determination: str
    confidence: str
    place: str
    conductor: str | None
    fault: str
    probability: float
    """[1]"""
    cautions: tuple[ScreenCaution, ...]
    checks: tuple[ScreenCheck, ...]
    next_readings: tuple[ScreenReading, ...]
    next_reason: str | None
    left_out: int
    """Entries of the lists that there was no room for."""
    model: str
    """Version of the model."""
