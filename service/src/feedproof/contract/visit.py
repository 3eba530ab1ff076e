"""Where, on what, by whom and when readings were taken: for the head of the note, and for nothing else."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import about
from feedproof.contract.words import MAX_VISIT_TEXT, NO_CONTROLS, TEXT_FORM

TIME_PATTERN = (
    "^[0-9]{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])"
    "(?:T(?:[01][0-9]|2[0-3]):[0-5][0-9](?::[0-5][0-9])?(?:Z|[+-][0-2][0-9]:[0-5][0-9])?)?$"
)
"""A day, or a day and time with or without seconds and offset (RFC 3339, ISO 8601)."""
TIME_FORM = {"accepted": "a day or a time such as '2026-11-29' or '2026-11-29T14:30-05:00'"}


def _text(description: str, example: str) -> Meta:
    return Meta(description=f"{description} At most 120 characters, no control characters.", examples=[example])


Text = Annotated[str, Meta(max_length=MAX_VISIT_TEXT, pattern=NO_CONTROLS, extra=TEXT_FORM)]


class VisitDetails(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the head of the note says of the visit: given back in the answer, weighed by nothing, and kept nowhere."""

    site: Annotated[Text | None, _text("Where it is. Left out: a line to write on.", "INVENTED campground")] = None
    appliance: Annotated[
        Text | None, _text("The appliance, as the caller names it: maker's plate, number.", "INVENTED range 30 in")
    ] = None
    taken_by: Annotated[Text | None, _text("Who took the readings.", "INVENTED technician 7")] = None
    taken_at: Annotated[
        Annotated[str, Meta(max_length=25, pattern=TIME_PATTERN, extra=TIME_FORM)] | None,
        Meta(description="When: a day, or a day and time (RFC 3339).", examples=["2026-11-29T14:30-05:00"]),
    ] = None
    calibration: Annotated[
        Text | None, _text("Of the meters: days or certificates.", "INVENTED: dmm until 2027-03")
    ] = None


class VisitMeter(Struct, frozen=True, kw_only=True):
    """A meter of the request."""

    name: Annotated[str, about("The caller's own name of it.", "loz")]
    proved: Annotated[
        bool,
        Meta(
            description="Whether the request states that it was shown to work, both before and after the readings.",
            examples=[True],
        ),
    ]


class AssessedVisit(Struct, frozen=True, kw_only=True):
    """The visit as the note heads it: what the request states, in words; null where it states nothing."""

    site: Annotated[str | None, about("The request's own.", "INVENTED campground")]
    appliance: Annotated[str | None, about("Kind and name, as far as stated.", "Range, INVENTED range 30 in")]
    receptacle: Annotated[str | None, about("The stated receptacle (NEMA WD 6), or `hardwired`.", "14-50R")]
    run: Annotated[str | None, about("The stated cable of the branch circuit.", "6 AWG, copper, 18 m")]
    taken_by: Annotated[str | None, about("The request's own.", "INVENTED technician 7")]
    taken_at: Annotated[str | None, about("The request's own.", "2026-11-29T14:30-05:00")]
    calibration: Annotated[str | None, about("The request's own.", "INVENTED: dmm until 2027-03")]
    meters: Annotated[
        list[VisitMeter], about("The meters of the request, read or not.", [{"name": "loz", "proved": True}])
    ]
