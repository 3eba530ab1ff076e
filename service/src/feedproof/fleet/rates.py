"""Base rates of the faults from a fleet's own assessments: empirical Bayes over the log evidences.

A fault's rate comes from the sets whose readings can show it. Where others stopped at a part of these readings, what
they read may have settled who read on, and all sets count (`feedproof.fleet.evidence`). Whether it did cannot be told
from here, so an interval holds both cases.

Intervals are from the evidence alone, but reach to the estimate; the rates before enter the estimates only, which a
small group needs. Where the layouts that can show a fault differ in how often they do by more than chance, the interval
is widened by that factor, as a quasi-likelihood is [1]_. What is fed back is the estimate; but a fault is never taken
for rarer than is published, or than the interval's upper end where that is lower, nor for rarer than a tenth of the
published rate: a fleet that has not met a fault must not become unable to see it.

The rates hold for the kind of sets that were assessed, which are visits to trouble and not outlets at random. The
faults' shares in place and company stay those of the model.

References
----------
.. [1] R. W. M. Wedderburn, "Quasi-likelihood functions, generalized linear models, and the Gauss-Newton method",
   Biometrika 61 (1974) 439-447; P. McCullagh, J. A. Nelder, Generalized Linear Models, 2nd ed., 1989, section 4.5.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from feedproof.advice.wording import rounded
from feedproof.contract.quantities import SMALLEST
from feedproof.faults.priors import MODEL_VERSION
from feedproof.fleet.evidence import NONE, PUBLISHED, Fleet, read_fleet
from feedproof.fleet.mixture import FloatArray, estimate, mixture, profile_interval
from feedproof.fleet.ratebook import FaultRate, GroupRates, Ratebook
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import assessments

#: Significant digits of a rate.
_DIGITS = 5
#: A fault is not fed back as rarer than this share of its published rate [1].
_FLOOR = 0.1


def group_rates(
    sets: Fleet, before: FloatArray, prior_sets: float = 10.0, level: float = 0.9
) -> tuple[dict[str, FaultRate], FloatArray]:
    """Rates of one group of sets.

    Parameters
    ----------
    sets : Fleet
        Its sets.
    before : ndarray, shape (F,)
        Rates before: the published ones, or for a group those of all sets [1].
    prior_sets : float
        How many sets they count for [1].
    level : float
        Of the intervals [1].

    Returns
    -------
    found : dict of str to FaultRate
        By fault.
    estimates : ndarray, shape (F,)
        They sum to 1 [1].
    """
    rates = estimate(mixture(sets.evidence, before, prior_sets), before)
    spread = dispersions(sets, rates)
    ends = intervals(sets, before, range(rates.size), level, spread)
    ends = np.stack([np.minimum(ends[:, 0], rates), np.maximum(ends[:, 1], rates)], axis=1)
    informing = sets.shown.sum(axis=0)
    informing[NONE] = sets.shown.any(axis=1).sum()
    fed = _fed_back(rates, ends[:, 1])
    found = {}
    for k, fault in enumerate(FAULT_ORDER):
        words = []
        if not informing[k]:
            words.append("no layout of these sets can show it: it keeps its ratio to a sound supply")
        elif fed[k] > 1.001 * rates[k] and k != NONE:
            words.append("fed back no lower than these sets can show, or a tenth of what is published")
        if sets.begun[:, k].any():
            words.append(
                f"{sets.begun[:, k].sum()} sets stopped at readings to which others added those that show it: if what"
                " was read settled who read on, the estimate is too high; the interval holds both cases"
            )
        if spread[k] > 1.0:
            words.append(f"layouts differ {spread[k]:.3g} times as much as chance: interval widened")
        found[fault] = FaultRate(
            estimate=rounded(rates[k], _DIGITS),
            low=rounded(ends[k, 0], _DIGITS),
            high=rounded(ends[k, 1], _DIGITS),
            sets=int(informing[k]),
            fed_back=rounded(fed[k], _DIGITS),
            words="; ".join(words),
        )
    return found, rates


def intervals(
    sets: Fleet, before: FloatArray, faults: Iterable[int], level: float = 0.9, dispersion: FloatArray | None = None
) -> FloatArray:
    """What the evidence alone says of the rates of some faults.

    Parameters
    ----------
    sets : Fleet
        Sets.
    before : ndarray, shape (F,)
        Rates to begin a search with [1].
    faults : iterable of int
        Which.
    level : float
        Of the intervals [1].
    dispersion : ndarray, shape (F,), optional
        How much more than the model says the sets vary [1].

    Returns
    -------
    ndarray, shape (K, 2)
        Low and high ends, whether or not readings settled what more was read [1].
    """
    wide = np.ones(before.size) if dispersion is None else dispersion
    asked, found = list(faults), []
    for evidence in (sets.evidence, sets.whole) if sets.begun.any() else (sets.evidence,):
        alone = mixture(evidence)
        best = estimate(alone, before)
        found.append([profile_interval(alone, best, k, level, wide[k]) for k in asked])
    ends: FloatArray = np.stack([np.min(found, axis=0)[:, 0], np.max(found, axis=0)[:, 1]], axis=1)
    return ends


def dispersions(sets: Fleet, rates: FloatArray) -> FloatArray:
    """How much more than by chance the layouts that can show a fault differ in how often they do.

    By the model the probabilities of a fault after the readings add up to the number of sets times its rate, in every
    layout. Pearson's statistic over its degrees of freedom says how far from that they are.

    Parameters
    ----------
    sets : Fleet
        Sets.
    rates : ndarray, shape (F,)
        Estimates [1].

    Returns
    -------
    ndarray, shape (F,)
        At least 1 [1].
    """
    joint = np.exp(sets.evidence - sets.evidence.max(axis=1, keepdims=True)) * rates
    after = joint / joint.sum(axis=1, keepdims=True)
    found = np.ones(rates.size)
    for k in range(rates.size):
        own = sets.shown[:, k]
        where, number = np.unique(sets.layout[own], return_inverse=True)
        count, told = np.bincount(number), np.bincount(number, weights=after[own, k])
        expected = count * rates[k]
        # With an expected count below one the statistic has no known distribution.
        enough = np.minimum(expected, count - expected) >= 1.0
        if where.size and enough.sum() > 1:
            off = (told - expected)[enough] ** 2 / (expected * (1.0 - rates[k]))[enough]
            found[k] = max(1.0, float(off.sum()) / (int(enough.sum()) - 1))
    return found


def _fed_back(rates: FloatArray, high: FloatArray) -> FloatArray:
    """Rates with a floor under each fault; what that takes comes off the others in proportion."""
    floor = np.maximum(np.minimum(PUBLISHED, high), _FLOOR * PUBLISHED)
    floor[NONE] = 0.0
    held = np.zeros(rates.size, dtype=bool)
    while True:
        rest = (1.0 - floor[held].sum()) / max(rates[~held].sum(), 1e-300)
        fed = np.where(held, floor, rates * rest)
        if (fed >= floor).all():
            return fed
        held |= fed < floor


def estimate_file(
    source: object,
    *,
    by: Sequence[str] = (),
    level: float = 0.9,
    prior_sets: float = 10.0,
    every_set: bool = False,
) -> Ratebook:
    """Estimate the base rates of assessments, for all sets and for each group.

    Parameters
    ----------
    source : Path, str, or Arrow data
        What `feedproof fleet` wrote.
    by : sequence of str
        Columns whose values make the groups.
    level : float
        Of the intervals [1].
    prior_sets : float
        How many sets the rates before count for: the model's own for all sets, those of all sets for a group [1].
    every_set : bool
        Believe the model of every set, whatever its layout can show.

    Returns
    -------
    Ratebook
        `write_ratebook` gives it as a file that `feedproof fleet --base-rates` takes; each group's `base_rates` can
        stand in a request as they are.

    Raises
    ------
    ValueError
        If there are no assessments with readings in it, a column is lacking, or they were made with another model:
        what a fault's readings look like is then another question, and so is how often it was met.
    """
    base = assessments(source, by)
    models = base.sql("SELECT DISTINCT model_version FROM counted WHERE model_version <> $1", params=[MODEL_VERSION])
    strange = ", ".join(str(model) for (model,) in models.fetchall())
    if strange:
        raise ValueError(f"assessed with model {strange}, this is model {MODEL_VERSION}: assess the readings again")
    sets, keys = read_fleet(base, by, every_set=every_set)
    found, rates = group_rates(sets, PUBLISHED, prior_sets, level)
    groups = [_group({}, sets, found)]
    members: dict[tuple[str | None, ...], list[int]] = {}
    for row, key in enumerate(keys if by else ()):
        members.setdefault(key, []).append(row)
    for key in sorted(members, key=lambda key: [(value is None, value or "") for value in key]):
        part = sets.of(np.array(members[key]))
        groups.append(_group(dict(zip(by, key, strict=True)), part, group_rates(part, rates, prior_sets, level)[0]))
    return Ratebook(groups=groups, by=list(by), level=level, prior_sets=prior_sets, model_version=MODEL_VERSION)


def _group(group: dict[str, str | None], sets: Fleet, found: dict[str, FaultRate]) -> GroupRates:
    return GroupRates(
        group=group,
        sets=sets.evidence.shape[0],
        # A request takes nothing smaller, and 0 would rule a fault out.
        base_rates={fault: max(rate.fed_back, SMALLEST) for fault, rate in found.items()},
        found=found,
    )
