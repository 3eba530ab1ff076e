"""Finding the modes of small circuits whose modes are known."""

import math

import numpy as np
import pytest

from feedproof.circuit import topology as net
from feedproof.inference.forward import NORMAL, PROXIMITY, VOLTAGE
from feedproof.inference.modes import blurred
from support.internals.small_programs import LEVEL, by_grid, observed, one_voltage, sampled, shows, small_program


def test_one_mode_is_found_once() -> None:
    found = sampled(one_voltage(0.1), observed([VOLTAGE], [126.0], floor=0.5))
    assert found.modes[:, 0] == pytest.approx([10.0 * math.log(1.05)], abs=0.05)


def two_sided(value: float) -> tuple[float, ...]:
    """Places z where |u(z)| of a neutral between two legs shows a voltage to ground.

    The neutral is open; 10 kohm to L1 and 10 kohm times e^z to L2 put it at 120 V · (e^z - 1)/(e^z + 1).
    """
    share = value / 120.0
    ratio = (1.0 + share) / (1.0 - share)
    return -math.log(ratio), math.log(ratio)


@pytest.mark.parametrize("value", [20.0, 60.0])
def test_both_sides_of_a_magnitude_are_found(value: float) -> None:
    """A voltmeter shows no sign: the neutral may stand on either side of ground."""
    program = small_program(
        (LEVEL, (NORMAL, math.log(1e-4), 1.0)),
        ((net.R2, net.RN, 1, 1.0),),
        ((VOLTAGE, net.RN, net.RG, 0j),),
        resistances={(net.PN, net.RN): 1e15, (net.R1, net.RN): 1e4},
    )
    low, high = two_sided(value)
    assert shows(program, np.array([[0.0, low], [0.0, high]])) == pytest.approx(np.full((2, 1), value), rel=1e-4)
    found = sampled(program, observed([VOLTAGE], [value], floor=0.5))
    assert sorted(found.modes[:, 1]) == pytest.approx([low, high], abs=0.1)


def test_scouts_have_the_evidence_of_the_prior() -> None:
    """With many scouts their mean likelihood is the evidence; here it follows from a fine grid."""
    program, o = one_voltage(0.1), observed([VOLTAGE], [126.0], floor=5.0)
    truth, _, _ = by_grid(program, o, (np.linspace(-8.0, 8.0, 4001),))
    logs = sampled(program, o, scouts=2048).scouted
    assert logs == pytest.approx(truth, abs=0.01)


def test_blurring_pulls_from_afar_and_leaves_the_rest() -> None:
    o = observed([VOLTAGE, PROXIMITY], [200.0, 1.0], floor=0.3, misread=0.02)
    found = blurred(o, 0.15)
    assert found.floor[0] == pytest.approx(math.hypot(0.3, 0.15 * (200.0 + 30.0)))
    assert found.misread[0] < 1e-6
    assert (found.floor[1], found.misread[1]) == (o.floor[1], o.misread[1])
    assert found.value.tolist() == o.value.tolist()
    assert o.floor[0] == 0.3
