"""An independent, general-purpose nested sampler on the model, for evidences and posteriors.

dynesty explores the unit cube of the prior by nested sampling; it knows nothing of modes, gradients or proposals, and
shares no code with the inference but the likelihood, which `proofs/test_likelihood.py` holds equal to the model.

References
----------
.. [1] J. Skilling, "Nested sampling for general Bayesian computation", Bayesian Analysis 1 (2006) 833-859.
.. [2] J. S. Speagle, "dynesty: a dynamic nested sampling package for estimating Bayesian posteriors and evidences",
   MNRAS 493 (2020) 3132-3158. Both citations from memory.
"""

from typing import Any, NamedTuple

import dynesty
import numba
import numpy as np
from numba.typed import List
from scipy.special import ndtri

from feedproof.inference.arrays import make_work
from feedproof.inference.forward import FloatArray, predict
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.program import Built

DRAWS = 8000


class Nested(NamedTuple):
    """What a nested sampling run found."""

    log_evidence: float
    """[nat]"""
    error: float
    """The sampler's own statement of its standard error [nat]."""
    z: FloatArray
    """Draws of equal weight from the posterior, in standard-normal coordinates; shape (DRAWS, D)."""
    calls: int


@numba.njit(error_model="numpy")  # uncached: a cache on disk would not notice that the model's files have changed
def _evaluate(box: Any, z: FloatArray, shown: FloatArray, nothing: FloatArray) -> float:
    program, observations, work = box[0]
    predict(program, z, work, shown, nothing)
    return total_log_likelihood(observations, shown[0])  # type: ignore[no-any-return]


def nested(built: Built, observations: Observations, *, seed: int, live: int = 500, slices: int = 5) -> Nested:
    """Run static nested sampling.

    Parameters
    ----------
    built, observations : Built, Observations
        Hypothesis and readings.
    seed : int
        The same seed gives the same run.
    live : int
        Live points.
    slices : int
        Random slices through the live region before a point counts as new.
    """
    size, count = len(built.keys), len(built.order)
    # Handed over in a list: then a call does not unpack some fifty arrays.
    box = List()
    box.append((built.program, observations, make_work(built.program)))
    row, shown, nothing = np.zeros((1, size)), np.zeros((1, count)), np.zeros((0, 0))

    def log_likelihood(z: FloatArray) -> float:
        row[0] = z
        return float(_evaluate(box, row, shown, nothing))

    sampler = dynesty.NestedSampler(
        log_likelihood,
        ndtri,
        size,
        nlive=live,
        bound="multi",
        sample="rslice",
        slices=slices,
        rstate=np.random.default_rng(seed),
    )
    sampler.run_nested(dlogz=0.01, print_progress=False)
    found = sampler.results
    weights = np.exp(found.logwt - found.logz[-1])
    places = (np.arange(DRAWS) + 0.5) / DRAWS
    rows = np.minimum(np.searchsorted(np.cumsum(weights / weights.sum()), places), len(weights) - 1)
    return Nested(
        log_evidence=float(found.logz[-1]),
        error=float(found.logzerr[-1]),
        z=np.ascontiguousarray(found.samples[rows]),
        calls=int(np.sum(found.ncall)),
    )
