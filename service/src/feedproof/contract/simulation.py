"""The model run forward: a stated fault, circuit and meters in, the readings a person would see out."""

from typing import Annotated

from msgspec import Meta, Struct

from feedproof.contract.assessment import Assumption, ModelRelease
from feedproof.contract.meters import Meter
from feedproof.contract.quantities import FAULT_RESISTANCE, METER_RANGE, SOURCE_VOLTAGE, quantity
from feedproof.contract.request import (
    EXAMPLE_METERS,
    EXAMPLE_READINGS,
    ConductorPair,
    LoadState,
    Reading,
    ReadingPoint,
    TerminalPair,
)
from feedproof.contract.supply import Appliance, Supply
from feedproof.contract.words import (
    MAX_LOAD_STATES,
    MAX_METERS,
    MAX_READINGS,
    ConductorName,
    Label,
    MeterLabel,
    StateLabel,
    example,
)

LARGEST_SEED = 2**53 - 1
"""Larger whole numbers are not the same in every JSON reader."""


class AskedVoltage(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="voltage"):
    """A voltage to read between two conductors."""

    between: TerminalPair
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class AskedProximity(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="proximity"):
    """A conductor to hold a proximity detector to."""

    at: Annotated[ConductorName, example("N")]
    """The conductor."""
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class AskedCurrent(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="current"):
    """A current to read through one conductor."""

    through: Annotated[ConductorName, example("N")]
    """The conductor."""
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None


class AskedResistance(
    Struct, frozen=True, kw_only=True, forbid_unknown_fields=True, tag_field="kind", tag="resistance"
):
    """A resistance to read between two conductors of the isolated circuit."""

    between: ConductorPair
    meter: MeterLabel
    load_state: StateLabel
    point: ReadingPoint = None
    highest: Annotated[float | str | None, quantity(METER_RANGE, "40 Mohm")] = None
    """The meter's highest range; above it the reading is over range. Left out: none."""


Asked = AskedVoltage | AskedProximity | AskedCurrent | AskedResistance


class SimulationRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stated fault on a stated circuit, and the readings to take of it."""

    fault: Annotated[str, Meta(max_length=64, examples=["open_neutral"])]
    """The fault (see `/v1/faults`); `none_found` is a sound supply."""
    conductor: Annotated[ConductorName | None, example("N")] = None
    """The conductor that it sits on. Left out: the first that it can sit on."""
    location: Annotated[Annotated[str, Meta(max_length=64)] | None, example("upstream_of_receptacle")] = None
    """Where, as findings write it. Left out: the first place that the readings can tell."""
    resistance: Annotated[float | str | None, quantity(FAULT_RESISTANCE, "5 kohm")] = None
    """Series resistance of the fault. Left out: the middle of what its name covers."""
    supply_voltage: Annotated[float | str | None, quantity(SOURCE_VOLTAGE, "121 V")] = None
    """Leg to grounded point at the source. Left out: the usual one."""
    supply: Annotated[Supply | None, example({"system": "split_phase_120_240", "frequency": 60})] = None
    """What is known of the supply. Left out: a 120/240 V split-phase supply at 60 Hz."""
    appliance: Annotated[Appliance | None, example({"kind": "range"})] = None
    """The appliance. Left out: any."""
    meters: Annotated[Annotated[dict[Label, Meter], Meta(max_length=MAX_METERS)] | None, example(EXAMPLE_METERS)] = None
    """The meters, by the caller's own names, as in an assessment."""
    load_states: Annotated[
        Annotated[dict[Label, LoadState], Meta(max_length=MAX_LOAD_STATES)] | None,
        example({"heating": {"kind": "running", "loads": [{"between": ["L1", "L2"], "power": "4.8 kW"}]}}),
    ] = None
    """The appliance's conditions, by the caller's own names, as in an assessment."""
    readings: Annotated[
        list[Asked],
        Meta(
            max_length=MAX_READINGS,
            examples=[[{"kind": "voltage", "between": ["L1", "N"], "meter": "loz", "load_state": "disconnected"}]],
        ),
    ]
    """The readings to take, at most 200: as in an assessment, without what was read."""
    seed: Annotated[Annotated[int, Meta(ge=0, le=LARGEST_SEED)] | None, example(7)] = None
    """With a seed, 0 to 9007199254740991: what is unknown of the circuit, the meters' errors and the reader's scatter
    are drawn, the same for the same seed. Left out: everything at its median, read without error."""


class Simulation(Struct, frozen=True, kw_only=True):
    """The readings that a person would see."""

    readings: Annotated[list[Reading], example(EXAMPLE_READINGS)]
    """The readings asked for, in their order, in the form that an assessment takes."""
    assumptions: Annotated[list[Assumption], example([])]
    """Every value that the request left out and the service filled in."""
    model: Annotated[ModelRelease, example({"version": "1.0.0", "priors_digest": "9f86..."})]
    """Which model answered."""
