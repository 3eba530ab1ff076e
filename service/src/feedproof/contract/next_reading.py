"""What to read next: the reading as the request has it, how to take it, and what it would show."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.estimates import ConductorName
from feedproof.contract.words import example


class ReadingToTake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A reading as the request has it, without what is read: with `value` (or `detected`) added it can be sent back."""

    kind: Annotated[str, example("voltage", words="ReadingKind")]
    """`voltage`, `proximity`, `current` or `resistance`."""
    between: Annotated[list[ConductorName] | None, example(["L1", "N"])] = None
    """The two conductors, for a voltage or a resistance; else left out."""
    at: Annotated[str | None, example("N", words="ConductorCode")] = None
    """The conductor, for proximity; else left out."""
    through: Annotated[str | None, example("N", words="ConductorCode")] = None
    """The conductor, for a current; else left out."""
    supply: Annotated[str | None, example("isolated")] = None
    """`isolated`, for a resistance; else left out."""
    meter: Annotated[str, example("loz")]
    """The meter: a name in `meters`, or of the meter that is to be added there."""
    load_state: Annotated[str, example("disconnected")]
    """The load state: a name in `load_states`, of one to be added there, or of a kind."""
    point: Annotated[str, example("receptacle", words="PointCode")]
    """Where along the run."""
    repeats: Annotated[str | None, example("r2")] = None
    """Id of the reading that this one takes again, where it has one; else left out."""


class LoadToConnect(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A known load, as the request has it."""

    between: Annotated[list[ConductorName], example(["L1", "N"])]
    """The two conductors."""
    resistance: Annotated[float, example(9.6)]
    """Series resistance [ohm]."""
    reactance: Annotated[float | None, example(4.0)] = None
    """Series reactance [ohm]; left out: none."""
    tolerance_percent: Annotated[float, example(10.0)]
    """Limit of error of its impedance [%]."""


class StateToMake(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A load state, as the request's `load_states` define it."""

    kind: Annotated[str, example("test_load", words="LoadStateCode")]
    """`disconnected`, `idle`, `running` or `test_load`."""
    loads: Annotated[
        list[LoadToConnect] | None, example([{"between": ["L1", "N"], "resistance": 9.6, "tolerance_percent": 10.0}])
    ] = None
    """Known loads; left out: none is known."""


class MeterToFetch(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A common meter, as the request's `meters` define it; what is left out is taken as typical."""

    kind: Annotated[str, example("voltmeter")]
    """`voltmeter`, `proximity_detector`, `clamp_ammeter` or `ohmmeter`."""
    input_impedance: Annotated[float | None, example(3000.0)] = None
    """Of a voltmeter [ohm]; left out: typical."""


class Hazard(Struct, frozen=True, kw_only=True):
    """What can hurt somebody while a reading is taken."""

    code: Annotated[str, example("live_contact", words="HazardCode")]
    """Name of the hazard. The list may grow."""
    text: Annotated[str, example("Probes touch live parts.")]
    """The same in words."""


class Shown(Struct, frozen=True, kw_only=True):
    """What the meter would show if one place were at fault."""

    place: Annotated[str, example("branch_neutral", words="PlaceCode")]
    """The place (see `finding.place`)."""
    conductor: Annotated[str | None, example(None, words="ConductorCode")]
    """The leg, where the place is on one; else null."""
    title: Annotated[str, example("Branch neutral bad")]
    """The place in words."""
    low: Annotated[float, example(0.0)]
    """Four of five such readings lie above or at this, in `unit`."""
    high: Annotated[float, example(4.2)]
    """Four of five lie below or at this, in `unit`."""
    unit: Annotated[str, example("V")]
    """`V`, `A`, `ohm`; `1` for the share of times that a detector signals."""
    display: Annotated[str, example("0 V to 4.2 V")]
    """The same as a person writes it."""


class NextReading(Struct, frozen=True, kw_only=True):
    """A reading, or something to look or ask for, that is worth its trouble."""

    id: Annotated[str, example("voltage L1-N receptacle disconnected loz")]
    """The same for the same reading of one visit: to remember what was asked."""
    title: Annotated[str, example("Voltage L1 to neutral at the receptacle, appliance disconnected")]
    """What to do, in one line."""
    reading: Annotated[ReadingToTake | None, example({
        "kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected",
        "point": "receptacle",
    })]  # fmt: skip
    """As the request has it, without what is read: add `value` (of a proximity reading `detected`) and send it back.
    Null: no reading, see `observation`."""
    observation: Annotated[str | None, example(None, words="ObservationWord")] = None
    """Something to look or ask for (see `/v1/observations`): where it is so, add it to the request's `observations`.
    Null: this is a reading."""
    load_state: Annotated[StateToMake | None, example({"kind": "disconnected"})] = None
    """The reading's load state as `load_states` would define it, under the name that the reading gives."""
    meter: Annotated[MeterToFetch | None, example(None)] = None
    """A common meter that the request does not list, as `meters` would define it. Null: it lists it."""
    meter_kind: Annotated[str | None, example("low_impedance_voltmeter", words="MeterCode")] = None
    """`high_impedance_voltmeter`, `low_impedance_voltmeter`, `proximity_detector`, `clamp_ammeter`, `ohmmeter`."""
    steps: Annotated[list[str], example(["Hold the probes on L1 and on neutral."])]
    """How to take it, in order: what to switch, what to open, where to stand, where to put the meter."""
    expect: Annotated[list[Shown], example([
        {
            "place": "branch_neutral", "conductor": None, "title": "Branch neutral bad", "low": 0.0,
            "high": 4.2, "unit": "V", "display": "0 V to 4.2 V",
        }
    ])]  # fmt: skip
    """What each of the leading places would show, the most probable first."""
    information: Annotated[float, Meta(ge=0.0, examples=[0.62])]
    """What it is expected to tell about what decides the action, place and who must act [bit]. Of two readings that
    tell only together, half of both. 0 also where a rule asks for it (a reading to be taken again) and it was not
    reckoned."""
    why: Annotated[str, example("It tells an open neutral from a sound one.")]
    """Why it is worth taking, in words."""
    why_code: Annotated[str, example("tells_apart")]
    """The same as a word: `tells_apart`, `takes_again`, `narrows_down`, `asks`. The list may grow."""
    hazards: Annotated[list[Hazard], example([{"code": "live_contact", "text": "Probes touch live parts."}])]
    """What can hurt somebody while taking it."""
