"""What meters show, and how likely the readings are then, at many points of one place."""

import numpy as np

from feedproof.circuit.compiling import compiled
from feedproof.circuit.forward import FloatArray, Program, make_work, predict
from feedproof.inference.likelihood import Observations, density, log_likelihood

_NO_JACOBIANS = np.zeros((0, 0, 0))


@compiled
def _predictions(p: Program, x: FloatArray, shown: FloatArray, jacobians: FloatArray) -> None:
    w, nothing = make_work(p), np.zeros((0, 0))
    for i in range(x.shape[0]):
        predict(p, x[i], w, shown[i], jacobians[i] if jacobians.shape[0] > 0 else nothing)


def shown_by(p: Program, x: FloatArray, shown: FloatArray) -> None:
    """What meters show, for many points.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    x : ndarray, shape (N, D + S)
        Coordinates [1].
    shown : ndarray, shape (N, R)
        Filled [V, A, ohm].
    """
    _predictions(p, x, shown, _NO_JACOBIANS)


def linearized(p: Program, x: FloatArray, shown: FloatArray, jacobian: FloatArray) -> None:
    """What meters show at one point, and its derivatives by the unknowns.

    Parameters
    ----------
    p : Program
        One place on one arrangement of readings.
    x : ndarray, shape (D + S,)
        Coordinates [1].
    shown : ndarray, shape (R,)
        Filled [V, A, ohm].
    jacobian : ndarray, shape (R, n)
        Filled: by the first n coordinates [V, A, ohm].
    """
    _predictions(p, x[None], shown[None], jacobian[None])


@compiled
def likelihoods(o: Observations, shown: FloatArray, total: FloatArray) -> None:
    """Log likelihood, for many predictions.

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    shown : ndarray, shape (N, R)
        What meters would show [V, A, ohm].
    total : ndarray, shape (N,)
        Filled [nat].
    """
    for i in range(shown.shape[0]):
        total[i] = log_likelihood(o, shown[i])


@compiled
def densities_of(o: Observations, row: int, shown: FloatArray, found: FloatArray) -> None:
    """Log density of one reading, for many predictions.

    Parameters
    ----------
    o : Observations
        The readings, in the program's order.
    row : int
        Which reading [1].
    shown : ndarray, shape (N,)
        What its meter would show [V, A, ohm].
    found : ndarray, shape (N,)
        Filled [nat].
    """
    for i in range(shown.size):
        found[i] = density(o, row, shown[i])[0]
