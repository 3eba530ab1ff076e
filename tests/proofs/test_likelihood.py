"""The compiled likelihood against the model written once more, with other tools.

`support.model_reference` states the model with named branches, the dense solver and the laws of `scipy.stats`. Both
must give the same log likelihood wherever they are asked; then the compiled one may stand for the model in the proofs
that need very many evaluations.
"""

import numpy as np
import pytest
from scipy import stats

from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.forward import FloatArray, unknown_column
from feedproof.inference.scene import Scene, SceneReading
from feedproof.inference.weigh import draw
from feedproof.readings import ReadingSet
from support import model_reference as reference
from support.internals.engine import asked, compiled, fitted, log_likelihood, posed, shown
from support.proof_cases import CASES

TOLERANCE = 1e-6
#: In the everyday run a few of the reading sets, of every kind of reading; all of them in the long one.
EVERYDAY = (
    "bad neutral under a known load",
    "isolated, no end of range",
    "leg and ground changed",
    "clamp on the neutral",
    "three wires, frame on the neutral",
)
ALL = [name if name in EVERYDAY else pytest.param(name, marks=pytest.mark.slow) for name in CASES]


def unknowns(
    keys: tuple[reference.Key, ...], z: FloatArray, laws: dict[reference.Key, reference.Law]
) -> dict[reference.Key, float]:
    """Each unknown where its law puts a standard-normal coordinate."""
    return {key: float(laws[key].ppf(stats.norm.cdf(at))) for key, at in zip(keys, z, strict=True)}


def compare(hypothesis: Hypothesis, scene: Scene, rng: np.random.Generator, spread: float) -> float:
    """Difference of the two log likelihoods at one random point [nat]."""
    built, observations = compiled(hypothesis, scene)
    laws = reference.laws(hypothesis, scene)
    z = spread * rng.standard_normal(len(built.keys))
    values = reference.medians(hypothesis, scene) | unknowns(built.keys, z, laws)
    ours = reference.log_likelihood(hypothesis, scene, scene.readings, values)
    return log_likelihood(built, observations, z) - ours


@pytest.mark.parametrize("name", ALL)
def test_log_likelihoods_agree(name: str) -> None:
    """Every hypothesis of the reading set, at a point of its prior and at a second one further out."""
    case = posed(CASES[name])
    rng = np.random.default_rng(7)
    for hypothesis in case.states:
        scene = case.oriented(hypothesis)
        for spread in (1.0, 1.8):
            assert abs(compare(hypothesis, scene, rng, spread)) < TOLERANCE, hypothesis


@pytest.mark.parametrize("name", list(CASES)[::4])
def test_prior_laws_agree(name: str) -> None:
    case = posed(CASES[name])
    z = np.linspace(-4.0, 4.0, 17)
    for hypothesis in case.states:
        scene = case.oriented(hypothesis)
        built, _ = compiled(hypothesis, scene)
        laws = reference.laws(hypothesis, scene)
        grid = np.repeat(z[:, None], len(built.keys), axis=1)
        for d, key in enumerate(built.keys):
            expected = laws[key].ppf(stats.norm.cdf(z))
            assert unknown_column(built.program, grid, d) == pytest.approx(expected, rel=1e-9, abs=1e-9), key


@pytest.mark.parametrize("name", list(CASES)[1::6])
def test_the_neutral_asked_for_agrees(name: str) -> None:
    """Neutral to the panel's grounded point, undisturbed and while a voltmeter is connected."""
    case = posed(CASES[name])
    rng = np.random.default_rng(11)
    for hypothesis in case.states:
        scene = case.oriented(hypothesis)
        questions = [
            SceneReading(kind="neutral", conductors=("N",), point=r.point, state=r.state, meter=-1)
            for r in scene.readings
            if r.point == "receptacle" and r.kind != "resistance"
        ]
        questions += [
            SceneReading(kind="neutral_during", conductors=r.conductors, point=r.point, state=r.state, meter=r.meter)
            for r in scene.readings
            if r.kind == "voltage"
        ]
        if not questions:
            continue
        built = asked(hypothesis, scene, questions)
        laws = reference.laws(hypothesis, scene)
        z = rng.standard_normal(len(built.keys))
        values = reference.medians(hypothesis, scene) | unknowns(built.keys, z, laws)
        for question, found in zip(questions, shown(built, z.reshape(1, -1))[0], strict=True):
            expected = reference.expected(hypothesis, scene, values, question)
            assert found == pytest.approx(expected, rel=1e-7, abs=1e-8), (hypothesis, question)


def test_a_wrong_reference_would_be_seen() -> None:
    """The control: one prior moved by a hundredth, and the two part far beyond the tolerance."""
    case = posed(CASES["bad neutral under a known load"])
    hypothesis = next(h for h in case.states if h.fault == "high_resistance_neutral")
    scene = case.oriented(hypothesis)
    built, observations = compiled(hypothesis, scene)
    z = np.full(len(built.keys), 0.3)
    values = reference.medians(hypothesis, scene) | unknowns(built.keys, z, reference.laws(hypothesis, scene))
    values["fault", "branch", "N"] += 0.01
    ours = reference.log_likelihood(hypothesis, scene, scene.readings, values)
    assert abs(log_likelihood(built, observations, z) - ours) > 100.0 * TOLERANCE


#: Points of each posterior: so many at a time, until the mean is known to this, or so many times. A few improbable
#: points weigh much.
ROWS, KNOWN, ROUNDS = 96, 0.05, 16


#: Measured with a standard error below 0.05: more than the bound.
@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_what_is_set_to_its_median_hardly_matters(name: str) -> None:
    """Unknowns that the inference leaves out, drawn from their laws, must not move the evidence.

    At points of the posterior of each hypothesis that leads, the mean likelihood over the left-out unknowns is held
    against the likelihood with them at their medians.
    """
    worst = max(abs(change) for change in changes(CASES[name]).values())
    assert worst < 0.15


def changes(readings: ReadingSet) -> dict[str, float]:
    """Change of the log evidence of each leading hypothesis by what is left out [nat]."""
    case = posed(readings)
    fits = [fitted(h, case.oriented(h)) for h in case.states]
    top = max(f.log_evidence + np.log(f.hypothesis.base_rate) for f in fits)
    leading = [f for f in fits if f.log_evidence + np.log(f.hypothesis.base_rate) > top - 3.0]
    rng = np.random.default_rng(3)
    found = {}
    for f in leading:
        weighed = draw(f, limit=2048, enough=300.0)
        laws = reference.laws(f.hypothesis, f.scene)
        medians = reference.medians(f.hypothesis, f.scene)
        scene = case.oriented(f.hypothesis)
        left_out = [key for key in laws if key not in f.built.keys]
        ratios: list[float] = []
        share = np.empty(0)
        for _ in range(ROUNDS):
            for row in rng.choice(weighed.z.shape[0], size=ROWS, p=weighed.weights()):
                plain = medians | unknowns(f.built.keys, weighed.z[row], laws)
                drawn = plain | {key: float(laws[key].rvs(random_state=rng)) for key in left_out}
                at = [reference.log_likelihood(f.hypothesis, scene, scene.readings, v) for v in (plain, drawn)]
                ratios.append(at[1] - at[0])
            share = np.exp(ratios)
            if np.std(share) / np.mean(share) / np.sqrt(share.size) < KNOWN:
                break
        h = f.hypothesis
        found[f"{h.fault} {h.conductor} {h.location} {h.also}"] = float(np.log(np.mean(share)))
    return found
