"""Information of readings that were not taken, against integrals and closed forms."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.stats import norm, t

from feedproof.circuit.forward import PROXIMITY, VOLTAGE
from feedproof.inference.information import gains, information, likenesses, yes_or_no
from feedproof.inference.likelihood import Observations

NONE = np.zeros((0, 0))
COUNT = 400


def observations(*floors: float, kind: int = VOLTAGE) -> Observations:
    n = len(floors)
    return Observations(
        kind=np.full(n, kind),
        value=np.zeros(n),
        floor=np.array(floors),
        relative=np.zeros(n),
        over_range=np.zeros(n, np.int64),
        misread=np.zeros(n),
        misread_density=np.zeros(n),
        twin=np.full(n, -1),
    )


def two_groups(first: float, second: float, spread: float) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Draws of two normal laws, spread evenly, a half each."""
    z = norm.ppf((np.arange(COUNT // 2) + 0.5) / (COUNT // 2))
    shuffled = np.random.default_rng(1).permutation(z)
    return np.concatenate((first + spread * shuffled, second + spread * shuffled))[:, None], np.repeat(
        [0, 1], COUNT // 2
    )


def told(shown: NDArray[np.float64], group: NDArray[np.int64], o: Observations) -> float:
    share = np.full(len(shown), 1.0 / len(shown))
    return float(information(likenesses(shown, group, o)[0], NONE, group, share))


@pytest.mark.parametrize("apart", [0.0, 1.0, 2.0, 4.0, 40.0])
def test_two_normal_laws_read_with_scatter(apart: float) -> None:
    """Mutual information of which of two laws a reading comes from, by numerical integration (scipy)."""
    spread, scatter = 1.0, 1.0
    shown, group = two_groups(100.0, 100.0 + apart, spread)
    # The law of a reading: the normal one with Student's scatter on it, itself by integration over the draws.
    grid = np.sort(shown[:, 0])

    def law(y: float, half: slice) -> float:
        return float(np.mean(t.pdf(y - shown[half, 0], 4, scale=scatter)))

    def inner(y: float) -> float:
        a, b = law(y, slice(0, COUNT // 2)), law(y, slice(COUNT // 2, COUNT))
        mixed = 0.5 * (a + b)
        return float(sum(0.5 * p * np.log2(p / mixed) for p in (a, b) if p > 0.0))

    exact = float(quad(inner, grid[0] - 30.0, grid[-1] + 30.0, limit=200)[0])
    assert told(shown, group, observations(scatter)) == pytest.approx(exact, abs=0.1)


def test_what_looks_the_same_tells_nothing_and_what_never_does_tells_all() -> None:
    same, group = two_groups(120.0, 120.0, 2.0)
    assert told(same, group, observations(0.3)) < 0.02
    apart, group = two_groups(0.0, 240.0, 2.0)
    assert told(apart, group, observations(0.3)) == pytest.approx(1.0, abs=0.02)


def test_a_coarser_meter_never_tells_more() -> None:
    shown, group = two_groups(118.0, 122.0, 1.0)
    by_floor = [told(shown, group, observations(floor)) for floor in (0.3, 1.0, 3.0, 10.0)]
    assert by_floor == sorted(by_floor, reverse=True)


def test_yes_or_no_in_closed_form() -> None:
    """A noiseless answer tells the entropy of its group; one that is yes as often everywhere tells nothing."""
    group, share = np.array([0, 0, 1, 1]), np.array([0.1, 0.15, 0.5, 0.25])
    entropy = -(0.25 * np.log2(0.25) + 0.75 * np.log2(0.75))
    assert yes_or_no(np.array([1.0, 1.0, 0.0, 0.0]), group, share) == pytest.approx(entropy)
    assert yes_or_no(np.full(4, 0.3), group, share) == pytest.approx(0.0, abs=1e-12)


def test_two_readings_that_tell_only_together_are_partners() -> None:
    """A difference of two readings decides, neither alone does; the partner is found within its setup only."""
    rng = np.random.default_rng(3)
    common = rng.uniform(100.0, 140.0, COUNT)
    group = np.arange(COUNT) % 2
    shown = np.column_stack((common, common + 3.0 * group, common + 3.0 * group))
    o = observations(0.3, 0.3, 0.3)
    like = likenesses(shown, np.arange(COUNT), o)
    share = np.full(COUNT, 1.0 / COUNT)
    single, joint, partner = gains(like, np.array([0, 0, 1]), group, share, o.kind)
    assert single.max() < 0.15
    assert joint[:2].max() > 0.5
    assert {int(partner[0]), int(partner[1])} & {0, 1}
    assert partner[2] == -1


def test_a_detector_tells_by_its_signal() -> None:
    shown = np.array([[0.0]] * 50 + [[240.0]] * 50)
    group = np.repeat([0, 1], 50)
    o = observations(50.0, kind=PROXIMITY)._replace(
        relative=np.array([3.0]), misread=np.array([0.05]), misread_density=np.array([0.1])
    )
    share = np.full(100, 0.01)
    like = likenesses(shown, group, o)
    assert like[0, 0, 0] == pytest.approx(0.05, abs=1e-3)
    single = gains(like, np.array([0]), group, share, o.kind)[0]
    assert 0.4 < single[0] < 0.8
