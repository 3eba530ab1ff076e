r"""Shares of a mixture with known components, and what the evidence alone says of them.

Each set n has the evidence Z_nf of every fault f, in which the base rates take no part. With rates w the readings of
all sets have the probability

.. math:: L(w) = \prod_n \sum_f w_f Z_{nf}, \qquad \sum_f w_f = 1,

a mixture with known components. Its logarithm is concave in w, so there is one maximum, and how far one is below it is
known at every point [1]_. It is climbed by Newton steps within the bounds, each a least-squares problem without
negative numbers [2]_. Rates known before enter as a Dirichlet law: as if so many further sets, each of one fault for
certain, had been seen, shared as those rates are.

An interval holds the rates that the profile likelihood does not refuse: those whose best log likelihood, all other
rates chosen freely, lies less than half a chi-square quantile of one degree of freedom below the best of all [3]_. It
needs no symmetry, and is all of 0 to 1 where the readings tell nothing.

References
----------
.. [1] B. G. Lindsay, "The geometry of mixture likelihoods: a general theory", Ann. Stat. 11 (1983) 86-94.
.. [2] Y. Kim, P. Carbonetto, M. Stephens, M. Anitescu, "A fast algorithm for maximum likelihood estimation of mixture
   proportions using sequential quadratic programming", J. Comput. Graph. Stat. 29 (2020) 261-273.
.. [3] S. A. Murphy, A. W. van der Vaart, "On profile likelihood", J. Am. Stat. Assoc. 95 (2000) 449-465.
"""

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray
from scipy import linalg, optimize, special, stats

FloatArray = NDArray[np.float64]

_ROUNDS = 200
#: A climb ends when less than this can be left to gain, for the estimate and within the search for an interval [nat].
_ARRIVED, _NEAR = 1e-7, 1e-2
_TINY = 1e-12
#: Ridge, as a share of the curvature, for faults whose evidence is the same in all sets [1].
_RIDGE = 1e-9
#: Evidences that differ by less, as a logarithm, are taken as one; what is less likely than the best of its set by
#: more than the second counts as impossible [nat].
_STEP, _LEAST = 0.05, 14.0
#: Ends of intervals are found to this, in the logarithm of the odds [1].
_CLOSE = 0.01


class Mixture(Struct, frozen=True):
    """Sets whose shares are asked for, those that say the same put together."""

    evidence: FloatArray
    """Of each set under each fault, the best of each set 1; shape (N, F) [1]."""
    number: FloatArray
    """How many sets say the same; shape (N,) [1]."""

    def height(self, rates: FloatArray) -> float:
        """Log likelihood of rates, up to a constant [nat]."""
        with np.errstate(divide="ignore"):
            return float(self.number @ np.log(self.evidence @ rates))


def mixture(
    log_evidence: FloatArray, before: FloatArray | None = None, prior_sets: float = 0.0, *, exact: bool = False
) -> Mixture:
    """Sets by their log evidences.

    Parameters
    ----------
    log_evidence : ndarray, shape (N, F)
        Of each set under each fault; minus infinity where the fault was not considered [nat].
    before : ndarray, shape (F,), optional
        Rates before, which sum to 1 [1].
    prior_sets : float
        How many sets they count for [1].
    exact : bool
        Leave every set as it is. Else evidences are rounded to a twentieth, so that a million sets are as fast as the
        different ones among them.

    Returns
    -------
    Mixture
        What `estimate` and `profile_interval` work on.
    """
    below = log_evidence - log_evidence.max(axis=1, keepdims=True)
    number = np.ones(below.shape[0])
    if not exact:
        steps = np.where(below < -_LEAST, -np.inf, np.round(below / _STEP) * _STEP)
        below, counts = np.unique(steps, axis=0, return_counts=True)
        number = counts.astype(np.float64)
    evidence = np.exp(below)
    if before is not None and prior_sets > 0.0:
        seen = before > 0.0
        evidence = np.vstack([evidence, np.eye(before.size)[seen]])
        number = np.append(number, prior_sets * before[seen])
    return Mixture(evidence, number)


def estimate(sets: Mixture, start: FloatArray) -> FloatArray:
    """Rates that explain the sets best, by a climb from others; shape (F,), they sum to 1 [1]."""
    return climb(sets, np.maximum(start, _TINY), _ARRIVED)


def climb(sets: Mixture, start: FloatArray, enough: float) -> FloatArray:
    """Newton steps to the rates that explain the sets best.

    Parameters
    ----------
    sets : Mixture
        Evidences.
    start : ndarray, shape (F,)
        Rates to begin with, all above 0 [1].
    enough : float
        Stop when no rates can be better by more [nat].

    Returns
    -------
    ndarray, shape (F,)
        They sum to 1 [1].
    """
    total = float(sets.number.sum())
    share = sets.number / total
    rates: FloatArray = start / start.sum()
    height = sets.height(rates)
    for _ in range(_ROUNDS):
        mixed = sets.evidence @ rates
        pull = sets.evidence.T @ (share / mixed)
        if total * (pull.max() - 1.0) < enough:
            break
        scaled = sets.evidence * (np.sqrt(share) / mixed)[:, None]
        curvature = scaled.T @ scaled
        curvature += _RIDGE * np.trace(curvature) * np.eye(rates.size)
        root = linalg.cholesky(curvature)
        aim, _ = optimize.nnls(root, linalg.solve_triangular(root, curvature @ rates + pull - 1.0, trans=1))
        step, aim = 1.0, aim / max(float(aim.sum()), _TINY)
        while (reached := sets.height(rates + step * (aim - rates))) <= height and step > _TINY:
            step *= 0.5
        if reached <= height:
            break
        rates, height = rates + step * (aim - rates), reached
    return rates


def profile_interval(
    sets: Mixture, rates: FloatArray, k: int, level: float = 0.9, dispersion: float = 1.0
) -> tuple[float, float]:
    """Rates of one fault that are not refused.

    Parameters
    ----------
    sets : Mixture
        Evidences.
    rates : ndarray, shape (F,)
        The best ones, from `estimate` [1].
    k : int
        The fault.
    level : float
        Of the interval [1].
    dispersion : float
        How much more than the model says the sets vary: a quasi-likelihood's factor, which widens the interval [1].

    Returns
    -------
    tuple of float
        Low and high end [1].
    """
    drop = 0.5 * dispersion * float(stats.chi2.ppf(level, 1))
    top = sets.height(rates)
    own, others = sets.evidence[:, [k]], np.delete(sets.evidence, k, axis=1)

    def refused(rate: float, near: FloatArray) -> tuple[bool, FloatArray]:
        # With one rate held, the others are the shares of a mixture of components that each hold that part of it.
        rest = Mixture(rate * own + (1.0 - rate) * others, sets.number)
        best = climb(rest, np.maximum(near, _TINY), _NEAR)
        return top - rest.height(best) > drop, best

    def end(outside: float) -> float:
        near = np.delete(rates, k)
        if not refused(outside, near)[0]:
            return float(round(outside))
        # Halved in the logarithm of the odds, since small rates and rates near 1 differ by factors.
        inside, outer = special.logit(np.clip((rates[k], outside), _TINY, 1.0 - _TINY))
        while abs(inside - outer) > _CLOSE:
            middle = 0.5 * (inside + outer)
            out, best = refused(float(special.expit(middle)), near)
            if out:
                outer = middle
            else:
                inside, near = middle, best
        return float(special.expit(inside))

    return end(_TINY), end(1.0 - _TINY)
