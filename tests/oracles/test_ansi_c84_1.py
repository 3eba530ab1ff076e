"""Limits of voltage at their very edges.

Sources: Maryland COMAR 20.50.07.02 (an open regulation with Range A service figures) and secondary copies of ANSI
C84.1. The standard's text was not read. Rows marked "from memory" rest on memory of the standard alone.
"""

import math

import pytest

from feedproof.circuit.supply import Class, Edition, Place, Quantity, classify, voltage_range
from feedproof.readings import SystemName

OLD: Edition = "1995-2006"
NEW: Edition = "2011-2020"
SPLIT: SystemName = "split_phase_120_240"


# COMAR 20.50.07.02: 120 V at 114 to 126, 120/240 V at 228 to 252, 120/208 V from 197.
@pytest.mark.parametrize("edition", [OLD, NEW])
@pytest.mark.parametrize(
    ("system", "quantity", "low", "high"),
    [
        (SPLIT, "leg_to_neutral", 114.0, 126.0),
        (SPLIT, "leg_to_leg", 228.0, 252.0),
        ("wye_120_208", "leg_to_neutral", 114.0, 126.0),
        ("wye_120_208", "leg_to_leg", 197.0, 218.0),  # 218: from memory; COMAR prints 219
    ],
)
def test_range_a_at_the_service(
    system: SystemName, quantity: Quantity, low: float, high: float, edition: Edition
) -> None:
    inside = [classify(v, system, quantity, "service", edition) for v in (low, high)]
    outside = [classify(v, system, quantity, "service", edition) for v in (low - 0.1, high + 0.1)]
    assert inside == ["A", "A"]
    assert "A" not in outside


# ANSI C84.1 Range B at the service, 110 and 127: read in secondary copies.
@pytest.mark.parametrize(
    ("voltage", "expected"), [(109.9, "outside"), (110.0, "B"), (127.0, "B"), (127.1, "outside"), (113.9, "B")]
)
def test_range_b_at_the_service(voltage: float, expected: Class) -> None:
    assert classify(voltage, SPLIT, "leg_to_neutral", "service") == expected


# Utilization minima differ between editions. 108 in Range A is a value from memory, as are 110 and 106 before 2011.
@pytest.mark.parametrize(
    ("voltage", "edition", "expected"),
    [
        (107.9, NEW, "B"),
        (108.0, NEW, "A"),
        (109.9, NEW, "A"),
        (110.0, NEW, "A"),
        (107.9, OLD, "B"),
        (109.9, OLD, "B"),
        (110.0, OLD, "A"),
        (103.9, NEW, "outside"),
        (104.0, NEW, "B"),
        (105.9, OLD, "outside"),
        (106.0, OLD, "B"),
    ],
)
def test_utilization_depends_on_the_edition(voltage: float, edition: Edition, expected: Class) -> None:
    assert classify(voltage, SPLIT, "leg_to_neutral", "utilization", edition) == expected


# 240 V sides are twice the 120 V sides; 220, 254 and all utilization minima are values from memory.
@pytest.mark.parametrize("edition", [OLD, NEW])
@pytest.mark.parametrize("place", ["service", "utilization"])
def test_leg_to_leg_is_twice_leg_to_neutral(place: Place, edition: Edition) -> None:
    for name in ("A", "B"):
        one, two = (voltage_range(SPLIT, q, place, name, edition) for q in ("leg_to_neutral", "leg_to_leg"))
        assert two.minimum.value == 2.0 * one.minimum.value
        assert two.maximum.value == 2.0 * one.maximum.value


# The 208 V class is the 120 V class times the square root of three, rounded to a volt; values from memory.
@pytest.mark.parametrize("edition", [OLD, NEW])
@pytest.mark.parametrize("place", ["service", "utilization"])
def test_wye_is_root_three_times_leg_to_neutral(place: Place, edition: Edition) -> None:
    for name in ("A", "B"):
        one, two = (voltage_range("wye_120_208", q, place, name, edition) for q in ("leg_to_neutral", "leg_to_leg"))
        assert two.minimum.value == pytest.approx(math.sqrt(3.0) * one.minimum.value, abs=1.0)
        assert two.maximum.value == pytest.approx(math.sqrt(3.0) * one.maximum.value, abs=1.0)


def test_208_between_legs_of_120_is_a_wye_and_no_low_voltage() -> None:
    assert classify(208.0, "wye_120_208", "leg_to_leg", "service") == "A"
    assert classify(207.9, SPLIT, "leg_to_leg", "utilization") == "outside"
