"""The reading set, exactly as it comes over the wire.

Unknown fields are refused, and so is any value outside the lists and bounds given here: a misspelled field
in a safety tool must not pass unread. `null` means the same as leaving the field out.
"""

from typing import Annotated, Literal

from msgspec import Meta, Struct

from feedproof.contract.quantities import (
    CURRENT_RESOLUTION,
    INPUT_CAPACITANCE,
    INPUT_IMPEDANCE,
    LINE_FREQUENCY,
    LOAD_POWER,
    LOAD_REACTANCE,
    LOAD_RESISTANCE,
    READ_CURRENT,
    READ_RESISTANCE,
    READ_VOLTAGE,
    RESISTANCE_RESOLUTION,
    RUN_LENGTH,
    RUN_TEMPERATURE,
    THRESHOLD,
    VOLTAGE_RESOLUTION,
    quantity,
)

MAX_READINGS = 200
MAX_METERS = 20
MAX_LOAD_STATES = 50
MAX_LOADS = 20
MAX_BASE_RATES = 50
MAX_LABEL = 64
MAX_REFERENCE = 200

NO_CONTROLS = "^[^\\u0000-\\u001f\\u007f-\\u009f\\u2028-\\u202e\\u2066-\\u2069]*$"
"""Neither control characters nor line separators nor marks that turn the direction of writing."""

SIZE_PATTERN = (
    "^(?:(?:[1-4]/0|[1-9]|1[0-9]|20) ?AWG|(?:2[5-9][0-9]|[3-9][0-9]{2}|1000) ?kcmil"
    "|(?:(?:[1-9][0-9]?|[1-4][0-9]{2})(?:\\.[0-9]{1,2})?|500) ?mm[2\u00b2])$"
)

# What a fault of the form names as accepted, where the pattern itself would not help a person.
SIZE_FORM = {"accepted": "a size such as '6 AWG', '1/0 AWG', '250 kcmil' or '16 mm2'"}
TEXT_FORM = {"accepted": "text without control characters"}

ConductorName = Literal["L1", "L2", "N", "G"]
PointName = Literal["service_panel", "receptacle", "appliance_terminals"]
SupplySystem = Literal["split_phase_120_240", "wye_120_208", "single_phase_120", "high_leg_delta_120_240"]
LoadStateKind = Literal["disconnected", "idle", "running", "test_load"]

Label = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=MAX_LABEL,
        pattern=NO_CONTROLS,
        extra=TEXT_FORM,
        description="A name of the caller's own. 1 to 64 characters, no control characters.",
        examples=["dmm"],
    ),
]
ConductorPair = Annotated[
    list[ConductorName],
    Meta(
        min_length=2,
        max_length=2,
        description="Two different conductors. The order does not matter.",
        examples=[["L1", "N"]],
        extra_json_schema={"uniqueItems": True},
    ),
]
MeterLabel = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=MAX_LABEL,
        pattern=NO_CONTROLS,
        extra=TEXT_FORM,
        description="The meter: a name in `meters`, of a kind that can take this reading.",
        examples=["dmm"],
    ),
]
StateLabel = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=MAX_LABEL,
        pattern=NO_CONTROLS,
        extra=TEXT_FORM,
        description=(
            "The load state: a name in `load_states`, or a kind's own name (`disconnected`, `idle`, `running`,"
            " `test_load`). Readings under one label are taken as readings of one circuit."
        ),
        examples=["disconnected"],
    ),
]
ReadingPoint = Annotated[
    PointName | None,
    Meta(
        description=(
            "Where along the run the reading was taken; left out: `receptacle`. The appliance's terminals are part of"
            " the circuit only in a load state in which it is connected."
        ),
        examples=["receptacle"],
    ),
]
Percent = Annotated[
    Annotated[float, Meta(ge=0.0, le=50.0)] | None,
    Meta(
        description="Limit of error as a share of the reading, in percent, 0 to 50. Left out: typical of the kind.",
        examples=[0.8],
    ),
]
Counts = Annotated[
    Annotated[float, Meta(ge=0.0, le=1000.0)] | None,
    Meta(
        description=(
            "Limit of error in counts of the resolution, 0 to 1000, added to the share of the reading."
            " Left out: typical of the kind."
        ),
        examples=[3],
    ),
]


class Run(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The branch circuit's cable from the service panel to the receptacle, as far as it is known."""

    size: Annotated[
        Annotated[str, Meta(max_length=12, pattern=SIZE_PATTERN, extra=SIZE_FORM)] | None,
        Meta(
            description="Conductor size, in AWG, kcmil or mm2 (see `/v1/conductors`). Left out: not known.",
            examples=["6 AWG", "16 mm2"],
        ),
    ] = None
    material: Annotated[
        Literal["copper", "aluminum"] | None,
        Meta(description="Conductor material. Left out: not known.", examples=["copper"]),
    ] = None
    length: Annotated[
        float | str | None,
        quantity(RUN_LENGTH, "One-way length from service panel to receptacle. Left out: not known.", "18 m", 18),
    ] = None
    temperature: Annotated[
        float | str | None,
        quantity(RUN_TEMPERATURE, "Temperature of the conductor. Left out: not known.", "35 degC", 35),
    ] = None


class Supply(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is known of the supply before any reading."""

    system: Annotated[
        SupplySystem | None,
        Meta(
            description="Supply system (see `/v1/supply-systems`). Left out: `split_phase_120_240`.",
            examples=["split_phase_120_240"],
        ),
    ] = None
    frequency: Annotated[
        float | str | None, quantity(LINE_FREQUENCY, "Line frequency. Left out: 60 Hz.", 60, "60 Hz")
    ] = None
    equipment_ground: Annotated[
        Literal["present", "absent", "unknown"] | None,
        Meta(
            description=(
                "Whether the outlet has an equipment ground conductor. Left out: `unknown`. Where it is `absent`,"
                " readings to `G` at the receptacle are refused."
            ),
            examples=["present"],
        ),
    ] = None
    frame_bonded_to_neutral: Annotated[
        bool | None,
        Meta(
            description="Whether the appliance's frame is bonded to its neutral. Left out: not known.",
            examples=[False],
        ),
    ] = None
    run: Annotated[
        Run | None,
        Meta(
            description="The branch circuit's cable.",
            examples=[{"size": "6 AWG", "material": "copper", "length": "18 m"}],
        ),
    ] = None


class Voltmeter(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="voltmeter"):
    """A voltmeter. Its input impedance decides what it can prove."""

    input_impedance: Annotated[
        float | str | None,
        quantity(
            INPUT_IMPEDANCE,
            "Resistance of the input in the mode used. Left out: 10 Mohm, the typical digital voltmeter.",
            "10 Mohm",
            3000,
        ),
    ] = None
    input_capacitance: Annotated[
        float | str | None,
        quantity(INPUT_CAPACITANCE, "Capacitance in parallel with it. Left out: 100 pF.", "100 pF"),
    ] = None
    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[
        float | str | None,
        quantity(VOLTAGE_RESOLUTION, "Smallest step shown. Left out: typical of the kind.", "0.1 V", 0.1),
    ] = None


class ProximityDetector(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="proximity_detector"
):
    """A detector that signals near a conductor with voltage to earth. It alone establishes nothing."""

    threshold: Annotated[
        float | str | None,
        quantity(THRESHOLD, "Voltage to earth at which it signals half the time. Left out: 50 V.", "50 V", 50),
    ] = None


class ClampAmmeter(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="clamp_ammeter"
):
    """A clamp round one conductor."""

    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[
        float | str | None,
        quantity(CURRENT_RESOLUTION, "Smallest step shown. Left out: 0.01 A.", "0.01 A", 0.01),
    ] = None


class Ohmmeter(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="ohmmeter"):
    """An ohmmeter. For an isolated circuit only."""

    accuracy_percent: Percent = None
    accuracy_counts: Counts = None
    resolution: Annotated[
        float | str | None,
        quantity(RESISTANCE_RESOLUTION, "Smallest step shown. Left out: 0.1 ohm.", "0.1 ohm", 0.1),
    ] = None


Meter = Voltmeter | ProximityDetector | ClampAmmeter | Ohmmeter


class Load(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A known load between two conductors at the appliance's terminals.

    State `power` (at the nominal voltage between the two conductors), or `resistance` with or without
    `reactance`, and not both.
    """

    between: Annotated[
        list[Literal["L1", "L2", "N"]],
        Meta(
            min_length=2,
            max_length=2,
            description="The two conductors that the load is connected to.",
            examples=[["L1", "L2"]],
            extra_json_schema={"uniqueItems": True},
        ),
    ]
    power: Annotated[
        float | str | None,
        quantity(LOAD_POWER, "Rated power at nominal voltage, taken as a resistance.", "4.8 kW", 4800),
    ] = None
    resistance: Annotated[
        float | str | None, quantity(LOAD_RESISTANCE, "Series resistance of the load.", "12 ohm", 12)
    ] = None
    reactance: Annotated[
        float | str | None,
        quantity(LOAD_REACTANCE, "Series reactance, inductive positive. Left out: 0. Only with `resistance`.", "4 ohm"),
    ] = None
    tolerance_percent: Annotated[
        Annotated[float, Meta(ge=0.0, le=50.0)] | None,
        Meta(
            description=(
                "Limit of error of the load's impedance, in percent, 0 to 50."
                " Left out: 5 where `power` is stated, 1 where `resistance` is."
            ),
            examples=[5],
        ),
    ] = None


class LoadState(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A condition of the appliance under which readings were taken."""

    kind: Annotated[
        LoadStateKind,
        Meta(
            description=(
                "`disconnected`: not plugged in; `idle`: connected, not started; `running`; `test_load`: a known"
                " load in the appliance's place."
            ),
            examples=["running"],
        ),
    ]
    loads: Annotated[
        Annotated[list[Load], Meta(max_length=MAX_LOADS)] | None,
        Meta(
            description="The loads that are on, where they are known. None where nothing is connected.",
            examples=[[{"between": ["L1", "L2"], "power": "4.8 kW"}]],
        ),
    ] = None


class VoltageReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="voltage"):
    """A voltage between two conductors at one point."""

    between: ConductorPair
    value: Annotated[float | str, quantity(READ_VOLTAGE, "What the voltmeter showed.", "243 V", 119.6)]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class ProximityReading(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="proximity"
):
    """Whether a proximity detector signalled at a conductor."""

    at: Annotated[ConductorName, Meta(description="The conductor.", examples=["N"])]
    detected: Annotated[bool, Meta(description="Whether it signalled.", examples=[True])]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class CurrentReading(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="current"):
    """A current through one conductor, by a clamp."""

    through: Annotated[ConductorName, Meta(description="The conductor.", examples=["N"])]
    value: Annotated[float | str, quantity(READ_CURRENT, "What the clamp showed.", 4.2, "4.2 A")]
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class ResistanceReading(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="resistance"
):
    """A resistance between two conductors, on an isolated and locked-out circuit only."""

    between: ConductorPair
    value: Annotated[float | str, quantity(READ_RESISTANCE, "What the ohmmeter showed.", "0.3 ohm", 0.3)]
    meter: MeterLabel
    load_state: StateLabel
    supply: Annotated[
        Literal["isolated"],
        Meta(
            description="States that the circuit was isolated. A resistance read on a live circuit is refused.",
            examples=["isolated"],
        ),
    ]
    point: ReadingPoint = None
    over_range: Annotated[
        bool | None,
        Meta(
            description="The meter showed no end; `value` is then its highest range. Left out: false.",
            examples=[False],
        ),
    ] = None


Reading = VoltageReading | ProximityReading | CurrentReading | ResistanceReading

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
        Meta(
            description=(
                "The caller's own reference, given back in the answer and kept nowhere."
                " At most 200 characters, no control characters."
            ),
            examples=["cabin-12/range"],
        ),
    ] = None
    supply: Annotated[
        Supply | None,
        Meta(
            description="What is known of the supply. Left out: a 120/240 V split-phase supply at 60 Hz.",
            examples=[{"system": "split_phase_120_240", "frequency": 60, "equipment_ground": "present"}],
        ),
    ] = None
    meters: Annotated[
        Annotated[dict[Label, Meter], Meta(max_length=MAX_METERS)] | None,
        Meta(
            description=(
                "The meters used, by the caller's own names. A figure that is left out takes the published typical"
                " value of the meter's kind (see `/v1/meters`) and is listed in the answer's `assumptions`."
            ),
            examples=[EXAMPLE_METERS],
        ),
    ] = None
    load_states: Annotated[
        Annotated[dict[Label, LoadState], Meta(max_length=MAX_LOAD_STATES)] | None,
        Meta(
            description=("The appliance's conditions, by the caller's own names. A kind's own name needs no entry."),
            examples=[{"heating": {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.8 kW"}]}}],
        ),
    ] = None
    readings: Annotated[
        list[Reading],
        Meta(
            max_length=MAX_READINGS,
            description=(
                "The readings, at most 200. The order does not matter. An empty list is answered with what to"
                " read first."
            ),
            examples=[EXAMPLE_READINGS],
        ),
    ]
    base_rates: Annotated[
        Annotated[dict[str, Annotated[float, Meta(ge=0.0, le=1e9)]], Meta(max_length=MAX_BASE_RATES)] | None,
        Meta(
            description=(
                "Base rate by fault (see `/v1/faults`), to stand in for the model's own: shares of visits, up to 1, or"
                " counts of visits (where one is above 1), which share what the published rates give their faults"
                " together. A fault left out keeps its published rate; 0 removes a fault, `none_found` excepted. All"
                " are scaled to sum to 1."
            ),
            examples=[{"none_found": 60, "open_neutral": 12, "high_resistance_neutral": 8}],
        ),
    ] = None
