"""Words of answers that are known today: the typed way to compare them, in which a misspelled one is an error.

Each is a `str`: `answer.finding.fault == Fault.OPEN_NEUTRAL`. A later service may answer with words that are not here;
compare, and have an `else`.
"""

from enum import StrEnum


class Fault(StrEnum):
    """States of the supply."""

    NONE_FOUND = "none_found"
    """A statement about these readings and their detection limits, never that the supply is free of danger."""
    OPEN_NEUTRAL = "open_neutral"
    HIGH_RESISTANCE_NEUTRAL = "high_resistance_neutral"
    OPEN_LEG = "open_leg"
    HIGH_RESISTANCE_LEG = "high_resistance_leg"
    OPEN_SERVICE_NEUTRAL = "open_service_neutral"
    HIGH_RESISTANCE_SERVICE_NEUTRAL = "high_resistance_service_neutral"
    NO_SUPPLY = "no_supply"
    VOLTAGE_LOW = "voltage_low"
    VOLTAGE_HIGH = "voltage_high"
    OTHER_SUPPLY_SYSTEM = "other_supply_system"
    LEGS_FROM_SAME_POLE = "legs_from_same_pole"
    LEG_NEUTRAL_TRANSPOSED = "leg_neutral_transposed"
    LEG_GROUND_TRANSPOSED = "leg_ground_transposed"
    OPEN_FEEDER_NEUTRAL = "open_feeder_neutral"
    HIGH_RESISTANCE_FEEDER_NEUTRAL = "high_resistance_feeder_neutral"
    BREAKER_OPEN = "breaker_open"
    NEUTRAL_GROUND_TRANSPOSED = "neutral_ground_transposed"
    NEUTRAL_GROUND_JOINED = "neutral_ground_joined"
    LEAK_TO_GROUND = "leak_to_ground"
    INTERMITTENT_CONNECTION = "intermittent_connection"
    TESTER_DEAD = "tester_dead"
    NEUTRAL_NOT_BONDED = "neutral_not_bonded"
    OPEN_GROUND = "open_ground"
    READINGS_INCONSISTENT = "readings_inconsistent"


class Determination(StrEnum):
    """How far the readings decide."""

    ESTABLISHED = "established"
    """They leave no other fault."""
    PROBABLE = "probable"
    """Others remain."""
    UNDETERMINED = "undetermined"
    """They do not tell; see `candidates` and `next_readings`."""


class NextReason(StrEnum):
    """Why there is nothing to read next."""

    ENOUGH = "enough"
    NOTHING_WOULD_TELL = "nothing_would_tell"
    """No permitted reading would decide."""
    STOP_FIRST = "stop_first"
    """A dangerous place is probable: stop and refer, and read no further."""


class Disposition(StrEnum):
    """What to do with the job."""

    STOP_AND_REFER = "stop_and_refer"
    """To an electrician or the utility."""
    REPAIR_AND_RETEST = "repair_and_retest"
    """The technician's own part, de-energized: cord, plug, terminal block."""
    TAKE_MORE_READINGS = "take_more_readings"
    NO_SUPPLY_FAULT_FOUND = "no_supply_fault_found"


class ConfidenceLevel(StrEnum):
    """How far the finding can be leaned on."""

    HIGH = "high"
    MODERATE = "moderate"
    LOW = "low"
    NONE = "none"


class Bound(StrEnum):
    """On which sides the readings bound an estimate."""

    TWO_SIDED = "two_sided"
    AT_LEAST = "at_least"
    AT_MOST = "at_most"


class Severity(StrEnum):
    """How grave a caution is."""

    DANGER = "danger"
    """Can kill or start a fire."""
    WARNING = "warning"
    """Can hurt or mislead."""
    NOTICE = "notice"
    """Always true."""


class MeterKind(StrEnum):
    """Kinds of meter that a next reading may ask for."""

    HIGH_IMPEDANCE_VOLTMETER = "high_impedance_voltmeter"
    LOW_IMPEDANCE_VOLTMETER = "low_impedance_voltmeter"
    PROXIMITY_DETECTOR = "proximity_detector"
    CLAMP_AMMETER = "clamp_ammeter"
    OHMMETER = "ohmmeter"


class Party(StrEnum):
    """Who must act."""

    UTILITY = "utility"
    ELECTRICIAN = "electrician"
    TECHNICIAN = "technician"
    """De-energized work on cord, plug and terminal block."""
