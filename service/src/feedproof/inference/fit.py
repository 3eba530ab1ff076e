"""One place fitted to one reading set: where it explains the readings best, and its mass over the severities."""

import math
from functools import lru_cache

import numpy as np
from msgspec import Struct, field

from feedproof.circuit.forward import CURRENT, PROXIMITY, VOLTAGE, FloatArray, IntArray
from feedproof.faults.places import Site
from feedproof.faults.severities import log_density, working
from feedproof.inference.laplace import search
from feedproof.inference.likelihood import Observations, Readings
from feedproof.inference.program import Built

_ASIDE = 0.2
_NONE = np.zeros((0, 0))


class Fit(Struct):
    """One place on one reading set."""

    site: Site
    built: Built
    readings: Readings
    peak: FloatArray
    """Where all unknowns, severities included, explain the readings best; (D + S,)."""
    spread: float
    """Of the (last) severity round the peak, in working units [1]."""
    log_mass: float
    """Logarithm of prior times evidence [nat]."""
    degrees: dict[str, float]
    """The same by fault."""
    nodes: FloatArray = field(default_factory=lambda: _NONE)
    """Severities [ln ohm]; (K, S)."""
    order: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    """Sorts the nodes of a single severity."""
    modes: int = 0
    """How many were found; 0: not refined."""
    rows: FloatArray = field(default_factory=lambda: _NONE)
    """Modes: node k of mode m is row m * most + k; (rows, D + S)."""
    mass: FloatArray = field(default_factory=lambda: np.zeros(0))
    """Logarithms of the mass at the rows, and over all modes by node [nat]."""
    whole: FloatArray = field(default_factory=lambda: np.zeros(0))
    x: FloatArray = field(default_factory=lambda: _NONE)
    """Draws; (N, D + S)."""
    log_weight: FloatArray = field(default_factory=lambda: np.zeros(0))
    wide: float = -math.inf
    """Of the readings blurred far [nat]."""

    @property
    def size(self) -> int:
        """Unknowns beside the severities [1]."""
        return int(self.built.program.size)

    def weights(self) -> FloatArray:
        """Of the draws; they sum to 1 [1]."""
        w = np.exp(self.log_weight - self.log_weight.max())
        return np.asarray(w / w.sum())

    def severities(self) -> FloatArray:
        """Of the draws [ln ohm]; (N, S)."""
        found = self.x[:, self.size :].copy()
        for k, spans in enumerate(self.site.spans):
            middle, scale = working(spans)
            found[:, k] = middle + scale * found[:, k]
        return found


def blur(o: Observations) -> Readings:
    """Readings as they are, and with more scatter and no misreads.

    They are blurred by 2 %, and by 15 % with a normal law, by which one climbs from afar.
    """
    contact = o.kind != PROXIMITY
    scale = o.value.copy()
    for kind in (VOLTAGE, CURRENT):
        own = o.kind == kind
        if own.any():
            scale[own] = np.maximum(scale[own], 0.7 * scale[own].max())

    def wider(share: float, times: float, misread: float) -> Observations:
        floor = np.sqrt(o.floor**2 * times + (share * scale) ** 2)
        return o._replace(floor=np.where(contact, floor, o.floor), misread=np.where(contact, misread, o.misread))

    return (o, wider(0.02, 2.0, 0.0), wider(0.15, 17.0, -1.0))


@lru_cache(maxsize=4096)
def _starts(keys: tuple[str, ...], severities: int, position: int) -> tuple[FloatArray, IntArray]:
    """Where to start, and the climbs that find the peak."""
    size = len(keys)
    by_count: dict[int, list[tuple[float, ...]]] = {
        0: [()],
        1: [(-0.9,), (0.0,), (0.9,)],
        2: [(-0.7, -0.7), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7)],
    }
    places = by_count[severities]
    starts = np.zeros((len(places), size + severities))
    # Legs that are loaded just alike let a neutral read 0, from where nothing tells which way to go.
    starts[:, :size] = [_ASIDE * (("L1" in k.split()) - ("L2" in k.split()) + k.startswith("angle")) for k in keys]
    for row, place in zip(starts, places, strict=True):
        row[size:] = place
    if position >= 0:
        # A bare contact: next to nothing floats.
        starts[-1, position] = -1.6
    m = len(places)
    tasks = [*([k, k, 2, 4, 1] for k in range(m)), [-1, m, 1, 20, 1], [m, m + 1, 0, 20, 1]]
    return starts, np.array(tasks)


def locate(site: Site, built: Built, readings: Readings, stop: float = -math.inf) -> Fit:
    """Where a place explains the readings best, and roughly its mass.

    Parameters
    ----------
    site : Site
        The place.
    built : Built
        Its program.
    readings : Readings
        In the program's order.
    stop : float, optional
        Logarithm of the likelihood of the readings blurred far below which a place is not looked at again [nat].

    Returns
    -------
    Fit
        Without nodes and draws.
    """
    size, severities = int(built.program.size), len(site.spans)
    starts, tasks = _starts(built.keys, severities, built.program.position)
    m, n = starts.shape
    x = np.zeros((m + 2, n))
    x[:m] = starts
    value, mass = np.full(m + 2, -np.inf), np.full(m + 2, -np.inf)
    factor = np.zeros((m + 2, n, n))
    search(built.program, readings, tasks, x, value, mass, factor, 0.02, stop)
    wide = float(value[:m].max()) + math.log(site.rate)
    if mass[m + 1] == -np.inf:
        return Fit(site, built, readings, x[0], 0.0, -math.inf, {site.fault: -math.inf}, wide=wide)
    peak, rough = x[m + 1], float(mass[m + 1])
    log_mass = rough + math.log(site.rate)
    if severities:
        at = []
        for spans, u in zip(site.spans, peak[size:].tolist(), strict=True):
            middle, scale = working(spans)
            at.append(min(max(middle + scale * u, spans[0].low), spans[-1].high))
            # The working prior of the severity out, its own in.
            log_mass += 0.5 * u * u + math.log(scale) + 0.5 * math.log(2.0 * math.pi)
        log_mass += log_density(site.spans, at)
    spread = 1.0 / float(factor[m + 1][-1, -1])
    degrees = {site.fault: log_mass}
    if severities == 1 and spread > 0.999 and abs(peak[-1]) < 1e-3:
        # Nothing that was read depends on the severity: the mass is the prior's over all of it.
        log_mass = rough + math.log(site.rate * sum(s.share for s in site.spans[0]))
        degrees = {}
        for s in site.spans[0]:
            if s.share <= 0.0:
                # Ruled out by the caller.
                continue
            degrees[s.fault] = float(
                np.logaddexp(degrees.get(s.fault, -math.inf), rough + math.log(site.rate * s.share))
            )
        spread = math.inf
    return Fit(site, built, readings, peak, spread, log_mass, degrees, wide=wide)
