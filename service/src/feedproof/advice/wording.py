"""Names and figures in plain words, the same in every sentence of the answer."""

import math
from collections.abc import Iterable, Mapping, Sequence

from feedproof.contract.assessment import Observed, ReadingIdentity
from feedproof.readings import CurrentReading, LoadState, ProximityReading, Reading, Terminal

#: Significant digits of every number in the answer: enough for any meter, few enough that the last bits of a
#: computation never show.
OUTPUT_DIGITS = 6

_FAULTS: dict[str, str] = {
    "none_found": "no supply fault in these readings",
    "open_neutral": "open neutral",
    "high_resistance_neutral": "high-resistance neutral",
    "open_leg": "open leg",
    "high_resistance_leg": "high-resistance leg",
    "open_service_neutral": "open service neutral",
    "high_resistance_service_neutral": "high-resistance service neutral",
    "no_supply": "no supply",
    "voltage_low": "low supply voltage",
    "voltage_high": "high supply voltage",
    "other_supply_system": "another supply system than the one stated or assumed",
    "legs_from_same_pole": "both legs from the same pole",
    "leg_neutral_transposed": "a leg and the neutral transposed",
    "leg_ground_transposed": "a leg and the ground transposed",
    "open_feeder_neutral": "open feeder neutral",
    "high_resistance_feeder_neutral": "high-resistance feeder neutral",
    "breaker_open": "breaker or fuse open in both legs",
    "neutral_ground_transposed": "neutral and ground transposed",
    "neutral_ground_joined": "neutral and ground joined beyond the panel",
    "leak_to_ground": "a leak to ground in the appliance",
    "intermittent_connection": "a joint that makes and breaks",
    "tester_dead": "a tester that shows nothing",
    "neutral_not_bonded": "a source whose neutral is not bonded to ground",
    "open_ground": "open equipment ground",
    "readings_inconsistent": "readings that contradict one another",
}

_FAULTS_AT: dict[str, str] = {
    "open_leg": "open leg {conductor}",
    "high_resistance_leg": "high-resistance leg {conductor}",
    "leg_neutral_transposed": "leg {conductor} and the neutral transposed",
    "leg_ground_transposed": "leg {conductor} and the ground transposed",
}

_CONDUCTORS = {"L1": "leg L1", "L2": "leg L2", "N": "the neutral", "G": "the ground"}
_SHORT_CONDUCTORS = {"L1": "L1", "L2": "L2", "N": "neutral", "G": "ground"}
_STATES = {
    "disconnected": "appliance disconnected",
    "idle": "appliance connected, not started",
    "running": "appliance running",
    "test_load": "test load connected",
}
_METER_KINDS = {
    "high_impedance_voltmeter": "high-impedance voltmeter",
    "low_impedance_voltmeter": "low-impedance voltmeter",
}
_SYSTEMS = {
    "split_phase_120_240": "120/240 V split phase",
    "wye_120_208": "208Y/120 V wye",
    "single_phase_120": "120 V single phase",
    "high_leg_delta_120_240": "120/240 V high-leg delta",
}
_PARTIES = {"utility": "the utility", "electrician": "a licensed electrician", "technician": "the technician"}

#: Units of what each kind of reading shows; 1 is the share of times that a detector signals.
UNITS = {"voltage": "V", "current": "A", "resistance": "ohm", "proximity": "1"}

_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))


def fault_name(fault: str, conductor: str | None = None) -> str:
    """Name of a fault as it stands inside a sentence."""
    if conductor is not None and fault in _FAULTS_AT:
        return _FAULTS_AT[fault].format(conductor=conductor)
    return _FAULTS.get(fault, fault.replace("_", " "))


def faults_name(fault: str, conductor: str | None, also: Iterable[tuple[str, str | None]]) -> str:
    """Name of a finding together with the faults that are present beside it."""
    return joined([fault_name(fault, conductor), *(fault_name(name, at) for name, at in also)], "with")


def conductor_name(conductor: str) -> str:
    """Conductor as the subject of a sentence: "leg L1", "the neutral"."""
    return _CONDUCTORS.get(conductor, conductor)


def short_conductor(conductor: str) -> str:
    """Conductor in a table or a pair: "L1", "neutral"."""
    return _SHORT_CONDUCTORS.get(conductor, conductor)


def pair_name(conductors: Sequence[str]) -> str:
    """What a meter was put on: "L1 to neutral", "neutral"."""
    return " to ".join(short_conductor(conductor) for conductor in conductors)


def point_name(point: str) -> str:
    """Where the meter was put, without an article."""
    return "sub-panel" if point == "sub_panel" else point.replace("_", " ")


def state_name(label: str, kind: str) -> str:
    """Load state: the kind in words, with the caller's own label where it has one."""
    if label == kind:
        return _STATES.get(kind, label)
    return f"{_STATES.get(kind, kind)} ({label})"


def meter_kind_name(kind: str) -> str:
    """Kind of meter, without an article."""
    return _METER_KINDS.get(kind, kind.replace("_", " "))


def system_name(system: str) -> str:
    """Supply system in the trade's notation."""
    return _SYSTEMS.get(system, system.replace("_", " "))


def party_names(parties: Iterable[str]) -> str:
    """Who must act, as part of a sentence; a licensed electrician where nobody is named."""
    return joined([_PARTIES.get(party, party) for party in parties]) or _PARTIES["electrician"]


def joined(parts: Sequence[str], last: str = "and") -> str:
    """Parts as a list in a sentence: "a, b and c"."""
    if len(parts) <= 1:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def sentence(text: str) -> str:
    """The text with a capital at its beginning."""
    return text[:1].upper() + text[1:]


def within(title: str) -> str:
    """A title as it stands inside a sentence."""
    return title[:1].lower() + title[1:]


def figure(value: float, digits: int = 3) -> str:
    """A number at `digits` significant digits, without an exponent or trailing zeros."""
    if value == 0.0:
        return "0"
    places = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    rounded = f"{float(f'{value:.{digits - 1}e}'):.{places}f}"
    return rounded.rstrip("0").rstrip(".") if "." in rounded else rounded


def quantity(value: float, unit: str) -> str:
    """A number with its unit, ohms, amperes, watts and farads with the prefix that keeps the number short.

    Parameters
    ----------
    value : float
        In the plain unit [V, A, ohm, W, F, ...].
    unit : str
        As it stands in the answer: `V`, `A`, `ohm`, `W`, `deg`.

    Returns
    -------
    str
        For example "120 V", "40 mA", "2.2 MΩ".
    """
    symbol = {"ohm": "Ω", "deg": "°"}.get(unit, unit)
    if unit == "V" or value == 0.0:
        return f"{_decimals(value)} {symbol}"
    if unit not in {"A", "ohm", "W", "F"}:
        return f"{figure(value)} {symbol}".rstrip()
    rounded = abs(float(f"{value:.2e}"))
    scale, prefix = next(((s, p) for s, p in _PREFIXES if rounded >= s), _PREFIXES[-1])
    return f"{figure(value / scale)} {prefix}{symbol}"


def _decimals(value: float) -> str:
    """Voltages as a meter shows them: one decimal below 100 V where it says anything, two below 1 V."""
    if abs(value) < 1.0:
        return figure(round(value, 2), 2)
    return figure(value, 3 if abs(value) < 100.0 else 4)  # noqa: PLR2004


def span(low: float, high: float, unit: str) -> str:
    """An interval, the unit written once where both ends share it."""
    first, second = quantity(low, unit), quantity(high, unit)
    if first == second:
        return first
    number, _, symbol = first.rpartition(" ")
    return f"{number} to {second}" if symbol == second.rpartition(" ")[2] else f"{first} to {second}"


def percent(probability: float) -> str:
    """A probability in percent that never rounds to certainty."""
    share = 100.0 * probability
    if share < 0.1:  # noqa: PLR2004
        return "under 0.1 %"
    if share > 99.9:  # noqa: PLR2004
        return "over 99.9 %"
    return f"{figure(share, 3 if share > 99.0 else 2)} %"  # noqa: PLR2004


def rounded(value: float, digits: int = OUTPUT_DIGITS) -> float:
    """The value at so many significant digits, never a negative zero."""
    return float(f"{value:.{digits - 1}e}") + 0.0


def kind_of(reading: Reading) -> str:
    """Kind of the reading, as the request calls it."""
    return str(reading.__struct_config__.tag)


def conductors_of(reading: Reading) -> tuple[Terminal, ...]:
    """Conductors that the meter was on: two for a voltage or a resistance, else one."""
    if isinstance(reading, CurrentReading):
        return (reading.through,)
    return (reading.at,) if isinstance(reading, ProximityReading) else reading.between


def identity_of(reading: Reading, states: Mapping[str, LoadState]) -> ReadingIdentity:
    """The reading's identity for the answer."""
    return ReadingIdentity(
        kind=kind_of(reading),
        conductors=[*conductors_of(reading)],
        point=reading.point,
        meter=reading.meter,
        load_state=reading.load_state,
        load_state_kind=states[reading.load_state].kind,
    )


def what_words(identity: ReadingIdentity) -> str:
    """What was read: "L1 to neutral", "current through L1"."""
    pair = pair_name(identity.conductors)
    return {"current": f"current through {pair}", "proximity": f"detector at {pair}"}.get(identity.kind, pair)


def where_words(identity: ReadingIdentity) -> str:
    """Under which conditions: "appliance running, receptacle"."""
    return f"{state_name(identity.load_state, identity.load_state_kind)}, {point_name(identity.point)}"


def observed_words(observed: Observed, identity: ReadingIdentity) -> str:
    """What was seen: "3.7 V", "OL", or whether the detector signalled."""
    if observed.display:
        return observed.display
    if identity.kind == "proximity":
        return "signal" if observed.value else "no signal"
    return quantity(observed.value, observed.unit)


def reading_words(observed: Observed, identity: ReadingIdentity) -> str:
    """The whole reading: "3.7 V L1 to neutral (appliance connected, not started)"."""
    state = state_name(identity.load_state, identity.load_state_kind)
    if identity.kind == "proximity":
        return f"{observed_words(observed, identity)} at {short_conductor(identity.conductors[0])} ({state})"
    return f"{observed_words(observed, identity)} {what_words(identity)} ({state})"
