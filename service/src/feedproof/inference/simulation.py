"""The model run forward: a stated fault and circuit in, the readings that a person would see out.

The same hypotheses, programs and scatter that the assessment weighs backward make the readings here.
"""

import math

import msgspec
import numpy as np
from msgspec import Struct

from feedproof.errors import SimulationError
from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.arrays import make_work
from feedproof.inference.forward import PROXIMITY, RESISTANCE, FloatArray, predict, unknown_column
from feedproof.inference.laws import coordinate_of
from feedproof.inference.likelihood import Observations, signal_probability
from feedproof.inference.program import NOMINAL, Built, build, observe
from feedproof.inference.scene import Canonical, canonical_form, mirror_scene, without_values
from feedproof.inference.sites import hypotheses_of
from feedproof.readings import (
    Conductor,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
)

_BISECTIONS = 80
_REACH = 8.0
"""Standard-normal coordinates beyond this are not to be had [1]."""


class Simulation(Struct, frozen=True, kw_only=True):
    """A stated fault on a stated circuit, and the readings to take of it."""

    fault: str
    conductor: Conductor | None = None
    location: str | None = None
    resistance: float | None = None
    """Series resistance of the fault [ohm]; None: the middle of what its name covers."""
    supply_voltage: float | None = None
    """Leg to grounded point at the source [V]; None: the usual one."""
    readings: ReadingSet
    """Supply, meters, load states, and the readings to take; their values are not looked at."""
    seed: int | None = None
    """With a seed: unknown parts of the circuit, meter errors and the reader's scatter are drawn. Without:
    everything at its median, and what an errorless meter shows."""


def simulate(simulation: Simulation) -> tuple[Reading, ...]:
    """Take readings of a stated circuit.

    Parameters
    ----------
    simulation : Simulation
        What is wrong, on which circuit, and what to read.

    Returns
    -------
    tuple of Reading
        The readings asked for, in their order, with values at their meters' resolution.

    Raises
    ------
    SimulationError
        If the fault is unknown to the model on this circuit, or a stated value lies outside what its name
        covers.
    """
    canonical = canonical_form(simulation.readings)
    hypothesis = _hypothesis(simulation, canonical)
    scene = mirror_scene(canonical.scene) if hypothesis.mirrored else canonical.scene
    bare = without_values(scene)
    built = build(hypothesis, bare, bare.readings)
    rng = None if simulation.seed is None else np.random.default_rng(simulation.seed)
    z = np.zeros(len(built.keys)) if rng is None else rng.standard_normal(len(built.keys))
    _state(built, z, simulation)
    shown = np.zeros((1, len(built.order)))
    predict(built.program, z[None], make_work(built.program), shown, np.zeros((0, 0)))
    scatter = observe(bare, bare.readings, built.order, inconsistent=hypothesis.inconsistent)
    values = np.zeros(len(built.order))
    for row, index in enumerate(built.order):
        values[canonical.order[index]] = _read(scatter, row, float(shown[0, row]), rng)
    return tuple(
        _displayed(r, float(v), simulation.readings) for r, v in zip(simulation.readings.readings, values, strict=True)
    )


def _hypothesis(simulation: Simulation, canonical: Canonical) -> Hypothesis:
    """The model's hypothesis that is meant, in the canonical orientation."""
    supply = simulation.readings.supply
    own: Conductor | None = simulation.conductor
    if canonical.mirrored and own in ("L1", "L2"):
        own = "L2" if own == "L1" else "L1"
    every = hypotheses_of(msgspec.structs.replace(simulation.readings, base_rates=None), canonical.scene)
    named = [h for h in every if h.fault == simulation.fault and not h.also]
    if not named:
        raise SimulationError("fault", f"{simulation.fault!r} is no single fault of a {supply.system} supply")
    fitting = [h for h in named if own in (None, h.conductor)]
    if not fitting:
        carriers = sorted({h.conductor for h in named if h.conductor})
        raise SimulationError("conductor", f"{simulation.fault} sits on {' or '.join(carriers) or 'no conductor'}")
    placed = [h for h in fitting if simulation.location in (None, h.location)]
    if not placed:
        places = sorted({h.location for h in fitting if h.location})
        raise SimulationError(
            "location", f"with these readings it can be told to be {' or '.join(places) or 'nowhere'}"
        )
    return placed[0]


def _state(built: Built, z: FloatArray, simulation: Simulation) -> None:
    """Put the stated values in place of the drawn ones."""
    program = built.program
    if simulation.supply_voltage is not None:
        wanted = math.log(simulation.supply_voltage / NOMINAL)
        _place(built, z, program.supply, wanted, "supply_voltage")
    if simulation.resistance is not None:
        places = [d for d, key in enumerate(built.keys) if key[0] == "fault"]
        if not places:
            raise SimulationError("resistance", f"{simulation.fault} has no series resistance")
        for d in places:
            _place(built, z, d, math.log(simulation.resistance), "resistance")


def _place(built: Built, z: FloatArray, d: int, wanted: float, field: str) -> None:
    """Set coordinate `d` so that its unknown takes the wanted value."""
    p = built.program
    low, high = -_REACH, _REACH
    z[d] = coordinate_of(p.law_tables, int(p.law[d]), (wanted - p.location[d]) / p.scale[d])
    if not low <= z[d] <= high:
        ends = np.exp([unknown_column(p, np.full((1, z.size), end), d)[0] for end in (low, high)])
        scale = NOMINAL if field == "supply_voltage" else 1.0
        first, last = (f"{end * scale:.4g}" for end in ends)
        raise SimulationError(field, f"under this fault it lies between {first} and {last}")


def _read(o: Observations, row: int, shown: float, rng: np.random.Generator | None) -> float:
    """What is read of an expected magnitude: with scatter and misreads where there is a generator."""
    threshold, steepness = float(o.floor[row]), float(o.relative[row])
    if o.kind[row] == PROXIMITY:
        if rng is None:
            return float(shown >= threshold)
        p = signal_probability(shown, threshold, steepness, float(o.misread[row]), float(o.misread_density[row]))
        return float(rng.random() < p)
    if rng is None:
        return shown
    if rng.random() < o.misread[row]:
        span = 1.0 / float(o.misread_density[row])
        return 10.0 ** rng.uniform(-1.0, 7.0) if o.kind[row] == RESISTANCE else rng.uniform(0.0, span)
    scatter = math.hypot(float(o.floor[row]), float(o.relative[row]) * shown)
    return abs(shown + scatter * float(rng.standard_t(4)))


def _displayed(asked: Reading, value: float, readings: ReadingSet) -> Reading:
    """A reading as its meter displays it."""
    meter = readings.meters[asked.meter]
    if isinstance(asked, ProximityReading) or isinstance(meter, ProximityDetector):
        return msgspec.structs.replace(asked, detected=bool(value))
    steps = round(value / meter.resolution)
    rounded = round(steps * meter.resolution, 9)
    if isinstance(asked, ResistanceReading) and value > asked.value > 0.0:
        return msgspec.structs.replace(asked, value=asked.value, over_range=True)
    return msgspec.structs.replace(asked, value=rounded)
