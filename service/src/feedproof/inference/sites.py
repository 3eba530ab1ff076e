"""Hypotheses by the names that the seam has for them: which site each stands for, and what its unknowns are called."""

from collections.abc import Callable, Sequence

import numpy as np

from feedproof.faults.hypotheses import Hypothesis, hypotheses
from feedproof.inference.forward import FloatArray, unknown_column
from feedproof.inference.outcome import Name, Site, Truth
from feedproof.inference.program import Built, Key, build
from feedproof.inference.queries import shown_by
from feedproof.inference.scene import Canonical, Scene, SceneReading, mirror, mirror_scene, without_values
from feedproof.readings import CONDUCTORS, Conductor, Point, ReadingSet

#: Unknowns that say by how much more a leg has than the other: the other way round after the legs have been exchanged.
_OF_SIDES = ("lean", "shift", "angle")
_OF_STATES = ("lean", "angle", "load", "appliance")


def hypotheses_of(readings: ReadingSet, scene: Scene) -> tuple[Hypothesis, ...]:
    """Every state of the supply to weigh for a reading set, given as a scene."""
    points = frozenset(r.point for r in scene.readings)
    return hypotheses(scene.supply.system, points, scene.supply.equipment_ground, readings.base_rates)


def site_of(hypothesis: Hypothesis, *, mirrored: bool) -> Site:
    """The site that a hypothesis stands for.

    Parameters
    ----------
    hypothesis : Hypothesis
        In the conductors of a scene.
    mirrored : bool
        Whether the scene's L1 is the request's L2.

    Returns
    -------
    Site
        In the request's conductors.
    """
    own, also = hypothesis.conductor, hypothesis.also
    if mirrored:
        own = None if own is None else mirror(own)
        also = tuple((fault, None if c is None else mirror(c)) for fault, c in also)
    if also and also[0][0] == hypothesis.fault and also[0][1] is not None and own is not None:
        first, second = sorted((own, also[0][1]), key=CONDUCTORS.index)
        own, also = first, ((hypothesis.fault, second),)
    return Site(fault=hypothesis.fault, conductor=own, location=hypothesis.location, also=also)


def same_site(one: Site, other: Site) -> bool:
    """Whether two sites are the same, whatever else is said of each."""
    return (one.fault, one.conductor, one.location, one.also) == (
        other.fault,
        other.conductor,
        other.location,
        other.also,
    )


def named(key: Key, given: Canonical, *, turned: bool) -> Name:
    """Name of an unknown in the request's labels.

    Parameters
    ----------
    key : tuple
        As the program has it.
    given : Canonical
        The scene of the program, before it was turned.
    turned : bool
        Whether the program's L1 is the request's L2.

    Returns
    -------
    tuple of str
        Kind, then labels.
    """
    kind, *rest = key
    words: list[str] = []
    for place, word in enumerate(rest):
        if kind == "gain":
            words.append(given.meter_names[int(word)])
        elif kind in _OF_STATES and place == 0:
            words.append(given.state_names[int(word)])
        else:
            words.append(mirror(word) if turned and word in CONDUCTORS else str(word))
    if len(words) > 1 and set(words[-2:]) <= set(CONDUCTORS):
        words[-2:] = sorted(words[-2:], key=CONDUCTORS.index)
    return (str(kind), *words)


def side_signs(keys: Sequence[Key], *, turned: bool) -> FloatArray:
    """−1 for each unknown that changes its sign between program and request, else 1; shape (D,) [1]."""
    return np.array([-1.0 if turned and key[0] in _OF_SIDES else 1.0 for key in keys])


class OneHypothesis:
    """A hypothesis on a reading set as it was given, and what its circuits are.

    Parameters
    ----------
    hypothesis : Hypothesis
        The state of the supply.
    given : Canonical
        The readings, not turned.
    """

    def __init__(self, hypothesis: Hypothesis, given: Canonical) -> None:
        self.hypothesis, self.given = hypothesis, given
        turned = hypothesis.mirrored
        self.scene = mirror_scene(given.scene) if turned else given.scene
        self.bare = without_values(self.scene)
        self.built = build(hypothesis, self.bare, self.bare.readings)
        points = {r.point for r in self.scene.readings}
        self.point: Point = "appliance_terminals" if points == {"appliance_terminals"} else "receptacle"
        self.neutrals = self._neutrals()
        self.asked = build(hypothesis, self.bare, (*self.bare.readings, *self.neutrals.values()))

    def _neutrals(self) -> dict[tuple[str, Point, int | None], SceneReading]:
        """Every voltage of the neutral that a `Truth` has."""
        scene, names = self.bare, self.given.state_names
        found: dict[tuple[str, Point, int | None], SceneReading] = {}
        for s in sorted({r.state for r in scene.readings if r.kind != "resistance"}):
            if self.point == "receptacle" or scene.states[s].kind != "disconnected":
                question = SceneReading(kind="neutral", conductors=("N",), point=self.point, state=s, meter=-1)
                found[names[s], self.point, None] = question
        for index, r in enumerate(scene.readings):
            if r.kind == "voltage":
                question = SceneReading(
                    kind="neutral_during", conductors=r.conductors, point=r.point, state=r.state, meter=r.meter
                )
                found[names[r.state], r.point, index] = question
        return found

    def names(self, built: Built) -> tuple[Name, ...]:
        """Names of a program's unknowns, in its order."""
        return tuple(named(key, self.given, turned=self.hypothesis.mirrored) for key in built.keys)

    def shown(self, built: Built, z: FloatArray) -> FloatArray:
        """What was asked of a program, in the order that it was asked.

        Parameters
        ----------
        built : Built
            The program.
        z : ndarray, shape (D,)
            Coordinates [1].

        Returns
        -------
        ndarray, shape (R,)
            Magnitudes [V, A or ohm].
        """
        answer = np.zeros(len(built.order))
        answer[list(built.order)] = shown_by(built.program, z.reshape(1, -1))[0]
        return answer

    def truth(self, place: Callable[[Built], FloatArray]) -> Truth:
        """The circuit at one point.

        Parameters
        ----------
        place : callable
            Gives the coordinates of a program's unknowns, shape (D,) [1].

        Returns
        -------
        Truth
            In the request's conductors and labels.
        """
        h = self.hypothesis
        z = place(self.built)
        volts = self.shown(self.asked, place(self.asked))[len(self.scene.readings) :]
        to_terminals = self.point == "appliance_terminals"
        conductors = ("L1", "N", "G") if self.scene.supply.system == "single_phase_120" else CONDUCTORS
        site = site_of(h, mirrored=False)
        return Truth(
            fault=site.fault,
            conductor=site.conductor,
            location=site.location,
            also=site.also,
            fault_resistances=tuple(self._fault(number, z) for number in range(1 + len(h.also))),
            resistances={
                (c, self.point): self._path(mirror(c) if h.mirrored else c, z, to_terminals=to_terminals)
                for c in conductors
            },
            neutral_voltages=dict(zip(self.neutrals, map(float, volts), strict=True)),
        )

    def _ohms(self, d: int, z: FloatArray) -> float:
        return float(np.exp(unknown_column(self.built.program, z.reshape(1, -1), d)[0]))

    def _fault(self, number: int, z: FloatArray) -> float | None:
        """Resistance of the site's fault of a number [ohm]."""
        h = self.hypothesis
        if h.band == "off":
            key: Key = ("off",)
        elif number >= len(h.series):
            return None
        elif (h.series[number].section, h.series[number].conductor) == ("service", "N"):
            key = ("return", h.series[number].severity)
        else:
            key = ("fault", h.series[number].section, h.series[number].conductor)
        return self._ohms(self.built.keys.index(key), z) if key in self.built.keys else None

    def _path(self, conductor: Conductor, z: FloatArray, *, to_terminals: bool) -> float:
        """Resistance of a conductor of the program from the panel [ohm]."""
        return sum(
            term.resistance if term.coordinate < 0 else self._ohms(term.coordinate, z)
            for term in self.built.series[conductor]
            if to_terminals or term.section != "cord"
        )
