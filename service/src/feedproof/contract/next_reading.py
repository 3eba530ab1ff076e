"""What to read next: the reading as the request has it, without its value, with how to take it and what it would show."""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from feedproof.contract.meters import Meter
from feedproof.contract.request import ConductorPair, LoadState, ReadingPoint
from feedproof.contract.words import ConductorName, MeterLabel, StateLabel


def _about(description: str, *examples: object) -> Meta:
    return Meta(description=description, examples=list(examples))


Repeats = Annotated[
    str | None,
    _about("Id (or, where it has none, index) of the reading that this one takes again. Left out: of none.", "r2"),
]


class NextVoltage(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="voltage"):
    """A voltage to read between two conductors."""

    between: ConductorPair
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    repeats: Repeats = None


class NextProximity(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="proximity"):
    """A conductor to hold a proximity detector to."""

    at: Annotated[ConductorName, _about("The conductor.", "N")]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    repeats: Repeats = None


class NextCurrent(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="current"):
    """A current to read through one conductor."""

    through: Annotated[ConductorName, _about("The conductor.", "N")]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    repeats: Repeats = None


class NextResistance(Struct, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="resistance"):
    """A resistance to read between two conductors of the isolated circuit."""

    between: ConductorPair
    supply: Annotated[Literal["isolated"], _about("Never on a live circuit.", "isolated")]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    repeats: Repeats = None


ReadingToTake = NextVoltage | NextProximity | NextCurrent | NextResistance


class Hazard(Struct, frozen=True, kw_only=True):
    """What can hurt somebody while a reading is taken."""

    code: Annotated[str, _about("Name of the hazard. The list may grow.", "live_contact")]
    text: Annotated[str, _about("The same in words.", "Probes touch live parts.")]


class Shown(Struct, frozen=True, kw_only=True):
    """What the meter would show if one place were at fault."""

    place: Annotated[str, _about("The place (see `finding.place`).", "branch_neutral")]
    conductor: Annotated[str | None, _about("The leg, where the place is on one; else null.", None)]
    title: Annotated[str, _about("The place in words.", "Branch neutral bad")]
    low: Annotated[float, _about("Four of five such readings lie above or at this, in `unit`.", 0.0)]
    high: Annotated[float, _about("Four of five lie below or at this, in `unit`.", 4.2)]
    unit: Annotated[str, _about("`V`, `A`, `ohm`; `1` for the share of times that a detector signals.", "V")]
    display: Annotated[str, _about("The same as a person writes it.", "0 V to 4.2 V")]


class NextReading(Struct, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    id: Annotated[
        str,
        _about(
            "The same for the same reading of one visit: to remember what was asked.",
            "voltage L1-N receptacle disconnected loz",
        ),
    ]
    reading: Annotated[
        ReadingToTake | None,
        _about(
            "As the request has it, without what is read: add `value` (of a proximity reading `detected`) and send it"
            " back. Null: no reading, see `observation`.",
            {
                "kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected",
                "point": "receptacle",
            },
        ),
    ]  # fmt: skip
    observation: Annotated[
        str | None,
        _about(
            "Something to look or ask for (see `/v1/observations`): where it is so, add it to the request's"
            " `observations`. Null: this is a reading.",
            None,
        ),
    ] = None
    load_state: Annotated[
        LoadState | None,
        _about(
            "The reading's load state as `load_states` would define it, under the name that the reading gives.",
            {"kind": "disconnected", "loads": None},
        ),
    ] = None
    meter: Annotated[
        Meter | None,
        _about("A common meter that the request does not list, as `meters` would define it. Null: it lists it.", None),
    ] = None
    meter_kind: Annotated[
        str | None,
        _about(
            "`high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`.",
            "low_impedance_voltmeter",
        ),
    ] = None
    steps: Annotated[
        list[str],
        _about(
            "How to take it, in order: what to switch, what to open, where to stand, where to put the meter.",
            ["Hold the probes on L1 and on neutral."],
        ),
    ]
    expect: Annotated[
        list[Shown],
        _about(
            "What each of the leading places would show, the most probable first.",
            [
                {
                    "place": "branch_neutral", "conductor": None, "title": "Branch neutral bad", "low": 0.0,
                    "high": 4.2, "unit": "V", "display": "0 V to 4.2 V",
                }
            ],
        ),
    ]  # fmt: skip
    information: Annotated[
        float,
        Meta(
            ge=0.0,
            description=(
                "What it is expected to tell about what decides the action, place and who must act [bit]. Of two"
                " readings that tell only together, half of both."
            ),
            examples=[0.62],
        ),
    ]
    why: Annotated[str, _about("Why it is worth taking, in words.", "It tells an open neutral from a sound one.")]
    hazards: Annotated[
        list[Hazard],
        _about(
            "What can hurt somebody while taking it.", [{"code": "live_contact", "text": "Probes touch live parts."}]
        ),
    ]
