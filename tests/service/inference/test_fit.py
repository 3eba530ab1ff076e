"""The mass of a place: nested Laplace with its correction, and draws, against plain Monte Carlo over the prior."""

import math

import msgspec
import numpy as np
import pytest

from feedproof.faults.places import Site
from feedproof.faults.severities import pieces, working
from feedproof.inference import draws
from feedproof.inference.draws import draw, effective, spread_evenly
from feedproof.inference.fit import Fit
from feedproof.inference.laplace import STUDENT
from feedproof.inference.predictions import likelihoods, shown_by
from feedproof.inference.refinement import refine
from feedproof.readings import Conductor, ReadingSet, Voltmeter
from support.internals.fits import fitted, place_of
from support.outcomes import LOZ, volts
from support.proof_cases import CASES, FOUR_WIRE, visit

#: Coarse, so that a million circuits drawn from the prior explain the readings well enough to be a measure.
ROUGH = Voltmeter(name="loz", input_impedance=3e3, accuracy_percent=4.0, accuracy_counts=3, resolution=1.0)
SOME: dict[str, tuple[str, Conductor | None, ReadingSet]] = {
    "sound": (
        "none_found",
        None,
        visit(volts("L1", "N", 121.0, "loz"), supply=FOUR_WIRE, meters={"loz": ROUGH}),
    ),
    "a bad joint of the neutral": (
        "high_resistance_neutral",
        "N",
        visit(
            volts("L1", "N", 100.0, "loz"),
            volts("L2", "N", 101.0, "loz"),
            supply=FOUR_WIRE,
            meters={"loz": ROUGH},
        ),
    ),
    "a lost leg": (
        "open_leg",
        "L1",
        visit(volts("L1", "N", 30.0, "loz"), volts("L2", "N", 121.0, "loz"), supply=FOUR_WIRE, meters={"loz": ROUGH}),
    ),
    "a low supply": (
        "voltage_low",
        None,
        visit(volts("L1", "L2", 200.0, "loz"), supply=FOUR_WIRE, meters={"loz": ROUGH}),
    ),
}


def prior_draws(site: Site, size: int, count: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    x = rng.standard_normal((count, size + len(site.spans)))
    for k, spans in enumerate(site.spans):
        own = np.array(pieces(spans))
        share = np.array([s.share for s in spans])
        which = rng.choice(len(spans), size=count, p=share / share.sum())
        low, high, slope = own[which, 0], own[which, 1], own[which, 3]
        t, u = slope * (high - low), rng.random(count)
        bent = np.abs(t) > 1e-9
        safe = np.where(bent, t, 1.0)
        s = low + (high - low) * np.where(bent, np.log1p(u * np.expm1(safe)) / safe, u)
        middle, scale = working(spans)
        x[:, size + k] = (s - middle) / scale
    return x


def by_monte_carlo(fit: Fit, count: int = 400_000, wide: str = "", times: float = 1.0) -> tuple[float, float]:
    """Logarithm of prior times evidence, and its standard error [nat]; one unknown drawn so many times as wide."""
    x = prior_draws(fit.site, fit.size, count, 7)
    shown, log = np.zeros((count, len(fit.built.order))), np.zeros(count)
    far = np.zeros(count)
    if wide:
        k = fit.built.keys.index(wide)
        far = math.log(times) - 0.5 * (times**2 - 1.0) * x[:, k] ** 2
        x[:, k] *= times
    shown_by(fit.built.program, x, shown)
    likelihoods(fit.readings[0], shown, log)
    log += far
    weights = np.exp(log - log.max())
    mass = math.log(fit.site.rate) + sum(math.log(sum(s.share for s in spans)) for spans in fit.site.spans)
    return mass + float(log.max()) + math.log(weights.mean()), float(weights.std() / weights.mean() / math.sqrt(count))


@pytest.mark.parametrize("name", SOME)
def test_draws_are_unbiased(name: str) -> None:
    fault, conductor, readings = SOME[name]
    fit = fitted(readings, fault, conductor, count=2000).fit
    expected, error = by_monte_carlo(fit)
    assert error < 0.02
    own = 1.0 / math.sqrt(effective(fit))
    assert fit.log_mass == pytest.approx(expected, abs=4.0 * math.hypot(error, own))


def test_a_neutral_that_carries_much_is_found() -> None:
    """Legs 13 V apart: of a sound supply only other loads' current in a feeder explains them, far from the median."""
    meter = msgspec.structs.replace(ROUGH, accuracy_percent=1.0, accuracy_counts=1, resolution=0.1)
    apart = (volts("L1", "L2", 243.0, "loz"), volts("L1", "N", 128.0, "loz"), volts("L2", "N", 115.0, "loz"))
    fit = fitted(visit(*apart, supply=FOUR_WIRE, meters={"loz": meter}), "none_found", None, count=1000).fit
    expected, error = by_monte_carlo(fit, 1_000_000, "feeder", 3.0)
    assert error < 0.05
    assert fit.log_mass == pytest.approx(expected, abs=4.0 * math.hypot(error, 1.0 / math.sqrt(effective(fit))))


@pytest.mark.parametrize("name", SOME)
def test_the_nested_approximation_is_near_without_any_draw(name: str) -> None:
    fault, conductor, readings = SOME[name]
    drawn = fitted(readings, fault, conductor)
    refined = msgspec.structs.replace(drawn.fit)
    masses = [v for v in _refined(refined) if v > -math.inf]
    top = max(masses)
    assert top + math.log(sum(math.exp(v - top) for v in masses)) == pytest.approx(
        by_monte_carlo(drawn.fit)[0], abs=0.25
    )


def _refined(fit: Fit) -> list[float]:
    refine(fit)
    return list(fit.degrees.values())


def test_the_correction_is_what_laplace_lacks_of_students_law() -> None:
    """By hand: density 3/8 at the centre and curvature 5/4, so the bell holds (3/8) sqrt(2 pi 4/5) of 1."""
    assert pytest.approx(-math.log(0.375 * math.sqrt(2.0 * math.pi / 1.25)), abs=1e-4) == STUDENT


def test_degrees_share_the_mass() -> None:
    readings = visit(volts("L1", "N", 60.0, "loz"), volts("L2", "N", 61.0, "loz"), supply=FOUR_WIRE)
    whole = place_of(readings, "open_neutral", "N")
    assert {s.fault for s in whole.spans[0]} == {"open_neutral"}
    fit = fitted(readings, "open_neutral", "N").fit
    assert set(fit.degrees) == {"open_neutral"}
    assert fit.degrees["open_neutral"] == pytest.approx(fit.log_mass)
    # 3 kΩ sees half of 121 V behind 3 kΩ.
    assert np.average(fit.severities()[:, 0], weights=fit.weights()) == pytest.approx(math.log(3e3), abs=0.3)
    assert LOZ.input_impedance == 3e3


def test_more_draws_tell_the_same() -> None:
    fault, conductor, readings = SOME["a bad joint of the neutral"]
    fit = fitted(readings, fault, conductor).fit
    few = fit.log_mass
    draw(fit, 4000)
    assert few == pytest.approx(fit.log_mass, abs=0.15)


def test_what_a_damp_run_carries_is_found() -> None:
    """7 V through 3 kohm: a neutral of 50 kohm, or one in twenty times no neutral at all and a wet run."""
    fit = fitted(CASES["low impedance, nothing behind the neutral"], "open_neutral", "N").fit
    found = fit.log_mass
    draw(fit, 4000)
    assert found == pytest.approx(fit.log_mass, abs=0.1)
    beyond = float(fit.weights()[fit.severities()[:, 0] > math.log(1e6)].sum())
    assert beyond == pytest.approx(0.055, abs=0.02)
    assert effective(fit) > 2000


@pytest.mark.parametrize("name", SOME)
def test_what_a_draw_weighs_is_its_own(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whichever draw comes to a node first."""
    fault, conductor, readings = SOME[name]
    fit = fitted(readings, fault, conductor).fit
    found = []
    for step in (1, -1):
        monkeypatch.setattr(draws, "spread_evenly", lambda *size, step=step: [a[::step] for a in spread_evenly(*size)])
        fit.x, fit.log_weight = np.zeros((0, 0)), np.zeros(0)
        draw(fit, 200)
        found.append(fit.log_weight[::step])
    assert found[0].tolist() == found[1].tolist()


def test_numbers_are_spread_evenly() -> None:
    uniform, normal = spread_evenly(512, 6)
    assert uniform.shape == (512, 3)
    assert uniform.mean(axis=0) == pytest.approx([0.5] * 3, abs=0.01)
    assert normal.mean(axis=0) == pytest.approx([0.0] * 6, abs=0.12)
    assert normal.std(axis=0) == pytest.approx([1.0] * 6, abs=0.12)
    assert spread_evenly(512, 6)[0] is uniform
