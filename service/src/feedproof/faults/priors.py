"""Every number that the model believes before it sees a reading, each with its reason.

The values are published with the model and enter its digest. Unless a source is named they are the project's
own judgment, to be replaced per request (`base_rates`) or by fleet data where there is any. A *spread* is the
standard deviation of the natural logarithm.
"""

import hashlib
from collections.abc import Mapping

import msgspec
from msgspec import Struct

from feedproof.faults.seen import OBSERVED

#: Changes whenever an answer may change: model structure, priors or the way of computing.
MODEL_VERSION = "2.1.0"


class Priors(Struct, frozen=True, kw_only=True, cache_hash=True):
    """The published priors, in SI units."""

    # --- supply voltage, leg to grounded point, as a share of the system's nominal -------------------------
    supply_range: tuple[float, float] = (114.0 / 120.0, 126.0 / 120.0)
    """ANSI C84.1 range A at the service, 114 to 126 V on a 120 V base: what `voltage_low` and `voltage_high`
    lie outside of (limits read from a state rule that copies them, COMAR 20.50.07.02)."""
    supply_logit: tuple[float, float] = (0.34, 0.85)
    """A sound supply within its range: its share of the (logarithmic) range is logistic-normal, center and spread [1].
    About 121 V with a spread of some 2.3 V: usual service voltage is a little above nominal."""
    level_least: float = 0.002
    """Logarithmic distance from the range at which a low or high supply begins [1]: a quarter of a volt."""
    low_spread: float = 0.12
    """How far below the range most low supplies lie, as a logarithm [1]."""
    high_spread: float = 0.06
    """How far above the range most high supplies lie [1]."""
    low_most: float = 1.0
    """Farthest below it [1]: under a third of nominal a leg counts as lost, not low."""
    high_most: float = 0.45
    """Farthest above it [1]: 1.6 times nominal."""
    level_near_share: float = 0.68
    """Of those within these spreads [1], as of a half-normal law."""
    level_slopes: tuple[float, float] = (1.0, -2.2)
    """Of the logarithm of the density over the logarithm of the distance, within the spread and beyond it [1]."""
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
    service_spread: float = 0.5
    feeder_resistance: float = 0.03
    """Each conductor of a feeder [ohm]: 60 ft of 6 AWG copper (NEC chapter 9, table 8)."""
    feeder_spread: float = 0.6
    sound_reach: float = 1.6449
    """Most that a sound run of unknown size or length can explain: its 95 % point [standard deviations]. What has
    more is `high_resistance`, however little that is: 0.3 ohm make 170 W at 24 A."""
    known_run_margin: float = 1.5
    """Same for a run of known size and length: this many times its resistance, plus
    `known_run_allowance` [1]."""
    known_run_allowance: float = 0.03

    # --- faults ----------------------------------------------------------------------------------------------
    upstream_resistance: float = 0.1
    """From here on a service's or feeder's neutral has a bad joint [ohm]: three times a sound one."""
    open_resistance: float = 1.0e3
    """From here on a path is called open [ohm]."""
    open_ceiling: float = 1.0e9
    """Log-uniform up to here; beyond it strays and leakage hide the difference [ohm]."""
    breaker_open: tuple[float, float] = (1.0e7, 1.0e10)
    """A breaker that is off, per leg [ohm]."""
    lost_leg_resistance: float = 1.0e8
    """A supply that is switched off, per leg [ohm]."""
    leak_resistance: tuple[float, float] = (3.0, 1.0e5)
    """Log-uniform, of an element that leaks to its sheath [ohm]: below, a breaker does not hold; above, a meter sees
    no more of it than of a damp run."""
    bridge_resistance: float = 0.005
    """Neutral and ground joined: a strap or a screw [ohm]. 0.1 m of copper of 5 mm2 has 0.0003 ohm (1.72e-8 ohm m), its
    contacts the rest."""
    missing_ground_resistance: float = 1.0e7
    """Ground wire behind a false ground [ohm]."""
    intermittent_resistance: float = 3.0
    """Least of a joint that comes and goes, while it is bad [ohm]."""
    leg_in_service: float = 0.15
    """Shares of a leg's base rate by section; a section that no reading could see gives its own to the others [1]."""
    leg_in_feeder: float = 0.08
    leg_in_branch: float = 0.60
    leg_in_cord: float = 0.17
    neutral_in_branch: float = 0.75
    """The same of a branch neutral [1]."""
    neutral_in_cord: float = 0.25
    weak_supply: float = 0.06
    """Of bad legs, those where both have more resistance alike ahead of the panel [1]: a long or small service."""
    weak_supply_resistance: float = 0.3
    """From here on, each leg [ohm]: 7 V at 24 A, which no sound service takes."""
    known_feeder: float = 3.0
    """A feeder's neutral is so many times as often at fault where there is known to be a sub-panel [1]: about a
    third of visits are behind one."""
    idle_panel_share: float = 0.15
    """Of sub-panels, those with nothing else on [1]."""
    wye_share: float = 0.05
    """Of lost service neutrals said to be split-phase, those of two legs of a wye [1]."""
    transposed_in_cord: float = 0.3
    """Of exchanged conductors, those exchanged in the cord, at its plug or its terminal block [1]: the ends that are
    wired on a visit."""
    neutral_on_other_leg: float = 0.1
    """Of legs and neutrals exchanged on a circuit of one leg, those where the neutral is on the other leg [1].
    On a circuit of both legs it is not expected: it has stood the day it was wired."""
    live_ground_contact: float = 0.006
    """Of exchanged legs and grounds at an outlet, those where the leg stands on both contacts [1]."""
    joined_at_receptacle: float = 0.35
    """Of false grounds, those at the receptacle beside a sound ground wire [1]."""
    joined_without_ground: float = 0.40
    """Of false grounds, those that stand in for a ground wire that is not there [1]."""
    joined_in_appliance: float = 0.25
    """Of false grounds, straps left in an appliance with a four-wire cord [1]."""
    stated_strap: float = 0.98
    """Of supplies that would be sound but for a frame that is said to be bonded to the neutral beside an equipment
    ground, those where it is so [1]: a joint that belongs on three wires alone (NEC 250.140, from memory)."""
    proved_share: float = 0.03
    """Of dead testers, those that were proved before and after [1]."""
    generator_unbonded: float = 50.0
    """A generator's neutral is so many times as often not bonded as a service's [1]: portable ones often float."""

    # --- service side, feeder and what else is on --------------------------------------------------------------
    electrode_resistance: float = 20.0
    """Grounding electrode, pipes and earth back to the transformer: median [ohm]. A single rod that has more than
    25 ohm asks for a second one (NEC 250.53(A)(2)): a threshold, no median."""
    electrode_spread: float = 1.3
    """From a water main of 2 ohm to a rod in sand of 200 ohm."""
    house_resistance: float = 20.0
    """House load on each leg: median [ohm], 6 A at 120 V."""
    house_spread: float = 1.2
    """From 60 W where nobody is in to 8 kW where supper is cooked, two spreads to either side."""
    house_across_resistance: float = 400.0
    """House load leg to leg, which feeds a lost leg back: median [ohm], 0.6 A at 240 V."""
    house_across_spread: float = 3.0
    """From a water heater and more to next to nothing: at any one time many houses have no such load on."""
    sub_resistance: float = 25.0
    """The same behind a sub-panel, on each leg [ohm]: 5 A at 120 V."""
    sub_spread: float = 1.1
    sub_across_resistance: float = 800.0
    """The same leg to leg [ohm]."""
    sub_across_spread: float = 3.0
    least_house_resistance: float = 1.0
    """No building has less from leg to neutral [ohm]: 120 A at 120 V."""
    least_house_across_resistance: float = 4.0
    """Nor leg to leg [ohm]: 60 A at 240 V."""
    load_change: float = 0.12
    """By how much the other loads of a building change from one load state to the next [1]."""
    feeder_most: float = 6.5
    """Most that other loads put along the neutral of a sound feeder [V], and between neutral and ground at every outlet
    behind it. Good practice keeps a feeder's drop below 3 % (NEC 215.2(A), informational note, from memory): with all
    of the load on one leg half of that, 1.8 V, stands along the neutral."""
    feeder_bend: float = 3.8
    """Where that law bends, of a standard normal [1]: one in three is above 0.3 V, one in twenty above 1 V."""
    feeder_near: float = 0.15
    """Its slope about 0, as a share of the most over the bend [1]: loads are mostly near balance."""
    unknown_feeder_near: float = 0.005
    """The same where there may be no feeder [1]: two houses of three have no sub-panel."""

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
    contact_capacitance: float = 0.3e-12
    """Of a bare contact to each of the others [F]. What floats beyond an open conductor has about that much where it is
    open at its end, and the whole run's where it is open at its beginning."""
    position_spread: float = 6.0
    """Of the share of the run that floats, logistic-normal about a half [1]: most breaks lie near either end, where
    the joints are."""
    beside_capacitance: float = 1.0e-12
    """Across the open contact of a leg, and to whatever live wire runs beside the dead one: median [F]."""
    beside_spread: float = 1.8
    cord_stray_capacitance: float = 150.0e-12
    """Cord and the appliance's own wiring, per pair [F]."""
    frame_capacitance: float = 2.0e-9
    """Of the whole wiring to all ground conductors, where these are not bonded: median, per conductor [F]; 30 m of
    cable."""
    frame_capacitance_spread: float = 1.2
    generator_capacitance: float = 5.0e-10
    """The same on a generator [F]: from its own cord to the wiring of a house."""
    generator_capacitance_spread: float = 2.0
    leakage_resistance: float = 2.0e7
    """Surface leakage per pair: median [ohm]; from tens of kilohms to gigohms."""
    leakage_spread: float = 2.3
    insulation_resistance: float = 1.0e8
    """What an ohmmeter finds between two conductors of run and sound appliance on the circuit that is off: median
    [ohm]. Nineteen of twenty sound appliances then have 1 Mohm or more from both legs to the frame, where the rule of
    thumb for low-voltage equipment puts its limit, and half of them more than a meter's range of some tens of megohms
    (common practice, no source)."""
    insulation_spread: float = 2.2
    """Of all pairs together: damp, dirt, age."""
    insulation_leg_spread: float = 1.0
    """Of each leg by itself."""
    insulation_least: float = 2.0e5
    """No sound pair has less [ohm]: from both legs to the frame then 100 kohm, below which it is a leak."""

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
    running_alone_resistance: float = 15.0
    """Leg to neutral while running, of what has one leg: 8 A [ohm]."""
    running_alone_spread: float = 0.9
    idle_open: float = 0.2
    """Of idle appliances, those with nothing connected, by a mechanical switch or timer say [1]: a usual voltmeter then
    sees no more of an open neutral than with nothing plugged in. Common practice, no source."""
    unconnected_resistance: float = 2.0e7
    """A thermostat or a limit is open, or the element burnt: then there is as much as this and more [ohm]."""
    unconnected_from: float = 1.28
    """So are one in ten of what runs: of a standard normal, those beyond [1]. Common practice, no source."""
    unconnected_within: float = 0.3
    """And over so much of it half of them are wholly open [1]; the others in part, as one element of two."""
    least_side_resistance: float = 10.0
    """No appliance of two legs has less from leg to neutral, started or not: 12 A at 120 V [ohm]."""
    running_alone_least: float = 2.4
    """What runs on one leg has no less: 50 A at 120 V [ohm]."""
    least_across_resistance: float = 4.8
    """Nor less from leg to leg [ohm]: a 12 kW range, 50 A at 240 V."""
    load_angle: float = 0.25
    """Standard deviation of the angle of an unknown leg-to-neutral load [rad]."""
    frame_bond_resistance: float = 0.005
    """Strap from frame to neutral [ohm]."""

    # --- readings --------------------------------------------------------------------------------------------
    supply_drift: float = 0.003
    """The supply moves between readings taken one after another [1]."""
    person_rounding_volts: float = 0.3
    """People call out whole volts: step / sqrt(12) (GUM, rectangular distribution) [V]."""
    person_rounding_relative: float = 0.003
    """Currents and resistances are called out to two or three figures [1]."""
    metalwork_resistance: float = 100.0
    """A box, pipe or frame to the panel's ground: median [ohm]; from bonded to hanging in the air."""
    metalwork_spread: float = 4.0
    lead_resistance: float = 0.15
    """Test leads and probe contact, on an ohmmeter [ohm]."""
    tail_degrees: float = 4.0
    """Student t: readings on a job scatter more than a normal law allows [1]. Readings are drawn with this; the
    likelihood and its approximations are written for four."""
    misread_share: float = 0.005
    """A reading that has nothing to do with the circuit: wrong range, wrong pair, broken lead [1]."""
    inconsistent_share: float = 0.5
    """The same under `readings_inconsistent` [1]."""
    unfed_misread_share: float = 2.0e-6
    """The same where nothing is fed, or the meter is dead: no slip makes a zero a plausible voltage [1]."""
    misread_range_volts: float = 300.0
    misread_range_amperes: float = 60.0
    misread_decades_ohms: float = 8.0
    """A misread resistance is log-uniform over this many decades [1]."""
    proximity_false_signal: float = 0.05
    """Signals from a neighbor's field [1]."""
    proximity_inconsistent: float = 0.4
    """The same, and its silence at full voltage, under `readings_inconsistent` [1]."""
    proximity_missed_signal: float = 0.1
    """Stays silent at full voltage: shielding, a user who is insulated from ground [1]."""
    proximity_steepness: float = 3.0
    """Exponent of the logistic rise around the threshold [1]."""


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
    # A leak trips nothing where the ground leads nowhere, and so stays until somebody is called.
    ("open_ground", "leak_to_ground"): 0.10,
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
    seen = sorted(
        (*observation, place, chance) for observation, own in OBSERVED.items() for place, chance in own.items()
    )
    published = (MODEL_VERSION, msgspec.structs.asdict(priors), sorted(rates.items()), pairs, seen)
    return hashlib.sha256(msgspec.json.encode(published, order="deterministic")).hexdigest()
