"""What a person may have seen or been told, and what each means.

How probable each is under each fault is the model's: it enters the posterior like a reading, and its likelihoods belong
beside the priors that they multiply.
"""

from typing import Final

from msgspec import Struct

PRACTICE: Final = "common practice, no source"


class ObservationKind(Struct, frozen=True, kw_only=True):
    """One kind of observation."""

    code: str
    title: str
    meaning: str
    limits: str
    where: tuple[str, ...] = ()
    """What may be said of where it was seen; empty where that is not asked."""
    source: str = PRACTICE


OBSERVATIONS: Final[tuple[ObservationKind, ...]] = (
    ObservationKind(
        code="breaker_found_tripped",
        title="A breaker of this circuit was found tripped",
        meaning="The circuit's own breaker, or one pole of it, was found off, or between on and off.",
        limits="It has a cause, which is not told by this. Not for a breaker that was switched off for the work.",
    ),
    ObservationKind(
        code="lights_brighten_and_dim",
        title="Lights elsewhere brighten and dim",
        meaning="When a load starts, lights on other circuits grow brighter, or some brighter and others dimmer.",
        limits=(
            "All dimming together for a moment is the start of a large load and is not meant. Where it is seen tells a"
            " bad neutral of the service or a feeder from one of this circuit alone."
        ),
        where=("same_panel", "whole_building"),
    ),
    ObservationKind(
        code="scorched_or_discoloured",
        title="Scorched or discoloured",
        meaning="A contact, a plug, a terminal block or insulation of this circuit shows heat, or smells of it.",
        limits="It may be an old joint that has been mended. Which conductor it was is not told by this.",
    ),
    ObservationKind(
        code="works_when_moved",
        title="Works when something is moved",
        meaning="The appliance starts, stops or changes when its cord, plug or the receptacle is touched or moved.",
        limits="Nobody is to move live parts to find out: said of what was noticed anyway.",
    ),
    ObservationKind(
        code="other_circuits_live",
        title="Other circuits of the building are live",
        meaning="Lights or outlets on other circuits work.",
        limits="All on one leg may be live while the other is lost; then `other_circuits_dead` is true as well.",
    ),
    ObservationKind(
        code="other_circuits_dead",
        title="Other circuits of the building are dead",
        meaning="Lights or outlets on other circuits, whose breakers are on, do not work.",
        limits="Not for circuits that are switched off. Some live and some dead: give both.",
    ),
    ObservationKind(
        code="ground_fault_breaker_tripped",
        title="A ground-fault breaker tripped",
        meaning="A breaker or receptacle with ground-fault protection that feeds this circuit opened.",
        limits=(
            "A leak in the appliance trips it, and so does a low-impedance test from a leg to ground. It tells nothing"
            " of the neutral's resistance."
        ),
    ),
)
