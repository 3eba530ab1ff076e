"""The main job from readings to finding, on the figures that technicians go by.

All figures here are common practice, no source. They are rules of thumb around a nominal 120 V leg; the model knows
the true leg to be half of what was read leg to leg, so the two agree within 5 V.
"""

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.contract.assessment import Assessment
from feedproof.readings import Conductor, FedFrom, Presence, Reading, ReadingSet, Run, Supply
from support.answers import neutral, probability
from support.contradictions import contradictions
from support.outcomes import amps, volts
from support.proof_cases import FOUR_WIRE, near, visit

CONNECTED = visit(volts("L1", "L2", 247.0, state="idle"), volts("L1", "N", 3.7, state="idle"))
LOW_IMPEDANCE = visit(volts("L1", "L2", 247.0), volts("L1", "N", 7.0, "loz"), volts("L2", "N", 7.0, "loz"))
UNPLUGGED = visit(volts("L1", "L2", 247.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0))


@pytest.mark.parametrize("leg_to_leg", [235.0, 240.0, 245.0, 250.0])
def test_leg_to_leg_of_240_plus_10_minus_5_is_good(leg_to_leg: float) -> None:
    """Common practice, no source: good at 240 V +10/-5 V, neutral at 0 V to ground."""
    half = leg_to_leg / 2.0
    found = assess(
        visit(
            volts("L1", "L2", leg_to_leg),
            volts("L1", "N", half, "loz"),
            volts("L2", "N", half, "loz"),
            volts("N", "G", 0.0),
            supply=FOUR_WIRE,
        )
    )
    assert found.finding.fault == "none_found"
    assert probability(found, "voltage_low") + probability(found, "voltage_high") < 0.1
    assert neutral(found).high < 1.0


def test_a_neutral_that_stands_off_ground_is_not_good() -> None:
    """Common practice, no source: the neutral should sit at 0 V to ground.

    Nothing is connected here, so the legs have moved apart by other circuits' loads: the neutral is lost upstream.
    """
    found = assess(
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 90.0), volts("L2", "N", 150.0), volts("N", "G", 30.0))
    )
    assert found.finding.place in {"neutral", "feeder_neutral"}
    assert (found.determination, found.disposition) == ("established", "stop_and_refer")


def test_unplugged_and_plausible_is_not_proven() -> None:
    """Common practice, no source: 247 and twice 120 V is called fine; it is not proven, and 7 V are missing."""
    found = assess(UNPLUGGED)
    assert found.determination != "established"
    assert found.disposition == "take_more_readings"
    assert probability(found, "open_neutral") > 0.02
    assert [(check.code, check.readings) for check in found.checks] == [("sum_below_whole", [0, 1, 2])]
    assert "7 V" in found.checks[0].text


def test_connected_the_neutral_follows_a_leg() -> None:
    """Common practice, no source: 247 V and 3.7 V, so the neutral is open and stands about 120 - 3.7 V from ground."""
    found = assess(CONNECTED)
    assert (found.finding.fault, found.finding.conductor) == ("open_neutral", "N")
    assert found.determination in {"established", "probable"}
    assert found.disposition == "stop_and_refer"
    stands = neutral(found)
    assert stands.value == pytest.approx(120.0 - 3.7, abs=5.0)
    assert stands.value == pytest.approx(247.0 / 2.0 - 3.7, abs=2.0)


def test_a_low_impedance_meter_finds_nothing_behind_the_neutral() -> None:
    """Common practice, no source: 247 V and twice 7 V at 3 kohm: open neutral, neutral at about 120 - 7 V."""
    found = assess(LOW_IMPEDANCE)
    assert (found.finding.fault, found.finding.conductor) == ("open_neutral", "N")
    assert found.determination == "established"
    assert sum(probability(found, f) for f in ("open_leg", "high_resistance_leg")) < 0.05
    for index in (1, 2):
        assert neutral(found, during=index).value == pytest.approx(120.0 - 7.0, abs=5.0)
        assert neutral(found, during=index).value == pytest.approx(247.0 / 2.0 - 7.0, abs=2.0)


@pytest.mark.parametrize("fed_from", ["sub_panel", "unknown"])
@pytest.mark.parametrize("stiff", [1.5, 2.0, 2.6])
def test_two_volts_on_the_neutral_may_be_a_sound_feeder(fed_from: FedFrom, stiff: float) -> None:
    """Other loads behind a sub-panel put them there, low impedance or not: a load parts that from a bad feeder neutral.

    2.6 V beside 117 and 122 V; common practice, no source.
    """
    legs = (volts("L1", "L2", 239.0), volts("L1", "N", 117.0), volts("L2", "N", 122.0))
    supply = msgspec.structs.replace(FOUR_WIRE, fed_from=fed_from)
    found = assess(visit(*legs, volts("N", "G", stiff), volts("N", "G", stiff, "loz"), supply=supply))
    assert (found.disposition, found.determination) == ("take_more_readings", "undetermined")
    assert probability(found, "none_found") > 0.3
    assert found.next_readings


def test_the_legs_come_first() -> None:
    """Common practice, no source: legs are proven first, and then serve as the reference for the neutral."""
    plan = assess(visit(meters={}))
    first = next(step.reading for step in plan.next_readings if step.reading is not None)
    assert first.between == ["L1", "L2"]
    after = assess(visit(volts("L1", "L2", 242.0, "loz")))
    asked = [step.reading.between or [] for step in after.next_readings if step.reading is not None]
    assert "N" in asked[0]


@pytest.mark.parametrize("reading_set", [CONNECTED, LOW_IMPEDANCE])
def test_it_works_alike_on_three_and_four_wires(reading_set: ReadingSet) -> None:
    """Common practice, no source: ground is not used, since nobody has proven it."""
    found = []
    grounds: tuple[Presence, ...] = ("absent", "unknown", "present")
    for ground in grounds:
        answer = assess(msgspec.structs.replace(reading_set, supply=Supply(equipment_ground=ground)))
        found.append((answer.finding.fault, answer.finding.conductor, answer.disposition))
        assert probability(answer, "open_neutral") > 0.9
    assert len(set(found)) == 1


def test_a_signal_on_the_neutral_points_to_it_and_silence_says_little() -> None:
    """Common practice, no source: a signal on the neutral with the appliance connected points to a floating neutral."""
    before = probability(assess(visit(meters={})), "open_neutral")
    signal = assess(visit(near("N", detected=True)))
    silence = assess(visit(near("N", detected=False)))
    assert probability(signal, "open_neutral") > 4.0 * before
    assert max(signal.candidates[1:], key=lambda c: c.probability).fault in {"open_neutral", "none_found"}
    assert probability(silence, "open_neutral") > 0.2 * before
    for found in (signal, silence):
        assert found.determination == "undetermined"
        assert found.confidence.level in {"none", "low"}


@pytest.mark.parametrize(
    ("supply", "readings"),
    [
        (Supply(system="single_phase_120"), (volts("L1", "N", 208.0, "loz"), volts("N", "G", 0.1))),
        (Supply(), (volts("L1", "L2", 241.0), volts("L1", "N", 208.0, "loz"), volts("L2", "N", 121.0, "loz"))),
    ],
)
def test_a_leg_at_208_volts_to_neutral_stops_the_job(supply: Supply, readings: tuple[Reading, ...]) -> None:
    """The high leg of a delta destroys 120 V parts: common practice, no source."""
    found = assess(visit(*readings, supply=supply))
    assert found.finding.place == "other_supply_system"
    assert found.disposition == "stop_and_refer"
    assert "three quarters" not in found.next_action


def test_two_legs_of_a_wye_are_a_system_to_be_stated() -> None:
    """A 240 V element on 208 V makes (208/240)^2 of its heat."""
    found = assess(visit(volts("L1", "L2", 208.0), volts("L1", "N", 120.0, "loz"), volts("L2", "N", 121.0, "loz")))
    assert found.disposition == "take_more_readings"
    assert found.next_action.startswith("Do not start the appliance")
    assert "three quarters" in found.next_action


def test_where_there_is_no_neutral_none_is_live() -> None:
    """A condenser's two legs stand apart against ground: the service neutral shows in it."""
    taken = (volts("L1", "L2", 242.0), volts("L1", "G", 97.0), volts("L2", "G", 145.0))
    found = assess(visit(*taken, supply=Supply(neutral=False)))
    assert found.finding.place == "service_neutral"
    assert "neutral_as_live" not in {caution.code for caution in found.cautions}
    assert "grounded_frames_off_earth" in {caution.code for caution in found.cautions}


def with_current_on_ground(neutral: float) -> Assessment:
    legs = (volts("L1", "L2", 239.0), volts("L1", "N", 119.0), volts("L2", "N", 120.0))
    running = tuple(msgspec.structs.replace(r, load_state="running") for r in legs)
    ground = amps("G", 5.8, "running")
    again = msgspec.structs.replace(ground, point="service_panel")
    return assess(visit(*running, ground, amps("N", neutral, "running"), again, supply=FOUR_WIRE))


def test_where_the_neutral_carries_nothing_the_ground_may_carry_what_it_should() -> None:
    """A motor's 5.8 A on the ground and none on the neutral: exchanged in the cord, or a leak; both to be repaired."""
    found = with_current_on_ground(0.0)
    shares = {candidate.place: candidate.probability for candidate in reversed(found.candidates)}
    assert (found.finding.place, found.determination) == ("transposed", "probable")
    assert shares["leak_to_ground"] > 0.1
    assert found.disposition == "repair_and_retest"
    assert found.refer_to == ["technician"]


def test_a_leak_in_the_appliance_is_one_finding_whichever_leg_leaks() -> None:
    """5.8 A on the ground at both ends, the neutral's own on the neutral, legs sound: the technician's own part."""
    found = with_current_on_ground(0.4)
    assert (found.finding.place, found.finding.conductor) == ("leak_to_ground", None)
    assert found.determination == "established"
    assert found.disposition == "repair_and_retest"
    assert found.refer_to == ["technician"]


@pytest.mark.parametrize("ground_to", ["L1", "L2"])
def test_a_leak_to_a_ground_that_leads_nowhere_is_both_and_the_frame_is_live(ground_to: Conductor) -> None:
    """Nothing trips, and the frame stands at the leg's voltage: 3 kΩ to the neutral leave it there. By hand."""
    other: Conductor = "L2" if ground_to == "L1" else "L1"
    taken = (
        volts("L1", "N", 120.0, "loz", state="idle"),
        volts("L2", "N", 120.0, "loz", state="idle"),
        volts("N", "G", 119.0, "loz", state="idle"),
        volts(ground_to, "G", 1.0, "loz", state="idle"),
        volts(other, "G", 239.0, "loz", state="idle"),
    )
    found = assess(visit(*taken, supply=FOUR_WIRE))
    assert (found.finding.place, found.determination) == ("ground", "established")
    assert [part.fault for part in found.finding.also] == ["leak_to_ground"]
    assert "with a leak to ground in the appliance" in found.headline
    assert found.disposition == "stop_and_refer"
    assert found.refer_to == ["electrician", "technician"]
    assert "The appliance leaks as well" in found.next_action
    assert {"frame_as_live", "current_on_ground"} <= {caution.code for caution in found.cautions}


LONG = Supply(
    equipment_ground="present",
    neutral=False,
    receptacle="hardwired",
    fed_from="service_panel",
    run=Run(size="12 AWG", material="copper", length=400.0),
)


def pump(volts_running: float, amperes: float) -> Assessment:
    """A motor at the end of a long run of thin wire, read while it runs."""
    half = volts_running / 2.0
    taken = (volts("L1", "L2", volts_running), volts("L1", "G", half), volts("L2", "G", half), amps("L1", amperes))
    at = tuple(msgspec.structs.replace(r, load_state="running", point="appliance_terminals") for r in taken)
    return assess(visit(*at, supply=LONG))


def test_a_sound_run_that_drops_too_much_is_not_passed() -> None:
    """190 V of 240 V: what the wire takes by its size, 4.2 ohm at 12 A, and no motor runs on the rest (ANSI C84.1)."""
    found = pump(190.0, 12.0)
    assert found.finding.place == "none"
    assert found.disposition == "stop_and_refer"
    assert found.refer_to == ["electrician"]
    assert found.headline.startswith("190 V L1 to L2 (appliance running): too low to run on.")
    assert [check.readings for check in found.checks if check.code == "too_low_to_run"] == [[0]]
    assert "appliance next" not in found.next_action
    assert contradictions(found) == []


def test_a_drop_that_an_appliance_is_made_for_is_passed() -> None:
    found = pump(216.0, 6.0)
    assert found.disposition == "no_supply_fault_found"
    assert "too_low_to_run" not in {check.code for check in found.checks}


def test_too_low_a_reading_that_does_not_fit_is_taken_again_first() -> None:
    """What no wire explains may be a slip: it is not what stops the job."""
    legs = (volts("L1", "L2", 150.0), volts("L1", "G", 119.0), volts("L2", "G", 120.0), amps("L1", 6.0))
    taken = tuple(msgspec.structs.replace(r, load_state="running") for r in legs)
    found = assess(visit(*taken, supply=msgspec.structs.replace(LONG, run=Run())))
    assert "too_low_to_run" not in {check.code for check in found.checks}
    assert found.disposition == "take_more_readings"
