"""Draws from a fitted place: between its nodes by mass, round its modes, each weighed against the model itself."""

import math
from statistics import NormalDist

import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.inference.cells import cells
from feedproof.inference.fit import Fit
from feedproof.inference.importance import importance
from feedproof.inference.refinement import rows_of
from feedproof.remembered import remembered


@remembered(16 * 2**20)
def spread_evenly(count: int, dimensions: int) -> tuple[FloatArray, FloatArray]:
    """Uniform and standard-normal numbers, spread evenly.

    Parameters
    ----------
    count : int
        How many points.
    dimensions : int
        Of the standard-normal ones.

    Returns
    -------
    tuple of ndarray, shapes (count, 3) and (count, dimensions)
        Uniform in (0, 1) and standard-normal [1].

    References
    ----------
    .. [1] H. Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, SIAM (1992): Kronecker sequences;
       R. D. Richtmyer's has the fractional parts of the roots of primes (from memory).
    """
    primes: list[int] = []
    n = 2
    while len(primes) < dimensions + 3:
        if all(n % p for p in primes):
            primes.append(n)
        n += 1
    places = (0.5 + np.outer(np.arange(1, count + 1), np.sqrt(primes))) % 1.0
    quantile = NormalDist().inv_cdf
    normal = np.array([[quantile(v) for v in row] for row in places[:, 3:].tolist()]).reshape(count, dimensions)
    return np.ascontiguousarray(places[:, :3]), normal


def draw(fit: Fit, count: int) -> None:
    """Draw from the approximation, beyond what is drawn already; mass and degrees are then those of the draws."""
    size, done = fit.size, len(fit.x)
    found, _ = cells(fit.site, fit.nodes, fit.whole)
    u, eps = (rows[done:] for rows in spread_evenly(count, 2 * size))
    x, shown, log_weight = (
        np.zeros((count - done, size + len(fit.site.spans))),
        np.zeros((count - done, len(fit.built.order))),
        np.zeros(count - done),
    )
    at = rows_of(fit)
    z, share = fit.rows[at], fit.mass[at] - fit.whole
    importance(fit.built.program, fit.readings, found, z, share, u, eps, x, shown, log_weight)
    if done:
        x, log_weight = np.concatenate((fit.x, x)), np.concatenate((fit.log_weight, log_weight))
    fit.x, fit.log_weight = x, log_weight
    weights = np.exp(log_weight - log_weight.max())
    fit.log_mass = float(log_weight.max()) + math.log(float(weights.sum()) / count)
    if len(fit.site.spans) == 1 and len(fit.site.spans[0]) > 1:
        s = fit.severities()[:, 0]
        parts: dict[str, float] = {}
        for span in fit.site.spans[0]:
            own = float(weights[(s > span.low) & (s <= span.high)].sum() / weights.sum())
            parts[span.fault] = parts.get(span.fault, 0.0) + own
        fit.degrees = {f: fit.log_mass + (math.log(v) if v > 0.0 else -math.inf) for f, v in parts.items()}
    else:
        fit.degrees = dict.fromkeys(fit.degrees, fit.log_mass)


def effective(fit: Fit) -> float:
    """Effective number of draws [1]."""
    w = fit.weights()
    return float(1.0 / (w * w).sum())
