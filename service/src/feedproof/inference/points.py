"""A fixed set of standard-normal points, the same on every machine.

Every run uses the same points, so the same request gives the same bytes. They come from a counter through a
mixing function, so that no library's change of its random stream can change an answer. In each coordinate by
itself they are stratified (a Latin hypercube in blocks of powers of two); across coordinates they are as good
as independent, which matters more here than evenness: a lattice good in few dimensions leaves most of a
dozen dimensions empty.

References
----------
.. [1] G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA (2014):
   the mixing function (SplitMix64).
.. [2] M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239-245: Latin hypercube.
"""

import numpy as np
from numpy.typing import NDArray

from feedproof.circuit.compiling import compiled
from feedproof.inference.normal import normal_quantile

POINT_COUNT = 8192
DIMENSIONS = 48
_BLOCK = 128


@compiled
def _to_normal(points: NDArray[np.float64]) -> None:
    for i in range(points.shape[0]):
        for j in range(points.shape[1]):
            points[i, j] = normal_quantile(points[i, j])


def _mixed(counter: NDArray[np.uint64]) -> NDArray[np.float64]:
    """Uniform numbers in (0, 1) from a counter [1]."""
    z = (counter + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z ^= z >> np.uint64(31)
    return ((z >> np.uint64(11)).astype(np.float64) + 0.5) / 2.0**53


def _normal_points() -> NDArray[np.float64]:
    unit = _mixed(np.arange(POINT_COUNT * DIMENSIONS, dtype=np.uint64)).reshape(POINT_COUNT, DIMENSIONS)
    inside = _mixed(np.arange(POINT_COUNT * DIMENSIONS, dtype=np.uint64) + np.uint64(1 << 40)).reshape(unit.shape)
    for start in range(0, POINT_COUNT, _BLOCK):
        # The rank within its block says which stratum a point falls in.
        block = slice(start, start + _BLOCK)
        rank = np.argsort(np.argsort(unit[block], axis=0, kind="stable"), axis=0, kind="stable")
        unit[block] = (rank + inside[block]) / _BLOCK
    _to_normal(unit)
    return unit


#: Standard-normal points; shape (POINT_COUNT, DIMENSIONS).
NORMAL_POINTS: NDArray[np.float64] = _normal_points()
