"""What is sent: one visit's readings, with the meters and the circuit conditions they were taken under.

A quantity is a number in the unit that stands in brackets, or a string with a unit of the service's published list
(`"247 V"`, `"3 kohm"`). What is left out is not sent; the service fills it in and lists it under the answer's
`assumptions`. Bounds are the service's to check: it names every fault of a request at once.

`feedproof_sdk.Visit` builds these step by step, and also takes quantities of pint.
"""

import math
from collections.abc import Mapping, Sequence
from typing import Literal

from msgspec import Struct

ConductorName = Literal["L1", "L2", "N", "G"]
TerminalName = Literal["L1", "L2", "N", "G", "metalwork"]
PointName = Literal["service_panel", "sub_panel", "panel", "receptacle", "appliance_terminals"]
SupplySystem = Literal["split_phase_120_240", "wye_120_208", "single_phase_120", "high_leg_delta_120_240"]
EquipmentGround = Literal["present", "absent", "unknown"]
NeutralPresence = Literal["present", "absent"]
FedFrom = Literal["service_panel", "sub_panel", "sub_panel_bonded", "unknown"]
SourceKind = Literal["utility", "generator", "unknown"]
ReceptacleName = Literal[
    "1-15R", "2-20R", "2-30R", "5-15R", "5-20R", "5-30R", "5-50R", "6-15R", "6-20R", "6-30R", "6-50R",
    "10-20R", "10-30R", "10-50R", "14-15R", "14-20R", "14-30R", "14-50R", "14-60R", "TT-30R",
    "L5-15R", "L5-20R", "L5-30R", "L6-15R", "L6-20R", "L6-30R", "L10-20R", "L10-30R", "L14-20R", "L14-30R",
    "hardwired",
]  # fmt: skip
ApplianceKind = Literal[
    "range", "dryer", "water_heater", "air_conditioner", "heat_pump", "vehicle_charger", "pump", "other"
]
ObservationCode = Literal[
    "breaker_found_tripped", "lights_brighten_and_dim", "scorched_or_discoloured", "works_when_moved",
    "other_circuits_live", "other_circuits_dead", "ground_fault_breaker_tripped",
]  # fmt: skip
LightsWhere = Literal["same_panel", "whole_building"]
Material = Literal["copper", "aluminum"]
LoadStateKind = Literal["disconnected", "idle", "running", "test_load"]


class Sent(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What is sent. Refuses numbers that JSON cannot carry: they would go out as `null`, which reads as left out."""

    def __post_init__(self) -> None:
        for name in self.__struct_fields__:
            value = getattr(self, name)
            if isinstance(value, float) and not math.isfinite(value):
                raise ValueError(f"{type(self).__name__}.{name} is {value}; give a finite number")


class Run(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """The branch circuit's cable from the panel that it leaves to the receptacle, as far as it is known."""

    size: str | None = None
    """Conductor size: `"6 AWG"`, `"250 kcmil"`, `"16 mm2"`."""
    material: Material | None = None
    length: float | str | None = None
    """One-way length [m]."""
    temperature: float | str | None = None
    """Temperature of the conductor [degC]."""


class Supply(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """What is known of the supply before any reading."""

    system: SupplySystem | None = None
    """At the outlet; left out: `single_phase_120` where the receptacle has one leg, else `split_phase_120_240`."""
    frequency: float | str | None = None
    """Line frequency [Hz]; left out: 60 Hz."""
    equipment_ground: EquipmentGround | None = None
    """Whether the outlet has an equipment ground conductor; left out: as the receptacle has it, else `unknown`."""
    frame_bonded_to_neutral: bool | None = None
    """Whether the appliance's frame is bonded to its neutral; left out: not known."""
    neutral: NeutralPresence | None = None
    """Whether the outlet has a neutral; left out: as the receptacle has it, else as is usual of the
    appliance."""
    fed_from: FedFrom | None = None
    """The panel that the branch circuit leaves; left out: `unknown`."""
    source: SourceKind | None = None
    """What feeds the building; left out: `utility`."""
    receptacle: ReceptacleName | None = None
    """NEMA WD 6 designation, or `hardwired`: it decides which conductors there are to read."""
    run: Run | None = None


class VisitDetails(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """What the head of the note says of the visit: given back in the answer, weighed by nothing, and kept nowhere.

    Texts of at most 120 characters.
    """

    site: str | None = None
    appliance: str | None = None
    """As the caller names it: maker's plate, number."""
    taken_by: str | None = None
    taken_at: str | None = None
    """A day, or a day and time (RFC 3339)."""
    calibration: str | None = None
    """Of the meters: days or certificates."""


class Appliance(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """The appliance: what its loads usually are, and what can be asked of it."""

    kind: ApplianceKind


class Proved(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """When a tester was shown to work, on a source known to be live."""

    before: bool | None = None
    after: bool | None = None


class _Accurate(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """What meters that show a number have in common."""

    accuracy_percent: float | None = None
    """Limit of error as a share of the reading [%]."""
    accuracy_counts: float | None = None
    """Limit of error in counts of the resolution, added to that [1]."""


class Voltmeter(_Accurate, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="voltmeter"):
    """A voltmeter. Its input impedance decides what it can prove."""

    input_impedance: float | str | None = None
    """Resistance of the input in the mode used [ohm]; left out: 10 Mohm."""
    input_capacitance: float | str | None = None
    """Capacitance in parallel with it [F]; left out: 100 pF."""
    resolution: float | str | None = None
    """Smallest step shown [V]."""
    proved: Proved | None = None
    """When it was shown to work; left out: taken as not proved."""


class ProximityDetector(
    Sent, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="proximity_detector"
):
    """A detector that signals near a conductor with voltage to earth. It alone establishes nothing."""

    threshold: float | str | None = None
    """Voltage to earth at which it signals half the time [V]; left out: 50 V."""
    proved: Proved | None = None
    """When it was shown to work; left out: taken as not proved."""


class ClampAmmeter(_Accurate, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="clamp_ammeter"):
    """A clamp round one conductor."""

    resolution: float | str | None = None
    """Smallest step shown [A]."""


class Ohmmeter(_Accurate, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="ohmmeter"):
    """An ohmmeter. For an isolated circuit only."""

    resolution: float | str | None = None
    """Smallest step shown [ohm]."""


Meter = Voltmeter | ProximityDetector | ClampAmmeter | Ohmmeter


class Load(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """A known load between two conductors at the appliance's terminals: `power`, or `resistance`, not both."""

    between: tuple[ConductorName, ConductorName]
    """A leg and `G`: a leak to the frame."""
    power: float | str | None = None
    """Rated power at the rated voltage, taken as a resistance [W]."""
    voltage: float | str | None = None
    """Rated voltage that `power` is stated at [V]; left out: the system's nominal one between the conductors."""
    resistance: float | str | None = None
    """Series resistance [ohm]."""
    reactance: float | str | None = None
    """Series reactance, inductive positive; only with `resistance` [ohm]."""
    tolerance_percent: float | None = None
    """Limit of error of its impedance [%]."""


class LoadState(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """A condition of the appliance under which readings were taken."""

    kind: LoadStateKind
    loads: Sequence[Load] | None = None
    """The loads that are on, where they are known."""


class Under(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """Where, with what and under which condition a reading is taken."""

    meter: str
    """A name in `meters`."""
    load_state: str
    """A name in `load_states`, or a kind's own name. Readings under one name share one circuit."""
    point: PointName | None = None
    """Left out: `receptacle`."""


class _Read(Under, frozen=True, kw_only=True, omit_defaults=True):
    """What readings that were taken have in common."""

    id: str | None = None
    """The caller's own name of the reading, given back wherever the answer speaks of it."""
    repeats: str | None = None
    """`id` of the reading that this one takes again."""


class VoltageReading(_Read, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="voltage"):
    """A voltage between two conductors, or a conductor and metalwork, at one point."""

    between: tuple[TerminalName, TerminalName]
    value: float | str
    """What the voltmeter showed [V]."""


class ProximityReading(_Read, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="proximity"):
    """Whether a proximity detector signalled at a conductor."""

    at: ConductorName
    detected: bool


class CurrentReading(_Read, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="current"):
    """A current through one conductor, by a clamp."""

    through: ConductorName
    value: float | str
    """What the clamp showed [A]."""


class ResistanceReading(_Read, frozen=True, kw_only=True, omit_defaults=True, tag_field="kind", tag="resistance"):
    """A resistance between two conductors, on an isolated and locked-out circuit only."""

    between: tuple[ConductorName, ConductorName]
    value: float | str
    """What the ohmmeter showed [ohm]; `"OL"`: over range, with the meter's range not known."""
    supply: Literal["isolated"]
    """States that the circuit was isolated: a resistance read on a live circuit is refused."""
    over_range: bool | None = None
    """The meter showed no end; `value` is then its highest range."""


class Observation(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """Something seen or told, with what is known of it besides its code."""

    code: ObservationCode
    where: LightsWhere | None = None
    """Of `lights_brighten_and_dim` alone."""


Reading = VoltageReading | ProximityReading | CurrentReading | ResistanceReading


class ReadingSet(Sent, frozen=True, kw_only=True, omit_defaults=True):
    """One visit's readings, with the meters and the circuit conditions they were taken under."""

    reference: str | None = None
    """The caller's own, given back in the answer and kept nowhere."""
    visit: VisitDetails | None = None
    """Where, on what, by whom and when, for the head of the note."""
    supply: Supply | None = None
    appliance: Appliance | None = None
    meters: Mapping[str, Meter] | None = None
    """The meters used, by the caller's own names."""
    load_states: Mapping[str, LoadState] | None = None
    """The appliance's conditions, by the caller's own names. A kind's own name needs no entry."""
    readings: Sequence[Reading]
    """Their order does not matter. Empty: the answer is what to read first."""
    observations: Sequence[ObservationCode | Observation] | None = None
    """What a person saw or was told, each once. They shift odds and alone establish nothing."""
    base_rates: Mapping[str, float] | None = None
    """Base rate by fault, to stand in for the model's own: shares of visits up to 1, or counts. A fault left out keeps
    its published rate; 0 removes a fault."""

    def __post_init__(self) -> None:
        """Refuse base rates that JSON cannot carry."""
        for fault, rate in (self.base_rates or {}).items():
            if not math.isfinite(rate):
                raise ValueError(f"base_rates[{fault!r}] is {rate}; give a finite number")
