"""One hypothesis weighed against the readings: its evidence, and draws from its posterior."""

import math
import threading

import numpy as np
from msgspec import Struct

from feedproof.circuit.compiling import direct
from feedproof.circuit.lanes import LANES
from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.arrays import Work, make_climbing_work, make_work
from feedproof.inference.forward import FloatArray
from feedproof.inference.likelihood import Observations
from feedproof.inference.modes import find_modes
from feedproof.inference.points import NORMAL_POINTS
from feedproof.inference.program import Built, build, observe
from feedproof.inference.sampling import sample
from feedproof.inference.scene import Scene, SceneReading
from feedproof.inference.weights import effective_number, log_mean_exp

#: Scouted points: an interrupted conductor can settle in several ways, a sound one hardly.
_SCOUTS, _SCOUTS_FAULTED = 16, 32
#: Shapes of programs that a thread keeps scratch for: some hundred kilobytes each.
_MOST_KEPT = 32
#: With fewer draws than this at most, uneven weights are left as they are.
_WORTH_SETTLING = 1000
#: Draws along a ridge that find this much less evidence than uneven ones have seen have missed a part of it [nat],
#: unless so large a share of them is effective [1].
_MISSED = 0.5
_CONVINCING = 0.2


_find_modes, _sample = direct(find_modes), direct(sample)


class Fit(Struct, frozen=True, kw_only=True):
    """A hypothesis with its modes: the first, cheap answer."""

    hypothesis: Hypothesis
    scene: Scene
    """The arrangement in the hypothesis's orientation, without values."""
    built: Built
    observations: Observations
    work: Work
    """Scratch for draws."""
    modes: FloatArray
    factors: FloatArray
    log_mass: FloatArray
    blurred: float
    """Greatest posterior density of the readings seen less sharply [nat]."""
    faint: float
    """The same of those seen a little less sharply, −∞ where it did not come to these [nat]."""

    log_evidence: float
    """The greater of Laplace's approximation and what the scouts have seen [nat]."""


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
    hypothesis: Hypothesis,
    arrangement: Scene,
    readings: tuple[SceneReading, ...],
    give_up: float = -math.inf,
    blurred_top: float = -math.inf,
    faint_top: float = -math.inf,
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
        Below this evidence the climb may end early [nat].
    blurred_top, faint_top : float, optional
        The greatest `Fit.blurred` and `Fit.faint` of other hypotheses with their base rates: far below one of them the
        climb may end early [nat].

    Returns
    -------
    Fit
        Modes and the Gaussians around them.
    """
    built = build(hypothesis, arrangement, arrangement.readings)
    observations = observe(arrangement, readings, built.order, inconsistent=hypothesis.inconsistent)
    climbing, work = _scratch(built)
    size = len(built.keys)
    modes, factors, log_mass = np.zeros((LANES, size)), np.zeros((LANES, size, size)), np.zeros(LANES)
    scouts = _SCOUTS_FAULTED if hypothesis.series else _SCOUTS
    scratch, screens = (climbing, work), (give_up, blurred_top, faint_top)
    found, scouted, blurred, faint = _find_modes(
        built.program, observations, *scratch, NORMAL_POINTS, scouts, *screens, modes, factors, log_mass
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
        log_evidence=max(float(np.logaddexp.reduce(log_mass[:found])), scouted),
        blurred=float(blurred),
        faint=float(faint),
    )


class _Kept(threading.local):
    """Scratch of one thread, by what it was made for."""

    def __init__(self) -> None:
        self.works: dict[tuple[int, ...], tuple[Work, Work]] = {}


_kept = _Kept()


def _scratch(built: Built) -> tuple[Work, Work]:
    """Scratch for climbs and for draws; programs of the same shape in one thread have the same, as they run in turn."""
    program, shape = built.program, built.shape
    if shape not in _kept.works:
        if len(_kept.works) >= _MOST_KEPT:
            _kept.works.clear()
        _kept.works[shape] = make_climbing_work(program), make_work(program)
    return _kept.works[shape]


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
    made = _sample(*args, *modes, False, enough, limit < _WORTH_SETTLING, *room)
    if made < 0:
        pilot = float(log_mean_exp(log_weight[:-made]))
        made = _sample(*args, *modes, True, enough, False, *room)
        # Draws that miss a part of the posterior come out low, never high.
        if made <= 0 or (
            log_mean_exp(log_weight[:made]) < pilot - _MISSED
            and effective_number(log_weight[:made], 1.0) < _CONVINCING * made
        ):
            made = _sample(*args, *modes, False, enough, True, *room)
    evidence = float(log_mean_exp(log_weight[:made]))
    return Weighed(fit=found, log_evidence=evidence, z=z[:made], shown=shown[:made], log_weight=log_weight[:made])


def undrawn(found: Fit) -> Weighed:
    """A hypothesis left at Laplace's approximation."""
    empty = np.zeros((0, 0))
    return Weighed(fit=found, log_evidence=found.log_evidence, z=empty, shown=empty, log_weight=np.zeros(0))


def log_prior(hypothesis: Hypothesis) -> float:
    """Logarithm of the base rate [nat]."""
    return math.log(hypothesis.base_rate)
