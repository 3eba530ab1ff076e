"""The circuits of one site over the unit cube: what an independent sampler explores, and the model run forward."""

from collections.abc import Mapping

import numpy as np

from feedproof.circuit.compiling import compiled, direct
from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.arrays import Program, Work, make_work
from feedproof.inference.forward import FloatArray, predict, unknown_column
from feedproof.inference.laws import coordinate_of
from feedproof.inference.likelihood import Observations, total_log_likelihood
from feedproof.inference.normal import normal_quantile
from feedproof.inference.outcome import Circuits, Name, Site, Truth
from feedproof.inference.program import Built, observe
from feedproof.inference.scene import Canonical, as_given
from feedproof.inference.sites import OneHypothesis, hypotheses_of, same_site, side_signs, site_of
from feedproof.readings import ReadingSet


def circuits_of(readings: ReadingSet, site: Site) -> tuple[Circuits, ...]:
    """The circuits that a site may stand for.

    Parameters
    ----------
    readings : ReadingSet
        In SI units.
    site : Site
        One of those that `infer` weighs for these readings.

    Returns
    -------
    tuple of Circuits
        One for each kind of circuit: a site that more than one supply system would explain has several.

    Raises
    ------
    ValueError
        If the site is not weighed for these readings.
    """
    given = as_given(readings)
    own = [h for h in hypotheses_of(readings, given.scene) if same_site(site_of(h, mirrored=False), site)]
    if not own:
        raise ValueError(f"{site.fault} on {site.conductor} at {site.location} is not weighed for these readings")
    whole = sum(h.base_rate for h in own)
    return tuple(_Circuits(h, given, h.base_rate / whole) for h in own)


@compiled
def _coordinates(cube: FloatArray, sign: FloatArray, z: FloatArray) -> None:
    for d in range(cube.size):
        z[0, d] = sign[d] * normal_quantile(cube[d])


@compiled
def _log_likelihood(
    program: Program,
    observations: Observations,
    work: Work,
    cube: FloatArray,
    sign: FloatArray,
    z: FloatArray,
    shown: FloatArray,
    nothing: FloatArray,
) -> float:
    _coordinates(cube, sign, z)
    predict(program, z, work, shown, nothing)
    return total_log_likelihood(observations, shown[0])


_direct_log_likelihood = direct(_log_likelihood)


class _Circuits:
    """One hypothesis as `Circuits`; see there."""

    def __init__(self, hypothesis: Hypothesis, given: Canonical, share: float) -> None:
        self._one = one = OneHypothesis(hypothesis, given)
        self.share = share
        first, second = hypothesis.phasors
        self.phasors = (second, first) if hypothesis.mirrored else (first, second)
        self.names = one.names(one.built)
        observations = observe(one.bare, one.scene.readings, one.built.order, inconsistent=hypothesis.inconsistent)
        self._sign = side_signs(one.built.keys, turned=hypothesis.mirrored)
        self._z = np.zeros((1, len(self.names)))
        self._fixed = one.built.program, observations, make_work(one.built.program)
        self._room = self._sign, self._z, np.zeros((1, len(one.built.order))), np.zeros((0, 0))

    def log_likelihood(self, cube: FloatArray) -> float:
        return float(_direct_log_likelihood(*self._fixed, np.ascontiguousarray(cube), *self._room))

    def values(self, cube: FloatArray) -> dict[Name, float]:
        _coordinates(np.ascontiguousarray(cube), self._sign, self._z)
        program = self._one.built.program
        found = [self._sign[d] * unknown_column(program, self._z, d)[0] for d in range(len(self.names))]
        return dict(zip(self.names, map(float, found), strict=True))

    def shown(self, values: Mapping[Name, float]) -> tuple[float, ...]:
        one = self._one
        strange = set(values) - set(self.names)
        if strange:
            raise ValueError(f"no unknown of this circuit: {sorted(strange)}")
        return tuple(map(float, one.shown(one.built, self._placed(one.built, values))))

    def truth(self, values: Mapping[Name, float]) -> Truth:
        return self._one.truth(lambda built: self._placed(built, values))

    def _placed(self, built: Built, values: Mapping[Name, float]) -> FloatArray:
        """Coordinates of a program at which its unknowns have these values; shape (D,) [1]."""
        program = built.program
        z = np.zeros(len(built.keys))
        sign = side_signs(built.keys, turned=self._one.hypothesis.mirrored)
        for d, name in enumerate(self._one.names(built)):
            if name in values:
                inner = (sign[d] * values[name] - program.location[d]) / program.scale[d]
                z[d] = coordinate_of(program.law_tables, int(program.law[d]), inner)
        if not np.isfinite(z).all():
            raise ValueError(f"outside its law: {self._one.names(built)[int(np.argmin(np.isfinite(z)))]}")
        return z
