"""What to read next: the reading as the request has it, how to take it, and what it would show."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import ConductorName
from feedproof.contract.estimates import about as _about


class ReadingToTake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A reading as the request has it, without what is read: with `value` (or `detected`) added it can be sent back."""

    kind: Annotated[str, _about("`voltage`, `proximity`, `current` or `resistance`.", "voltage", words="ReadingKind")]
    between: Annotated[
        list[ConductorName] | None,
        _about("The two conductors, for a voltage or a resistance; else left out.", ["L1", "N"]),
    ] = None
    at: Annotated[str | None, _about("The conductor, for proximity; else left out.", "N", words="ConductorCode")] = None
    through: Annotated[
        str | None, _about("The conductor, for a current; else left out.", "N", words="ConductorCode")
    ] = None
    supply: Annotated[str | None, _about("`isolated`, for a resistance; else left out.", "isolated")] = None
    meter: Annotated[str, _about("The meter: a name in `meters`, or of the meter that is to be added there.", "loz")]
    load_state: Annotated[
        str, _about("The load state: a name in `load_states`, of one to be added there, or of a kind.", "disconnected")
    ]
    point: Annotated[str, _about("Where along the run.", "receptacle", words="PointCode")]
    repeats: Annotated[
        str | None, _about("Id of the reading that this one takes again, where it has one; else left out.", "r2")
    ] = None


class LoadToConnect(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A known load, as the request has it."""

    between: Annotated[list[ConductorName], _about("The two conductors.", ["L1", "N"])]
    resistance: Annotated[float, _about("Series resistance [ohm].", 9.6)]
    reactance: Annotated[float | None, _about("Series reactance [ohm]; left out: none.", 4.0)] = None
    tolerance_percent: Annotated[float, _about("Limit of error of its impedance [%].", 10.0)]


class StateToMake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A load state, as the request's `load_states` define it."""

    kind: Annotated[
        str, _about("`disconnected`, `idle`, `running` or `test_load`.", "test_load", words="LoadStateCode")
    ]
    loads: Annotated[
        list[LoadToConnect] | None,
        _about(
            "Known loads; left out: none is known.",
            [{"between": ["L1", "N"], "resistance": 9.6, "tolerance_percent": 10.0}],
        ),
    ] = None


class MeterToFetch(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A common meter, as the request's `meters` define it; what is left out is taken as typical."""

    kind: Annotated[str, _about("`voltmeter`, `proximity_detector`, `clamp_ammeter` or `ohmmeter`.", "voltmeter")]
    input_impedance: Annotated[float | None, _about("Of a voltmeter [ohm]; left out: typical.", 3000.0)] = None


class Hazard(Struct, frozen=True, kw_only=True):
    """What can hurt somebody while a reading is taken."""

    code: Annotated[str, _about("Name of the hazard. The list may grow.", "live_contact", words="HazardCode")]
    text: Annotated[str, _about("The same in words.", "Probes touch live parts.")]


class Shown(Struct, frozen=True, kw_only=True):
    """What the meter would show if one place were at fault."""

    place: Annotated[str, _about("The place (see `finding.place`).", "branch_neutral", words="PlaceCode")]
    conductor: Annotated[
        str | None, _about("The leg, where the place is on one; else null.", None, words="ConductorCode")
    ]
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
    title: Annotated[
        str, _about("What to do, in one line.", "Voltage L1 to neutral at the receptacle, appliance disconnected")
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
            words="ObservationWord",
        ),
    ] = None
    load_state: Annotated[
        StateToMake | None,
        _about(
            "The reading's load state as `load_states` would define it, under the name that the reading gives.",
            {"kind": "disconnected"},
        ),
    ] = None
    meter: Annotated[
        MeterToFetch | None,
        _about("A common meter that the request does not list, as `meters` would define it. Null: it lists it.", None),
    ] = None
    meter_kind: Annotated[
        str | None,
        _about(
            "`high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`.",
            "low_impedance_voltmeter",
            words="MeterCode",
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
    why_code: Annotated[
        str,
        _about(
            "The same as a word: `tells_apart`, `takes_again`, `narrows_down`, `asks`. The list may grow.",
            "tells_apart",
        ),
    ]
    hazards: Annotated[
        list[Hazard],
        _about(
            "What can hurt somebody while taking it.", [{"code": "live_contact", "text": "Probes touch live parts."}]
        ),
    ]
