"""Where, on what, by whom and when readings were taken: for the head of the note, and for nothing else."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.words import MAX_VISIT_TEXT, NO_CONTROLS, TEXT_FORM, example

TIME_PATTERN = (
    "^[0-9]{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])"
    "(?:T(?:[01][0-9]|2[0-3]):[0-5][0-9](?::[0-5][0-9])?(?:Z|[+-][0-2][0-9]:[0-5][0-9])?)?$"
)
"""A day, or a day and time with or without seconds and offset (RFC 3339, ISO 8601)."""
TIME_FORM = {"accepted": "a day or a time such as '2026-11-29' or '2026-11-29T14:30-05:00'"}


Text = Annotated[str, Meta(max_length=MAX_VISIT_TEXT, pattern=NO_CONTROLS, extra=TEXT_FORM)]


class VisitDetails(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the head of the note says of the visit: given back in the answer, weighed by nothing, and kept nowhere."""

    site: Annotated[Text | None, example("INVENTED campground")] = None
    """Where it is. Left out: a line to write on. At most 120 characters, no control characters."""
    appliance: Annotated[Text | None, example("INVENTED range 30 in")] = None
    """The appliance, as the caller names it: maker's plate, number. At most 120 characters, no control characters."""
    taken_by: Annotated[Text | None, example("INVENTED technician 7")] = None
    """Who took the readings. At most 120 characters, no control characters."""
    taken_at: Annotated[
        Annotated[str, Meta(max_length=25, pattern=TIME_PATTERN, extra=TIME_FORM)] | None,
        example("2026-11-29T14:30-05:00"),
    ] = None
    """When: a day, or a day and time (RFC 3339)."""
    calibration: Annotated[Text | None, example("INVENTED: dmm until 2027-03")] = None
    """Of the meters: days or certificates. At most 120 characters, no control characters."""


class VisitMeter(Struct, frozen=True, kw_only=True):
    """A meter of the request."""

    name: Annotated[str, example("loz")]
    """The caller's own name of it."""
    proved: Annotated[bool, Meta(examples=[True])]
    """Whether the request states that it was shown to work, both before and after the readings."""


class AssessedVisit(Struct, frozen=True, kw_only=True):
    """The visit as the note heads it: what the request states, in words; null where it states nothing."""

    site: Annotated[str | None, example("INVENTED campground")]
    """The request's own."""
    appliance: Annotated[str | None, example("Range, INVENTED range 30 in")]
    """Kind and name, as far as stated."""
    receptacle: Annotated[str | None, example("14-50R")]
    """The stated receptacle (NEMA WD 6), or `hardwired`."""
    run: Annotated[str | None, example("6 AWG, copper, 18 m")]
    """The stated cable of the branch circuit."""
    taken_by: Annotated[str | None, example("INVENTED technician 7")]
    """The request's own."""
    taken_at: Annotated[str | None, example("2026-11-29T14:30-05:00")]
    """The request's own."""
    calibration: Annotated[str | None, example("INVENTED: dmm until 2027-03")]
    """The request's own."""
    meters: Annotated[list[VisitMeter], example([{"name": "loz", "proved": True}])]
    """The meters of the request, read or not."""
