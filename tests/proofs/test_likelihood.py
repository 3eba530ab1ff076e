"""The likelihood against the model written once more, with other tools.

`support.model_reference` states the model with named branches, the second solver and the laws of `scipy.stats`. Both
must give the same log likelihood wherever they are asked; then the engine's own may stand for the model in the proofs
that need very many evaluations. A dead tester and a joint that comes and goes are no one circuit; what their readings
show is held to the second solver in `service/circuit/test_forward.py`.
"""

import math
from collections.abc import Iterator

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from feedproof.inference import Candidate, Circuits, circuits_of
from feedproof.readings import CurrentReading, ProximityReading, ReadingSet, ResistanceReading
from support import model_reference as reference
from support.model_reference import NOT_ONE_CIRCUIT, Neutral
from support.proof_cases import CASES
from support.seam import every_circuit, site

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


def one_circuit(visit: ReadingSet) -> Iterator[tuple[Candidate, Circuits]]:
    """Every site that is one circuit, with each kind of it."""
    return ((found, circuits) for found, circuits in every_circuit(visit) if found.fault not in NOT_ONE_CIRCUIT)


@pytest.mark.parametrize("name", ALL)
def test_log_likelihoods_agree(name: str) -> None:
    """Every site of the reading set, at a point of its prior and at a second one further out."""
    rng = np.random.default_rng(7)
    for found, circuits in one_circuit(CASES[name]):
        for spread in (1.0, 1.8):
            cube = anywhere(circuits, rng, spread)
            values = circuits.values(cube)
            expected = reference.log_likelihood(found, circuits, CASES[name], values)
            assert circuits.log_likelihood(cube) == pytest.approx(expected, abs=TOLERANCE), found


@pytest.mark.parametrize("name", list(CASES)[::4])
def test_unknowns_are_standard_normal_and_severities_fill_their_range(name: str) -> None:
    for found, circuits in every_circuit(CASES[name]):
        last: dict[int, float] = {}
        for at in stats.norm.cdf(np.linspace(-4.0, 4.0, 17)):
            values = circuits.values(np.full(len(circuits.names), at))
            for number, (unknown, value) in enumerate(values.items()):
                if unknown[0] != "severity":
                    assert value == pytest.approx(float(stats.norm.ppf(at)), abs=1e-6), found
                assert value > last.get(number, -math.inf), found
                last[number] = value


@pytest.mark.parametrize("name", list(CASES)[1::6])
def test_what_meters_show_and_the_neutral_agree(name: str) -> None:
    """Every reading, and the neutral to the panel's grounded point, undisturbed and while a voltmeter is connected."""
    visit = CASES[name]
    rng = np.random.default_rng(11)
    asked = 0
    for found, circuits in one_circuit(visit):
        # What else the neutral's voltage hangs on is at its median on both sides.
        own = circuits.values(anywhere(circuits, rng))
        values = own
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
    values = circuits.values(cube)
    values["severity", "0"] += 0.01
    ours = reference.log_likelihood(found, circuits, visit, values)
    assert abs(circuits.log_likelihood(cube) - ours) > 100.0 * TOLERANCE
