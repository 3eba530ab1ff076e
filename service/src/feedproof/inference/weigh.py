"""One hypothesis weighed against the readings: its evidence, and draws from its posterior."""

import math

import numpy as np
from msgspec import Struct

from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.forward import FloatArray, Work, make_work
from feedproof.inference.likelihood import Observations
from feedproof.inference.modes import find_modes
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.program import Built, build, observe
from feedproof.inference.ridges import sample_ridge
from feedproof.inference.sampling import sample
from feedproof.inference.scene import Scene, SceneReading
from feedproof.inference.weights import effective_number, log_mean_exp

#: Scouted points and climbs: an interrupted conductor can settle in several ways, a sound one hardly.
_SCOUTS, _CLIMBS = 16, 2
_SCOUTS_HIGH, _CLIMBS_HIGH = 32, 3
_SCOUTS_OPEN, _CLIMBS_OPEN = 32, 3
#: With fewer draws than this at most, uneven weights are left as they are.
_WORTH_SETTLING = 1000
#: Draws along a ridge that find this much less evidence than uneven ones have seen have missed a part of it [nat],
#: unless so large a share of them is effective [1].
_MISSED = 0.5
_CONVINCING = 0.2
#: Most climbs from where one admittance leads.
_LED = 6


class Fit(Struct, frozen=True, kw_only=True):
    """A hypothesis with its modes: the first, cheap answer."""

    hypothesis: Hypothesis
    scene: Scene
    """The arrangement in the hypothesis's orientation, without values."""
    built: Built
    observations: Observations
    work: Work
    modes: FloatArray
    factors: FloatArray
    log_mass: FloatArray
    scouted: float
    """The evidence as a few draws from the prior have it [nat]."""

    @property
    def log_evidence(self) -> float:
        """The greater of Laplace's approximation and what the scouts have seen [nat]."""
        return max(float(np.logaddexp.reduce(self.log_mass)), self.scouted)


class Weighed(Struct, frozen=True, kw_only=True):
    """A hypothesis with weighted draws from its posterior; none where it was too improbable to draw."""

    fit: Fit
    log_evidence: float
    """[nat]"""
    z: FloatArray
    """Draws; shape (N, D)."""
    shown: FloatArray
    """Expected readings, in the program's order; shape (N, R)."""
    log_weight: FloatArray
    """shape (N,)"""

    @property
    def hypothesis(self) -> Hypothesis:
        """Which state of the supply it is."""
        return self.fit.hypothesis

    @property
    def effective(self) -> float:
        """Effective number of draws [1]."""
        return float(effective_number(self.log_weight, 1.0)) if self.log_weight.size else 0.0

    def weights(self) -> FloatArray:
        """Normalized weights; shape (N,) [1]."""
        w: FloatArray = np.exp(self.log_weight - self.log_weight.max())
        return w / w.sum()


def fit(
    hypothesis: Hypothesis, arrangement: Scene, readings: tuple[SceneReading, ...], give_up: float = -math.inf
) -> Fit:
    """Find the modes of a hypothesis.

    Parameters
    ----------
    hypothesis : Hypothesis
        The state of the supply.
    arrangement : Scene
        In the hypothesis's orientation, without values.
    readings : tuple of SceneReading
        The same readings with their values.
    give_up : float, optional
        Below this evidence one climb is enough [nat].

    Returns
    -------
    Fit
        Modes and the Gaussians around them.
    """
    built = build(hypothesis, arrangement, arrangement.readings)
    observations = observe(arrangement, readings, built.order, inconsistent=hypothesis.inconsistent)
    work = make_work(built.program)
    size = len(built.keys)
    scouts, climbs = _SCOUTS, _CLIMBS
    if any(s.severity == "open" and (s.section, s.conductor) != ("service", "N") for s in hypothesis.series):
        scouts, climbs = _SCOUTS_OPEN, _CLIMBS_OPEN
    elif hypothesis.series:
        scouts, climbs = _SCOUTS_HIGH, _CLIMBS_HIGH
    room = climbs + (_LED if hypothesis.series else 0)
    modes, factors = np.zeros((room, size)), np.zeros((room, size, size))
    log_mass = np.zeros(room)
    found, scouted = find_modes(
        built.program, observations, work, NORMAL_POINTS, scouts, climbs, give_up, modes, factors, log_mass
    )
    return Fit(
        hypothesis=hypothesis,
        scene=arrangement,
        built=built,
        observations=observations,
        work=work,
        modes=modes[:found],
        factors=factors[:found],
        log_mass=log_mass[:found],
        scouted=float(scouted),
    )


def draw(found: Fit, *, limit: int, enough: float) -> Weighed:
    """Draw from a hypothesis's posterior.

    Parameters
    ----------
    found : Fit
        Its modes.
    limit : int
        Most draws to make [1].
    enough : float
        Effective number of draws at which to stop [1].

    Returns
    -------
    Weighed
        Evidence and draws.
    """
    size, count = len(found.built.keys), len(found.scene.readings)
    z, shown, log_weight = np.zeros((limit, size)), np.zeros((limit, count)), np.zeros(limit)
    args = (found.built.program, found.observations, found.work, NORMAL_POINTS)
    modes = (found.modes, found.factors, found.log_mass)
    room = (z, shown, log_weight)
    made = sample(*args, *modes, enough, limit < _WORTH_SETTLING, *room)
    if made < 0:
        pilot = float(log_mean_exp(log_weight[:-made]))
        best = int(np.argmax(found.log_mass))
        made = sample_ridge(*args, found.modes[best], found.factors[best], enough, *room)
        # Draws that miss a part of the posterior come out low, never high.
        if not made or (
            log_mean_exp(log_weight[:made]) < pilot - _MISSED
            and effective_number(log_weight[:made], 1.0) < _CONVINCING * made
        ):
            made = sample(*args, *modes, enough, True, *room)
    evidence = float(log_mean_exp(log_weight[:made]))
    return Weighed(fit=found, log_evidence=evidence, z=z[:made], shown=shown[:made], log_weight=log_weight[:made])


def undrawn(found: Fit) -> Weighed:
    """A hypothesis left at Laplace's approximation."""
    empty = np.zeros((0, 0))
    return Weighed(fit=found, log_evidence=found.log_evidence, z=empty, shown=empty, log_weight=np.zeros(0))


def log_prior(hypothesis: Hypothesis) -> float:
    """Logarithm of the base rate [nat]."""
    return math.log(hypothesis.base_rate)
