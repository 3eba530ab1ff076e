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

MOST_BYTES = 4096
"""Largest answer for a screen [byte]."""


class ScreenCaution(Struct, frozen=True, kw_only=True):
    """A caution that applies to this job."""

    code: Annotated[str, about("Name of the caution (see `/v1/cautions`).", "neutral_as_live", words="CautionCode")]
    severity: Annotated[Severity, about("`danger`, `warning` or `notice`.", "danger")]
    title: Annotated[str, about("What to do, short. `/v1/cautions` has the rest.", "Treat the neutral as live")]


class ScreenReading(Struct, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    id: Annotated[str, about("The same as in the whole assessment.", "voltage L1-N receptacle disconnected loz")]
    title: Annotated[
        str, about("What to do, in one line.", "Voltage L1 to neutral at the receptacle, appliance disconnected")
    ]
    reading: Annotated[
        ReadingToTake | None,
        about(
            "As the request has it, without what is read. Null: no reading, see `observation`.",
            {"kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "idle", "point": "receptacle"},
        ),
    ]
    observation: Annotated[
        str | None, about("Something to look or ask for. Null: this is a reading.", None, words="ObservationWord")
    ]
    load_state: Annotated[StateToMake | None, about("As `load_states` would define it.", {"kind": "disconnected"})]
    meter: Annotated[MeterToFetch | None, about("As `meters` would define it. Null: the request lists it.", None)]
    steps: Annotated[list[str], about("How to take it, in order.", ["Hold the probes on L1 and on neutral."])]
    hazards: Annotated[
        list[Annotated[str, about("A hazard.", "live_contact", words="HazardCode")]],
        about("What can hurt somebody while taking it.", ["live_contact"]),
    ]


class ScreenCheck(Struct, frozen=True, kw_only=True):
    """Readings that no single circuit can give together."""

    code: Annotated[str, about("What does not fit, as a word.", "off_the_line", words="CheckCode")]
    readings: Annotated[list[ReadingIndex], about("Indexes of the readings concerned.", [0, 1, 2])]
    text: Annotated[str, about("The same in words.", "The leg readings fall 7 V short.")]


class Screen(Struct, frozen=True, kw_only=True):
    """What a screen shows first of an assessment, in 4 kB or less."""

    reference: Annotated[str | None, about("The request's own reference.", "cabin-12/range")]
    headline: Annotated[str, about("What was found, in one line.", "Service neutral bad: over 99 %")]
    next_action: Annotated[str, about("What to do first, in one line.", "Stop. Hand this to the utility.")]
    refer_to: Annotated[
        list[Annotated[str, about("Who must act.", "electrician", words="PartyCode")]],
        about("Who must act. Empty: nobody.", ["utility", "electrician"]),
    ]
    disposition: Annotated[Disposition, about("What to do with the job. It drives the screen.", "stop_and_refer")]
    determination: Annotated[Determination, about("How far the readings decide.", "established")]
    confidence: Annotated[ConfidenceLevel, about("How far the finding can be leaned on.", "high")]
    place: PlaceName
    conductor: FaultConductor
    fault: FaultName
    probability: Probability
    cautions: Annotated[
        list[ScreenCaution],
        about(
            "The cautions that apply, in the order of the whole assessment.",
            [{"code": "neutral_as_live", "severity": "danger", "title": "Treat the neutral as live"}],
        ),
    ]
    checks: Annotated[
        list[ScreenCheck],
        about(
            "Readings that do not fit together.",
            [{"code": "off_the_line", "readings": [0, 1, 2], "text": "The leg readings fall 7 V short."}],
        ),
    ]
    next_readings: Annotated[
        list[ScreenReading],
        about(
            "What to read next, most worth taking first.",
            [
                {
                    "id": "voltage L1-N receptacle disconnected loz", "title": "Voltage L1 to neutral",
                    "reading": None, "observation": None, "load_state": None, "meter": None, "steps": [],
                    "hazards": ["live_contact"],
                }
            ],
        ),
    ]  # fmt: skip
    next_reason: Annotated[NextReason | None, about("Why there is nothing to read next. Null: see above.", None)]
    left_out: Annotated[
        int, Meta(ge=0, description="Entries of the lists that there was no room for [1].", examples=[0])
    ]
    model: Annotated[str, about("Version of the model that answered.", "2.1.0")]
