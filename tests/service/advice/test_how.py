"""Steps of a reading: in order, by appliance, and nothing that a caution forbids."""

import msgspec
import pytest

from feedproof.advice.how import hazards_of, steps
from feedproof.advice.texts import in_language, safety_texts
from feedproof.inference import Hazards
from feedproof.readings import ReadingSet, Supply
from support.outcomes import NO_HAZARD, prospect, readings, volts

UNPLUGGED = readings(volts("L1", "L2", 242.0))


def told(**fields: object) -> list[str]:
    visit = fields.pop("visit", UNPLUGGED)
    assert isinstance(visit, ReadingSet)
    return steps(prospect(**fields), visit, "loz")  # type: ignore[arg-type]


@pytest.mark.parametrize("state", ["idle", "heating"])
def test_plugging_in_is_done_with_the_breaker_off(state: str) -> None:
    plugging = next(step for step in told(state=state, point="appliance_terminals") if "plug it in" in step)
    assert plugging.index("breaker off") < plugging.index("plug it in") < plugging.index("breaker on")


def test_unplugging_is_done_with_the_breaker_off() -> None:
    running = readings(volts("L1", "L2", 242.0, state="heating"))
    first = told(state="disconnected", visit=running)[0]
    assert first.index("breaker off") < first.index("unplug") < first.index("breaker on")
    assert told(state="disconnected")[0] == "Leave the appliance disconnected."


def test_a_hardwired_appliance_is_not_unplugged() -> None:
    wired = msgspec.structs.replace(UNPLUGGED, supply=Supply(receptacle="hardwired"))
    assert not any("plug it in" in step for step in told(state="heating", visit=wired))


def test_how_the_load_is_switched_on_goes_by_appliance() -> None:
    dryer = msgspec.structs.replace(UNPLUGGED, appliance="dryer")
    assert any("hottest" in step for step in told(state="heating", visit=dryer))
    assert any("full current" in step for step in told(state="heating"))


def test_nothing_is_started_before_all_that_has_to_be_opened_is_open() -> None:
    found = told(state="heating", point="appliance_terminals")
    assert found.index(next(s for s in found if "cover" in s)) < found.index(
        next(s for s in found if "full current" in s)
    )


def test_a_known_load_at_the_terminals_leaves_the_plug_in() -> None:
    """Unplugged, the terminals would be dead whatever the supply does."""
    at_terminals = msgspec.structs.replace(prospect(point="appliance_terminals"), load_state_kind="test_load")
    found = steps(at_terminals, UNPLUGGED, "loz")
    assert not any("unplug the appliance" in step for step in found)
    assert found[-3].startswith("Breaker on")
    assert "show that it is dead" in " ".join(found[:-3])
    at_panel = msgspec.structs.replace(at_terminals, point="service_panel")
    assert any("unplug the appliance" in step for step in steps(at_panel, UNPLUGGED, "loz"))


def test_an_ohmmeter_comes_after_isolation_and_proof() -> None:
    found = told(kind="resistance", conductors=("N", "G"), meter_kind="ohmmeter", state="disconnected")
    assert "lock it" in found[0]
    assert "dead" in found[1]
    assert found.index(next(s for s in found if "ohms" in s)) > 1


@pytest.mark.parametrize(
    ("point", "words"),
    [("service_panel", "neutral bar"), ("receptacle", "neutral contact"), ("appliance_terminals", "terminal of")],
)
def test_where_the_probes_go(point: str, words: str) -> None:
    assert any(words in step for step in told(point=point, state="disconnected"))


def test_the_meters_function_is_named() -> None:
    assert any("low impedance" in step for step in told())
    clamp = told(kind="current", conductors=("G",), meter_kind="clamp_ammeter", state="heating")
    assert any("AC amperes" in step and "alone" in step for step in clamp)
    assert any("again" in step for step in told(repeats=0))


TEXTS = {hazard.code: hazard.text for hazard in safety_texts().reading_hazards}
RISKY = msgspec.structs.replace(NO_HAZARD, neutral_fault=0.5, frame_live=0.5)

CASES = {
    "unloaded_voltage": prospect(meter_kind="high_impedance_voltmeter", state="disconnected"),
    "connected_voltage": prospect(meter_kind="high_impedance_voltmeter"),
    "low_impedance": prospect(),
    "low_impedance_legs": prospect(conductors=("L1", "L2"), state="disconnected"),
    "loaded": prospect(meter_kind="high_impedance_voltmeter", state="heating", point="appliance_terminals"),
    "panel": prospect(meter_kind="high_impedance_voltmeter", state="heating", point="service_panel"),
    "sub_panel": prospect(meter_kind="high_impedance_voltmeter", state="disconnected", point="sub_panel"),
    "current": prospect("current", ("N",), meter_kind="clamp_ammeter", state="heating"),
    "proximity": prospect("proximity", ("N",), meter_kind="proximity_detector"),
    "resistance": prospect("resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected"),
    "panel_resistance": prospect(
        "resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected", point="service_panel"
    ),
}

EXPECTED = {
    "unloaded_voltage": ["live_contact"],
    "connected_voltage": ["live_contact", "connected_plug", "frame_maybe_live"],
    "low_impedance": ["live_contact", "connected_plug", "neutral_pulled_up", "meter_heats", "frame_maybe_live"],
    "low_impedance_legs": ["live_contact", "meter_heats"],
    "loaded": ["live_contact", "opened_appliance", "load_current", "frame_maybe_live"],
    "panel": ["live_contact", "open_panel", "load_current", "frame_maybe_live"],
    "sub_panel": ["live_contact", "open_panel"],
    "current": ["clamp_near_live", "connected_plug", "load_current", "frame_maybe_live"],
    "proximity": ["silence_is_no_proof", "frame_maybe_live"],
    "resistance": ["isolation_needed"],
    "panel_resistance": ["isolation_needed", "open_panel"],
}


@pytest.mark.parametrize("name", CASES)
def test_each_reading_names_its_hazards(name: str) -> None:
    found = hazards_of(CASES[name], RISKY, "en", still_disconnected=CASES[name].load_state_kind == "disconnected")
    assert [hazard.code for hazard in found] == EXPECTED[name]
    assert [hazard.text for hazard in found] == [in_language(TEXTS[code], "en") for code in EXPECTED[name]]


@pytest.mark.parametrize("name", CASES)
def test_no_reading_is_without_hazard(name: str) -> None:
    assert hazards_of(CASES[name], NO_HAZARD, "en")


def test_every_hazard_of_the_data_file_is_used() -> None:
    worst = Hazards(**dict.fromkeys(Hazards.__struct_fields__, 1.0))
    ground = prospect(conductors=("L1", "G"))
    given = [hazards_of(taken, worst, "en") for taken in (*CASES.values(), ground)]
    assert {hazard.code for hazards in given for hazard in hazards} == set(TEXTS)


def test_nobody_is_asked_to_unplug_a_live_frame_without_that_hazard() -> None:
    """A disconnected reading of an appliance that was plugged in so far means to pull its plug."""
    codes = [hazard.code for hazard in hazards_of(CASES["unloaded_voltage"], RISKY, "en")]
    assert "frame_maybe_live" in codes


@pytest.mark.parametrize("hazard", ["service_neutral_fault", "earth_above_30_volts"])
def test_frames_off_earth_are_named_wherever_the_reading_is_taken(hazard: str) -> None:
    for probability, expected in ((0.0099, False), (0.01, True)):
        risk = msgspec.structs.replace(NO_HAZARD, **{hazard: probability})
        for case in (CASES["unloaded_voltage"], CASES["panel"], CASES["proximity"]):
            assert ("frames_off_earth" in [h.code for h in hazards_of(case, risk, "en")]) is expected


@pytest.mark.parametrize(("probability", "expected"), [(0.0499, False), (0.05, True)])
def test_a_low_impedance_test_to_an_open_ground_is_no_hand_on_the_frame(probability: float, expected: bool) -> None:
    risk = msgspec.structs.replace(NO_HAZARD, ground_open=probability)
    codes = [hazard.code for hazard in hazards_of(prospect(conductors=("L1", "G")), risk, "en")]
    assert ("frame_carries_test_current" in codes) is expected


@pytest.mark.parametrize(("probability", "expected"), [(0.0099, False), (0.01, True)])
def test_a_neutral_that_may_be_open_is_pulled_up_by_the_meter(probability: float, expected: bool) -> None:
    def codes(name: str, **risk: float) -> list[str]:
        hazards = msgspec.structs.replace(NO_HAZARD, **risk)
        return [hazard.code for hazard in hazards_of(CASES[name], hazards, "en")]

    assert ("neutral_pulled_up" in codes("low_impedance", neutral_fault=probability)) is expected
    assert ("frame_maybe_live" in codes("loaded", frame_live=probability)) is expected
