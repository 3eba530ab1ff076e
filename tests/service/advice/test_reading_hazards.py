import msgspec
import pytest

from feedproof.advice.reading_hazards import hazards_of
from feedproof.advice.texts import in_language, safety_texts
from feedproof.inference import Hazards
from support.outcomes import NO_HAZARD, prospect

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
