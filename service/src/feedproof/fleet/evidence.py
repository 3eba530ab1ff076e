"""What assessed sets say of the faults, where their readings can show them.

What readings cannot show they say nothing of, and a model that is a little wrong about them would say it with the
weight of thousands of sets. So a fault's rate comes from the sets whose readings can show it. A layout (which readings,
in which state, with which kind of meter) can show a fault where a typical sound set of that layout moves the odds of
the fault by twenty to one or more. In the other sets the fault and a sound supply are one: with the evidence that
both have together by the published rates, they still count for and against all other faults, and are blind between
these two. Whether a set was blind is settled by its layout and not by what it read, so that sets that happen to show
something are no more likely to count. A fault that no layout can show keeps its published ratio to a sound supply.

What a set's first readings showed may have settled whether more were taken, a low-impedance reading where the legs
differed say. Those that read on are then not like the others, and their rate is too high. So where a layout only adds
readings to another, which could not have shown the fault, the sets of the other are also asked for what they did read:
that is right where the model is, whoever read on and why [1]_.

References
----------
.. [1] D. B. Rubin, "Inference and missing data", Biometrika 63 (1976) 581-592: what is missing by what was seen may be
   left out of the likelihood.
"""

import math
from collections.abc import Sequence

import duckdb
import msgspec
import numpy as np
from numpy.typing import NDArray

from feedproof.faults.priors import BASE_RATES
from feedproof.fleet.mixture import FloatArray
from feedproof.fleet.ratebook import as_text
from feedproof.fleet.schema import FAULT_ORDER
from feedproof.fleet.tables import quoted

BoolArray = NDArray[np.bool_]

NONE = FAULT_ORDER.index("none_found")
PUBLISHED: FloatArray = np.array([BASE_RATES.get(fault, 0.0) for fault in FAULT_ORDER])
PUBLISHED /= PUBLISHED.sum()
EVIDENCES = ", ".join(f"log_evidence_{fault}" for fault in FAULT_ORDER)

#: From here on odds are moved enough to count [nat]: twenty to one.
CONCLUSIVE = math.log(20.0)
#: Layouts with fewer sets are judged together [1].
_FEW_SETS = 5


class Fleet(msgspec.Struct, frozen=True, kw_only=True):
    """What the sets of a fleet say of the faults."""

    evidence: FloatArray
    """Log evidences, blind between a sound supply and what a set's layout cannot show; shape (N, F) [nat]."""
    whole: FloatArray
    """The same, but not blind to what readings that others added to a set's layout can show; shape (N, F) [nat]."""
    shown: BoolArray
    """Whether a set's layout can show a fault; shape (N, F)."""
    begun: BoolArray
    """Whether readings that others added to a set's layout can show a fault that the layout cannot; shape (N, F)."""
    layout: NDArray[np.int64]
    """Which layout each set has; shape (N,)."""

    def of(self, sets: NDArray[np.int64]) -> "Fleet":
        """Some of the sets."""
        return Fleet(**{name: field[sets] for name, field in msgspec.structs.asdict(self).items()})


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
    every = layout = np.array([names[name] for name in layouts], dtype=np.int64)
    rare = np.bincount(layout, minlength=len(names)) < _FEW_SETS
    layout = np.where(rare[layout], -1, layout)
    with np.errstate(invalid="ignore"):
        against = log_evidence[:, [NONE]] - log_evidence
    shown = np.isfinite(log_evidence)
    if not every_set:
        for each in np.unique(layout):
            own = layout == each
            shown[own] &= _typical(against[own]) >= CONCLUSIVE
    shown[:, NONE] = False
    begun = _begun(list(names), every, shown) & np.isfinite(log_evidence)
    begun[:, NONE] = False
    evidence = _blinded(log_evidence, shown)
    whole = _blinded(log_evidence, shown | begun) if begun.any() else evidence
    return Fleet(evidence=evidence, whole=whole, shown=shown, begun=begun, layout=layout)


def _begun(names: list[str | None], layout: NDArray[np.int64], shown: BoolArray) -> BoolArray:
    """What the layouts that only add readings to a set's own can show, and its own cannot."""
    taken = [frozenset((name or "").split("; ")) for name in names]
    columns = {reading: n for n, reading in enumerate(sorted(frozenset().union(*taken)))}
    has = np.zeros((len(names), len(columns)), dtype=np.float32)
    can = np.zeros((len(names), shown.shape[1]), dtype=np.float32)
    for n, readings in enumerate(taken):
        has[n, [columns[reading] for reading in readings]] = 1.0
    np.maximum.at(can, layout, shown)
    within = (has @ (1.0 - has).T == 0.0) & (has.sum(axis=1)[:, None] < has.sum(axis=1))
    found: BoolArray = (within.astype(np.float32) @ can > 0.0) & (can == 0.0)
    return found[layout]


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


def read_fleet(
    base: duckdb.DuckDBPyConnection, own: Sequence[str], view: str = "counted", *, every_set: bool = False
) -> tuple[Fleet, list[tuple[str | None, ...]]]:
    """What the counted sets with readings say, and columns of their own as text, a tuple for each set.

    Raises
    ------
    ValueError
        If there are none.
    """
    others = "".join(f", {quoted(name)}" for name in own)
    found = base.view(view).filter("readings > 0").select(f"layout, {EVIDENCES}{others}").to_arrow_table()
    if not found.num_rows:
        raise ValueError("no assessments with readings in it")
    layouts = found.column(0).to_pylist()
    # As text in the way that `Ratebook.of` reads a row: the same value must be the same group.
    texts = ([as_text(cell) for cell in column.to_pylist()] for column in found.columns[1 + len(FAULT_ORDER) :])
    evidence = [found.column(n).fill_null(-math.inf).to_numpy() for n in range(1, 1 + len(FAULT_ORDER))]
    keys: list[tuple[str | None, ...]] = list(zip(*texts, strict=True)) if own else [()] * found.num_rows
    return fleet_of(np.stack(evidence, axis=1), layouts, every_set=every_set), keys
