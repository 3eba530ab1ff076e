"""The vocabulary of answers, and quantities with their 90 % credible intervals."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from feedproof.contract.words import WORDS_KEY, example


def about(description: str, *examples: object, words: str | None = None) -> Meta:
    """Describe a field, with examples; `words` names the list that its words are from, which may grow."""
    extra = None if words is None else {WORDS_KEY: words}
    return Meta(description=description, examples=list(examples), extra_json_schema=extra)


Probability = Annotated[float, Meta(ge=0.0, le=1.0, description="A probability, 0 to 1 [1].", examples=[0.97])]
ReadingIndex = Annotated[int, Meta(ge=0, description="Index into the request's `readings`.", examples=[1])]

Determination = Literal["established", "probable", "undetermined"]
ConfidenceLevel = Literal["high", "moderate", "low", "none"]
Bound = Literal["two_sided", "at_least", "at_most"]
Disposition = Literal["stop_and_refer", "repair_and_retest", "take_more_readings", "no_supply_fault_found"]
NextReason = Literal["enough", "nothing_would_tell", "stop_first"]
Flag = Literal["low", "high", "as_expected"]
Severity = Literal["danger", "warning", "notice"]

FaultName = Annotated[
    str,
    about("Name of the fault (see `/v1/faults`). The list may grow.", "open_neutral", "none_found", words="FaultCode"),
]
FaultConductor = Annotated[
    str | None,
    about(
        "The conductor that it sits on: `L1`, `L2`, `N` or `G`. Null: on none, or on a leg that is not told.",
        "N",
        words="ConductorCode",
    ),
]
ConductorName = Annotated[str, about("The conductor: `L1`, `L2`, `N` or `G`.", "N", words="ConductorCode")]
PointName = Annotated[
    str,
    about(
        "The point along the run: `service_panel`, `receptacle` or `appliance_terminals`.",
        "receptacle",
        words="PointCode",
    ),
]
StateLabel = Annotated[str, about("The load state's label in the request, or a kind's own name.", "disconnected")]
UnitName = Annotated[str, about("Unit of the numbers beside it.", "V", "ohm", "W")]


class Estimate(Struct, frozen=True, kw_only=True):
    """A quantity with its 90 % credible interval."""

    value: Annotated[float, example(116.4)]
    """The posterior median, in `unit`."""
    low: Annotated[float, example(113.0)]
    """Lower end of the 90 % credible interval, in `unit`."""
    high: Annotated[float, example(119.8)]
    """Upper end of the 90 % credible interval, in `unit`."""
    unit: UnitName
    bound: Annotated[Bound, example("two_sided")]
    """`two_sided`, or `at_least` or `at_most` where the readings bound the quantity on one side only."""
    limit: Annotated[float | None, example(4100.0, None)]
    """The one figure of a one-sided bound, in `unit`. Null: it is two-sided."""
    told_by: Annotated[str, example("readings", words="ToldBy")]
    """`readings`; `prior` where they have not narrowed what was to be expected anyway."""
    display: Annotated[str, example("116 V (113 to 120 V)", "at least 4.1 kΩ")]
    """As a person writes it."""


Title = Annotated[str, about("What it is, in words.", "Neutral, panel to receptacle")]


class NeutralToGround(Estimate, frozen=True, kw_only=True):
    """Voltage of the neutral to the grounded point at the service panel, in one load state."""

    title: Title
    load_state: StateLabel
    point: PointName
    during_reading: Annotated[ReadingIndex | None, example(None)] = None
    """Index of the low-impedance reading during which it holds. Null: with no meter connected."""
    angle: Annotated[float | None, example(180.0)] = None
    """Phase against leg L1 [deg]: 0 is toward L1; on a split phase 180 is toward L2. Null: the readings do not tell to
    which side the neutral has moved."""


class NeutralToEarth(Estimate, frozen=True, kw_only=True):
    """Voltage of the panel's neutral, and of all that is bonded to it, to the transformer's grounded point."""

    title: Title
    load_state: StateLabel


class BreakPosition(Estimate, frozen=True, kw_only=True):
    """Where along the run a conductor is open: metres from the outlet back to the break."""

    title: Title
    conductor: FaultConductor


class Expected(Struct, frozen=True, kw_only=True):
    """The span in which nine of ten such readings fall. For proximity: the chance of a signal."""

    low: Annotated[float, example(118.2)]
    """Lower end, in the unit of the reading."""
    high: Annotated[float, example(125.9)]
    """Upper end, in the unit of the reading."""


class ConductorResistance(Estimate, frozen=True, kw_only=True):
    """Series resistance of one conductor in one section."""

    title: Title
    conductor: ConductorName
    point: PointName
    section: Annotated[str, example("branch", words="SectionCode")] = "branch"
    """`branch` (from its panel to the point), `feeder` or `service`."""
    heat: Annotated[Estimate | None, example({
        "value": 31.0, "low": 22.0, "high": 44.0, "unit": "W", "bound": "two_sided", "limit": None,
        "told_by": "readings", "display": "31 W (22 to 44 W)",
    })] = None  # fmt: skip
    """Heat in that resistance at the load current [W]. Null: no load current is known."""
    sound: Annotated[Expected | None, example({"low": 0.02, "high": 0.09})] = None
    """What a sound path of this run would have, nine times of ten [ohm]."""


class DetectionLimit(Struct, frozen=True, kw_only=True):
    """The smallest series resistance in a conductor that these readings would have shown."""

    conductor: ConductorName
    value: Annotated[float | None, example(42.0)]
    """[ohm]. Null: no resistance at all, not even an open conductor, would have shown."""
    unit: UnitName
    meaning: Annotated[str, example("A neutral joint below 42 ohm could hide from these readings.")]
    """The same in words."""
