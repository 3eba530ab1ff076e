import msgspec
import pytest

from feedproof.advice.next_steps import hazards_of, to_wire, why
from feedproof.advice.texts import in_language, safety_texts
from feedproof.inference import Prospect
from support.outcomes import NO_HAZARD, candidate, outcome, prospect

TEXTS = {hazard.code: hazard.text for hazard in safety_texts().reading_hazards}
RISKY = msgspec.structs.replace(NO_HAZARD, neutral_fault=0.5, frame_live=0.5)

CASES = {
    "unloaded_voltage": prospect(meter_kind="high_impedance_voltmeter", state="disconnected"),
    "connected_voltage": prospect(meter_kind="high_impedance_voltmeter"),
    "low_impedance": prospect(),
    "low_impedance_legs": prospect(conductors=("L1", "L2"), state="disconnected"),
    "loaded": prospect(meter_kind="high_impedance_voltmeter", state="heating", point="appliance_terminals"),
    "panel": prospect(meter_kind="high_impedance_voltmeter", state="heating", point="service_panel"),
    "current": prospect("current", ("N",), meter_kind="clamp_ammeter", state="heating"),
    "proximity": prospect("proximity", ("N",), meter_kind="proximity_detector"),
    "resistance": prospect("resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected"),
    "panel_resistance": prospect(
        "resistance", ("N", "G"), meter_kind="ohmmeter", state="disconnected", point="service_panel"
    ),
}

EXPECTED = {
    "unloaded_voltage": ["live_contact"],
    "connected_voltage": ["live_contact", "connected_plug", "cabinet_maybe_live"],
    "low_impedance": ["live_contact", "connected_plug", "neutral_pulled_up", "meter_heats", "cabinet_maybe_live"],
    "low_impedance_legs": ["live_contact", "meter_heats"],
    "loaded": ["live_contact", "opened_appliance", "load_current", "cabinet_maybe_live"],
    "panel": ["live_contact", "open_panel", "load_current", "cabinet_maybe_live"],
    "current": ["clamp_near_live", "connected_plug", "load_current", "cabinet_maybe_live"],
    "proximity": ["silence_is_no_proof", "cabinet_maybe_live"],
    "resistance": ["isolation_needed"],
    "panel_resistance": ["isolation_needed", "open_panel"],
}


@pytest.mark.parametrize("name", CASES)
def test_each_reading_names_its_hazards(name: str) -> None:
    assert hazards_of(CASES[name], RISKY, "en") == [in_language(TEXTS[code], "en") for code in EXPECTED[name]]


@pytest.mark.parametrize("name", CASES)
def test_no_reading_is_without_hazard(name: str) -> None:
    assert hazards_of(CASES[name], NO_HAZARD, "en")


def test_every_hazard_of_the_data_file_is_used() -> None:
    assert {code for codes in EXPECTED.values() for code in codes} == set(TEXTS)


@pytest.mark.parametrize(("probability", "expected"), [(0.0099, False), (0.01, True)])
def test_a_neutral_that_may_be_open_is_pulled_up_by_the_meter(probability: float, expected: bool) -> None:
    hazards = msgspec.structs.replace(NO_HAZARD, neutral_fault=probability)
    assert (TEXTS["neutral_pulled_up"]["en"] in hazards_of(CASES["low_impedance"], hazards, "en")) is expected
    hazards = msgspec.structs.replace(NO_HAZARD, frame_live=probability)
    assert (TEXTS["cabinet_maybe_live"]["en"] in hazards_of(CASES["loaded"], hazards, "en")) is expected


def test_the_ranking_is_kept_whole() -> None:
    every: list[Prospect] = list(CASES.values())
    given = to_wire(outcome([candidate("none_found", 1.0)], prospects=every), "en")
    assert [reading.kind for reading in given] == [entry.kind for entry in every]
    assert [reading.meter_kind for reading in given] == [entry.meter_kind for entry in every]


def test_conductors_stand_where_the_kind_has_them() -> None:
    voltage, current, proximity, resistance = to_wire(
        outcome(
            [candidate("none_found", 1.0)],
            prospects=[CASES[name] for name in ("loaded", "current", "proximity", "resistance")],
        ),
        "en",
    )
    assert (voltage.between, voltage.at, voltage.through) == (["L1", "N"], None, None)
    assert (current.between, current.at, current.through) == (None, None, "N")
    assert (proximity.between, proximity.at, proximity.through) == (None, "N", None)
    assert (resistance.between, resistance.at, resistance.through) == (["N", "G"], None, None)


def test_why_names_what_it_parts_and_how() -> None:
    assert why(CASES["low_impedance"]) == (
        "Tells a sound supply from open neutral. Its test current pulls down what only strays hold up."
    )
    legs = prospect(state="disconnected", separates=(("open_leg", "L1"), ("open_leg", "L2")))
    assert why(legs).startswith("Tells open leg L1 from open leg L2.")
    assert why(prospect(meter_kind="high_impedance_voltmeter", state="disconnected", separates=None)) == (
        "Narrows down the fault."
    )


def test_a_reading_that_tells_next_to_nothing_claims_nothing() -> None:
    assert why(prospect(information=0.009)) == "It would tell little more."
    assert why(prospect(information=0.011)).startswith("Tells a sound supply from open neutral.")


def test_why_of_two_faults_of_one_name_does_not_repeat_it() -> None:
    same = prospect(separates=(("voltage_low", None), ("voltage_low", None)))
    assert "from" not in why(same)
