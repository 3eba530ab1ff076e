"""An independent, general-purpose nested sampler on the model, for evidences and posteriors.

dynesty explores the unit cube of the prior by nested sampling; it knows nothing of modes, gradients or proposals, and
shares no code with the inference but the likelihood, which `proofs/test_likelihood.py` holds equal to the model.

References
----------
.. [1] J. Skilling, "Nested sampling for general Bayesian computation", Bayesian Analysis 1 (2006) 833-859.
.. [2] J. S. Speagle, "dynesty: a dynamic nested sampling package for estimating Bayesian posteriors and evidences",
   MNRAS 493 (2020) 3132-3158. Both citations from memory.
"""

from typing import NamedTuple

import dynesty
import numpy as np
from numpy.typing import NDArray

from feedproof.inference import Circuits

FloatArray = NDArray[np.float64]

DRAWS = 8000


class Nested(NamedTuple):
    """What a nested sampling run found."""

    log_evidence: float
    """[nat]"""
    error: float
    """The sampler's own statement of its standard error [nat]."""
    cube: FloatArray
    """Draws of equal weight from the posterior; shape (DRAWS, D)."""
    calls: int


def nested(circuits: Circuits, *, seed: int, live: int = 500, slices: int = 5) -> Nested:
    """Run static nested sampling.

    Parameters
    ----------
    circuits : Circuits
        Prior and likelihood.
    seed : int
        The same seed gives the same run.
    live : int
        Live points.
    slices : int
        Random slices through the live region before a point counts as new.
    """
    sampler = dynesty.NestedSampler(
        circuits.log_likelihood,
        lambda cube: cube,
        len(circuits.names),
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
        cube=np.ascontiguousarray(found.samples_u[rows]),
        calls=int(np.sum(found.ncall)),
    )
