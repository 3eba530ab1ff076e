"""Reading sets in SI units: what the assessment takes, with every default already filled in.

These records carry no wire format and no unit strings. Parsing (`feedproof.parsing`) makes them from a
request and is the only place that converts units. Everything below it sees plain floats in volts, amperes,
ohms, farads, watts, metres and hertz.
"""

from typing import Literal

from msgspec import Struct

Conductor = Literal["L1", "L2", "N", "G"]
Terminal = Literal["L1", "L2", "N", "G", "metalwork"]
"""A conductor, or a box or pipe of unknown connection to ground."""
Point = Literal["service_panel", "sub_panel", "panel", "receptacle", "appliance_terminals"]
SystemName = Literal["split_phase_120_240", "wye_120_208", "single_phase_120", "high_leg_delta_120_240"]
Presence = Literal["present", "absent", "unknown"]
LoadStateKind = Literal["disconnected", "idle", "running", "test_load"]
Material = Literal["copper", "aluminum"]

CONDUCTORS: tuple[Conductor, ...] = ("L1", "L2", "N", "G")
#: Supply systems by the phases of an appliance's legs against L1 [deg]: ANSI C84.1 nominal systems, from memory. The
#: high leg of a delta is 120·√3 = 208 V, a quarter turn from the line of the two others; an appliance's L1 and L2 are
#: taken from those two.
LEG_ANGLES: dict[SystemName, dict[Conductor, float]] = {
    "split_phase_120_240": {"L1": 0.0, "L2": 180.0},
    "wye_120_208": {"L1": 0.0, "L2": -120.0},
    "single_phase_120": {"L1": 0.0},
    "high_leg_delta_120_240": {"L1": 0.0, "L2": 180.0},
}
NOMINAL_TO_NEUTRAL = 120.0
"""Of those legs [V]; what a load's rated power between a leg and the neutral refers to."""
NOMINAL_BETWEEN_LEGS: dict[SystemName, float] = {
    "split_phase_120_240": 240.0,
    "wye_120_208": 208.0,
    "high_leg_delta_120_240": 240.0,
}
"""[V]; what a load's rated power between the legs refers to."""
PANELS: tuple[Point, ...] = ("service_panel", "sub_panel", "panel")
LOADED_STATES: tuple[LoadStateKind, ...] = ("running", "test_load")
"""Kinds of load state in which the conductors carry the appliance's current, or a test load's."""
LOW_IMPEDANCE_BELOW = 100e3
"""A voltmeter of less input impedance than this counts as low-impedance: it tests what it reads with a current of its
own [ohm]; a definition of this service, near the boundary of IEC 61243-3 (from memory)."""
FedFrom = Literal["service_panel", "sub_panel", "sub_panel_bonded", "unknown"]
Source = Literal["utility", "generator", "unknown"]

#: Kinds of load state that need no entry of their own: a label equal to one of them means that kind.
SELF_NAMED_STATES: tuple[LoadStateKind, ...] = ("disconnected", "idle", "running", "test_load")


class Run(Struct, frozen=True, kw_only=True):
    """The branch circuit's cable, as far as it is known."""

    size: str | None = None
    """Conductor size, "6 AWG" or "16 mm2"."""
    material: Material | None = None
    length: float | None = None
    """One-way length from service panel to receptacle [m]."""
    temperature: float | None = None
    """Conductor temperature [degC]."""


class Supply(Struct, frozen=True, kw_only=True):
    """What is known of the supply before any reading."""

    system: SystemName = "split_phase_120_240"
    frequency: float = 60.0
    """[Hz]"""
    equipment_ground: Presence = "unknown"
    frame_bonded_to_neutral: bool | None = None
    """None: not known."""
    neutral: bool = True
    """False: the receptacle (or hardwired appliance) has no neutral."""
    fed_from: FedFrom = "unknown"
    """The panel that the branch circuit leaves."""
    source: Source = "utility"
    receptacle: str | None = None
    """NEMA WD 6 designation, or `hardwired`; None: not stated."""
    run: Run = Run()

    @property
    def legs(self) -> tuple[Conductor, ...]:
        """The legs that there are."""
        return tuple(LEG_ANGLES[self.system])

    @property
    def one_leg(self) -> bool:
        """Whether there is no L2."""
        return "L2" not in self.legs

    @property
    def conductors(self) -> tuple[Conductor, ...]:
        """All conductors of the system, whether the outlet has a contact for them or not."""
        return (*self.legs, "N", "G")

    @property
    def carrying(self) -> tuple[Conductor, ...]:
        """Conductors of the outlet that carry the appliance's current: legs, and the neutral where there is one."""
        return (*self.legs, "N") if self.neutral else self.legs


class Voltmeter(Struct, frozen=True, kw_only=True, tag="voltmeter"):
    """A voltmeter and its loading of the circuit."""

    name: str
    input_impedance: float
    """Resistive input impedance [ohm]."""
    input_capacitance: float = 0.0
    """In parallel with it [F]."""
    accuracy_percent: float
    """Limit of error, share of the reading [%]."""
    accuracy_counts: float
    """Limit of error, counts of the resolution [1]."""
    resolution: float
    """Smallest step shown [V]."""
    proved: bool = False
    """Shown to work on a known source, before and after."""


class ProximityDetector(Struct, frozen=True, kw_only=True, tag="proximity_detector"):
    """A detector that signals near a conductor with voltage to earth."""

    name: str
    threshold: float
    """Voltage to earth at which it signals half the time [V]."""
    proved: bool = False
    """Shown to work on a known source, before and after."""


class ClampAmmeter(Struct, frozen=True, kw_only=True, tag="clamp_ammeter"):
    """A clamp round one conductor."""

    name: str
    accuracy_percent: float
    accuracy_counts: float
    resolution: float
    """[A]"""


class Ohmmeter(Struct, frozen=True, kw_only=True, tag="ohmmeter"):
    """An ohmmeter, used on an isolated circuit only."""

    name: str
    accuracy_percent: float
    accuracy_counts: float
    resolution: float
    """[ohm]"""


def is_low_impedance(meter: "Meter") -> bool:
    """Whether a meter is a low-impedance voltmeter."""
    return isinstance(meter, Voltmeter) and meter.input_impedance < LOW_IMPEDANCE_BELOW


def meter_kind(meter: "Meter") -> str:
    """The trade's name of a meter's kind."""
    if isinstance(meter, Voltmeter):
        return "low_impedance_voltmeter" if is_low_impedance(meter) else "high_impedance_voltmeter"
    return str(meter.__struct_config__.tag)


Meter = Voltmeter | ProximityDetector | ClampAmmeter | Ohmmeter


class Load(Struct, frozen=True, kw_only=True):
    """A known load between two conductors at the appliance terminals."""

    between: tuple[Conductor, Conductor]
    resistance: float
    """Series-equivalent resistance [ohm]."""
    reactance: float = 0.0
    """Series-equivalent reactance, inductive positive [ohm]."""
    tolerance_percent: float
    """Limit of error of its impedance [%]."""


class LoadState(Struct, frozen=True, kw_only=True):
    """One condition of the appliance; all readings under it share one circuit."""

    name: str
    kind: LoadStateKind
    loads: tuple[Load, ...] = ()
    """Known loads; empty where they are not known (or where nothing is connected)."""


class _Read(Struct, frozen=True, kw_only=True):
    """With what, under which condition and where a reading was taken."""

    meter: str
    load_state: str
    point: Point = "receptacle"
    id: str | None = None
    """The caller's own name of it."""
    repeats: str | None = None
    """Id of the reading that this one takes again."""


class VoltageReading(_Read, frozen=True, kw_only=True, tag="voltage"):
    """A voltage between two conductors, or a conductor and metalwork, at one point."""

    between: tuple[Terminal, Terminal]
    value: float
    """[V], a magnitude."""


class ProximityReading(_Read, frozen=True, kw_only=True, tag="proximity"):
    """Whether a proximity detector signalled at a conductor."""

    at: Conductor
    detected: bool


class CurrentReading(_Read, frozen=True, kw_only=True, tag="current"):
    """A current through a conductor."""

    through: Conductor
    value: float
    """[A], a magnitude."""


class ResistanceReading(_Read, frozen=True, kw_only=True, tag="resistance"):
    """A resistance between two conductors on the isolated circuit."""

    between: tuple[Conductor, Conductor]
    value: float
    """[ohm]; where `over_range`, the highest value that the meter could have shown."""
    over_range: bool = False
    range_stated: bool = True
    """Of an over-range reading: whether that highest value is the request's own, or the least that it may have been."""


Reading = VoltageReading | ProximityReading | CurrentReading | ResistanceReading


class Observation(Struct, frozen=True, kw_only=True):
    """Something that a person saw or was told, by its code."""

    code: str
    where: str | None = None
    """Of `lights_brighten_and_dim`: `same_panel` or `whole_building`; None: not said."""


class VisitDetails(Struct, frozen=True, kw_only=True):
    """Where, on what, by whom and when: for the head of the note."""

    site: str | None = None
    appliance: str | None = None
    """As the caller names it."""
    taken_by: str | None = None
    taken_at: str | None = None
    """A day, or a day and time (RFC 3339)."""
    calibration: str | None = None
    """Of the meters, in words."""


class ReadingSet(Struct, frozen=True, kw_only=True):
    """One visit's readings with the meters and the circuit conditions they were taken under."""

    reference: str | None = None
    supply: Supply = Supply()
    meters: dict[str, Meter] = {}
    load_states: dict[str, LoadState] = {}
    """Every label that a reading uses has an entry here, the self-named ones included."""
    readings: tuple[Reading, ...] = ()
    appliance: str = "other"
    """Kind of appliance."""
    observations: tuple[Observation, ...] = ()
    """What a person saw, each once."""
    base_rates: dict[str, float] | None = None
    """Base rate by fault, to stand in for the model's own; a fault that is not in it is not weighed. They are scaled
    to sum to 1."""
    visit: VisitDetails = VisitDetails()
    digest: str | None = None
    """Of the request that it came with; None: it came with none."""
