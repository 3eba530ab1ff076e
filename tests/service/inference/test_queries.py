"""Intervals and carried-over draws."""

import numpy as np
import pytest

from feedproof.inference import Interval
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.queries import (
    carried_over,
    interval,
    one_sided,
    only,
    path_resistance,
    predicted,
    resampled,
    some_of,
)
from feedproof.inference.scene import SceneReading
from support.internals.engine import asked, posed
from support.internals.posteriors import weighed
from support.outcomes import amps, volts
from support.proof_cases import CASES, FOUR_WIRE, visit


def test_an_interval_holds_nine_in_ten() -> None:
    draws = NORMAL_POINTS[:, 0].copy()
    found = interval(draws, np.full(draws.size, 1.0 / draws.size))
    assert (found.low, found.value, found.high) == pytest.approx((-1.645, 0.0, 1.645), abs=0.01)
    assert found.bound == "two_sided"


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (1e5, 9.9e8, "at_least"),
        (1.0e3, 3.0e6, "at_most"),
        (3.0e4, 3.0e6, "two_sided"),
        (1.0e3, 1.0e9, "at_least"),
    ],
)
def test_an_end_at_the_wall_is_no_bound(low: float, high: float, expected: str) -> None:
    """Over six decades from 1 kohm: what leans on an end was not bounded there by the readings."""
    assert one_sided(Interval(value=1e5, low=low, high=high, bound="two_sided"), 1e3, 1e9) == expected


def test_resampling_keeps_the_weights() -> None:
    found = weighed(visit(volts("L1", "L2", 243.0), volts("L1", "N", 121.0)), "none_found")
    draws = resampled(found, 4000)
    weights = found.weights()
    for d in range(found.z.shape[1]):
        mean = float(weights @ found.z[:, d])
        assert draws[:, d].mean() == pytest.approx(mean, abs=0.02)
    assert resampled(found, 7).shape == (7, found.z.shape[1])


def test_few_draws_are_all_given_and_many_are_thinned() -> None:
    found = weighed(visit(volts("L1", "L2", 243.0), volts("L1", "N", 121.0)), "none_found")
    count = found.z.shape[0]
    z, weights = some_of(found, count)
    assert z is found.z
    assert weights.sum() == pytest.approx(1.0)
    thin, alike = some_of(found, count // 2)
    assert thin.shape[0] == alike.size == count // 2
    assert alike.sum() == pytest.approx(1.0)
    # The mean of what is left is that of all, to the scatter of so many draws.
    assert alike @ thin == pytest.approx(weights @ z, abs=0.15)


def test_only_replaces_the_draws() -> None:
    found = weighed(visit(volts("L1", "L2", 243.0)), "none_found")
    three = only(found, found.z[:3])
    assert three.weights() == pytest.approx(np.full(3, 1.0 / 3.0))
    assert three.log_evidence == found.log_evidence


def test_what_was_read_is_predicted_as_it_was_drawn() -> None:
    found = weighed(CASES["bad leg while heating"], "high_resistance_leg", "L1")
    scene = posed(CASES["bad leg while heating"]).canonical.scene
    values = predicted(found, found.z[:50], list(scene.readings))
    own = found.shown[:50][:, np.argsort(found.fit.built.order)]
    np.testing.assert_allclose(values, own, rtol=1e-9)


@pytest.mark.parametrize("fault", ["open_leg", "high_resistance_leg"])
def test_a_mirrored_hypothesis_answers_in_the_scenes_own_conductors(fault: str) -> None:
    """Whichever leg is faulted, the question is put in the readings' orientation."""
    readings = visit(volts("L1", "L2", 121.0, "loz"), volts("L1", "N", 121.0, "loz"), volts("L2", "N", 3.0, "loz"))
    scene = posed(readings).canonical.scene
    for conductor in ("L1", "L2"):
        found = weighed(readings, fault, conductor)
        values = predicted(found, found.z[:20], list(scene.readings))
        for k, reading in enumerate(scene.readings):
            alone = predicted(found, found.z[:20], [reading])
            # Asked alone, strays that it does not feel are left at their medians.
            np.testing.assert_allclose(alone[:, 0], values[:, k], rtol=1e-5, atol=1e-3)
        own = found.shown[:20][:, np.argsort(found.fit.built.order)]
        np.testing.assert_allclose(values, own, rtol=1e-9)


def test_known_coordinates_are_carried_over_and_new_ones_come_from_their_priors() -> None:
    readings = visit(volts("L1", "L2", 243.0), volts("L1", "N", 121.0))
    found = weighed(readings, "none_found")
    scene = posed(readings).canonical.scene
    wanted = asked(
        found.hypothesis,
        scene,
        [SceneReading(kind="voltage", conductors=("L1", "N"), point="receptacle", state=0, meter=-1)],
    )
    z = carried_over(found.fit.built, wanted, found.z)
    for d, key in enumerate(wanted.keys):
        if key in found.fit.built.keys:
            assert (z[:, d] == found.z[:, found.fit.built.keys.index(key)]).all()
    heavier = visit(volts("L1", "L2", 243.0), amps("L1", 20.0))
    other = posed(heavier)
    state = next(h for h in other.states if h.fault == "none_found")
    more = asked(state, other.oriented(state), other.oriented(state).readings)
    new = [d for d, key in enumerate(more.keys) if key not in found.fit.built.keys]
    assert new
    fresh = carried_over(found.fit.built, more, np.zeros((2000, len(found.fit.built.keys))))
    assert np.abs(fresh[:, new].mean(axis=0)).max() < 0.05
    assert fresh[:, new].std(axis=0) == pytest.approx(np.ones(len(new)), abs=0.05)


def test_a_paths_resistance_is_the_sum_of_its_parts() -> None:
    readings = visit(
        volts("L1", "L2", 236.0, state="heating", point="appliance_terminals"),
        volts("L1", "L2", 240.0, state="heating"),
        supply=FOUR_WIRE,
    )
    found = weighed(readings, "high_resistance_leg", "L1")
    to_receptacle = path_resistance(found, "L1", to_terminals=False)
    to_terminals = path_resistance(found, "L1", to_terminals=True)
    assert to_receptacle.shape == (found.z.shape[0],)
    assert (to_terminals > to_receptacle).all()
    assert (path_resistance(found, "N", to_terminals=False) > 0.0).all()
