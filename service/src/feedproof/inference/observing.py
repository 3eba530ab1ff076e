"""What was read, as arrays in a program's order: scatter, misreads, ends of ranges."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.faults.places import Site
from feedproof.faults.priors import PRIORS
from feedproof.inference.likelihood import Observations
from feedproof.inference.program import KIND, Built
from feedproof.inference.scene import Scene, SceneReading
from feedproof.instruments.scatter import scatter_floor, scatter_relative
from feedproof.readings import ProximityDetector


def scatter_of(scene: Scene, questions: Sequence[SceneReading]) -> Observations:
    """How readings that could be taken would scatter, in the order of the questions."""
    return _observed(scene, questions, range(len(questions)), (PRIORS.misread_share,) * len(questions))


def observe(scene: Scene, readings: Sequence[SceneReading], built: Built, site: Site) -> Observations:
    """What was read, in the program's order."""
    return _observed(scene, readings, built.order, misread_shares(readings, site))


def misread_shares(readings: Sequence[SceneReading], site: Site) -> tuple[float, ...]:
    """How often each reading has nothing to do with the circuit, at a place [1]."""
    if site.inconsistent:
        return (PRIORS.inconsistent_share,) * len(readings)
    return tuple(PRIORS.unfed_misread_share if _unfed(r, site) else PRIORS.misread_share for r in readings)


def _unfed(reading: SceneReading, site: Site) -> bool:
    """Whether a voltmeter could show nothing there, whatever slips."""
    if reading.kind != "voltage":
        return False
    beyond = site.place == "breaker" and reading.point in ("receptacle", "appliance_terminals")
    return beyond or site.place == "supply_lost" or reading.meter == site.dead_meter


def _observed(
    scene: Scene, readings: Sequence[SceneReading], order: Sequence[int], misreads: Sequence[float]
) -> Observations:
    count, total = len(readings), len(order)
    o = Observations(
        kind=np.zeros(total, np.int64),
        value=np.zeros(total),
        floor=np.ones(total),
        relative=np.zeros(total),
        over_range=np.zeros(total, np.int64),
        misread=np.zeros(total),
        misread_density=np.zeros(total),
        twin=np.full(total, -1, np.int64),
    )
    row_of = {number: row for row, number in enumerate(order)}
    for row, number in enumerate(order):
        r = readings[number % count]
        if total > count:
            o.twin[row] = row_of[number + count] if number < count else -2
        meter = scene.meters[r.meter]
        value = 0.0 if r.value is None else r.value
        misread = misreads[number % count]
        o.kind[row], o.value[row] = KIND[r.kind], value
        if isinstance(meter, ProximityDetector):
            o.floor[row], o.relative[row] = meter.threshold, PRIORS.proximity_steepness
            o.misread[row], o.misread_density[row] = PRIORS.proximity_false_signal, PRIORS.proximity_missed_signal
            if misread == PRIORS.inconsistent_share:
                o.misread[row] = o.misread_density[row] = PRIORS.proximity_inconsistent
            continue
        o.floor[row], o.relative[row] = scatter_floor(meter), scatter_relative(meter)
        o.over_range[row] = int(r.over_range)
        o.misread[row] = misread
        if r.kind == "voltage":
            o.misread_density[row] = 1.0 / PRIORS.misread_range_volts
        elif r.kind == "current":
            o.misread_density[row] = 1.0 / PRIORS.misread_range_amperes
        else:
            o.misread_density[row] = 1.0 / (max(value, 0.1) * math.log(10.0) * PRIORS.misread_decades_ohms)
    return o
