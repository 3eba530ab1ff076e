import itertools
from typing import get_args

import pytest

from feedproof.circuit.supply import (
    EDITIONS,
    SYSTEMS,
    VOLTAGE_RANGES,
    Class,
    Edition,
    Place,
    Quantity,
    classify,
    voltage_range,
)
from feedproof.readings import SystemName

PLACES: tuple[Place, ...] = ("service", "utilization")


def test_every_system_of_the_readings_is_described() -> None:
    assert set(SYSTEMS) == set(get_args(SystemName))
    assert all(system.name == name and system.title and system.source for name, system in SYSTEMS.items())


def test_legs_stand_where_the_names_say() -> None:
    first, second = SYSTEMS["split_phase_120_240"].legs
    assert first.phasor + second.phasor == 0.0  # exact: a balanced house has no neutral current
    assert first.phasor == 120.0
    wye = SYSTEMS["wye_120_208"].legs
    assert wye[1].phasor == pytest.approx(complex(-60.0, -103.923), abs=1e-3)
    assert len(SYSTEMS["single_phase_120"].legs) == 1


@pytest.mark.parametrize("name", SYSTEMS)
def test_nominal_voltages_are_those_of_the_phasors(name: SystemName) -> None:
    system = SYSTEMS[name]
    assert all(abs(leg.phasor) == pytest.approx(system.leg_to_neutral) for leg in system.legs if leg.name != "high")
    if system.leg_to_leg is not None:
        across = abs(system.legs[0].phasor - system.legs[1].phasor)
        assert across == pytest.approx(system.leg_to_leg, rel=1e-3)  # 208 is how the trade rounds 207.8


def test_the_high_leg_is_240_from_both_other_legs() -> None:
    low, other, high = SYSTEMS["high_leg_delta_120_240"].legs
    assert abs(high.phasor) == pytest.approx(207.85, abs=0.01)
    assert abs(high.phasor - low.phasor) == pytest.approx(240.0)
    assert abs(high.phasor - other.phasor) == pytest.approx(240.0)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("place", PLACES)
def test_range_b_holds_range_a(place: Place, edition: Edition) -> None:
    for system, quantity in itertools.product(SYSTEMS, get_args(Quantity)):
        if quantity == "leg_to_leg" and SYSTEMS[system].leg_to_leg is None:
            continue
        a, b = (voltage_range(system, quantity, place, name, edition) for name in ("A", "B"))
        assert b.minimum.value < a.minimum.value < a.maximum.value < b.maximum.value


def test_no_limit_is_stated_twice() -> None:
    keys = [(r.edition, r.range, r.place, r.quantity, s) for r in VOLTAGE_RANGES for s in r.systems]
    assert len(keys) == len(set(keys))


def test_a_system_of_one_leg_has_no_voltage_between_legs() -> None:
    with pytest.raises(ValueError, match="no leg to leg voltage"):
        voltage_range("single_phase_120", "leg_to_leg")


def test_figures_from_memory_say_so() -> None:
    a_service = voltage_range("split_phase_120_240", "leg_to_neutral", "service")
    assert not a_service.minimum.from_memory
    assert voltage_range("split_phase_120_240", "leg_to_neutral", "utilization").minimum.from_memory


@pytest.mark.parametrize(("voltage", "expected"), [(0.0, "outside"), (120.0, "A"), (400.0, "outside")])
def test_plain_cases(voltage: float, expected: Class) -> None:
    assert classify(voltage, "split_phase_120_240", "leg_to_neutral") == expected
