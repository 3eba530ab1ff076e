"""Circuits and readings drawn from the model itself: what a calibrated inference must be right about."""

import zlib

import msgspec
import numpy as np

from feedproof.faults.priors import PRIORS
from feedproof.inference.forward import PROXIMITY, RESISTANCE, FloatArray
from feedproof.inference.likelihood import OVER_RANGE_STEEPNESS, Observations, signal_probability
from feedproof.inference.outcome import Truth
from feedproof.inference.program import Built, observe
from feedproof.inference.scene import as_given
from feedproof.inference.sites import OneHypothesis, hypotheses_of
from feedproof.readings import ProximityReading, Reading, ReadingSet, ResistanceReading

_END_OF_RANGE = 40e6
"""Of an ohmmeter, where the arrangement does not say [ohm]; common practice, no source."""


#: Fields of a reading that say what came of it, or what it is called.
_NOT_WHAT = ("value", "detected", "over_range", "id", "repeats")


def draw(arrangement: ReadingSet, seed: tuple[int, ...]) -> tuple[Truth, ReadingSet]:
    """Draw what is wrong by base rate, a circuit of it, and what a person would note of it.

    The circuit hangs on supply, meters, load states, base rates, the points that are read and the seed, not on which
    readings are taken; the scatter of a reading hangs on its place in the order and on what is read. So whoever reads
    on finds the same circuit and the same values as before, but for what is left at its median as long as no reading
    hangs on it: that is less than a meter shows.

    Parameters
    ----------
    arrangement : ReadingSet
        What will be read. Values are not looked at, but for that of a resistance: the end of the meter's range.
    seed : tuple of int
        The same seed gives the same circuit and the same scatter [1].

    Returns
    -------
    tuple of (Truth, ReadingSet)
        The circuit, and the arrangement with values, not rounded to the meters' resolution.
    """
    given = as_given(arrangement)
    states = hypotheses_of(arrangement, given.scene)
    chosen = np.random.default_rng(seed).choice(len(states), p=[h.base_rate for h in states])
    one = OneHypothesis(states[int(chosen)], given)

    def place(built: Built) -> FloatArray:
        # Every unknown keeps its value however it is asked.
        return np.array([_generator(seed, name).standard_normal() for name in one.names(built)])

    shown = one.shown(one.built, place(one.built))
    scatter = observe(one.bare, one.bare.readings, range(len(shown)), inconsistent=one.hypothesis.inconsistent)
    noted = tuple(
        _noted(r, scatter, k, float(shown[k]), _generator(seed, ("noise", str(k), *_what(r))))
        for k, r in enumerate(arrangement.readings)
    )
    return one.truth(place), msgspec.structs.replace(arrangement, readings=noted)


def _generator(seed: tuple[int, ...], name: tuple[str, ...]) -> np.random.Generator:
    return np.random.default_rng((*seed, zlib.crc32(repr(name).encode())))


def _what(reading: Reading) -> tuple[str, ...]:
    """What is read, whatever came of it."""
    words = msgspec.to_builtins(reading)
    return tuple(f"{key} {words[key]}" for key in sorted(words) if key not in _NOT_WHAT)


def _noted(reading: Reading, o: Observations, row: int, shown: float, rng: np.random.Generator) -> Reading:
    """What a person notes where a meter would show so much: scatter, misreads, ends of ranges."""
    if o.kind[row] == PROXIMITY and isinstance(reading, ProximityReading):
        missed = float(o.misread_density[row])
        p = signal_probability(shown, float(o.floor[row]), float(o.relative[row]), float(o.misread[row]), missed)
        return msgspec.structs.replace(reading, detected=bool(rng.random() < p))
    misread = rng.random() < o.misread[row]
    if isinstance(reading, ResistanceReading):
        end = reading.value or _END_OF_RANGE
        rise = min(shown / end, 4.0) ** OVER_RANGE_STEEPNESS
        if rng.random() < (0.5 if misread else rise / (1.0 + rise)):
            return msgspec.structs.replace(reading, value=end, over_range=True)
    if misread and o.kind[row] == RESISTANCE:
        value = 0.1 * 10.0 ** (PRIORS.misread_decades_ohms * rng.random())
    elif misread:
        value = rng.random() / float(o.misread_density[row])
    else:
        scale = np.hypot(float(o.floor[row]), float(o.relative[row]) * shown)
        value = abs(shown + float(scale) * rng.standard_t(PRIORS.tail_degrees))
    return msgspec.structs.replace(reading, value=float(value))
