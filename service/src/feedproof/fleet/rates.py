r"""Base rates of the faults from a fleet's own assessments: empirical Bayes by EM over the log evidences.

Each set n comes with the evidence Z_nf of every fault f, in which the base rates take no part. With base rates w the
readings of the whole fleet have the probability

.. math:: L(w) = \prod_n \sum_f w_f Z_{nf}, \qquad \sum_f w_f = 1,

a mixture with known components [1]_. Its logarithm is concave in w, so the maximum that EM climbs to is the only one
[2]_. The rates known before enter as a Dirichlet law: as if `prior_sets` further sets had been seen, shared as those
rates are. So a fault that a small group has never had keeps a small rate, and is still looked for there. For a group
the rates before are those of all sets together.

An interval holds the rates that the profile likelihood does not refuse: those whose best log likelihood, all other
rates chosen freely, lies less than half a chi-square quantile of one degree of freedom below the best of all [3]_. It
may end at 0, and needs no symmetry. The faults' shares in place and company stay those of the model; the rates hold for
the kind of sets that were assessed, which are visits to trouble and not outlets at random.

References
----------
.. [1] A. P. Dempster, N. M. Laird, D. B. Rubin, "Maximum likelihood from incomplete data via the EM algorithm", J. R.
   Stat. Soc. B 39 (1977) 1-38, section 4.3: finite mixtures.
.. [2] B. G. Lindsay, "The geometry of mixture likelihoods: a general theory", Ann. Stat. 11 (1983) 86-94.
.. [3] S. A. Murphy, A. W. van der Vaart, "On profile likelihood", J. Am. Stat. Assoc. 95 (2000) 449-465.
.. [4] R. Varadhan, C. Roland, "Simple and globally convergent methods for accelerating the convergence of any EM
   algorithm", Scand. J. Stat. 35 (2008) 335-353: the step length S3.
"""

import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from statistics import NormalDist

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedproof.contract.quantities import SMALLEST
from feedproof.faults.priors import BASE_RATES, MODEL_VERSION
from feedproof.fleet.ratebook import GroupRates, Ratebook, as_text
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import read_columns

FloatArray = NDArray[np.float64]

_ROUNDS = 2000
#: EM has arrived when a step gains less than this, for the estimate and within the search for an interval [nat].
_ARRIVED, _NEAR = 1e-9, 1e-4
_TINY = 1e-12
_HALVINGS = 30


def estimate(
    log_evidence: FloatArray, before: FloatArray, prior_sets: float, level: float | None
) -> tuple[FloatArray, FloatArray]:
    """Base rates, and their intervals.

    Parameters
    ----------
    log_evidence : ndarray, shape (N, F)
        Of each set under each fault; minus infinity where the fault was not considered [nat].
    before : ndarray, shape (F,)
        Rates before, which sum to 1 [1].
    prior_sets : float
        How many sets they count for [1].
    level : float, optional
        Of the intervals; without it they are left at 0 and 1 [1].

    Returns
    -------
    rates : ndarray, shape (F,)
        They sum to 1 [1].
    intervals : ndarray, shape (F, 2)
        Low and high ends [1].
    """
    evidence = likelihoods(log_evidence)
    counts = prior_sets * before
    rates, top = climb(evidence, counts, np.maximum(before, _TINY), _ARRIVED)
    intervals = np.tile([0.0, 1.0], (rates.size, 1))
    if level is not None:
        drop = 0.5 * NormalDist().inv_cdf(0.5 + 0.5 * level) ** 2
        for k in range(rates.size):
            intervals[k] = profile_interval(evidence, counts, rates, top, k, drop)
    return rates, intervals


def likelihoods(log_evidence: FloatArray) -> FloatArray:
    """Evidences scaled so that the best fault of each set has 1; shape (N, F) [1]."""
    found: FloatArray = np.exp(log_evidence - log_evidence.max(axis=1, keepdims=True))
    return found


def log_likelihood(evidence: FloatArray, counts: FloatArray, rates: FloatArray) -> float:
    """Logarithm of the posterior density of base rates, up to a constant [nat].

    Parameters
    ----------
    evidence : ndarray, shape (N, F)
        From `likelihoods` [1].
    counts : ndarray, shape (F,)
        Sets that are counted for each fault beforehand [1].
    rates : ndarray, shape (F,)
        Base rates [1].
    """
    kept = counts > 0.0
    return float(np.log(evidence @ rates).sum() + counts[kept] @ np.log(np.maximum(rates[kept], 1e-300)))


def climb(
    evidence: FloatArray, counts: FloatArray, start: FloatArray, enough: float, held: int | None = None
) -> tuple[FloatArray, float]:
    """EM with extrapolated steps, to the base rates that explain the sets best.

    Parameters
    ----------
    evidence : ndarray, shape (N, F)
        From `likelihoods` [1].
    counts : ndarray, shape (F,)
        Sets that are counted for each fault beforehand [1].
    start : ndarray, shape (F,)
        Rates to begin with; one that is 0 stays 0 [1].
    enough : float
        Gain at which to stop [nat].
    held : int, optional
        A fault whose rate stays as it is.

    Returns
    -------
    rates : ndarray, shape (F,)
        They sum to 1 [1].
    height : float
        `log_likelihood` there [nat].
    """

    def step(rates: FloatArray) -> FloatArray:
        share = rates * ((1.0 / (evidence @ rates)) @ evidence) + counts
        return _normalized(share, rates[held] if held is not None else None, held)

    rates = start / start.sum() if held is None else start
    height = log_likelihood(evidence, counts, rates)
    for _ in range(_ROUNDS):
        once = step(rates)
        twice = step(once)
        first, bend = once - rates, twice - 2.0 * once + rates
        length = -math.sqrt(float(first @ first) / max(float(bend @ bend), 1e-300))
        leap = rates - 2.0 * length * first + length**2 * bend
        here, there = twice, log_likelihood(evidence, counts, twice)
        if length < -1.0 and leap.min() > 0.0:
            further = step(_normalized(leap, rates[held] if held is not None else None, held))
            reached = log_likelihood(evidence, counts, further)
            if reached > there:
                here, there = further, reached
        gain = there - height
        rates, height = here, max(there, height)
        if gain < enough:
            break
    return rates, height


def _normalized(share: FloatArray, fixed: float | None, held: int | None) -> FloatArray:
    """Shares scaled to sum to 1, one of them held."""
    found: FloatArray
    if held is None or fixed is None:
        found = share / share.sum()
        return found
    others = np.delete(share, held)
    return np.insert(others * ((1.0 - fixed) / max(float(others.sum()), 1e-300)), held, fixed)


def profile_interval(
    evidence: FloatArray, counts: FloatArray, rates: FloatArray, top: float, k: int, drop: float
) -> tuple[float, float]:
    """Rates of one fault that are not refused.

    Parameters
    ----------
    evidence : ndarray, shape (N, F)
        From `likelihoods` [1].
    counts : ndarray, shape (F,)
        Sets that are counted for each fault beforehand [1].
    rates : ndarray, shape (F,)
        The best ones [1].
    top : float
        Their `log_likelihood` [nat].
    k : int
        The fault.
    drop : float
        How far below the best a rate may lie [nat].

    Returns
    -------
    tuple of float
        Low and high end [1].
    """

    def refused(value: float, near: FloatArray) -> tuple[bool, FloatArray]:
        start = near.copy()
        start[k] = value
        start = _normalized(np.maximum(start, _TINY), value, k)
        best, height = climb(evidence, counts, start, _NEAR, k)
        return top - height > drop, best

    def end(outside: float) -> float:
        inside, near = float(rates[k]), rates
        beyond, _ = refused(outside, rates)
        if not beyond:
            return outside
        for _ in range(_HALVINGS):
            # The middle in the logarithm, since rates differ by factors; from 0 upward, a tenth.
            middle = math.sqrt(inside * outside) if min(inside, outside) > _TINY else 0.1 * max(inside, outside)
            if abs(inside - outside) < 0.01 * max(inside, outside) or max(inside, outside) < 1e-7:  # noqa: PLR2004
                break
            out, best = refused(middle, near)
            if out:
                outside = middle
            else:
                inside, near = middle, best
        return inside

    return end(0.0), end(1.0 - _TINY)


def estimate_file(path: Path, *, by: Sequence[str] = (), level: float = 0.9, prior_sets: float = 10.0) -> bytes:
    """Estimate the base rates of a file of assessments, for all sets and for each group.

    Parameters
    ----------
    path : Path
        What `feedproof fleet` wrote.
    by : sequence of str
        Columns whose values make the groups.
    level : float
        Of the intervals [1].
    prior_sets : float
        How many sets the rates before count for: the model's own for all sets, those of all sets for a group [1].

    Returns
    -------
    bytes
        JSON of a `Ratebook`, which `feedproof fleet --base-rates` takes; each group's `base_rates` can stand in a
        request as they are.

    Raises
    ------
    ValueError
        If it holds no assessments, lacks a column, or was made with another model.
    """
    columns = [f"log_evidence_{fault}" for fault in FAULT_ORDER]
    evidences: list[FloatArray] = []
    keys: list[tuple[str | None, ...]] = []
    for batch in read_columns(path, [*by, *columns, "model_version"]):
        made_with = {v for v in batch.column("model_version").to_pylist() if v not in (None, MODEL_VERSION)}
        if made_with:
            raise ValueError(f"{path}: assessed with model {', '.join(sorted(made_with))}, this is {MODEL_VERSION}")
        rows = np.array([batch.column(name).to_numpy(zero_copy_only=False) for name in columns], dtype=np.float64).T
        evidences.append(np.where(np.isnan(rows), -np.inf, rows))
        keys += zip(*(map(as_text, batch.column(name).to_pylist()) for name in by), strict=True) if by else []
    if not evidences:
        raise ValueError(f"{path}: no assessments in it")
    evidence = np.concatenate(evidences)
    evidence = evidence[np.isfinite(evidence).any(axis=1)] if not by else evidence
    before = np.array([BASE_RATES.get(fault, 0.0) for fault in FAULT_ORDER])
    before /= before.sum()
    rates, intervals = estimate(evidence, before, prior_sets, level)
    groups = [_group({}, evidence.shape[0], rates, intervals)]
    members: dict[tuple[str | None, ...], list[int]] = {}
    for row, key in enumerate(keys):
        members.setdefault(key, []).append(row)
    for key in sorted(members, key=_order):
        own = members[key]
        found = estimate(evidence[own], rates, prior_sets, level)
        groups.append(_group(dict(zip(by, key, strict=True)), len(own), *found))
    book = Ratebook(groups=groups, by=list(by), level=level, prior_sets=prior_sets, model_version=MODEL_VERSION)
    return msgspec.json.format(msgspec.json.encode(book), indent=2) + b"\n"


def _order(key: Iterable[str | None]) -> tuple[tuple[bool, str], ...]:
    return tuple((value is None, value or "") for value in key)


def _group(group: dict[str, str | None], sets: int, rates: FloatArray, intervals: FloatArray) -> GroupRates:
    def digits(value: float) -> float:
        return float(f"{value:.5g}")

    return GroupRates(
        group=group,
        sets=sets,
        base_rates={fault: _stated(fault, digits(rate)) for fault, rate in zip(FAULT_ORDER, rates, strict=True)},
        intervals={
            fault: (digits(low), digits(high)) for fault, (low, high) in zip(FAULT_ORDER, intervals, strict=True)
        },
    )


def _stated(fault: str, rate: float) -> float:
    """The rate as a request may state it: so small a one is 0, which would rule a sound supply out."""
    if rate >= SMALLEST:
        return rate
    return SMALLEST if fault == "none_found" else 0.0
