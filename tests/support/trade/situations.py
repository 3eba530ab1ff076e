"""The situations of the trade by name, and seeded cases of each."""

import zlib
from collections.abc import Iterable

import numpy as np

from support.trade import scenes_evidence, scenes_feeder, scenes_known, scenes_outlet, scenes_pairs, scenes_service
from support.trade.scene import Case, Scene, as_told, taken

SITUATIONS = {
    **scenes_feeder.SITUATIONS,
    **scenes_service.SITUATIONS,
    **scenes_outlet.SITUATIONS,
    **scenes_evidence.SITUATIONS,
    **scenes_pairs.SITUATIONS,
    **scenes_known.SITUATIONS,
}
NAMES = tuple(SITUATIONS)


def scene(name: str, seed: int) -> Scene:
    """A hidden circuit and a visit to it, not read yet; variants go round with the seed.

    Raises
    ------
    KeyError
        For a situation that is not there.
    """
    variants = SITUATIONS[name]
    rng = np.random.default_rng([zlib.crc32(name.encode()), seed])
    return as_told(variants[seed % len(variants)](rng), rng)


def cases(wanted: Iterable[tuple[str, int]], processes: int = 2) -> list[Case]:
    """Cases of many situations and seeds, read in few ngspice processes."""
    return taken([(name, seed, scene(name, seed)) for name, seed in wanted], processes)


def situations(name: str, seed: int) -> Case:
    """One case. Many are cheaper together: `cases`."""
    return cases([(name, seed)], 1)[0]
