"""Shares of a mixture: against another optimizer, a likelihood in closed form, and how often intervals hold the truth.

A fleet is drawn from a mixture of known normal laws, so that every set's evidence under each fault is exact and the
shares are the only thing unknown.
"""

import numpy as np
import pytest
from scipy import optimize, stats

from feedproof.faults.priors import BASE_RATES
from feedproof.fleet.mixture import FloatArray, estimate, mixture, profile_interval
from feedproof.fleet.schema import FAULT_ORDER

TRUE = np.array([BASE_RATES[fault] for fault in FAULT_ORDER])
TRUE /= TRUE.sum()
EVEN = np.full(TRUE.size, 1.0 / TRUE.size)


def fleet(count: int, seed: int, rates: FloatArray = TRUE, spread: float = 2.0) -> FloatArray:
    """Log evidences of sets whose readings are three numbers, each fault's normal about a place of its own."""
    rng = np.random.default_rng(seed)
    places = np.random.default_rng(1).normal(size=(rates.size, 3)) * spread
    seen = places[rng.choice(rates.size, size=count, p=rates)] + rng.normal(size=(count, 3))
    found: FloatArray = -0.5 * ((seen[:, None, :] - places) ** 2).sum(axis=2)
    return found


def by_scipy(log_evidence: FloatArray, counts: FloatArray) -> tuple[FloatArray, float]:
    """Optimum by another way: a quasi-Newton method on softmax coordinates."""
    evidence = np.exp(log_evidence - log_evidence.max(axis=1, keepdims=True))

    def loss(u: FloatArray) -> tuple[float, FloatArray]:
        rates = np.exp(u - u.max())
        rates /= rates.sum()
        mixed = evidence @ rates
        slope = evidence.T @ (1.0 / mixed) + counts / rates
        return -float(np.log(mixed).sum() + counts @ np.log(rates)), -(rates * slope - rates * (slope @ rates))

    start = np.zeros(evidence.shape[1])
    found = optimize.minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 5000, "ftol": 1e-15})
    rates = np.exp(found.x - found.x.max())
    return rates / rates.sum(), -float(found.fun)


@pytest.mark.parametrize("spread", [2.0, 0.7])
def test_the_climb_reaches_the_optimum_of_another_optimizer(spread: float) -> None:
    log_evidence = fleet(5000, seed=2, spread=spread)
    exact = mixture(log_evidence, EVEN, 10.0, exact=True)
    rates = estimate(exact, EVEN)
    theirs, top = by_scipy(log_evidence, 10.0 * EVEN)
    assert exact.height(rates) == pytest.approx(top, abs=2e-3)
    assert rates.sum() == pytest.approx(1.0)
    if spread > 1.0:
        assert rates == pytest.approx(theirs, abs=3e-4)
    rounded = estimate(mixture(log_evidence, EVEN, 10.0), EVEN)
    assert top - exact.height(rounded) < 0.1


@pytest.mark.parametrize("fleets", [1, pytest.param(24, marks=pytest.mark.slow)])
def test_known_rates_lie_within_their_intervals_as_often_as_they_say(fleets: int) -> None:
    """Fleets of 4 000 sets, sixteen rates each: of 384 intervals of 90 %, 346 ± 6 should hold the truth."""
    held = 0
    for seed in range(fleets):
        sets = mixture(fleet(4000, seed=100 + seed))
        rates = estimate(sets, EVEN)
        intervals = np.array([profile_interval(sets, rates, k) for k in range(rates.size)])
        assert np.all(intervals[:, 0] <= rates + 1e-9)
        assert np.all(rates <= intervals[:, 1] + 1e-9)
        held += int(((intervals[:, 0] <= TRUE) & (intervals[:, 1] >= TRUE)).sum())
    low, high = stats.binom.interval(0.999, fleets * TRUE.size, 0.9)
    assert low <= held <= high


def told_apart(count: int, hits: int) -> FloatArray:
    log_evidence = np.full((count, 2), -60.0)
    log_evidence[:hits, 1] = 0.0
    log_evidence[hits:, 0] = 0.0
    return log_evidence


def test_an_interval_is_what_the_profile_likelihood_says() -> None:
    """Two faults that every set tells apart: the count is binomial, with a likelihood that is known in closed form."""
    count, hits = 400, 3
    sets = mixture(told_apart(count, hits))
    assert sets.number.tolist() in ([3.0, 397.0], [397.0, 3.0])
    rates = estimate(sets, np.array([0.5, 0.5]))
    assert rates[1] == pytest.approx(hits / count, rel=1e-4)

    def drop(rate: float) -> float:
        def height(r: float) -> float:
            return float(stats.binom.logpmf(hits, count, r))

        return height(hits / count) - height(rate) - 0.5 * float(stats.chi2.ppf(0.9, 1))

    low, high = profile_interval(sets, rates, 1)
    assert low == pytest.approx(optimize.brentq(drop, 1e-6, hits / count), rel=0.03)
    assert high == pytest.approx(optimize.brentq(drop, hits / count, 0.2), rel=0.03)
    wider = profile_interval(sets, rates, 1, dispersion=4.0)
    assert wider[0] < low < high < wider[1]


def test_a_fault_never_seen_keeps_a_small_rate_and_an_upper_end() -> None:
    before = np.array([0.9, 0.1])
    rates = estimate(mixture(told_apart(500, 0), before, 10.0), before)
    assert rates[1] == pytest.approx(1.0 / 510.0, rel=1e-3)
    sets = mixture(told_apart(500, 0))
    low, high = profile_interval(sets, estimate(sets, before), 1)
    assert low < 1e-6
    assert high == pytest.approx(1.0 - float(np.exp(-0.5 * stats.chi2.ppf(0.9, 1) / 500)), rel=0.03)


def test_readings_that_tell_nothing_leave_everything_open() -> None:
    sets = mixture(np.zeros((600, 3)))
    rates = estimate(sets, np.array([0.7, 0.2, 0.1]))
    for k in range(3):
        assert profile_interval(sets, rates, k) == (0.0, 1.0)
