"""An invented history of a service department: many visits, most of them read in the same few ways.

Seven in ten are unplugged outlets read with a high-impedance meter, two in ten with a low-impedance one, whole volts
both, as such displays are written down; one in ten has ten readings with loads, in tenths. There are 40 meters of two
models. A visit is one of a few that the model has drawn, on a day when the voltage is a little otherwise: by 0.8 %, as
one standard deviation.
"""

from collections.abc import Iterator

import msgspec
import numpy as np

from benchmarks.parts.visits import arrangement
from feedproof.faults.priors import BASE_RATES
from feedproof.inference import Simulation, simulate
from feedproof.readings import Meter, Reading, ReadingSet, Voltmeter

METERS = 40
DRAWN = 400
"""Visits that the model draws for each way of reading."""
_WAYS = (("unloaded", 3, 0.7, 1.0), ("low impedance", 3, 0.2, 1.0), ("mixed", 10, 0.1, 0.1))
_DAYS = 0.008
_ACCURACY = {0: 0.7, 1: 1.0}


def _drawn(layout: str, count: int, rng: np.random.Generator) -> list[ReadingSet]:
    bare = arrangement(layout, count)
    names = [name for name, rate in BASE_RATES.items() if rate > 0.0]
    rates = np.array([BASE_RATES[name] for name in names])
    faults = rng.choice(names, size=DRAWN, p=rates / rates.sum())
    return [
        msgspec.structs.replace(bare, readings=simulate(Simulation(fault=str(fault), readings=bare, seed=seed)))
        for seed, fault in enumerate(faults)
    ]


def _on_a_day(readings: ReadingSet, factor: float, resolution: float, model: int) -> ReadingSet:
    """The visit at another voltage, with a meter of some model, as it is written down."""

    def read(one: Reading) -> Reading:
        value = getattr(one, "value", None)
        if value is None or one.__struct_config__.tag == "resistance":
            return one
        return msgspec.structs.replace(one, value=round(round(factor * value / resolution) * resolution, 1))

    def own(meter: Meter) -> Meter:
        if not isinstance(meter, Voltmeter):
            return meter
        return msgspec.structs.replace(meter, resolution=resolution, accuracy_percent=_ACCURACY[model])

    return msgspec.structs.replace(
        readings,
        readings=tuple(map(read, readings.readings)),
        meters={name: own(meter) for name, meter in readings.meters.items()},
    )


def history(count: int, seed: int = 40) -> Iterator[ReadingSet]:
    """Give so many visits, always the same; the first of a longer history are those of a shorter one."""
    rng = np.random.default_rng(seed)
    drawn = [_drawn(layout, readings, rng) for layout, readings, *_ in _WAYS]
    shares = [share for _, _, share, _ in _WAYS]
    for _ in range(count):
        way = int(rng.choice(len(_WAYS), p=shares))
        visit, meter = drawn[way][int(rng.integers(DRAWN))], int(rng.integers(METERS))
        yield _on_a_day(visit, float(np.exp(rng.normal(0.0, _DAYS))), _WAYS[way][3], meter % len(_ACCURACY))
