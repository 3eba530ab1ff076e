"""The reading set, exactly as it comes over the wire.

Unknown fields are refused, and so is any value outside the lists and bounds given here: a misspelled field
in a safety tool must not pass unread. `null` means the same as leaving the field out.
"""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from feedproof.contract.meters import Meter
from feedproof.contract.quantities import (
    LOAD_POWER,
    LOAD_REACTANCE,
    LOAD_RESISTANCE,
    LOAD_VOLTAGE,
    READ_CURRENT,
    READ_RESISTANCE,
    READ_VOLTAGE,
    quantity,
)
from feedproof.contract.supply import Appliance, Supply
from feedproof.contract.visit import VisitDetails
from feedproof.contract.words import (
    MAX_BASE_RATES,
    MAX_LOAD_STATES,
    MAX_LOADS,
    MAX_METERS,
    MAX_OBSERVATIONS,
    MAX_READINGS,
    MAX_REFERENCE,
    NO_CONTROLS,
    TEXT_FORM,
    ConductorName,
    Label,
    LightsWhere,
    LoadStateKind,
    MeterLabel,
    ObservationCode,
    PointName,
    StateLabel,
    TerminalName,
    example,
)

ReadingPoint = Annotated[
    PointName | None,
    Meta(
        description=(
            "Where along the run the reading was taken; left out: `receptacle`. `service_panel` is where neutral and"
            " ground are joined (a mobile home's pedestal), `sub_panel` one that a feeder feeds (a mobile home's own"
            " panel), `panel` the one that the circuit leaves, where nobody knows which of the two it is. A clamp at a"
            " panel is on the circuit's conductor as it leaves, at the receptacle on the run's wire in the box, at the"
            " terminals on the cord's. The terminals are part of the circuit only in a load state in which the"
            " appliance is connected. Exchanged wires are named by the contact that they land on."
        ),
        examples=["receptacle"],
    ),
]
ReadingId = Annotated[
    Label | None,
    Meta(
        description=(
            "The caller's own name of the reading, given back wherever the answer speaks of it, once in a request."
            " Left out: answers speak of its index."
        ),
        examples=["first"],
    ),
]
Repeats = Annotated[
    Label | None,
    Meta(
        description=(
            "The `id` of the reading that this one takes again, later: the same conductors, point and load state."
            " Both count, and their order is known."
        ),
        examples=["first"],
    ),
]
ConductorPair = Annotated[
    list[ConductorName],
    Meta(
        min_length=2,
        max_length=2,
        description="Two different conductors. The order does not matter.",
        examples=[["L1", "N"]],
    ),
]
TerminalPair = Annotated[
    list[TerminalName],
    Meta(
        min_length=2,
        max_length=2,
        description=(
            "Two different conductors, or a conductor and `metalwork`: a box, a pipe or a frame, of which nobody knows"
            " whether it is grounded. `metalwork` only where `equipment_ground` is `absent`, and not at a panel. The"
            " order does not matter."
        ),
        examples=[["L1", "N"]],
    ),
]


class Load(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A known load between two conductors at the appliance's terminals.

    State `power` (at the rated `voltage`), or `resistance` with or without `reactance`, and not both.
    """

    between: Annotated[list[ConductorName], Meta(min_length=2, max_length=2, examples=[["L1", "L2"]])]
    """The two conductors that the load is connected to. A leg and `G`: a leak to the frame."""
    power: Annotated[float | str | None, quantity(LOAD_POWER, "4.8 kW", 4800)] = None
    """Rated power at the rated voltage, taken as a resistance."""
    voltage: Annotated[float | str | None, quantity(LOAD_VOLTAGE, "240 V")] = None
    """Rated voltage that `power` is stated at. Left out: the system's nominal voltage between the two conductors, so
    state it of a 240 V element on 208 V. Only with `power`."""
    resistance: Annotated[float | str | None, quantity(LOAD_RESISTANCE, "12 ohm", 12)] = None
    """Series resistance of the load."""
    reactance: Annotated[float | str | None, quantity(LOAD_REACTANCE, "4 ohm")] = None
    """Series reactance, inductive positive. Left out: 0. Only with `resistance`."""
    tolerance_percent: Annotated[Annotated[float, Meta(ge=0.0, le=50.0)] | None, example(5)] = None
    """Limit of error of the load's impedance, in percent, 0 to 50. Left out: 5 where `power` is stated, 1 where
    `resistance` is."""


class LoadState(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A condition of the appliance under which readings were taken."""

    kind: Annotated[LoadStateKind, example("running")]
    """`disconnected`: not plugged in; `idle`: connected, not started; `running`; `test_load`: a known load in the
    appliance's place."""
    loads: Annotated[
        Annotated[list[Load], Meta(max_length=MAX_LOADS)] | None,
        example([{"between": ["L1", "L2"], "power": "4.8 kW"}]),
    ] = None
    """The loads that are on, where they are known. None where nothing is connected."""


class VoltageReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="voltage"):
    """A voltage between two conductors at one point."""

    between: TerminalPair
    value: Annotated[float | str, quantity(READ_VOLTAGE, "243 V", 119.6)]
    """What the voltmeter showed."""
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    id: ReadingId = None
    repeats: Repeats = None


class ProximityReading(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="proximity"
):
    """Whether a proximity detector signalled at a conductor."""

    at: Annotated[ConductorName, example("N")]
    """The conductor."""
    detected: Annotated[bool, Meta(examples=[True])]
    """Whether it signalled."""
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    id: ReadingId = None
    repeats: Repeats = None


class CurrentReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="current"):
    """A current through one conductor, by a clamp."""

    through: Annotated[ConductorName, example("N")]
    """The conductor."""
    value: Annotated[float | str, quantity(READ_CURRENT, 4.2, "4.2 A")]
    """What the clamp showed."""
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    id: ReadingId = None
    repeats: Repeats = None


class ResistanceReading(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="resistance"
):
    """A resistance between two conductors, on an isolated and locked-out circuit only."""

    between: ConductorPair
    value: Annotated[float | str, quantity(READ_RESISTANCE, "0.3 ohm", 0.3, "OL")]
    """What the ohmmeter showed; `OL` is over range, with the meter's range not known."""
    meter: MeterLabel
    load_state: StateLabel
    supply: Annotated[Literal["isolated"], example("isolated")]
    """States that the circuit was isolated. A resistance read on a live circuit is refused."""
    point: ReadingPoint = None
    id: ReadingId = None
    repeats: Repeats = None
    over_range: Annotated[bool | None, Meta(examples=[False])] = None
    """The meter showed no end; `value` is then its highest range. Left out: false."""


class Observation(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something seen or told, with what is known of it besides its code."""

    code: Annotated[ObservationCode, example("lights_brighten_and_dim")]
    """What it was (see `/v1/observations`)."""
    where: Annotated[LightsWhere | None, example("whole_building")] = None
    """Of `lights_brighten_and_dim` alone: on circuits of the same panel, or in the whole building. Left out: not
    known."""


Reading = VoltageReading | ProximityReading | CurrentReading | ResistanceReading
ObservationItem = ObservationCode | Observation

EXAMPLE_METERS = {
    "dmm": {
        "kind": "voltmeter", "input_impedance": "10 Mohm",
        "accuracy_percent": 0.8, "accuracy_counts": 3, "resolution": "0.1 V",
    },
    "loz": {
        "kind": "voltmeter", "input_impedance": "3 kohm",
        "accuracy_percent": 1.5, "accuracy_counts": 3, "resolution": "1 V",
    },
}  # fmt: skip
EXAMPLE_READINGS = [
    {
        "kind": "voltage", "between": ["L1", "L2"], "value": "247 V",
        "meter": "loz", "load_state": "disconnected", "point": "receptacle",
    },
    {
        "kind": "voltage", "between": ["L1", "N"], "value": "7 V",
        "meter": "loz", "load_state": "disconnected", "point": "receptacle",
    },
]  # fmt: skip


class AssessmentRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One visit's readings, with the meters and the circuit conditions they were taken under."""

    reference: Annotated[
        Annotated[str, Meta(max_length=MAX_REFERENCE, pattern=NO_CONTROLS, extra=TEXT_FORM)] | None,
        example("INVENTED, cabin 12, range"),
    ] = None
    """The caller's own reference, given back in the answer and kept nowhere. At most 200 characters, no control
    characters."""
    visit: Annotated[
        VisitDetails | None,
        example({"site": "INVENTED campground", "taken_by": "INVENTED technician 7", "taken_at": "2026-11-29"}),
    ] = None
    """Where, on what, by whom and when, for the head of the note."""
    supply: Annotated[
        Supply | None, example({"system": "split_phase_120_240", "frequency": 60, "equipment_ground": "present"})
    ] = None
    """What is known of the supply. Left out: a 120/240 V split-phase supply at 60 Hz."""
    appliance: Annotated[Appliance | None, example({"kind": "range"})] = None
    """The appliance. Left out: any."""
    meters: Annotated[Annotated[dict[Label, Meter], Meta(max_length=MAX_METERS)] | None, example(EXAMPLE_METERS)] = None
    """The meters used, by the caller's own names. A figure that is left out takes the published typical value of the
    meter's kind (see `/v1/meters`) and is listed in the answer's `assumptions`."""
    load_states: Annotated[
        Annotated[dict[Label, LoadState], Meta(max_length=MAX_LOAD_STATES)] | None,
        example({"heating": {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.8 kW"}]}}),
    ] = None
    """The appliance's conditions, by the caller's own names. A kind's own name needs no entry."""
    readings: Annotated[list[Reading], Meta(max_length=MAX_READINGS, examples=[EXAMPLE_READINGS])]
    """The readings, at most 200. The order does not matter. An empty list is answered with what to read first."""
    observations: Annotated[
        Annotated[list[ObservationItem], Meta(max_length=MAX_OBSERVATIONS)] | None,
        example(["breaker_found_tripped", {"code": "lights_brighten_and_dim", "where": "whole_building"}]),
    ] = None
    """What a person saw or was told (see `/v1/observations`), each once: codes, or objects where there is more to say.
    They shift odds and alone establish nothing."""
    base_rates: Annotated[
        Annotated[dict[str, Annotated[float, Meta(ge=0.0, le=1e9)]], Meta(max_length=MAX_BASE_RATES)] | None,
        example({"none_found": 60, "open_neutral": 12, "high_resistance_neutral": 8}),
    ] = None
    """Base rate by fault (see `/v1/faults`), to stand in for the model's own: shares of visits, up to 1, or counts of
    visits (where one is above 1), which share what the published rates give their faults together. A fault left out
    keeps its published rate; 0 removes a fault, `none_found` excepted. All are scaled to sum to 1."""
