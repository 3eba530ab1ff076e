"""The likelihood against the model written once more, with other tools.

`support.model_reference` states the model with named branches, the second solver and the laws of `scipy.stats`. Both
must give the same log likelihood wherever they are asked; then the engine's own may stand for the model in the proofs
that need very many evaluations.
"""

import math
from collections.abc import Iterable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from feedproof.inference import Circuits, Name, circuits_of
from feedproof.readings import CurrentReading, ProximityReading, ReadingSet, ResistanceReading
from support import model_reference as reference
from support.model_laws import Law, laws, medians
from support.model_reference import Neutral
from support.nested import nested
from support.proof_cases import CASES
from support.seam import every_circuit, site, sites

FloatArray = NDArray[np.float64]

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


def anywhere(circuits: Circuits, rng: np.random.Generator, spread: float = 1.0) -> FloatArray:
    """A point of the prior, or of one that is wider."""
    return np.asarray(stats.norm.cdf(spread * rng.standard_normal(len(circuits.names))))


def unknowns(names: Iterable[Name], cube: FloatArray, own: dict[Name, Law]) -> dict[Name, float]:
    """Each unknown where its law puts a coordinate."""
    return {name: float(own[name].ppf(at)) for name, at in zip(names, cube, strict=True)}


@pytest.mark.parametrize("name", ALL)
def test_log_likelihoods_agree(name: str) -> None:
    """Every site of the reading set, at a point of its prior and at a second one further out."""
    rng = np.random.default_rng(7)
    for found, circuits in every_circuit(CASES[name]):
        for spread in (1.0, 1.8):
            cube = anywhere(circuits, rng, spread)
            own = laws(found, CASES[name])
            values = medians(found, CASES[name]) | unknowns(circuits.names, cube, own)
            expected = reference.log_likelihood(found, circuits, CASES[name], values)
            assert circuits.log_likelihood(cube) == pytest.approx(expected, abs=TOLERANCE), found


@pytest.mark.parametrize("name", list(CASES)[::4])
def test_prior_laws_agree(name: str) -> None:
    for found, circuits in every_circuit(CASES[name]):
        own = laws(found, CASES[name])
        for at in stats.norm.cdf(np.linspace(-4.0, 4.0, 17)):
            cube = np.full(len(circuits.names), at)
            expected = unknowns(circuits.names, cube, own)
            assert circuits.values(cube) == pytest.approx(expected, rel=1e-9, abs=1e-9), found


@pytest.mark.parametrize("name", list(CASES)[1::6])
def test_what_meters_show_and_the_neutral_agree(name: str) -> None:
    """Every reading, and the neutral to the panel's grounded point, undisturbed and while a voltmeter is connected."""
    visit = CASES[name]
    rng = np.random.default_rng(11)
    asked = 0
    for found, circuits in every_circuit(visit):
        # What else the neutral's voltage hangs on is at its median on both sides.
        own = circuits.values(anywhere(circuits, rng))
        values = medians(found, visit) | own
        for reading, shown in zip(visit.readings, circuits.shown(own), strict=True):
            expected = reference.expected(found, circuits, visit, values, reading)
            assert shown == pytest.approx(expected, rel=1e-7, abs=1e-8), (found, reading)
        for (state, point, during), volts in circuits.truth(own).neutral_voltages.items():
            meter = None if during is None else visit.readings[during]
            assert not isinstance(meter, ResistanceReading | ProximityReading | CurrentReading)
            question = Neutral(load_state=state, point=point, during=meter)
            expected = reference.expected(found, circuits, visit, values, question)
            assert volts == pytest.approx(expected, rel=1e-7, abs=1e-8), (found, question)
            asked += 1
    assert asked > 0 or all(isinstance(r, ResistanceReading) for r in visit.readings)


def test_a_wrong_reference_would_be_seen() -> None:
    """The control: one prior moved by a hundredth, and the two part far beyond the tolerance."""
    visit = CASES["bad neutral under a known load"]
    found = site(visit, "high_resistance_neutral")
    (circuits,) = circuits_of(visit, found)
    cube = np.full(len(circuits.names), float(stats.norm.cdf(0.3)))
    values = medians(found, visit) | circuits.values(cube)
    values["fault", "branch", "N"] += 0.01
    ours = reference.log_likelihood(found, circuits, visit, values)
    assert abs(circuits.log_likelihood(cube) - ours) > 100.0 * TOLERANCE


#: Points of each posterior: so many at a time, until the mean is known to this, or so many times. A few improbable
#: points weigh much.
ROWS, KNOWN, ROUNDS = 96, 0.05, 16


#: Measured with a standard error below 0.05: more than the bound.
@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_what_is_set_to_its_median_hardly_matters(name: str) -> None:
    """Unknowns that the inference leaves out, drawn from their laws, must not move the evidence.

    At points of the posterior of each site that leads, the mean likelihood over the left-out unknowns is held against
    the likelihood with them at their medians.
    """
    worst = max(abs(change) for change in changes(CASES[name]).values())
    assert worst < 0.15


def changes(visit: ReadingSet) -> dict[str, float]:
    """Change of the log evidence of each leading site by what is left out [nat]."""
    weighed = sites(visit)
    top = max(math.log(c.base_rate) + c.log_evidence for c in weighed)
    leading = [c for c in weighed if math.log(c.base_rate) + c.log_evidence > top - 3.0]
    rng = np.random.default_rng(3)
    found = {}
    for c in leading:
        for number, circuits in enumerate(circuits_of(visit, c)):
            # A few live points will do: only where the posterior lies is wanted.
            points = nested(circuits, seed=1, live=100).cube
            own, plain_medians = laws(c, visit), medians(c, visit)
            left_out = [name for name in own if name not in circuits.names]
            ratios: list[float] = []
            share = np.empty(0)
            for _ in range(ROUNDS):
                for cube in points[rng.integers(len(points), size=ROWS)]:
                    plain = plain_medians | circuits.values(cube)
                    drawn = plain | {name: float(own[name].rvs(random_state=rng)) for name in left_out}
                    at = [reference.log_likelihood(c, circuits, visit, v) for v in (plain, drawn)]
                    ratios.append(at[1] - at[0])
                share = np.exp(ratios)
                if np.std(share) / np.mean(share) / np.sqrt(share.size) < KNOWN:
                    break
            found[f"{c.fault} {c.conductor} {c.location} {c.also} {number}"] = float(np.log(np.mean(share)))
    return found
