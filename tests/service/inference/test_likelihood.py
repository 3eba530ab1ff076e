"""How probable a reading is: Student's law, misreads, ends of ranges, signals, and the derivatives that climbs need."""

import math

import numpy as np
import pytest
from scipy import stats

from feedproof.circuit.forward import PROXIMITY, RESISTANCE, VOLTAGE
from feedproof.inference.likelihood import Observations, density, log_likelihood, slopes


def observations(
    *values: float, kind: int = VOLTAGE, over_range: bool = False, misread: float = 0.005, twin: tuple[int, ...] = ()
) -> Observations:
    count = len(values)
    signal = kind == PROXIMITY
    return Observations(
        kind=np.full(count, kind, np.int64),
        value=np.array(values),
        floor=np.full(count, 50.0 if signal else 0.5),
        relative=np.full(count, 3.0 if signal else 0.0),
        over_range=np.full(count, int(over_range), np.int64),
        misread=np.full(count, 0.05 if signal else misread),
        misread_density=np.full(count, 0.1 if signal else 1.0 / 300.0),
        twin=np.array(twin or [-1] * count, np.int64),
    )


@pytest.mark.parametrize("off", [0.0, 0.3, 1.0, 5.0, 60.0])
def test_a_reading_scatters_by_students_law_or_is_misread(off: float) -> None:
    """scipy.stats: four degrees of freedom, and evenly over 300 V in one of two hundred."""
    expected = 0.995 * stats.t(4, loc=120.0, scale=0.5).pdf(120.0 + off) + 0.005 / 300.0
    assert density(observations(120.0 + off), 0, 120.0)[0] == pytest.approx(math.log(expected), rel=1e-9)


def test_scatter_grows_with_what_is_read() -> None:
    o = observations(121.0)._replace(relative=np.array([0.01]))
    expected = 0.995 * stats.t(4, loc=120.0, scale=math.hypot(0.5, 1.2)).pdf(121.0) + 0.005 / 300.0
    assert density(o, 0, 120.0)[0] == pytest.approx(math.log(expected), rel=1e-9)


@pytest.mark.parametrize("shown", [119.2, 119.9, 120.0, 121.5, 126.0, 180.0])
def test_slope_and_curvature_are_those_of_finite_differences(shown: float) -> None:
    o, h = observations(120.0), 1e-4
    _, slope, weight, curvature = density(o, 0, shown)
    above, below = density(o, 0, shown + h), density(o, 0, shown - h)
    assert slope == pytest.approx((above[0] - below[0]) / (2.0 * h), rel=1e-5, abs=1e-8)
    assert curvature == pytest.approx(-(above[1] - below[1]) / (2.0 * h), rel=1e-5, abs=1e-8)
    assert weight >= 0.0
    # Reweighted least squares step to what was read.
    assert slope == pytest.approx(weight * (120.0 - shown), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(("kind", "over"), [(PROXIMITY, False), (RESISTANCE, True)])
@pytest.mark.parametrize("shown", [20.0, 45.0, 55.0, 110.0])
@pytest.mark.parametrize("value", [0.0, 1.0])
def test_what_is_yes_or_no_has_a_probability_and_its_slope(kind: int, over: bool, shown: float, value: float) -> None:
    if over and value == 0.0:
        return
    o, h = observations(50.0 if over else value, kind=kind, over_range=over), 1e-4
    found, slope, weight, _ = density(o, 0, shown)
    assert found < 0.0
    assert weight == pytest.approx(slope**2)
    assert slope == pytest.approx((density(o, 0, shown + h)[0] - density(o, 0, shown - h)[0]) / (2.0 * h), rel=1e-4)


def test_a_signal_and_its_absence_are_all_there_is() -> None:
    for shown in (0.0, 30.0, 50.0, 121.0):
        both = [math.exp(density(observations(v, kind=PROXIMITY), 0, shown)[0]) for v in (0.0, 1.0)]
        assert sum(both) == pytest.approx(1.0)
    assert math.exp(density(observations(1.0, kind=PROXIMITY), 0, 0.0)[0]) == pytest.approx(0.05, abs=1e-6)
    assert math.exp(density(observations(0.0, kind=PROXIMITY), 0, 1e4)[0]) == pytest.approx(0.1, abs=1e-5)


def test_readings_multiply() -> None:
    o, shown = observations(120.0, 119.0), np.array([120.3, 119.5])
    one = [density(o, r, shown[r])[0] for r in range(2)]
    assert log_likelihood(o, shown) == pytest.approx(sum(one))
    slope, weight, curvature = np.zeros(2), np.zeros(2), np.zeros(2)
    assert slopes(o, shown, slope, weight, curvature) == pytest.approx(sum(one))
    assert slope == pytest.approx([density(o, r, shown[r])[1] for r in range(2)])


def test_a_reading_of_a_joint_that_comes_and_goes_is_of_either_circuit() -> None:
    """Half of the one's density and half of the other's; and the mixture's own slopes and curvatures."""
    o, shown = observations(120.0, 120.0, twin=(1, -2)), np.array([120.2, 118.9])
    one = [math.exp(density(o, r, shown[r])[0]) for r in range(2)]
    assert log_likelihood(o, shown) == pytest.approx(math.log(0.5 * sum(one)))
    slope, weight, curvature = np.zeros(2), np.zeros(2), np.zeros(2)
    slopes(o, shown, slope, weight, curvature)
    h = 1e-4
    for r in range(2):
        above, below = shown.copy(), shown.copy()
        above[r] += h
        below[r] -= h
        up, down = log_likelihood(o, above), log_likelihood(o, below)
        assert slope[r] == pytest.approx((up - down) / (2.0 * h), rel=1e-5, abs=1e-8)
        second = (up - 2.0 * log_likelihood(o, shown) + down) / h**2
        assert curvature[r] == pytest.approx(-second, rel=1e-3, abs=1e-4)
