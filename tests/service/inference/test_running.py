"""What runs may draw nothing, and what has one leg may draw much from it. Common practice, no source."""

import msgspec

from feedproof.assess import assess
from feedproof.readings import Load, Reading, ReadingSet, Supply
from support.outcomes import amps, ohms, volts
from support.proof_cases import visit

WATER_HEATER = Supply(equipment_ground="present", neutral=False, receptacle="hardwired")
ONE_LEG = Supply(system="single_phase_120", equipment_ground="present", receptacle="TT-30R")


def place(readings: ReadingSet) -> tuple[str, str]:
    """Give the place that is named, and what is done."""
    answer = assess(readings)
    return answer.finding.place, answer.disposition


def test_full_voltage_and_no_current_is_no_bad_leg() -> None:
    """An element that is burnt, a thermostat or a limit that is open."""
    taken = (
        volts("L1", "L2", 241.0, state="running", point="appliance_terminals"),
        volts("L1", "G", 120.5, state="running", point="appliance_terminals"),
        volts("L2", "G", 120.5, state="running", point="appliance_terminals"),
        amps("L1", 0.0, state="running"),
    )
    found, done = place(visit(*taken, supply=WATER_HEATER))
    assert found == "none"
    assert done != "stop_and_refer"


def test_a_heavy_load_on_one_leg_is_no_leak() -> None:
    taken = (
        volts("L1", "N", 121.0),
        volts("L1", "N", 117.5, state="running"),
        volts("N", "G", 1.7, state="running"),
        amps("L1", 24.0, state="running"),
    )
    assert place(visit(*taken, supply=ONE_LEG))[0] == "none"


def test_a_drop_under_a_heavy_load_on_one_leg_is_the_neutrals() -> None:
    """6.2 V at 22 A are 0.28 ohm in the neutral, of 0.59 ohm in both."""
    taken = (
        volts("L1", "N", 121.0),
        volts("L1", "N", 108.0, state="running", point="appliance_terminals"),
        volts("N", "G", 6.2, state="running", point="appliance_terminals"),
        amps("L1", 22.0, state="running"),
    )
    assert place(visit(*taken, supply=ONE_LEG))[0] == "neutral"


def test_what_an_ohmmeter_shows_as_nothing_is_answered() -> None:
    """Between conductors that are joined or exchanged nothing at all is expected."""
    bare = (ohms("L1", "L2", 12.8), ohms("L1", "G", 0.0))
    taken = tuple(msgspec.structs.replace(r, load_state="idle", point="appliance_terminals") for r in bare)
    answer = assess(visit(*taken, supply=WATER_HEATER))
    assert sum(c.probability for c in answer.candidates) > 0.99


STATED = (Load(between=("L1", "L2"), resistance=12.0, tolerance_percent=10.0),)


def stated(*taken: Reading) -> ReadingSet:
    """Give a visit to an appliance whose element is stated: 20 A while it runs."""
    found = visit(*taken)
    state = msgspec.structs.replace(found.load_states["running"], loads=STATED)
    return msgspec.structs.replace(found, load_states=found.load_states | {"running": state})


SOUND = (
    volts("L1", "L2", 241.0, state="running"),
    volts("L1", "N", 120.5, state="running"),
    volts("L2", "N", 120.5, state="running"),
)


def test_a_stated_element_that_draws_nothing_is_no_bad_leg() -> None:
    """What draws nothing proves no leg under load: a load in its place is asked for."""
    answer = assess(stated(*SOUND, amps("L1", 0.0, state="running"), amps("L2", 0.0, state="running")))
    assert answer.finding.place == "none"
    assert answer.disposition == "take_more_readings"
    state = answer.next_readings[0].load_state
    assert state is not None
    assert state.kind == "test_load"


def test_a_stated_element_that_draws_is_what_proves_the_supply() -> None:
    assert place(stated(*SOUND, amps("L1", 20.0, state="running"))) == ("none", "no_supply_fault_found")
    drop = (
        volts("L1", "L2", 200.0, state="running"),
        volts("L1", "N", 80.5, state="running"),
        volts("L2", "N", 119.5, state="running"),
    )
    assert place(stated(*drop, amps("L1", 16.0, state="running"))) == ("leg", "stop_and_refer")
