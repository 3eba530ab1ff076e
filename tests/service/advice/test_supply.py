import math

import pytest

from feedproof.advice.supply import assessed_supply, neutral_angle
from feedproof.inference import NeutralVoltage
from feedproof.readings import Reading, ReadingSet, Supply, SystemName
from support.outcomes import interval, near, readings, volts


def legs(reading_set: ReadingSet) -> list[tuple[str, float, float]]:
    return [(leg.conductor, round(leg.voltage, 3), leg.angle) for leg in assessed_supply(reading_set).legs]


def neutral(during: int | None = None, angle: float | None = None) -> NeutralVoltage:
    return NeutralVoltage(
        load_state="idle", point="receptacle", during_reading=during, interval=interval(90, 80, 100), angle=angle
    )


def angle_of(*taken: Reading, during: int | None = None, angle: float | None = None) -> float | None:
    reading_set = readings(*taken)
    return neutral_angle(neutral(during, angle), reading_set.readings, assessed_supply(reading_set))


def test_legs_are_nominal_without_a_leg_to_leg_reading() -> None:
    assert legs(readings()) == [("L1", 120.0, 0.0), ("L2", 120.0, 180.0)]


def test_legs_follow_the_leg_to_leg_reading() -> None:
    assert legs(readings(volts("L2", "L1", 247.0))) == [("L1", 123.5, 0.0), ("L2", 123.5, 180.0)]
    assert legs(readings(volts("L1", "L2", 3.0))) == [("L1", 120.0, 0.0), ("L2", 120.0, 180.0)]


@pytest.mark.parametrize(
    ("system", "between"),
    # ANSI C84.1 nominal systems, from memory.
    [("split_phase_120_240", 240.0), ("wye_120_208", 208.0), ("high_leg_delta_120_240", 240.0)],
)
def test_the_legs_of_each_system_stand_their_voltage_apart(system: SystemName, between: float) -> None:
    first, second = assessed_supply(readings(supply=Supply(system=system))).legs
    angle = math.radians(first.angle - second.angle)
    apart = math.sqrt(first.voltage**2 + second.voltage**2 - 2 * first.voltage * second.voltage * math.cos(angle))
    assert math.isclose(apart, between, abs_tol=0.2)


def test_a_single_phase_has_one_leg() -> None:
    assert legs(readings(volts("L1", "N", 110.0), supply=Supply(system="single_phase_120"))) == [("L1", 120.0, 0.0)]


def test_the_inference_knows_the_side_best() -> None:
    assert angle_of(volts("L1", "N", 3.7, state="idle"), angle=42.0) == 42.0


@pytest.mark.parametrize(
    ("taken", "expected"),
    [
        ([volts("L1", "N", 3.7, state="idle")], 0.0),
        ([volts("L1", "N", 240.0, state="idle")], 180.0),
        ([volts("N", "L2", 3.7, state="idle")], 180.0),
        ([volts("L1", "N", 85.0, state="idle"), volts("L2", "N", 155.0, state="idle")], 0.0),
        ([volts("L1", "N", 155.0, state="idle"), volts("L2", "N", 85.0, state="idle")], 180.0),
        ([volts("L1", "N", 121.0, state="idle"), volts("L2", "N", 122.0, state="idle")], None),
        ([volts("L1", "N", 118.0, state="idle")], None),
        ([volts("L1", "N", 3.7)], None),
        ([volts("L1", "L2", 247.0, state="idle"), near("N", detected=True)], None),
    ],
)
def test_the_side_follows_the_leg_readings_of_the_load_state(taken: list[Reading], expected: float | None) -> None:
    assert angle_of(*taken) == expected


def test_a_low_impedance_meter_pulls_the_neutral_to_its_leg() -> None:
    taken = (volts("L1", "N", 7.0, "loz", "idle"), volts("L2", "N", 7.0, "loz", "idle"), volts("L1", "L2", 247.0))
    assert angle_of(*taken, during=0) == 0.0
    assert angle_of(*taken, during=1) == 180.0
    assert angle_of(*taken, during=2) is None
