"""Meters' limits of error as standard uncertainties, against the Guide to the Expression of Uncertainty in Measurement.

JCGM 100:2008: limits of +-a with nothing else known give a / sqrt(3) (4.3.7), a display step d gives d / sqrt(12), that
is 0.29 d (F.2.2.1). Clause numbers and the voltmeter of example 2 in 4.3.7 are from memory.
"""

import math

import pytest

from feedproof.instruments.scatter import gain_spread, scatter_floor
from feedproof.readings import ClampAmmeter, Voltmeter


def test_bounds_of_one_and_a_half_volts() -> None:
    """1.25 % of 120 V is +-1.5 V, a standard uncertainty of 0.8660 V."""
    meter = Voltmeter(name="m", input_impedance=10e6, accuracy_percent=1.25, accuracy_counts=0.0, resolution=0.1)
    assert gain_spread(meter) * 120.0 == pytest.approx(0.8660, abs=1e-4)


def test_a_step_of_the_display() -> None:
    meter = ClampAmmeter(name="m", accuracy_percent=0.0, accuracy_counts=0.0, resolution=0.01)
    assert scatter_floor(meter) == pytest.approx(0.29 * 0.01, rel=0.01)


def test_counts_are_limits_too() -> None:
    meter = ClampAmmeter(name="m", accuracy_percent=0.0, accuracy_counts=3.0, resolution=0.1)
    assert scatter_floor(meter) ** 2 - 0.1**2 / 12.0 == pytest.approx(0.3**2 / 3.0)


def test_the_voltmeter_of_the_guide() -> None:
    """14 ppm of 0.928571 V and 2 ppm of 1 V: a = 15 uV, u = 8.7 uV; with 12 uV of scatter 15 uV (from memory)."""
    of_reading = Voltmeter(name="m", input_impedance=1e9, accuracy_percent=14e-4, accuracy_counts=0.0, resolution=1e-6)
    of_range = Voltmeter(name="m", input_impedance=1e9, accuracy_percent=2e-4, accuracy_counts=0.0, resolution=1e-6)
    uncertainty = gain_spread(of_reading) * 0.928571 + gain_spread(of_range) * 1.0
    assert uncertainty == pytest.approx(8.66e-6, rel=0.01)
    assert math.hypot(uncertainty, 12e-6) == pytest.approx(14.8e-6, rel=0.01)
