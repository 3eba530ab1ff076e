"""What a person saw: codes, or objects that say where."""

from typing import Any, get_args

import pytest

from feedproof.contract.words import ObservationCode
from feedproof.readings import Observation
from support.requests import admit, changed, faults

LIGHTS = "lights_brighten_and_dim"


def test_codes_and_objects_come_out_alike() -> None:
    for code in get_args(ObservationCode):
        for given in (code, {"code": code}, {"code": code, "where": None}):
            assert admit(changed(observations=[given])).reading_set.observations == (Observation(code=code),)
    for where in ("same_panel", "whole_building"):
        given = {"code": LIGHTS, "where": where}
        assert admit(changed(observations=[given])).reading_set.observations == (Observation(code=LIGHTS, where=where),)
    assert admit(changed()).reading_set.observations == ()


def test_some_circuits_may_be_live_and_others_dead() -> None:
    both = ["other_circuits_live", "other_circuits_dead"]
    assert [o.code for o in admit(changed(observations=both)).reading_set.observations] == both


@pytest.mark.parametrize(
    ("given", "pointer", "code"),
    [
        (["smells_of_fish"], "/observations/0", "not_accepted"),
        ([7], "/observations/0", "wrong_type"),
        ([LIGHTS, {"code": LIGHTS, "where": "same_panel"}], "/observations/1", "given_twice"),
        ([{"code": "other_circuits_live", "where": "same_panel"}], "/observations/0/where", "contradiction"),
        ([{"code": LIGHTS, "where": "attic"}], "/observations/0/where", "not_accepted"),
        ([{"where": "same_panel"}], "/observations/0/code", "missing"),
        ([{"code": LIGHTS, "colour": "red"}], "/observations/0/colour", "unknown_field"),
        (LIGHTS, "/observations", "wrong_type"),
    ],
)
def test_one_fault_is_named_at_its_place(given: Any, pointer: str, code: str) -> None:
    told = [(f.pointer, f.code) for f in faults(changed(observations=given))]
    assert told[0] == (pointer, code)
    assert len(told) == 1


def test_too_many_are_one_fault_and_a_faulty_one_is_not_taken_for_another() -> None:
    told = [f.code for f in faults(changed(observations=[LIGHTS] * 21))]
    assert told[0] == "wrong_length"
    told = [f.pointer for f in faults(changed(observations=[7, "breaker_found_tripped"]))]
    assert told == ["/observations/0"]
