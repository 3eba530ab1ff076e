"""Every number that the model believes before it sees a reading, each with its reason.

The values are published with the model and enter its digest. Unless a source is named they are the project's
own judgment, to be replaced per request (`base_rates`) or by fleet data where there is any. A *spread* is the
standard deviation of the natural logarithm.
"""

import hashlib
from collections.abc import Mapping

import msgspec
from msgspec import Struct

#: Changes whenever an answer may change: model structure, priors or the way of computing.
MODEL_VERSION = "2.1.0"


class Priors(Struct, frozen=True, kw_only=True, cache_hash=True):
    """The published priors, in SI units."""

    # --- supply voltage, leg to grounded point, as a share of the system's nominal -------------------------
    supply_center: float = 121.0 / 120.0
    """Usual service voltage: a little above nominal [1]."""
    supply_spread: float = 0.022
    """[1]"""
    supply_range: tuple[float, float] = (114.0 / 120.0, 126.0 / 120.0)
    """ANSI C84.1 range A at the service, 114 to 126 V on a 120 V base: what `voltage_low` and `voltage_high`
    lie outside of (limits read from a state rule that copies them, COMAR 20.50.07.02)."""
    low_spread: float = 0.12
    """How far below the range a low supply lies: half-normal in the logarithm [1]."""
    high_spread: float = 0.06
    """How far above the range a high supply lies [1]."""
    low_floor: float = 0.35
    """Below this share of nominal a leg counts as lost, not low [1]."""
    high_ceiling: float = 1.6
    leg_asymmetry: float = 0.004
    """Sound service: ± on each leg, from 10 A of unbalance in some tens of milliohms [1]."""

    # --- sound series resistance ---------------------------------------------------------------------------
    branch_resistance: float = 0.06
    """Run of unknown size and length: median of conductor and its joints [ohm]. 50 ft of 10 AWG copper is
    0.06 ohm (NEC chapter 9, table 8)."""
    branch_spread: float = 0.6
    joint_resistance: float = 0.01
    """Breaker, terminals and receptacle contacts added to a run of known size [ohm]."""
    known_run_spread: float = 0.15
    cord_resistance: float = 0.015
    """Cord and plug contacts [ohm]."""
    cord_spread: float = 0.5
    service_leg_resistance: float = 0.02
    """Transformer and service drop, each leg [ohm]."""
    service_neutral_resistance: float = 0.03
    unexplained_resistance: float = 0.5
    """Most that a sound path of unknown run can explain; beyond it is `high_resistance` [ohm]."""
    known_run_margin: float = 1.5
    """Same for a run of known size and length: this many times its resistance, plus
    `known_run_allowance` [1]."""
    known_run_allowance: float = 0.03
    open_resistance: float = 1.0e3
    """From here on a path is called open [ohm]."""
    open_ceiling: float = 1.0e9
    """Log-uniform up to here; beyond it strays and leakage hide the difference [ohm]."""
    breaker_open: tuple[float, float] = (1.0e7, 1.0e10)
    """A supply that is switched off, per leg [ohm]."""

    # --- service side ----------------------------------------------------------------------------------------
    electrode_resistance: float = 25.0
    """Grounding electrode and earth back to the transformer: median [ohm] (NEC 250.53(A)(2) figure)."""
    house_resistance: float = 15.0
    """House load on each leg: median [ohm], 8 A at 120 V."""
    house_spread: float = 0.8
    open_shift: float = 0.2
    """With the service neutral open: how far the legs move apart, ± on each, standard deviation [1]. A third of
    nominal is 12 ohm against 6 ohm on the two legs."""
    weak_shift: float = 0.2
    """The same with a bad joint in it [1]: as far, since half of its range of resistances shifts the legs as an open
    one does."""
    open_return: tuple[float, float] = (5.0, 0.8)
    """What holds the panel's neutral then: house loads and a 25 ohm electrode in parallel; median [ohm] and
    spread."""
    weak_return: tuple[float, float] = (2.5, 1.0)
    """The same with a bad joint of 0.5 ohm or more in parallel [ohm]."""
    changing_asymmetry: float = 0.01
    """With a service neutral at fault: ± on each leg, from one load state to the next [1]."""

    # --- strays ----------------------------------------------------------------------------------------------
    stray_capacitance: float = 69.0e-12
    """Between two conductors of the run [F/m]. Measured on NM 14-2 cable: 5.26 nF in 250 ft (Nuts and Volts,
    "The capacitance connection")."""
    run_length: float = 15.0
    """Where it is not stated [m]."""
    run_length_spread: float = 0.6
    stray_spread: float = 0.25
    """Of all strays of a run of known length together."""
    pair_spread: float = 0.5
    """Of each pair by itself, capacitance and leakage alike: round cable, flat cable, wires in conduit, a damp
    spot nearer to one conductor."""
    contact_capacitance: float = 1.0e-12
    """Of a bare contact to each of the others [F]. What floats beyond an open conductor has about that much where it is
    open at its end, and the whole run's where it is open at its beginning."""
    position_spread: float = 0.33
    """Of the floating part's capacitance about the middle between the two, as a share of their logarithmic distance:
    both ends lie at 1.5 standard deviations [1]. None floats that has more than the whole run."""
    cord_stray_capacitance: float = 150.0e-12
    """Cord and the appliance's own wiring, per pair [F]."""
    leakage_resistance: float = 2.0e7
    """Surface leakage per pair: median [ohm]; from tens of kilohms to gigohms."""
    leakage_spread: float = 2.3
    leakage_share_power: float = 0.5
    """Of a part of the run, leakage goes with this power of the part [1]: some of it is along the cable, some on the
    device at its end."""

    # --- appliance -------------------------------------------------------------------------------------------
    idle_resistance: float = 1.5e4
    """Connected but not started, per conductor pair: control board, clock, lamp, filter: median [ohm]."""
    idle_spread: float = 2.2
    idle_across_resistance: float = 2.0e3
    """Leg to leg while not started: motor of a timer, transformer, or an element that stays connected [ohm]."""
    idle_across_spread: float = 2.8
    running_resistance: float = 22.0
    """Heating element leg to leg: 8 to 60 ohm."""
    running_spread: float = 0.5
    running_auxiliary_resistance: float = 500.0
    """Leg to neutral while running: motor, fan, lamp, board [ohm]."""
    running_auxiliary_spread: float = 2.0
    running_beside_resistance: float = 3.0e3
    """The same, where the loads that run are stated and this is what else is there [ohm]."""
    running_beside_spread: float = 2.5
    least_side_resistance: float = 10.0
    """No appliance has less from leg to neutral, started or not: 12 A at 120 V [ohm]."""
    least_across_resistance: float = 6.0
    """Nor less from leg to leg: 40 A at 240 V; a breaker would not hold [ohm]."""
    load_angle: float = 0.25
    """Standard deviation of the angle of an unknown leg-to-neutral load [rad]."""
    frame_bond_resistance: float = 0.05
    """Strap from frame to neutral [ohm]."""

    # --- readings --------------------------------------------------------------------------------------------
    supply_drift: float = 0.003
    """The supply moves between readings taken one after another [1]."""
    person_rounding_volts: float = 0.3
    """People call out whole volts: step / sqrt(12) (GUM, rectangular distribution) [V]."""
    person_rounding_relative: float = 0.003
    """Currents and resistances are called out to two or three figures [1]."""
    lead_resistance: float = 0.15
    """Test leads and probe contact, on an ohmmeter [ohm]."""
    tail_degrees: float = 4.0
    """Student t: readings on a job scatter more than a normal law allows [1]."""
    misread_share: float = 0.005
    """A reading that has nothing to do with the circuit: wrong range, wrong pair, broken lead [1]."""
    inconsistent_share: float = 0.5
    """The same under `readings_inconsistent` [1]."""
    misread_range_volts: float = 300.0
    misread_range_amperes: float = 60.0
    misread_decades_ohms: float = 8.0
    """A misread resistance is log-uniform over this many decades [1]."""
    proximity_false_signal: float = 0.05
    """Signals from a neighbor's field [1]."""
    proximity_missed_signal: float = 0.1
    """Stays silent at full voltage: shielding, a user who is insulated from ground [1]."""
    proximity_steepness: float = 3.0
    """Exponent of the logistic rise around the threshold [1]."""
    proximity_floor: float = 0.1
    """A proximity detector sees no voltage below this [V]."""


PRIORS = Priors()

#: Base rates among visits to an appliance that does not start or misbehaves: our own judgment, no source. A
#: fault that may sit on either leg shares its rate between them. Pairs of faults have rates of their own.
BASE_RATES: dict[str, float] = {
    "none_found": 0.587,
    "open_neutral": 0.055,
    "high_resistance_neutral": 0.040,
    "open_leg": 0.045,
    "high_resistance_leg": 0.040,
    "open_service_neutral": 0.010,
    "high_resistance_service_neutral": 0.020,
    "open_feeder_neutral": 0.005,
    "high_resistance_feeder_neutral": 0.008,
    "breaker_open": 0.045,
    "no_supply": 0.020,
    "voltage_low": 0.020,
    "voltage_high": 0.010,
    "other_supply_system": 0.012,
    "legs_from_same_pole": 0.005,
    "leg_neutral_transposed": 0.005,
    "leg_ground_transposed": 0.003,
    "neutral_ground_transposed": 0.004,
    "neutral_ground_joined": 0.006,
    "open_ground": 0.022,
    "leak_to_ground": 0.010,
    "intermittent_connection": 0.004,
    "tester_dead": 0.012,
    "neutral_not_bonded": 0.002,
    "readings_inconsistent": 0.010,
}

#: Of a fault's base rate, the share that comes with a second fault at the same time: our own judgment.
PAIR_SHARE: dict[tuple[str, str], float] = {
    ("open_neutral", "open_ground"): 0.06,
    ("high_resistance_leg", "high_resistance_leg"): 0.08,
    ("open_leg", "open_neutral"): 0.03,
    ("high_resistance_leg", "high_resistance_neutral"): 0.05,
}


def completed_rates(stated: Mapping[str, float]) -> dict[str, float]:
    """Base rates of every fault, where only some are stated: a fault left out keeps its published rate.

    Numbers of at most 1 are shares of visits and stand beside the published ones. Where one is above 1 they are counts
    of visits, which say only how the faults they name compare: those then have together what the published rates give
    them together.

    Parameters
    ----------
    stated : mapping of str to float
        By fault, at least 0 [1]; 0 removes the fault.

    Returns
    -------
    dict of str to float
        Every fault of `BASE_RATES`. They may sum to something else than 1 [1].
    """
    scale = 1.0
    if any(rate > 1.0 for rate in stated.values()):
        scale = sum(BASE_RATES[fault] for fault, rate in stated.items() if rate > 0.0) / sum(stated.values())
    return BASE_RATES | {fault: scale * rate for fault, rate in stated.items()}


def priors_digest(priors: Priors = PRIORS, base_rates: dict[str, float] | None = None) -> str:
    """SHA-256 over model version, priors and base rates, hexadecimal.

    Parameters
    ----------
    priors : Priors
        The priors in force.
    base_rates : dict of str to float, optional
        Base rates in force [1]; the published ones if left out.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    rates = BASE_RATES if base_rates is None else base_rates
    pairs = sorted((*names, share) for names, share in PAIR_SHARE.items())
    published = (MODEL_VERSION, msgspec.structs.asdict(priors), sorted(rates.items()), pairs)
    return hashlib.sha256(msgspec.json.encode(published, order="deterministic")).hexdigest()
