"""The model run forward: a stated fault, circuit and meters are sent, the readings of a person come back."""

from collections.abc import Mapping, Sequence

from feedproof_sdk.types import request
from feedproof_sdk.types.answer import Answer
from feedproof_sdk.types.assessment import Assumption, ModelRelease


class AskedVoltage(request.Under, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="voltage"):
    """A voltage to read between two conductors, or a conductor and metalwork."""

    between: tuple[request.TerminalName, request.TerminalName]


class AskedProximity(request.Under, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="proximity"):
    """A conductor to hold a proximity detector to."""

    at: request.ConductorName


class AskedCurrent(request.Under, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="current"):
    """A current to read through one conductor."""

    through: request.ConductorName


class AskedResistance(request.Under, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="resistance"):
    """A resistance to read between two conductors of the isolated circuit."""

    between: tuple[request.ConductorName, request.ConductorName]
    highest: float | str | None = None
    """The meter's highest range; above it the reading is over range [ohm]. Left out: none."""


Asked = AskedVoltage | AskedProximity | AskedCurrent | AskedResistance


class SimulationRequest(request.Sent, frozen=True, kw_only=True, omit_defaults=True):
    """A stated fault on a stated circuit, and the readings to take of it."""

    fault: str
    """One of `names.Fault`; `none_found` is a sound supply."""
    conductor: request.ConductorName | None = None
    """Left out: the first that it can sit on."""
    location: str | None = None
    """As findings write it; left out: the first place that the readings can tell."""
    resistance: float | str | None = None
    """Series resistance of the fault [ohm]; left out: the middle of what its name covers."""
    supply_voltage: float | str | None = None
    """Leg to grounded point at the source [V]; left out: the usual one."""
    supply: request.Supply | None = None
    appliance: request.Appliance | None = None
    meters: Mapping[str, request.Meter] | None = None
    load_states: Mapping[str, request.LoadState] | None = None
    readings: Sequence[Asked]
    """As in an assessment, without what was read."""
    seed: int | None = None
    """With a seed, what is unknown is drawn, the same for the same seed; left out: everything at its median."""


class Simulation(Answer, frozen=True, kw_only=True):
    """The readings that a person would see."""

    readings: tuple[request.Reading, ...]
    """Those asked for, in their order, in the form that an assessment takes."""
    assumptions: tuple[Assumption, ...]
    model: ModelRelease
