"""Where readings have the directions that they decide, given all the others.

Given all that readings do not decide, what they do decide is settled by a few Gauss-Newton steps in a basis of those
directions. So draws follow a ridge however it bends. A phasor of which the magnitude alone is read lies on a ring: its
other side is looked for too, and a ring as small as the meter's scatter is a spot.
"""

import math

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import FloatArray, Program, Work, predict
from feedproof.inference.laplace import LONGEST, Scratch, cholesky, hessian, solve_lower, solve_upper
from feedproof.inference.likelihood import Observations

_DECIDED_PRECISION = 0.3
"""Directions in which readings add less than this to the precision of the prior are drawn from the prior [1]: where
what is read bends along them, a straight law round a mode would leave out what lies far."""
_SETTLED, _MOST_SETTLED = 0.25, 3
"""Steps that gain less than the one [nat] end it, and after so many it ends [1]. Where the readings decide a direction
sharply a step of a given length leaves the draws far off, so what counts is the gain."""
_REVERSAL_REACH, _REVERSAL_PRECISION = 4.0, 4.0
"""A phasor may have turned round within so much of the prior's spread, where its reading adds so much precision [1]."""


@compiled
def basis_of(jacobian: FloatArray, weight: FloatArray, n: int, rows: FloatArray, u: FloatArray) -> int:
    """Basis of the directions that readings decide.

    Parameters
    ----------
    jacobian : ndarray, shape (2 R, n)
        Along and across the phasors of the readings [V, A, ohm].
    weight : ndarray, shape (2 R,)
        Of their rows [1/V^2, 1/A^2, 1/ohm^2].
    n : int
        How many unknowns [1].
    rows : ndarray, shape (2 R, n)
        Scratch [1].
    u : ndarray, shape (n, n)
        Its first rows are filled, orthonormal [1].

    Returns
    -------
    int
        How many [1].
    """
    count = weight.size
    for r in range(count):
        root = math.sqrt(max(weight[r], 0.0))
        for d in range(n):
            rows[r, d] = root * jacobian[r, d]
    for k in range(min(count, n)):
        best, most = 0, 0.0
        for r in range(count):
            own = 0.0
            for d in range(n):
                own += rows[r, d] ** 2
            if own > most:
                best, most = r, own
        if most < _DECIDED_PRECISION:
            return k
        inv = 1.0 / math.sqrt(most)
        for d in range(n):
            u[k, d] = rows[best, d] * inv
        for r in range(count):
            share = 0.0
            for d in range(n):
                share += rows[r, d] * u[k, d]
            for d in range(n):
                rows[r, d] -= share * u[k, d]
    return min(count, n)


@compiled
def turned(shown: FloatArray, jacobian: FloatArray, weight: FloatArray, n: int, shift: FloatArray) -> None:
    """Where the nearest of the phasors that are read has turned round.

    Parameters
    ----------
    shown : ndarray, shape (R,)
        At a mode [V, A, ohm].
    jacobian : ndarray, shape (2 R, n)
        There [V, A, ohm].
    weight : ndarray, shape (2 R,)
        Of the rows [1/V^2, 1/A^2, 1/ohm^2].
    n : int
        How many unknowns [1].
    shift : ndarray, shape (n + 1,)
        Filled: the way there, and 1 where it is not far; else left alone [1].
    """
    nearest = _REVERSAL_REACH
    for r in range(shown.size):
        square = 0.0
        for d in range(n):
            square += jacobian[r, d] ** 2
        if weight[r] * square < _REVERSAL_PRECISION or weight[r + shown.size] > 0.0:
            continue
        far = 2.0 * shown[r] / math.sqrt(square)
        if far < nearest:
            nearest = far
            shift[n] = 1.0
            for d in range(n):
                shift[d] = -2.0 * shown[r] / square * jacobian[r, d]


@compiled
def settle(
    p: Program,
    o: Observations,
    weight: FloatArray,
    u: FloatArray,
    k: int,
    x: FloatArray,
    start: FloatArray,
    w: Work,
    at: Scratch,
    jacobian: FloatArray,
    g: FloatArray,
    beta: FloatArray,
) -> None:
    """Where readings would have the directions that they decide, the others as in x; x moves there from `start`.

    The law of the readings is the normal one that has the weights of the mode nearby.

    Parameters
    ----------
    p : Program
        The circuit.
    o : Observations
        In the program's order.
    weight : ndarray, shape (2 R,)
        Of the readings at the mode nearby, along and across their phasors [1/V^2, 1/A^2, 1/ohm^2].
    u : ndarray, shape (n, n)
        Rows: a basis of the directions that readings decide there [1].
    k : int
        How many [1].
    x : ndarray, shape (D + S,)
        Coordinates; moved [1].
    start : ndarray, shape (D,)
        Where to start [1].
    w, at, jacobian, g : Work, Scratch, ndarray, ndarray, shapes (2 R, n)
        Scratch; `at.h` is left as the lower Cholesky factor of the precision of `beta` [1].
    beta : ndarray, shape (n,)
        Its first k are filled: coordinates in the basis [1].
    """
    n, count, value, shown, step, h = p.size, o.value.size, o.value, at.shown, at.step, at.h
    for j in range(k):
        beta[j] = 0.0
        for d in range(n):
            beta[j] += u[j, d] * start[d]
    for j in range(k):
        old = 0.0
        for d in range(n):
            old += u[j, d] * x[d]
        for d in range(n):
            x[d] += (beta[j] - old) * u[j, d]
    for _ in range(_MOST_SETTLED):
        predict(p, x, w, shown, jacobian)
        for j in range(k):
            step[j] = -beta[j]
        for r in range(weight.size):
            if weight[r] == 0.0:
                continue
            slope = 0.0
            if r < count:
                slope = weight[r] * ((0.0 if weight[r + count] > 0.0 else value[r]) - shown[r])
            for j in range(k):
                g[r, j] = 0.0
                for d in range(n):
                    g[r, j] += jacobian[r, d] * u[j, d]
                step[j] += slope * g[r, j]
        hessian(g, weight, k, h)
        cholesky(h, k)
        solve_lower(h, k, step)
        gain, longest = 0.0, 0.0
        for j in range(k):
            gain += step[j] * step[j]
        solve_upper(h, k, step)
        for j in range(k):
            longest = max(longest, abs(step[j]))
        size = min(1.0, LONGEST / max(longest, 1e-9))
        for j in range(k):
            beta[j] += size * step[j]
            for d in range(n):
                x[d] += size * step[j] * u[j, d]
        if gain < _SETTLED:
            break


@compiled
def student(normal: float) -> float:
    """A standard-normal number's counterpart under Student's law with four degrees of freedom [1].

    Parameters
    ----------
    normal : float
        Standard-normal number [1].

    References
    ----------
    .. [1] W. T. Shaw, "Sampling Student's T distribution", J. Comput. Finance 9 (2006) 37-73 (from memory).
    """
    q = 0.5 * math.erfc(abs(normal) / math.sqrt(2.0))
    a = math.sqrt(min(4.0 * q * (1.0 - q), 1.0))
    return math.copysign(2.0 * math.sqrt(max(math.cos(math.acos(a) / 3.0) / a - 1.0, 0.0)), normal)
