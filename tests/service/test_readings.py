"""The domain records: plain values that cannot be changed."""

from typing import get_args

import msgspec
import pytest

from feedproof.readings import (
    CONDUCTORS,
    LEG_ANGLES,
    SELF_NAMED_STATES,
    Conductor,
    LoadStateKind,
    Meter,
    Reading,
    ReadingSet,
    Supply,
    SystemName,
)
from support.proof_cases import CASES


def test_the_lists_are_those_of_the_types() -> None:
    assert get_args(Conductor) == CONDUCTORS
    assert get_args(LoadStateKind) == SELF_NAMED_STATES
    assert get_args(SystemName) == tuple(LEG_ANGLES)


def test_a_single_phase_supply_has_no_second_leg() -> None:
    assert Supply(system="single_phase_120").conductors == ("L1", "N", "G")
    assert Supply(system="wye_120_208").carrying == ("L1", "L2", "N")
    assert Supply(neutral=False).carrying == ("L1", "L2")


@pytest.mark.parametrize("name", CASES)
def test_a_reading_set_survives_the_way_through_json(name: str) -> None:
    """Kinds of readings and meters are told by their tags."""
    assert msgspec.json.decode(msgspec.json.encode(CASES[name]), type=ReadingSet) == CASES[name]


@pytest.mark.parametrize("union", [Meter, Reading])
def test_tags_are_told_apart(union: object) -> None:
    tags = [kind.__struct_config__.tag for kind in get_args(union)]
    assert len(set(tags)) == len(tags) == 4


def test_nothing_can_be_changed_afterwards() -> None:
    supply = Supply()
    with pytest.raises(AttributeError):
        supply.frequency = 50.0  # type: ignore[misc]


def test_what_is_not_stated_is_unknown() -> None:
    supply = Supply()
    assert supply.equipment_ground == "unknown"
    assert supply.frame_bonded_to_neutral is None
    assert supply.run.length is None
    assert (supply.system, supply.frequency) == ("split_phase_120_240", 60.0)
