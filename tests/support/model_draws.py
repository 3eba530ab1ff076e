"""Circuits and readings drawn from the inference's own model: what a calibrated inference must be right about."""

import zlib
from collections.abc import Sequence

import msgspec
import numpy as np

from feedproof.faults.hypotheses import Hypothesis, hypotheses
from feedproof.faults.priors import PRIORS
from feedproof.inference.forward import FloatArray, unknown_column
from feedproof.inference.likelihood import signal_probability
from feedproof.inference.program import Built, build
from feedproof.inference.scene import Scene, SceneReading, SceneState, mirror, mirror_scene, without_values
from feedproof.readings import (
    Conductor,
    CurrentReading,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
)
from support.internals.engine import shown
from support.model_reference import scatter

HIGHEST_OHMS = 40e6
"""An ohmmeter's end of range [ohm]."""
_EDGE = 20.0  # steepness of the share of displays without a number around the end of the range


def as_scene(readings: ReadingSet) -> Scene:
    """Give a reading set as a scene in its own order and orientation, values left as they are."""
    meters, states = list(readings.meters), list(readings.load_states)

    def one(r: Reading) -> SceneReading:
        if isinstance(r, ProximityReading):
            kind, conductors, value = "proximity", (r.at,), float(r.detected)
        elif isinstance(r, CurrentReading):
            kind, conductors, value = "current", (r.through,), r.value
        else:
            kind = "resistance" if isinstance(r, ResistanceReading) else "voltage"
            conductors, value = r.between, r.value  # type: ignore[assignment]
        return SceneReading(
            kind=kind,  # type: ignore[arg-type]
            conductors=conductors,
            point=r.point,
            state=states.index(r.load_state),
            meter=meters.index(r.meter),
            value=value,
        )

    return Scene(
        supply=readings.supply,
        meters=tuple(readings.meters.values()),
        states=tuple(SceneState(kind=s.kind, loads=s.loads) for s in readings.load_states.values()),
        readings=tuple(one(r) for r in readings.readings),
    )


class Circuit:
    """One circuit of one hypothesis; every unknown keeps its value however it is asked.

    Parameters
    ----------
    hypothesis : Hypothesis
        What is wrong with it.
    arrangement : ReadingSet
        Supply, meters and load states; a label may be read that no reading uses yet.
    seed : tuple of int
        The same seed gives the same circuit and the same noise.
    """

    def __init__(self, hypothesis: Hypothesis, arrangement: ReadingSet, seed: tuple[int, ...]) -> None:
        self.hypothesis, self.arrangement, self.seed = hypothesis, arrangement, seed

    def _rng(self, *what: object) -> np.random.Generator:
        return np.random.default_rng((*self.seed, zlib.crc32(repr(what).encode())))

    def _coordinates(self, built: Built) -> FloatArray:
        return np.array([[self._rng(key).standard_normal() for key in built.keys]])

    def _asked(self, questions: Sequence[SceneReading]) -> tuple[Built, FloatArray]:
        scene = as_scene(msgspec.structs.replace(self.arrangement, readings=()))
        bare = without_values(msgspec.structs.replace(scene, readings=tuple(questions)))
        oriented = mirror_scene(bare) if self.hypothesis.mirrored else bare
        built = build(self.hypothesis, oriented, oriented.readings)
        return built, self._coordinates(built)

    def _shown(self, questions: Sequence[SceneReading]) -> FloatArray:
        built, z = self._asked(questions)
        return np.asarray(shown(built, z)[0])

    def read(self, readings: Sequence[Reading], *, repeat: int = 0) -> tuple[Reading, ...]:
        """What a person would note for these readings, whatever values they carry.

        Parameters
        ----------
        readings : sequence of Reading
            What is read.
        repeat : int
            Another number gives other noise on the same circuit.
        """
        scene = as_scene(msgspec.structs.replace(self.arrangement, readings=tuple(readings)))
        values = self._shown(scene.readings)
        return tuple(
            self._noted(reading, question, float(value), (position, repeat))
            for position, (reading, question, value) in enumerate(zip(readings, scene.readings, values, strict=True))
        )

    def _noted(self, reading: Reading, question: SceneReading, value: float, which: tuple[int, int]) -> Reading:
        p, rng = PRIORS, self._rng("noise", question.kind, question.conductors, question.state, question.meter, which)
        meter = list(self.arrangement.meters.values())[question.meter]
        inconsistent = self.hypothesis.inconsistent
        if isinstance(meter, ProximityDetector):
            false, missed = (0.4, 0.4) if inconsistent else (p.proximity_false_signal, p.proximity_missed_signal)
            chance = signal_probability(value, meter.threshold, p.proximity_steepness, false, missed)
            return msgspec.structs.replace(reading, detected=bool(rng.random() < chance))
        misread = rng.random() < (p.inconsistent_share if inconsistent else p.misread_share)
        if question.kind == "resistance":
            rise = min(value / HIGHEST_OHMS, 4.0) ** _EDGE
            if rng.random() < (0.5 if misread else rise / (1.0 + rise)):
                return msgspec.structs.replace(reading, value=HIGHEST_OHMS, over_range=True)
        if misread:
            strange = {
                "voltage": p.misread_range_volts * rng.random(),
                "current": p.misread_range_amperes * rng.random(),
                "resistance": 0.1 * 10.0 ** (p.misread_decades_ohms * rng.random()),
            }[question.kind]
            return msgspec.structs.replace(reading, value=float(strange))
        noted = value + scatter(meter, value) * rng.standard_t(p.tail_degrees)
        return msgspec.structs.replace(reading, value=abs(float(noted)))

    def neutral(self, load_state: str) -> float:
        """Neutral at the receptacle to the panel's grounded point, no meter connected [V]."""
        state = list(self.arrangement.load_states).index(load_state)
        question = SceneReading(kind="neutral", conductors=("N",), point="receptacle", state=state, meter=-1)
        # Asked beside the readings, so that the same unknowns are there.
        scene = as_scene(self.arrangement)
        return float(self._shown([*scene.readings, question])[-1])

    def resistance(self, conductor: Conductor) -> float:
        """Of a conductor from the panel to the receptacle [ohm]."""
        built, z = self._asked(as_scene(self.arrangement).readings)
        own = mirror(conductor) if self.hypothesis.mirrored else conductor
        return sum(
            term.resistance
            if term.coordinate < 0
            else float(np.exp(unknown_column(built.program, z, term.coordinate)[0]))
            for term in built.series[own]
            if term.section == "branch"
        )


def weighed_states(arrangement: ReadingSet) -> tuple[Hypothesis, ...]:
    """Give all hypotheses that the inference weighs for an arrangement."""
    points = frozenset(r.point for r in arrangement.readings)
    supply = arrangement.supply
    return hypotheses(supply.system, points, supply.equipment_ground, arrangement.base_rates)


def draw(arrangement: ReadingSet, seed: tuple[int, ...]) -> Circuit:
    """Draw a hypothesis by base rate, and a circuit of it.

    Parameters
    ----------
    arrangement : ReadingSet
        What will be read, with any values.
    seed : tuple of int
        The same seed gives the same circuit.
    """
    states = weighed_states(arrangement)
    chosen = np.random.default_rng(seed).choice(len(states), p=[h.base_rate for h in states])
    return Circuit(states[int(chosen)], arrangement, seed)


def taken(circuit: Circuit) -> ReadingSet:
    """Give the arrangement's readings as a person would note them on this circuit."""
    arrangement = circuit.arrangement
    return msgspec.structs.replace(arrangement, readings=circuit.read(arrangement.readings))
