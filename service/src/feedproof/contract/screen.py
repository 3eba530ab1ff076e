"""What a small screen shows of an assessment: the first lines, who acts, the cautions, and what to read next."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.assessment import PlaceName
from feedproof.contract.estimates import (
    ConfidenceLevel,
    Determination,
    Disposition,
    FaultConductor,
    FaultName,
    NextReason,
    Probability,
    ReadingIndex,
    Severity,
    about,
)
from feedproof.contract.next_reading import MeterToFetch, ReadingToTake, StateToMake
from feedproof.contract.words import example

MOST_BYTES = 4096
"""Largest answer for a screen [byte]."""


class ScreenCaution(Struct, frozen=True, kw_only=True):
    """A caution that applies to this job."""

    code: Annotated[str, example("neutral_as_live", words="CautionCode")]
    """Name of the caution (see `/v1/cautions`)."""
    severity: Annotated[Severity, example("danger")]
    """`danger`, `warning` or `notice`."""
    title: Annotated[str, example("Treat the neutral as live")]
    """What to do, short. `/v1/cautions` has the rest."""


class ScreenReading(Struct, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    id: Annotated[str, example("voltage L1-N receptacle disconnected loz")]
    """The same as in the whole assessment."""
    title: Annotated[str, example("Voltage L1 to neutral at the receptacle, appliance disconnected")]
    """What to do, in one line."""
    reading: Annotated[
        ReadingToTake | None,
        example(
            {"kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "idle", "point": "receptacle"}
        ),
    ]
    """As the request has it, without what is read. Null: no reading, see `observation`."""
    observation: Annotated[str | None, example(None, words="ObservationWord")]
    """Something to look or ask for. Null: this is a reading."""
    load_state: Annotated[StateToMake | None, example({"kind": "disconnected"})]
    """As `load_states` would define it."""
    meter: Annotated[MeterToFetch | None, example(None)]
    """As `meters` would define it. Null: the request lists it."""
    steps: Annotated[list[str], example(["Hold the probes on L1 and on neutral."])]
    """How to take it, in order."""
    hazards: Annotated[
        list[Annotated[str, about("A hazard.", "live_contact", words="HazardCode")]], example(["live_contact"])
    ]
    """What can hurt somebody while taking it."""


class ScreenCheck(Struct, frozen=True, kw_only=True):
    """Readings that no single circuit can give together."""

    code: Annotated[str, example("off_the_line", words="CheckCode")]
    """What does not fit, as a word."""
    readings: Annotated[list[ReadingIndex], example([0, 1, 2])]
    """Indexes of the readings concerned."""
    text: Annotated[str, example("The leg readings fall 7 V short.")]
    """The same in words."""


class Screen(Struct, frozen=True, kw_only=True):
    """What a screen shows first of an assessment, in 4 kB or less."""

    reference: Annotated[str | None, example("cabin-12/range")]
    """The request's own reference."""
    headline: Annotated[str, example("Service neutral bad: over 99 %")]
    """What was found, in one line."""
    next_action: Annotated[str, example("Stop. Hand this to the utility.")]
    """What to do first, in one line."""
    refer_to: Annotated[
        list[Annotated[str, about("Who must act.", "electrician", words="PartyCode")]],
        example(["utility", "electrician"]),
    ]
    """Who must act. Empty: nobody."""
    disposition: Annotated[Disposition, example("stop_and_refer")]
    """What to do with the job. It drives the screen."""
    determination: Annotated[Determination, example("established")]
    """How far the readings decide."""
    confidence: Annotated[ConfidenceLevel, example("high")]
    """How far the finding can be leaned on."""
    place: PlaceName
    conductor: FaultConductor
    fault: FaultName
    probability: Probability
    cautions: Annotated[
        list[ScreenCaution],
        example([{"code": "neutral_as_live", "severity": "danger", "title": "Treat the neutral as live"}]),
    ]
    """The cautions that apply, in the order of the whole assessment."""
    checks: Annotated[
        list[ScreenCheck],
        example([{"code": "off_the_line", "readings": [0, 1, 2], "text": "The leg readings fall 7 V short."}]),
    ]
    """Readings that do not fit together."""
    next_readings: Annotated[list[ScreenReading], example([
        {
            "id": "voltage L1-N receptacle disconnected loz", "title": "Voltage L1 to neutral",
            "reading": None, "observation": None, "load_state": None, "meter": None, "steps": [],
            "hazards": ["live_contact"],
        }
    ])]  # fmt: skip
    """What to read next, most worth taking first."""
    next_reason: Annotated[NextReason | None, example(None)]
    """Why there is nothing to read next. Null: see above."""
    left_out: Annotated[int, Meta(ge=0, examples=[0])]
    """Entries of the lists that there was no room for [1]."""
    model: Annotated[str, example("2.1.0")]
    """Version of the model that answered."""
