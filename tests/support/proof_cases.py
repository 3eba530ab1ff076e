"""Reading sets that the proofs run on: invented visits to a lakeside campground's ranges and water heaters."""

from feedproof.readings import (
    Conductor,
    Load,
    LoadState,
    Meter,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
    Run,
    Supply,
    SystemName,
)
from support.outcomes import CLAMP, DMM, LOZ, METERS, OHMS, amps, ohms, volts

LABELS: dict[str, LoadState] = {
    "disconnected": LoadState(name="disconnected", kind="disconnected"),
    "idle": LoadState(name="idle", kind="idle"),
    "running": LoadState(name="running", kind="running"),
    "heating": LoadState(
        name="heating",
        kind="running",
        loads=(Load(between=("L1", "L2"), resistance=12.0, tolerance_percent=5.0),),
    ),
    "one_side": LoadState(
        name="one_side",
        kind="test_load",
        loads=(Load(between=("L1", "N"), resistance=10.0, tolerance_percent=1.0),),
    ),
}
FOUR_WIRE = Supply(
    equipment_ground="present",
    frame_bonded_to_neutral=False,
    run=Run(size="6 AWG", material="copper", length=18.0),
)
UNKNOWN = Supply()
THREE_WIRE = Supply(equipment_ground="absent", frame_bonded_to_neutral=True, run=Run(size="10 AWG", length=12.0))


def over(a: Conductor, b: Conductor, highest: float) -> ResistanceReading:
    """Give an ohmmeter's display that shows no end of range."""
    return ResistanceReading(between=(a, b), value=highest, meter=OHMS.name, load_state="disconnected", over_range=True)


def near(at: Conductor, *, detected: bool, state: str = "idle") -> ProximityReading:
    """Give a proximity reading."""
    return ProximityReading(at=at, detected=detected, meter="pen", load_state=state)


def visit(*taken: Reading, supply: Supply = UNKNOWN, meters: dict[str, Meter] | None = None) -> ReadingSet:
    """Give a reading set with the meters and the load states that it uses."""
    known = METERS if meters is None else meters
    return ReadingSet(
        supply=supply,
        meters={r.meter: known[r.meter] for r in taken},
        load_states={r.load_state: LABELS[r.load_state] for r in taken},
        readings=taken,
    )


def of_system(system: SystemName, supply: Supply = FOUR_WIRE) -> Supply:
    """Give a supply of another system."""
    return Supply(system=system, equipment_ground=supply.equipment_ground, run=supply.run)


#: Each by what a technician would say of it.
#: An open neutral unplugged, and a bad one under a load on one leg.
PULLED = visit(volts("L1", "L2", 244.0), volts("L1", "N", 4.0, "loz"), volts("L2", "N", 4.0, "loz"), supply=FOUR_WIRE)
LOADED = visit(
    volts("L1", "L2", 240.0, state="one_side"),
    volts("L1", "N", 96.0, state="one_side"),
    volts("L2", "N", 144.0, state="one_side"),
    amps("N", 9.6, state="one_side"),
    supply=FOUR_WIRE,
)

CASES: dict[str, ReadingSet] = {
    "unloaded, high impedance, all plausible": visit(
        volts("L1", "L2", 243.1), volts("L1", "N", 121.8), volts("L2", "N", 121.4), supply=FOUR_WIRE
    ),
    "connected, neutral pulled to a leg": visit(
        volts("L1", "L2", 247.0, state="idle"), volts("L1", "N", 3.7, state="idle"), supply=FOUR_WIRE
    ),
    "low impedance, nothing behind the neutral": visit(
        volts("L1", "L2", 247.0), volts("L1", "N", 7.0, "loz"), volts("L2", "N", 7.0, "loz")
    ),
    "low impedance, all as it should be": visit(
        volts("L1", "L2", 242.0), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 121.0, "loz"), supply=FOUR_WIRE
    ),
    "neutral floating between strays": visit(
        volts("L1", "L2", 241.5),
        volts("L1", "N", 96.0),
        volts("L2", "N", 131.0),
        volts("N", "G", 18.0),
        supply=FOUR_WIRE,
    ),
    "bad neutral under a known load": visit(
        volts("L1", "L2", 240.5, state="one_side"),
        volts("L1", "N", 96.5, state="one_side"),
        volts("L2", "N", 142.6, state="one_side"),
        volts("N", "G", 23.1, state="one_side"),
        supply=FOUR_WIRE,
    ),
    "bad leg while heating": visit(
        volts("L1", "L2", 229.0, state="heating"),
        volts("L1", "N", 108.4, state="heating"),
        volts("L2", "N", 120.9, state="heating"),
        volts("L1", "N", 121.9),
        amps("L1", 19.1),
        supply=FOUR_WIRE,
    ),
    "lost leg seen through an element": visit(
        volts("L1", "L2", 0.4, state="idle"),
        volts("L1", "N", 121.0, state="idle"),
        volts("L2", "N", 120.8, state="idle"),
    ),
    "lost leg on an empty outlet": visit(
        volts("L1", "L2", 2.0, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 1.0, "loz"), supply=FOUR_WIRE
    ),
    "legs apart, ground read": visit(
        volts("L1", "L2", 241.0, state="running"),
        volts("L1", "N", 133.8, state="running"),
        volts("L2", "N", 107.1, state="running"),
        volts("N", "G", 0.3, state="running"),
        supply=FOUR_WIRE,
    ),
    "nothing there": visit(
        volts("L1", "L2", 0.0, "loz"), volts("L1", "N", 0.0, "loz"), volts("L2", "N", 0.0, "loz"), supply=FOUR_WIRE
    ),
    "low all over": visit(
        volts("L1", "L2", 203.0), volts("L1", "N", 101.0, "loz"), volts("L2", "N", 102.0, "loz"), supply=FOUR_WIRE
    ),
    "two legs of a wye": visit(
        volts("L1", "L2", 209.0), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 120.0, "loz"), supply=FOUR_WIRE
    ),
    "isolated, neutral to ground": visit(
        ohms("N", "G", 6.4),
        volts("L1", "N", 121.3),
        volts("L2", "N", 121.0),
        volts("L1", "L2", 242.6),
        supply=FOUR_WIRE,
    ),
    "isolated, no end of range": visit(over("N", "G", 40e6), volts("L1", "N", 118.0), supply=FOUR_WIRE),
    "panel and terminals, heating": visit(
        volts("L1", "L2", 242.0, state="heating", point="service_panel"),
        volts("L1", "L2", 236.5, state="heating", point="receptacle"),
        volts("L1", "L2", 226.0, state="heating", point="appliance_terminals"),
        volts("L1", "N", 121.1, state="heating", point="appliance_terminals"),
        supply=FOUR_WIRE,
    ),
    "leg and ground changed": visit(
        volts("L1", "N", 0.2, state="idle"),
        volts("L1", "G", 121.2, state="idle"),
        volts("N", "G", 121.0, state="idle"),
        volts("L2", "N", 121.4, state="idle"),
        near("G", detected=True),
        supply=FOUR_WIRE,
    ),
    "three wires, frame on the neutral": visit(
        volts("L1", "L2", 244.0, state="idle"),
        volts("L1", "N", 150.0, state="idle"),
        volts("L2", "N", 94.0, state="idle"),
        near("N", detected=True),
        supply=THREE_WIRE,
    ),
    "bonded frame, four wires": visit(
        volts("L1", "L2", 244.0, state="idle"),
        volts("L1", "N", 122.0, state="idle"),
        volts("N", "G", 0.0, state="idle"),
        supply=Supply(equipment_ground="present", frame_bonded_to_neutral=True),
    ),
    "neutral floating, sum exact": visit(
        volts("L1", "L2", 240.0), volts("L1", "N", 90.0), volts("L2", "N", 150.0), volts("N", "G", 30.0)
    ),
    "legs far apart, ground read": visit(
        volts("L1", "L2", 240.0, state="running"),
        volts("L1", "N", 154.5, state="running"),
        volts("L2", "N", 85.5, state="running"),
        volts("N", "G", 0.1, state="running"),
        supply=FOUR_WIRE,
    ),
    "single phase, bad neutral": visit(
        volts("L1", "N", 112.0, state="running"),
        volts("N", "G", 8.5, state="running"),
        amps("N", 6.1, state="running"),
        supply=of_system("single_phase_120"),
    ),
    "high leg": visit(
        volts("L1", "L2", 242.0),
        volts("L1", "N", 208.0),
        volts("L2", "N", 121.0),
        supply=of_system("high_leg_delta_120_240"),
    ),
    "wye as stated": visit(
        volts("L1", "L2", 207.5), volts("L1", "N", 119.6), volts("L2", "N", 120.4), supply=of_system("wye_120_208")
    ),
    "readings that contradict": visit(
        volts("L1", "L2", 241.0),
        volts("L1", "N", 35.0, "loz"),
        volts("L2", "N", 121.0, "loz"),
        volts("L2", "N", 80.0, "loz"),
    ),
    "running, legs nearly alike": visit(
        volts("L1", "L2", 243.0, state="running"),
        volts("L1", "N", 120.6, state="running"),
        volts("L2", "N", 122.2, state="running"),
        volts("N", "G", 0.2, state="running"),
        supply=FOUR_WIRE,
    ),
    "clamp on the neutral": visit(
        amps("L1", 21.0), amps("L2", 19.8), amps("N", 1.3), volts("L1", "L2", 239.0, state="heating"), supply=UNKNOWN
    ),
}

METERS_USED = (DMM, LOZ, CLAMP, OHMS)
