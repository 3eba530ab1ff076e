"""A leg's phasor against Euler's formula (M e^(j angle)), quarter turns exactly."""

import cmath
import math

import pytest

from feedproof.circuit.supply import Leg


@pytest.mark.parametrize("angle", [-450.0, -180.0, -120.0, -90.0, 0.0, 30.0, 90.0, 120.0, 180.0, 270.0, 360.0, 450.0])
def test_a_phasor_has_its_magnitude_and_its_angle(angle: float) -> None:
    leg = Leg(name="high", magnitude=207.8, angle=angle)
    assert leg.phasor == pytest.approx(207.8 * cmath.exp(1j * math.radians(angle)), abs=1e-9)


@pytest.mark.parametrize(("angle", "exact"), [(0.0, 120.0), (90.0, 120.0j), (180.0, -120.0), (270.0, -120.0j)])
def test_quarter_turns_are_exact(angle: float, exact: complex) -> None:
    assert Leg(name="L1", magnitude=120.0, angle=angle).phasor == exact
