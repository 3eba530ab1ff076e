"""One hypothesis weighed: against many plain draws from the prior."""

import math

import numpy as np
import pytest

from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.arrays import make_work
from feedproof.inference.forward import predict
from feedproof.inference.likelihood import total_log_likelihood
from feedproof.inference.scene import Scene
from feedproof.inference.weigh import draw, log_prior, undrawn
from feedproof.readings import ReadingSet
from support.internals.engine import NOTHING, compiled, fitted, posed
from support.outcomes import amps, volts
from support.proof_cases import FOUR_WIRE, near, visit

DRAWS = 25_000
VISITS: dict[str, ReadingSet] = {
    "one low-impedance reading": visit(volts("L1", "N", 118.0, "loz")),
    "a signal": visit(near("N", detected=True)),
    "a leg pair and a clamp": visit(volts("L1", "L2", 238.0, state="running"), amps("N", 0.5, state="running")),
}


def by_the_prior(hypothesis: Hypothesis, scene: Scene) -> tuple[float, float]:
    """Log of the mean likelihood of draws from the prior, and their effective number."""
    built, observations = compiled(hypothesis, scene)
    z = np.random.default_rng(5).standard_normal((DRAWS, len(built.keys)))
    rows = np.zeros((DRAWS, len(built.order)))
    predict(built.program, z, make_work(built.program), rows, NOTHING)
    logs = np.array([total_log_likelihood(observations, row) for row in rows])
    w = np.exp(logs - logs.max())
    return float(logs.max() + math.log(w.mean())), float(w.sum() ** 2 / (w**2).sum())


@pytest.mark.parametrize("name", ["one low-impedance reading", "a signal"])
def test_evidences_are_those_of_the_prior(name: str) -> None:
    """Wherever plain draws from the prior are worth a thousand, both evidences agree to a tenth of a nat."""
    case = posed(VISITS[name])
    compared = 0
    for hypothesis in case.states:
        if hypothesis.mirrored or hypothesis.also:
            continue
        scene = case.oriented(hypothesis)
        expected, effective = by_the_prior(hypothesis, scene)
        if effective < 1000.0:
            continue
        found = draw(fitted(hypothesis, scene), limit=4096, enough=400.0)
        assert found.log_evidence == pytest.approx(expected, abs=0.1), hypothesis
        compared += 1
    assert compared > 8


@pytest.mark.parametrize(
    "name",
    [
        "one low-impedance reading",
        "a signal",
        "a leg pair and a clamp",  # a current is the difference of two loads: a thin bent sheet
    ],
)
def test_leading_states_get_the_draws_they_need(name: str) -> None:
    """Quantiles of a finding want some hundred effective draws; a hundred is the least."""
    case = posed(VISITS[name])
    for hypothesis in case.states:
        if hypothesis.fault == "none_found":
            found = draw(fitted(hypothesis, case.oriented(hypothesis)), limit=4096, enough=300.0)
            assert found.effective > 100.0


def test_without_readings_every_evidence_is_one() -> None:
    case = posed(ReadingSet(supply=FOUR_WIRE))
    for hypothesis in case.states:
        found = draw(fitted(hypothesis, case.oriented(hypothesis)), limit=256, enough=64.0)
        assert found.log_evidence == pytest.approx(0.0, abs=0.05)


def test_weights_sum_to_one_and_never_count_more_than_the_draws() -> None:
    case = posed(VISITS["one low-impedance reading"])
    for hypothesis in case.states[::5]:
        found = draw(fitted(hypothesis, case.oriented(hypothesis)), limit=512, enough=100.0)
        assert found.weights().sum() == pytest.approx(1.0)
        assert 1.0 <= found.effective <= found.z.shape[0] <= 512
        assert found.shown.shape == (found.z.shape[0], 1)
        assert found.hypothesis is hypothesis


def test_what_is_not_drawn_is_left_at_its_first_answer() -> None:
    case = posed(VISITS["one low-impedance reading"])
    fit = fitted(case.states[0], case.oriented(case.states[0]))
    found = undrawn(fit)
    assert found.log_evidence == fit.log_evidence
    assert found.effective == 0.0
    assert found.z.size == 0


def test_the_first_answer_is_near_for_a_plain_posterior() -> None:
    case = posed(visit(volts("L1", "L2", 241.0), volts("L1", "N", 120.5)))
    sound = next(h for h in case.states if h.fault == "none_found")
    fit = fitted(sound, case.oriented(sound))
    assert fit.log_evidence == pytest.approx(draw(fit, limit=4096, enough=1000.0).log_evidence, abs=0.7)


def test_the_prior_is_the_base_rate() -> None:
    case = posed(VISITS["a signal"])
    assert sum(math.exp(log_prior(h)) for h in case.states) == pytest.approx(1.0)
