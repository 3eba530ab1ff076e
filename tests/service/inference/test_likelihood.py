"""Densities of readings: they are densities, and their slopes are slopes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from feedproof.inference.forward import CURRENT, PROXIMITY, RESISTANCE, VOLTAGE
from feedproof.inference.likelihood import (
    Observations,
    empty_observations,
    log_likelihood,
    reading_column,
    signal_column,
    signal_probability,
    slope_and_weight,
    told_share,
    total_log_likelihood,
)
from support.internals.small_programs import observed


def near(*, signalled: bool, threshold: float = 50.0) -> Observations:
    found = empty_observations(1)
    found.kind[0], found.value[0] = PROXIMITY, float(signalled)
    found.floor[0], found.relative[0] = threshold, 3.0
    found.misread[0], found.misread_density[0] = 0.05, 0.1
    return found


def beyond(highest: float) -> Observations:
    found = observed([RESISTANCE], [highest], floor=0.2, relative=0.01, misread=0.005)
    found.over_range[0] = 1
    return found


@pytest.mark.parametrize("kind", [VOLTAGE, CURRENT, RESISTANCE])
@pytest.mark.parametrize("value", [0.0, 119.0, 121.3])
def test_it_is_students_law_with_four_degrees(kind: int, value: float) -> None:
    o = observed([kind], [value], floor=0.4, relative=0.003)
    scale = math.hypot(0.4, 0.003 * 120.0)
    assert log_likelihood(o, 0, 120.0) == pytest.approx(stats.t.logpdf(value, 4, loc=120.0, scale=scale), rel=1e-9)


def test_a_misread_lies_anywhere() -> None:
    """Far off, only the misread share is left: 0.005 over 300 V."""
    o = observed([VOLTAGE], [0.0], floor=1e-4, misread=0.005)
    assert log_likelihood(o, 0, 250.0) == pytest.approx(math.log(0.005 / 300.0), rel=1e-6)


def test_the_density_of_a_reading_integrates_to_one() -> None:
    def density(value: float) -> float:
        return math.exp(log_likelihood(observed([VOLTAGE], [value], 2.0, 0.01, misread=0.005), 0, 150.0))

    whole, _ = integrate.quad(density, 0.0, 300.0, points=[150.0], limit=200)
    assert whole == pytest.approx(1.0, abs=1e-4)


def test_the_chances_of_a_signal_and_of_silence_sum_to_one() -> None:
    for shown in (0.0, 10.0, 50.0, 120.0, 1e4):
        chances = [math.exp(log_likelihood(near(signalled=s), 0, shown)) for s in (True, False)]
        assert sum(chances) == pytest.approx(1.0)


def test_a_detector_signals_half_the_time_at_its_threshold() -> None:
    """Between a false signal in twenty and a miss in ten: 0.05 + 0.85 / 2."""
    assert signal_probability(50.0, 50.0, 3.0, 0.05, 0.1) == pytest.approx(0.475)
    assert signal_probability(0.0, 50.0, 3.0, 0.05, 0.1) == pytest.approx(0.05, abs=1e-9)
    assert signal_probability(1e6, 50.0, 3.0, 0.05, 0.1) == pytest.approx(0.9, abs=1e-9)
    rising = [signal_probability(v, 50.0, 3.0, 0.05, 0.1) for v in np.linspace(0.0, 300.0, 61)]
    assert (np.diff(rising) >= 0.0).all()


def test_no_end_of_range_speaks_for_more_than_the_range() -> None:
    chances = [math.exp(log_likelihood(beyond(40e6), 0, r)) for r in (0.3, 1e6, 20e6, 40e6, 80e6, 1e9, 1e300)]
    assert (np.diff(chances) >= -1e-12).all()
    assert chances[0] == pytest.approx(0.0025)
    assert chances[3] == pytest.approx(0.995 / 2.0 + 0.0025)
    assert chances[-1] == pytest.approx(0.9975, abs=1e-6)


CASES = {
    "voltage": (observed([VOLTAGE], [118.0], 0.4, 0.003, misread=0.005), (60.0, 117.0, 118.0, 119.0, 150.0)),
    "misread": (observed([VOLTAGE], [3.0], 0.4, 0.0, misread=0.5), (3.5, 8.0, 40.0, 120.0)),
    "signal": (near(signalled=True), (2.0, 30.0, 50.0, 120.0)),
    "silence": (near(signalled=False), (2.0, 30.0, 50.0, 120.0)),
    "over range": (beyond(2e3), (1500.0, 1990.0, 2100.0, 3000.0)),
}


@pytest.mark.parametrize("name", [n for n in CASES if n != "voltage"])
def test_the_slope_is_that_of_the_logarithm(name: str) -> None:
    o, places = CASES[name]
    for shown in places:
        step = 1e-5 * shown
        quotient = (log_likelihood(o, 0, shown + step) - log_likelihood(o, 0, shown - step)) / (2.0 * step)
        slope, weight = slope_and_weight(o, 0, shown)
        assert slope == pytest.approx(quotient, rel=1e-4, abs=1e-9)
        assert weight >= 0.0


def test_the_slope_of_a_relative_scatter_leaves_only_the_scatters_own_change_out() -> None:
    o, places = CASES["voltage"]
    for shown in places:
        floor = math.hypot(0.4, 0.003 * shown)
        still = observed([VOLTAGE], [118.0], floor, 0.0, misread=0.005)
        assert slope_and_weight(o, 0, shown) == pytest.approx(slope_and_weight(still, 0, shown))
        assert abs(slope_and_weight(o, 0, 118.0)[0]) == 0.0


def test_the_weight_majorizes() -> None:
    """The quadratic with that slope and weight lies below the logarithm of Student's law everywhere."""
    o = observed([VOLTAGE], [120.0], 0.5)
    everywhere = np.linspace(90.0, 150.0, 241)
    heights = np.array([log_likelihood(o, 0, x) for x in everywhere])
    for at in (100.0, 118.0, 120.0, 121.5):
        slope, weight = slope_and_weight(o, 0, at)
        bound = log_likelihood(o, 0, at) + slope * (everywhere - at) - 0.5 * weight * (everywhere - at) ** 2
        assert (bound <= heights + 1e-9).all()


def test_the_sum_over_many_readings_neither_overflows_nor_loses_any() -> None:
    rng = np.random.default_rng(1)
    count = 400
    o = observed([VOLTAGE] * count, rng.uniform(0.0, 250.0, count).tolist(), 0.1, misread=1e-6)
    o.kind[::7] = PROXIMITY
    o.value[::7] = 1.0
    o.misread_density[::7] = 0.1
    shown = rng.uniform(0.0, 250.0, count)
    single = sum(log_likelihood(o, r, shown[r]) for r in range(count))
    assert total_log_likelihood(o, shown) == pytest.approx(single, rel=1e-12)
    assert total_log_likelihood(observed([], [], 1.0), np.zeros(0)) == 0.0


def test_readings_that_are_all_out_stay_finite() -> None:
    o = observed([VOLTAGE] * 100, [0.0] * 100, 1e-9)
    assert math.isfinite(total_log_likelihood(o, np.full(100, 250.0)))


def test_columns_are_the_single_values() -> None:
    shown = np.linspace(0.0, 200.0, 9)
    o = CASES["voltage"][0]
    assert reading_column(o, 0, shown).tolist() == [log_likelihood(o, 0, x) for x in shown]
    o = near(signalled=True)
    assert signal_column(o, 0, shown) == pytest.approx(np.exp(reading_column(o, 0, shown)))


@given(st.floats(0.01, 300.0), st.floats(0.0, 250.0), st.floats(0.0, 1.0))
def test_a_share_told_is_the_share_of_the_density_without_misreads(
    scatter: float, shown: float, misread: float
) -> None:
    """By Bayes, from Student's law as scipy has it."""
    o = observed([VOLTAGE], [120.0], floor=scatter, misread=misread)
    told = (1.0 - misread) * stats.t.pdf(120.0, 4, loc=shown, scale=scatter)
    assert told_share(o, 0, shown) == pytest.approx(told / (told + misread / 300.0), abs=1e-9)
