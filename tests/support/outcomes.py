"""Outcomes and reading sets built by hand: numbers stated outright, no inference behind them.

The scenario is invented: the electric ranges and water heaters of a lakeside campground.
"""

from collections.abc import Sequence

from feedproof.contract.assessment import Assumption, ModelIdentity
from feedproof.inference import (
    Candidate,
    Expectation,
    Hazards,
    Interval,
    Limit,
    NeutralVoltage,
    Outcome,
    PathResistance,
    Prospect,
    ReadingEvidence,
)
from feedproof.readings import (
    ClampAmmeter,
    Conductor,
    CurrentReading,
    Load,
    LoadState,
    Meter,
    Ohmmeter,
    Point,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Supply,
    VoltageReading,
    Voltmeter,
)

DMM = Voltmeter(
    name="dmm",
    input_impedance=10e6,
    input_capacitance=100e-12,
    accuracy_percent=0.8,
    accuracy_counts=3,
    resolution=0.1,
)
LOZ = Voltmeter(name="loz", input_impedance=3e3, accuracy_percent=1.5, accuracy_counts=3, resolution=1.0)
PEN = ProximityDetector(name="pen", threshold=50.0)
CLAMP = ClampAmmeter(name="clamp", accuracy_percent=2.0, accuracy_counts=3, resolution=0.01)
OHMS = Ohmmeter(name="ohms", accuracy_percent=1.0, accuracy_counts=3, resolution=0.1)
METERS: dict[str, Meter] = {meter.name: meter for meter in (DMM, LOZ, PEN, CLAMP, OHMS)}

STATES = {
    "disconnected": LoadState(name="disconnected", kind="disconnected"),
    "idle": LoadState(name="idle", kind="idle"),
    "heating": LoadState(
        name="heating",
        kind="running",
        loads=(Load(between=("L1", "L2"), resistance=12.0, tolerance_percent=10.0),),
    ),
}

NO_HAZARD = Hazards(
    neutral_above_30_volts=0.0,
    neutral_fault=0.0,
    service_neutral_fault=0.0,
    frame_live=0.0,
    heat_above_5_watts=0.0,
    heat_above_30_watts=0.0,
    leg_live=0.0,
)

MODEL = ModelIdentity(version="0.0.0-test", priors_digest="0" * 64, request_digest=None)

ASSUMPTION = Assumption(pointer="/meters/dmm/input_impedance", value=1.0e7, unit="ohm", basis="typical of its kind")


def volts(
    a: Conductor,
    b: Conductor,
    value: float,
    meter: str = "dmm",
    state: str = "disconnected",
    point: Point = "receptacle",
) -> VoltageReading:
    """Give a voltage reading."""
    return VoltageReading(between=(a, b), value=value, meter=meter, load_state=state, point=point)


def amps(through: Conductor, value: float, state: str = "heating", point: Point = "receptacle") -> CurrentReading:
    """Give a current reading."""
    return CurrentReading(through=through, value=value, meter="clamp", load_state=state, point=point)


def ohms(
    a: Conductor, b: Conductor, value: float, state: str = "disconnected", point: Point = "receptacle"
) -> ResistanceReading:
    """Give a resistance reading."""
    return ResistanceReading(between=(a, b), value=value, meter="ohms", load_state=state, point=point)


def near(at: Conductor, *, detected: bool, state: str = "idle") -> ProximityReading:
    """Give a proximity reading."""
    return ProximityReading(at=at, detected=detected, meter="pen", load_state=state)


def readings(*taken: Reading, supply: Supply | None = None, meters: dict[str, Meter] | None = None) -> ReadingSet:
    """Give a reading set with the meters that it uses, or with those given."""
    used = {reading.meter: METERS[reading.meter] for reading in taken} if meters is None else meters
    return ReadingSet(
        reference="cabin-12/range",
        supply=Supply() if supply is None else supply,
        meters=used,
        load_states=STATES,
        readings=taken,
    )


#: Narrow place of each fault, where a test states none.
PLACES = {
    "none_found": "none",
    "open_neutral": "branch_neutral",
    "high_resistance_neutral": "branch_neutral",
    "open_leg": "branch_leg",
    "high_resistance_leg": "branch_leg",
    "open_service_neutral": "service_neutral",
    "high_resistance_service_neutral": "service_neutral",
    "open_feeder_neutral": "feeder_neutral",
    "high_resistance_feeder_neutral": "feeder_neutral",
    "no_supply": "supply_lost",
    "breaker_open": "breaker",
    "voltage_low": "supply_voltage",
    "voltage_high": "supply_voltage",
    "leg_neutral_transposed": "transposed",
    "leg_ground_transposed": "transposed",
    "neutral_ground_transposed": "transposed",
    "neutral_ground_joined": "joined",
    "open_ground": "ground",
    "intermittent_connection": "branch_leg",
    "tester_dead": "tester",
    "readings_inconsistent": "readings",
}


def candidate(
    fault: str,
    probability: float,
    conductor: Conductor | None = None,
    *,
    log_evidence: float = -10.0,
    base_rate: float = 0.01,
    location: str | None = None,
    also: tuple[tuple[str, Conductor | None], ...] = (),
) -> Candidate:
    """Give a candidate."""
    return Candidate(
        fault=fault,
        conductor=conductor,
        location=location,
        also=also,
        base_rate=base_rate,
        probability=probability,
        place=PLACES.get(fault, fault),
        also_place=PLACES.get(also[0][0], also[0][0]) if also else None,
        degree="open" if fault.startswith("open_") else "high_resistance" if fault.startswith("high_") else None,
        log_evidence=log_evidence,
    )


def speaking(
    reading: int, bits: float, observed: float = 3.7, unit: str = "V", test_current: float | None = None
) -> ReadingEvidence:
    """Give the evidence of one reading."""
    return ReadingEvidence(
        reading=reading,
        observed=observed,
        unit=unit,
        sound=(118.0, 126.0),
        finding=(1.0, 40.0),
        bits=bits,
        test_current=test_current,
    )


def limits(leg_1: float | None, leg_2: float | None, neutral: float | None) -> tuple[Limit, ...]:
    """Give the detection limits of the three conductors [ohm]."""
    return (
        Limit(conductor="L1", resistance=leg_1),
        Limit(conductor="L2", resistance=leg_2),
        Limit(conductor="N", resistance=neutral),
    )


def prospect(
    kind: str = "voltage",
    conductors: tuple[Conductor, ...] = ("L1", "N"),
    *,
    information: float = 0.4,
    meter_kind: str = "low_impedance_voltmeter",
    meter: str | None = None,
    state: str = "idle",
    point: Point = "receptacle",
    separates: tuple[tuple[str, Conductor | None], tuple[str, Conductor | None]] | None = (
        ("none", None),
        ("branch_neutral", None),
    ),
    repeats: int | None = None,
    expected: tuple[Expectation, ...] = (),
) -> Prospect:
    """Give a reading that could be taken next."""
    return Prospect(
        kind=kind,
        conductors=conductors,
        point=point,
        meter=meter,
        meter_kind=meter_kind,
        load_state=state,
        load_state_kind=STATES[state].kind,
        information=information,
        separates=separates,
        repeats=repeats,
        expected=expected,
    )


def interval(value: float, low: float, high: float, bound: str = "two_sided") -> Interval:
    """Give an interval."""
    return Interval(value=value, low=low, high=high, bound=bound)


def outcome(
    candidates: Sequence[Candidate],
    *,
    evidence: Sequence[ReadingEvidence] = (),
    detection: Sequence[Limit] = (),
    prospects: Sequence[Prospect] = (),
    hazards: Hazards = NO_HAZARD,
    neutral: Sequence[NeutralVoltage] = (),
    resistances: Sequence[PathResistance] = (),
) -> Outcome:
    """Give an outcome."""
    return Outcome(
        candidates=tuple(candidates),
        neutral_voltages=tuple(neutral),
        resistances=tuple(resistances),
        limits=tuple(detection),
        evidence=tuple(evidence),
        prospects=tuple(prospects),
        hazards=hazards,
    )


def open_neutral_case() -> tuple[ReadingSet, Outcome]:
    """Give the trade's example: 247 V leg to leg and 3.7 V leg to neutral with the appliance connected."""
    reading_set = readings(volts("L1", "L2", 247.0, state="idle"), volts("L1", "N", 3.7, state="idle"))
    inferred = outcome(
        [
            candidate("open_neutral", 0.981, "N", log_evidence=-9.0, location="upstream_of_receptacle"),
            candidate("high_resistance_neutral", 0.012, "N", log_evidence=-13.0),
            candidate("leg_neutral_transposed", 0.006, "L1", log_evidence=-14.0),
            candidate("none_found", 0.0004, log_evidence=-25.0),
        ],
        evidence=[
            ReadingEvidence(
                reading=0, observed=247.0, unit="V", sound=(234.0, 250.0), finding=(234.0, 250.0), bits=0.0
            ),
            speaking(1, 18.2),
        ],
        detection=limits(9.0e3, 9.0e3, 40.0),
        prospects=[
            prospect(meter="loz"),
            prospect("resistance", ("N", "G"), information=0.2, meter_kind="ohmmeter", state="disconnected"),
        ],
        hazards=Hazards(
            neutral_above_30_volts=0.98,
            neutral_fault=0.993,
            service_neutral_fault=0.0,
            frame_live=0.4,
            heat_above_5_watts=0.002,
            heat_above_30_watts=0.0,
            leg_live=1.0,
        ),
        neutral=[
            NeutralVoltage(
                load_state="idle", point="receptacle", during_reading=None, interval=interval(119.7, 117.0, 122.0)
            )
        ],
        resistances=[
            PathResistance(
                conductor="L1", point="receptacle", interval=interval(0.07, 0.02, 0.2, "at_most"), heat=None
            ),
            PathResistance(
                conductor="N", point="receptacle", interval=interval(2.0e6, 9.0e3, 9.0e8, "at_least"), heat=None
            ),
        ],
    )
    return reading_set, inferred
