"""What may hurt a person, counted over the draws."""

import math

import pytest

from feedproof.inference.hazards import hazards
from feedproof.readings import ReadingSet, Supply
from support.internals.fits import fitted
from support.outcomes import volts
from support.proof_cases import CASES, LOADED, PULLED, THREE_WIRE, visit


def of(readings: ReadingSet, fault: str) -> dict[str, float]:
    own = fitted(readings, fault)
    found = hazards([own.fit], [1.0], own.canonical, own.bare)
    return {name: getattr(found, name) for name in found.__struct_fields__}


def test_hazards_of_a_sound_supply() -> None:
    found = of(CASES["low impedance, all as it should be"], "none_found")
    assert found.pop("leg_live") == 1.0
    assert all(value == 0.0 for value in found.values())


def test_hazards_of_an_open_neutral() -> None:
    found = of(PULLED, "open_neutral")
    assert found["neutral_above_30_volts"] == 1.0
    assert found["neutral_fault"] == 1.0
    assert found["service_neutral_fault"] == 0.0
    assert found["frame_live"] == 0.0


def test_a_frame_on_an_open_neutral_is_live() -> None:
    readings = visit(volts("L1", "L2", 244.0, state="idle"), volts("L1", "N", 4.0, state="idle"), supply=THREE_WIRE)
    assert of(readings, "open_neutral")["frame_live"] > 0.99
    unstated = Supply(equipment_ground="absent")
    assert of(visit(*readings.readings, supply=unstated), "open_neutral")["frame_live"] > 0.99


def test_heat_at_a_bad_joint() -> None:
    found = of(LOADED, "high_resistance_neutral")
    assert found["heat_above_30_watts"] == found["heat_above_5_watts"] == 1.0
    assert found["heat_above_5_watts"] >= found["heat_above_30_watts"]


def test_a_supply_that_is_off_has_no_live_leg() -> None:
    assert of(CASES["nothing there"], "no_supply")["leg_live"] == 0.0


def test_hazards_are_weighed_by_probability() -> None:
    pair = [fitted(PULLED, "open_neutral"), fitted(PULLED, "none_found")]
    found = hazards([own.fit for own in pair], [0.25, 0.75], pair[0].canonical, pair[0].bare)
    assert found.neutral_fault == 0.25
    assert found.neutral_above_30_volts == pytest.approx(0.25, abs=0.01)
    assert found.leg_live == 1.0
    assert math.isfinite(found.heat_above_5_watts)
