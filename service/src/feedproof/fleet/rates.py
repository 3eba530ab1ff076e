"""Base rates of the faults from a fleet's own assessments: empirical Bayes over the log evidences.

What readings cannot show they say nothing of, and a model that is a little wrong about them would say it with the
weight of thousands of sets. So a fault's rate comes from the sets whose readings can show it. A layout (which readings,
in which state, with which kind of meter) can show a fault where a typical sound set of that layout moves the odds of
the fault by twenty to one or more. In the other sets the fault and a sound supply are one: with the evidence that
both have together by the published rates, they still count for and against all other faults, and are blind between
these two. Whether a set was blind is settled by its layout and not by what it read, so that sets that happen to show
something are no more likely to count. A fault that no layout can show keeps its published ratio to a sound supply.

Intervals are from the evidence alone; the rates before enter the estimates only, which a small group needs. Where the
layouts that can show a fault differ in how often they do by more than chance, the interval is widened by that
factor, as a quasi-likelihood is [1]_. What is fed back is the estimate; but a fault is never taken for rarer than is
published, or than the interval's upper end where that is lower, nor for rarer than a tenth of the published rate: a
fleet that has not met a fault must not become unable to see it.

The rates hold for the kind of sets that were assessed, which are visits to trouble and not outlets at random. The
faults' shares in place and company stay those of the model.

References
----------
.. [1] R. W. M. Wedderburn, "Quasi-likelihood functions, generalized linear models, and the Gauss-Newton method",
   Biometrika 61 (1974) 439-447; P. McCullagh, J. A. Nelder, Generalized Linear Models, 2nd ed., 1989, section 4.5.
"""

import math
from collections.abc import Sequence

import duckdb
import msgspec
import numpy as np
from numpy.typing import NDArray

from feedproof.advice.wording import rounded
from feedproof.contract.quantities import SMALLEST
from feedproof.faults.priors import BASE_RATES, MODEL_VERSION
from feedproof.fleet.mixture import FloatArray, estimate, mixture, profile_interval
from feedproof.fleet.ratebook import FaultRate, GroupRates, Ratebook
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import assessments, quoted

BoolArray = NDArray[np.bool_]

NONE = FAULT_ORDER.index("none_found")
PUBLISHED: FloatArray = np.array([BASE_RATES.get(fault, 0.0) for fault in FAULT_ORDER])
PUBLISHED /= PUBLISHED.sum()
_EVIDENCES = ", ".join(f"log_evidence_{fault}" for fault in FAULT_ORDER)

#: From here on odds are moved enough to count [nat]: twenty to one.
CONCLUSIVE = math.log(20.0)
#: Significant digits of a rate.
_DIGITS = 5
#: Layouts with fewer sets are judged together [1].
_FEW_SETS = 5
#: A fault is not fed back as rarer than this share of its published rate [1].
_FLOOR = 0.1


class Fleet(msgspec.Struct, frozen=True, kw_only=True):
    """What the sets of a fleet say of the faults."""

    evidence: FloatArray
    """Log evidences, blind between a sound supply and what a set's layout cannot show; shape (N, F) [nat]."""
    shown: BoolArray
    """Whether a set's layout can show a fault; shape (N, F)."""
    layout: NDArray[np.int64]
    """Which layout each set has; shape (N,)."""

    def of(self, sets: NDArray[np.int64]) -> "Fleet":
        """Some of the sets."""
        return Fleet(evidence=self.evidence[sets], shown=self.shown[sets], layout=self.layout[sets])


def fleet_of(log_evidence: FloatArray, layouts: Sequence[str | None], *, every_set: bool = False) -> Fleet:
    """Log evidences, with what layouts cannot show left out.

    Parameters
    ----------
    log_evidence : ndarray, shape (N, F)
        Of each set under each fault; minus infinity where the fault was not considered [nat].
    layouts : sequence of str or None
        Which readings each set has.
    every_set : bool
        Believe the model of every set, whatever its layout can show.

    Returns
    -------
    Fleet
        Of the same sets in the same order.
    """
    names = {name: number for number, name in enumerate(dict.fromkeys(layouts))}
    layout = np.array([names[name] for name in layouts], dtype=np.int64)
    rare = np.bincount(layout, minlength=len(names)) < _FEW_SETS
    layout[rare[layout]] = -1
    with np.errstate(invalid="ignore"):
        against = log_evidence[:, [NONE]] - log_evidence
    shown = np.isfinite(log_evidence)
    if not every_set:
        for each in np.unique(layout):
            own = layout == each
            shown[own] &= _typical(against[own]) >= CONCLUSIVE
    shown[:, NONE] = False
    return Fleet(evidence=_blinded(log_evidence, shown), shown=shown, layout=layout)


def _typical(against: FloatArray) -> FloatArray:
    """How much the sets of one layout that speak against a fault typically do so, by fault [nat].

    Where none does, how much they typically speak for it; 0 where no set has it.
    """
    known = np.where(np.isfinite(against), against, np.nan)
    held = np.where((against >= 0.0) | ~(against >= 0.0).any(axis=0), np.abs(known), np.nan)
    found = np.zeros(held.shape[1])
    some = ~np.isnan(held).all(axis=0)
    found[some] = np.nanmedian(held[:, some], axis=0)
    return found


def _blinded(log_evidence: FloatArray, shown: BoolArray) -> FloatArray:
    """Evidence in which a sound supply and what is not shown have what they have together by the published rates."""
    weight = np.where(shown, 0.0, PUBLISHED)
    top = log_evidence.max(axis=1, keepdims=True)
    joint = (weight * np.exp(log_evidence - top)).sum(axis=1, keepdims=True) / weight.sum(axis=1, keepdims=True)
    return np.where(shown, log_evidence, top + np.log(np.maximum(joint, 1e-300)))


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
    alone = mixture(sets.evidence)
    best = estimate(alone, before)
    ends = np.array([profile_interval(alone, best, k, level, spread[k]) for k in range(rates.size)])
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


def read_fleet(
    base: duckdb.DuckDBPyConnection, own: Sequence[str], *, every_set: bool = False
) -> tuple[Fleet, list[tuple[str | None, ...]]]:
    """What the counted sets with readings say, and columns of their own as text, a tuple for each set.

    Raises
    ------
    ValueError
        If there are none.
    """
    others = "".join(f", CAST({quoted(name)} AS VARCHAR)" for name in own)
    found = base.sql(f"SELECT layout, {_EVIDENCES}{others} FROM counted WHERE readings > 0").to_arrow_table()
    if not found.num_rows:
        raise ValueError("no assessments with readings in it")
    layouts, *texts = (found.column(n).to_pylist() for n in (0, *range(1 + len(FAULT_ORDER), found.num_columns)))
    evidence = [found.column(n).fill_null(-math.inf).to_numpy() for n in range(1, 1 + len(FAULT_ORDER))]
    keys: list[tuple[str | None, ...]] = list(zip(*texts, strict=True)) if own else [()] * found.num_rows
    return fleet_of(np.stack(evidence, axis=1), layouts, every_set=every_set), keys


def _group(group: dict[str, str | None], sets: Fleet, found: dict[str, FaultRate]) -> GroupRates:
    return GroupRates(
        group=group,
        sets=sets.evidence.shape[0],
        # A request takes nothing smaller, and 0 would rule a fault out.
        base_rates={fault: max(rate.fed_back, SMALLEST) for fault, rate in found.items()},
        found=found,
    )
