"""Evidence of one hypothesis over its severity: nested Laplace approximation.

On a grid of severities every other unknown is climbed to its mode by Gauss-Newton steps, each node starting from its
neighbour. The mass at a node is Laplace's, with the correction that Student's law with four degrees of freedom asks
for: 0.1735 nat for each direction that one reading alone decides, by the readings' leverages.

References
----------
.. [1] H. Rue, S. Martino, N. Chopin, "Approximate Bayesian inference for latent Gaussian models by using integrated
   nested Laplace approximations", J. R. Stat. Soc. B 71 (2009) 319-392.
"""

import math
from typing import NamedTuple

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import PROXIMITY, FloatArray, IntArray, Program, Work, make_work, predict
from feedproof.inference.likelihood import Observations, Readings, slopes

STUDENT = 0.1735
"""-ln(3/8 sqrt(2 pi / (5/4))): by how much Laplace is low in a direction that one reading decides [nat]."""
LONGEST = 3.0
"""No unknown goes further in one step [1]."""
_NEAR_STEPS, _NEAR_ENOUGH = 4, 0.3
_DROP = 1.5
"""A node this far below the one that it is climbed from is come to by blurred readings too [nat]."""


class Scratch(NamedTuple):
    """What a climb works on, and leaves at its end."""

    shown: FloatArray
    jacobian: FloatArray
    slope: FloatArray
    weight: FloatArray
    curvature: FloatArray
    h: FloatArray
    step: FloatArray
    trial: FloatArray
    trial_shown: FloatArray
    trial_jacobian: FloatArray


@compiled
def cholesky(h: FloatArray, n: int) -> bool:
    """Lower factor in place; False where it is not positive definite.

    Parameters
    ----------
    h : ndarray, shape (n, n)
        Lower triangle of a symmetric matrix; overwritten [1].
    n : int
        How many rows [1].
    """
    for j in range(n):
        s = h[j, j]
        for k in range(j):
            s -= h[j, k] * h[j, k]
        if not s > 1e-9:
            return False
        s = math.sqrt(s)
        h[j, j] = s
        inv = 1.0 / s
        for i in range(j + 1, n):
            t = h[i, j]
            for k in range(j):
                t -= h[i, k] * h[j, k]
            h[i, j] = t * inv
    return True


@compiled
def hessian(jacobian: FloatArray, weight: FloatArray, n: int, h: FloatArray) -> None:
    """Precision that the prior and weighted readings give.

    Parameters
    ----------
    jacobian : ndarray, shape (R, n)
        Derivatives of what is read [V, A, ohm].
    weight : ndarray, shape (R,)
        Minus the curvature of each reading's log likelihood [1/V^2, 1/A^2, 1/ohm^2].
    n : int
        How many unknowns [1].
    h : ndarray, shape (n, n)
        Its lower triangle is filled [1].
    """
    for i in range(n):
        for j in range(i + 1):
            h[i, j] = 0.0
        h[i, i] = 1.0
    for r in range(weight.size):
        wr = weight[r]
        if wr == 0.0:
            continue
        for i in range(n):
            g = wr * jacobian[r, i]
            if g != 0.0:
                for j in range(i + 1):
                    h[i, j] += g * jacobian[r, j]


@compiled
def solve_lower(h: FloatArray, n: int, b: FloatArray) -> None:
    """Solve by a lower factor, in place.

    Parameters
    ----------
    h : ndarray, shape (n, n)
        Lower factor [1].
    n : int
        How many rows [1].
    b : ndarray, shape (n,)
        Right-hand side; overwritten [1].
    """
    for i in range(n):
        s = b[i]
        for k in range(i):
            s -= h[i, k] * b[k]
        b[i] = s / h[i, i]


@compiled
def solve_upper(h: FloatArray, n: int, b: FloatArray) -> None:
    """Solve by the transpose of a lower factor, in place.

    Parameters
    ----------
    h : ndarray, shape (n, n)
        Lower factor [1].
    n : int
        How many rows [1].
    b : ndarray, shape (n,)
        Right-hand side; overwritten [1].
    """
    for i in range(n - 1, -1, -1):
        s = b[i]
        for k in range(i + 1, n):
            s -= h[k, i] * b[k]
        b[i] = s / h[i, i]


@compiled
def make_scratch(p: Program, n: int) -> Scratch:
    """Scratch for climbs over n coordinates."""
    r, m = p.reading_kind.size, n + 4
    return Scratch(
        np.zeros(r),
        np.zeros((r, n)),
        np.zeros(r),
        np.zeros(r),
        np.zeros(r),
        np.zeros((n, n)),
        np.zeros(m),
        np.zeros(m),
        np.zeros(r),
        np.zeros((r, n)),
    )


@compiled
def _go_there(at: Scratch, n: int, x: FloatArray) -> None:
    """Take the trial for where the climb has come to."""
    for d in range(n):
        x[d] = at.trial[d]
    for r in range(at.shown.size):
        at.shown[r] = at.trial_shown[r]
        for d in range(n):
            at.jacobian[r, d] = at.trial_jacobian[r, d]


@compiled
def _step(at: Scratch, n: int, x: FloatArray) -> float:
    """Put the Gauss-Newton step in `at.step`; gives twice what it promises to gain [nat], or -1 where there is none."""
    h, step = at.h, at.step
    hessian(at.jacobian, at.weight, n, h)
    if not cholesky(h, n):
        return -1.0
    for d in range(n):
        step[d] = -x[d]
    for r in range(at.slope.size):
        if at.slope[r] != 0.0:
            for d in range(n):
                step[d] += at.slope[r] * at.jacobian[r, d]
    solve_lower(h, n, step)
    gain = 0.0
    for d in range(n):
        gain += step[d] * step[d]
    solve_upper(h, n, step)
    return gain


@compiled
def climb(
    p: Program,
    o: Observations,
    x: FloatArray,
    n: int,
    w: Work,
    at: Scratch,
    most: int,
    enough: float,
    least: float,
) -> float:
    """Climb over the first n coordinates to a mode; the others hold.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    o : Observations
        The readings, in the program's order.
    x : ndarray, shape (D + S,)
        Where to begin; left at the mode [1].
    n : int
        How many are free [1].
    w : Work
        Scratch.
    at : Scratch
        Left as it is at the mode.
    most : int
        Steps [1].
    enough : float
        End where less than this is to be gained [nat].
    least : float
        Climb only where it begins no lower than this [nat].

    Returns
    -------
    float
        Logarithm of likelihood times prior, over the prior's normalization [nat].
    """
    step, trial, slope = at.step, at.trial, at.slope
    for d in range(x.size):
        trial[d] = x[d]
    value, size, gain, steps, halvings, boost = -np.inf, 1.0, np.inf, 0, 0, 1.0
    while True:
        predict(p, trial, w, at.trial_shown, at.trial_jacobian)
        new = slopes(o, at.trial_shown, slope, at.weight, at.curvature)
        for d in range(n):
            new -= 0.5 * trial[d] * trial[d]
        rise = new - value
        if rise > 0.0:
            value, halvings = new, 0
            _go_there(at, n, x)
            if rise < 0.3 * enough or steps == most or value < least:
                break
            if steps > 0 and size >= boost:
                boost = min(2.0 * boost, 4.0) if rise > 0.6 * gain * boost else 1.0
            steps += 1
            gain = _step(at, n, x)
            if gain < enough:
                break
            longest = 0.0
            for d in range(n):
                longest = max(longest, abs(step[d]))
            size = min(boost, LONGEST / longest)
        else:
            halvings += 1
            if halvings == 5 or value == -np.inf:
                break
            size *= 0.3
            boost = 1.0
        for d in range(n):
            trial[d] = x[d] + size * step[d]
    if halvings > 0:
        # The last trial was no better: what is left is to be that of the mode.
        slopes(o, at.shown, slope, at.weight, at.curvature)
    return value


@compiled
def mass_at(o: Observations, value: float, n: int, at: Scratch, factor: FloatArray) -> float:
    """Logarithm of the mass round a mode that `climb` left [nat].

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    value : float
        Logarithm of likelihood times prior there [nat].
    n : int
        How many coordinates are free [1].
    at : Scratch
        As `climb` left it.
    factor : ndarray, shape (n, n)
        Filled with the lower Cholesky factor of the precision [1].
    """
    use = at.curvature
    hessian(at.jacobian, use, n, factor)
    if not cholesky(factor, n):
        use = at.weight
        hessian(at.jacobian, use, n, factor)
        cholesky(factor, n)
    found = value
    for d in range(n):
        found -= math.log(factor[d, d])
    row, jacobian, kind, over_range = at.step, at.jacobian, o.kind, o.over_range
    for r in range(use.size):
        if use[r] > 0.0 and kind[r] != PROXIMITY and not over_range[r]:
            for d in range(n):
                row[d] = jacobian[r, d]
            solve_lower(factor, n, row)
            leverage = 0.0
            for d in range(n):
                leverage += row[d] * row[d]
            found += STUDENT * min(leverage * use[r], 1.0) ** 2
    return found


@compiled
def search(
    p: Program,
    readings: Readings,
    tasks: IntArray,
    x: FloatArray,
    value: FloatArray,
    mass: FloatArray,
    factor: FloatArray,
    enough: float,
    stop: float,
) -> None:
    """Climbs one after another, each from a row of `x` to a row of `x`.

    Parameters
    ----------
    p : Program
        The circuit.
    readings : Readings
        In the program's order.
    tasks : ndarray of int, shape (T, 5)
        Source (-1: the best of the rows before the first row that has no value yet), target, readings to climb by
        (0 sharp, 1 faintly blurred, 2 blurred), most steps, and whether the severities are free. Held severities
        are those of the target row. A target with a value is left alone unless a better one is found [1].
    x : ndarray, shape (K, D + S)
        Modes; filled [1].
    value, mass : ndarray, shape (K,)
        Logarithms of likelihood times prior at the modes, and of the mass round them [nat]; filled.
    factor : ndarray, shape (K, n, n)
        Lower Cholesky factors of the precisions, n = D or D + S; filled where climbed by sharp readings [1].
    enough : float
        A climb ends where less than this is to be gained [nat].
    stop : float
        Everything ends where the best of the first climbs is below this [nat].
    """
    size, severities = p.size, x.shape[1] - p.size
    w, n = make_work(p), factor.shape[1]
    at = make_scratch(p, n)
    now = np.zeros(x.shape[1])
    for t in range(tasks.shape[0]):
        source, target, by = tasks[t, 0], tasks[t, 1], tasks[t, 2]
        if source < 0:
            source = 0
            for k in range(target):
                if value[k] > value[source]:
                    source = k
            if value[source] < stop:
                return
        o, held = readings[by], n == size and severities > 0
        for again in range(2 if held and by == 0 else 1):
            if again and value[target] > value[source] - _DROP:
                break
            for d in range(size + severities):
                now[d] = x[source, d] if d < size or not held else x[target, d]
            if again:
                # A reading that the step of the severity put far off may have been taken for a misread.
                # (The smaller of two, so that the compiler sees one type of number of steps, not two.)
                climb(p, readings[1], now, n, w, at, min(_NEAR_STEPS, tasks[t, 3]), _NEAR_ENOUGH, -np.inf)
            least = value[target] + 0.02 if value[target] > -np.inf else -np.inf
            found = climb(p, o, now, n, w, at, tasks[t, 3], enough, least)
            if found > value[target]:
                value[target] = found
                for d in range(n):
                    x[target, d] = now[d]
                if by == 0:
                    mass[target] = mass_at(o, found, n, at, factor[target])
