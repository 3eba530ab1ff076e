"""Cells of severities between the nodes of a fitted place, and the mass in each."""

import math

import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.faults.places import Site
from feedproof.faults.severities import piece_array, working
from feedproof.inference.importance import Cells

_STEEPEST = 3.0
"""Draws follow the rise of the mass across a cell up to this: beyond it the approximation is trusted less [nat]."""


def cells(site: Site, nodes: FloatArray, whole: FloatArray) -> tuple[Cells, list[float]]:
    """Cells between the nodes, for draws, and the logarithm of each one's mass.

    Parameters
    ----------
    site : Site
        The place.
    nodes : ndarray, shape (K, S)
        Severities [ln ohm].
    whole : ndarray, shape (K,)
        Logarithms of the mass there, over all modes [nat].

    Returns
    -------
    tuple of (Cells, list of float)
        With the logarithms [nat].
    """
    work = [working(spans) for spans in site.spans]
    middle, scale = np.array([w[0] for w in work]), np.array([w[1] for w in work])
    rate = math.log(site.rate)
    if not site.spans:
        one = np.zeros(1, np.int64)
        return Cells(
            np.ones(1), *(np.zeros((1, 0)),) * 3, one, one, np.array([rate]), np.zeros((1, 0)), middle, scale
        ), [rate + float(whole[0])]
    axes = [np.unique(nodes[:, k]) for k in range(len(site.spans))]
    number = np.empty([len(a) for a in axes], np.int64)
    number[tuple(np.searchsorted(a, nodes[:, k]) for k, a in enumerate(axes))] = np.arange(len(nodes))
    constant, slope, upto, after = np.full(1, rate), [], [slice(None, -1)] * len(axes), [slice(1, None)] * len(axes)
    for spans, a in zip(site.spans, axes, strict=True):
        own = piece_array(spans)
        own = own[np.minimum(np.searchsorted(own[:, 1], 0.5 * (a[1:] + a[:-1])), len(own) - 1)]
        constant = np.add.outer(constant, own[:, 2])
        slope.append(own[:, 3])
    constant = constant[0]
    low, high, slopes = (
        np.stack(np.meshgrid(*own, indexing="ij"), axis=-1).reshape(constant.size, -1)
        for own in ([a[:-1] for a in axes], [a[1:] for a in axes], slope)
    )
    constant = constant.ravel()

    def at(*corner: slice) -> FloatArray:
        ends = np.stack([(high if c == slice(1, None) else low)[:, k] for k, c in enumerate(corner)], axis=-1)
        return np.asarray(whole[number[corner].ravel()] + constant + (slopes * ends).sum(axis=1))

    def along(*corner: slice) -> FloatArray:
        return _log_pieces(at(*corner, upto[1]), at(*corner, after[1]), width[:, 1]) if len(axes) > 1 else at(*corner)

    width, rise = high - low, np.empty_like(low)
    first, last = along(upto[0]), along(after[0])
    masses, rise[:, 0] = _log_pieces(first, last, width[:, 0]), last - first
    if len(axes) > 1:
        rise[:, 1] = 0.5 * sum(at(corner, after[1]) - at(corner, upto[1]) for corner in (upto[0], after[0]))
    share = np.exp(masses - masses.max())
    # A tenth of the draws go where the approximation sees less: weights then stay bounded.
    share = 0.9 * share / share.sum() + 0.1 * np.sqrt(share) / np.sqrt(share).sum()
    gathered = np.cumsum(share)
    return Cells(
        gathered / gathered[-1],
        low,
        high,
        np.clip(rise, -_STEEPEST, _STEEPEST),
        number[tuple(upto)].ravel(),
        number[tuple(after)].ravel(),
        constant,
        slopes,
        middle,
        scale,
    ), masses.tolist()


def _log_pieces(first: FloatArray, last: FloatArray, width: FloatArray) -> FloatArray:
    """`log_piece` of arrays."""
    bend = np.maximum(np.abs(last - first), 1e-9)
    return np.asarray(np.maximum(first, last) + np.log(-np.expm1(-bend) / bend * width))
