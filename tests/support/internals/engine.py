"""The inference's own seams, in the few shapes that the proofs need."""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from feedproof.faults.hypotheses import Hypothesis, hypotheses
from feedproof.inference.arrays import make_work
from feedproof.inference.forward import FloatArray, predict
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.program import Built, build, observe
from feedproof.inference.scene import Canonical, Scene, SceneReading, canonical_form, mirror_scene, without_values
from feedproof.inference.weigh import Fit, fit
from feedproof.readings import ReadingSet

NOTHING = np.zeros((0, 0))


class Posed(Struct, frozen=True, kw_only=True):
    """A reading set as the inference sees it, with every state of the supply that it weighs."""

    canonical: Canonical
    states: tuple[Hypothesis, ...]

    def oriented(self, hypothesis: Hypothesis) -> Scene:
        """Give the scene, turned where the hypothesis asks for it."""
        return mirror_scene(self.canonical.scene) if hypothesis.mirrored else self.canonical.scene


def posed(readings: ReadingSet) -> Posed:
    """Bring a reading set before the inference."""
    canonical = canonical_form(readings)
    scene = canonical.scene
    points = frozenset(r.point for r in scene.readings)
    states = hypotheses(scene.supply.system, points, scene.supply.equipment_ground, readings.base_rates)
    return Posed(canonical=canonical, states=states)


def compiled(hypothesis: Hypothesis, scene: Scene) -> tuple[Built, Observations]:
    """Give the arrays of one hypothesis on a scene in its orientation."""
    bare = without_values(scene)
    built = build(hypothesis, bare, bare.readings)
    return built, observe(bare, scene.readings, built.order, inconsistent=hypothesis.inconsistent)


def fitted(hypothesis: Hypothesis, scene: Scene) -> Fit:
    """Give a hypothesis with its modes on a scene in its orientation."""
    return fit(hypothesis, without_values(scene), scene.readings)


def shown(built: Built, z: FloatArray) -> FloatArray:
    """Give what meters would show in the order that was asked, for draws of shape (N, D)."""
    rows = np.zeros((z.shape[0], len(built.order)))
    predict(built.program, np.ascontiguousarray(z), make_work(built.program), rows, NOTHING)
    answer = np.empty_like(rows)
    answer[:, list(built.order)] = rows
    return answer


def log_likelihood(built: Built, observations: Observations, z: FloatArray) -> float:
    """Give the compiled log likelihood of one draw [nat]."""
    row = np.zeros((1, len(built.order)))
    predict(built.program, z.reshape(1, -1), make_work(built.program), row, NOTHING)
    return float(total_log_likelihood(observations, row[0]))


def asked(hypothesis: Hypothesis, scene: Scene, questions: Sequence[SceneReading]) -> Built:
    """Give the program that answers questions on a scene in the hypothesis's orientation."""
    return build(hypothesis, without_values(scene), tuple(questions))
