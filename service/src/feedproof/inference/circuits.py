"""The model run forward: circuits of one place at stated unknowns, as the seam shows them."""

import math
import zlib
from collections.abc import Callable, Mapping
from statistics import NormalDist

import msgspec
import numpy as np

from feedproof.circuit.forward import PROXIMITY, RESISTANCE, FloatArray
from feedproof.errors import SimulationError
from feedproof.faults.places import Site as Place
from feedproof.faults.places import Span, neutral_rate
from feedproof.faults.priors import PRIORS
from feedproof.faults.severities import piece_array, working
from feedproof.inference.estimates import live_states, point_of
from feedproof.inference.likelihood import OVER_RANGE_STEEPNESS, Observations, chance_of_signal
from feedproof.inference.observing import observe
from feedproof.inference.outcome import Circuits, Name, Simulation, Site, Truth
from feedproof.inference.predictions import likelihoods, shown_by
from feedproof.inference.program import Built, build
from feedproof.inference.queries import path_constant
from feedproof.inference.scene import Canonical, SceneReading, as_given, canonical_form, undisturbed, without_values
from feedproof.inference.weighing import places_of
from feedproof.readings import (
    Point,
    ProximityDetector,
    ProximityReading,
    Reading,
    ReadingSet,
    ResistanceReading,
)

_END_OF_RANGE = 40e6
"""Of an ohmmeter, where the arrangement does not say [ohm]; common practice, no source."""
#: Fields of a reading that say what came of it, or what it is called.
_NOT_WHAT = ("value", "detected", "over_range", "range_stated", "id", "repeats")
_OF_STATES = ("lean", "angle", "load", "side", "across", "house", "sub")
_NORMAL = NormalDist()


class PlacedFault:
    """One span of one place on a reading set as it was given.

    Parameters
    ----------
    place : Place
        With the spans of the fault alone.
    given : Canonical
        The readings, not turned.
    """

    def __init__(self, place: Place, given: Canonical) -> None:
        self.place, self.given = place, given
        self.bare = without_values(given.scene)
        self.built = build(neutral_rate(place), self.bare, self.bare.readings)
        self.point = point_of(self.bare)
        self.neutrals = self._neutrals()
        self.asked = build(neutral_rate(place), self.bare, (*self.bare.readings, *self.neutrals.values()))

    def _neutrals(self) -> dict[tuple[str, Point, int | None], SceneReading]:
        """Every voltage of the neutral that a `Truth` has."""
        scene, names = self.bare, self.given.state_names
        found: dict[tuple[str, Point, int | None], SceneReading] = {}
        if not scene.supply.neutral:
            return found
        for s in live_states(scene):
            found[names[s], self.point, None] = undisturbed("neutral", "N", self.point, s)
        for index, r in enumerate(scene.readings):
            if r.kind == "voltage":
                found[names[r.state], r.point, index] = msgspec.structs.replace(r, kind="neutral_during")
        return found

    def put_severity(self, x: FloatArray, k: int, severity: float) -> None:
        """Put a severity among the coordinates, whose last they are.

        Parameters
        ----------
        x : ndarray, shape (D + S,)
            Coordinates; one is changed [1].
        k : int
            Which severity [1].
        severity : float
            What it is [ln ohm].
        """
        middle, scale = working(self.place.spans[k])
        x[k - len(self.place.spans)] = (severity - middle) / scale

    def names(self, built: Built) -> tuple[Name, ...]:
        """Of a program's unknowns, then of its severities, in its order."""
        return (*(self._name(key) for key in built.keys), *(("severity", str(k)) for k in range(len(self.place.spans))))

    def _name(self, key: str) -> Name:
        words = key.split()
        if words[0] == "gain":
            words[1] = self.given.meter_names[int(words[1])]
        elif words[0] in _OF_STATES:
            words[1:] = [
                self.given.state_names[int(w)] if w.isdigit() and (k == 1 or words[0] != "load") else w
                for k, w in enumerate(words)
                if k
            ]
        return tuple(words)

    def shown(self, built: Built, x: FloatArray) -> FloatArray:
        """What was asked of a program, in the order that it was asked (of an intermittent joint, both).

        Parameters
        ----------
        built : Built
            The program.
        x : ndarray, shape (D + S,)
            Coordinates [1].

        Returns
        -------
        ndarray, shape (R,)
            Magnitudes [V, A, ohm].
        """
        found, answer = np.zeros((1, len(built.order))), np.zeros(len(built.order))
        shown_by(built.program, x[None], found)
        answer[list(built.order)] = found[0]
        return answer

    def truth(self, at: Callable[[Built], FloatArray]) -> Truth:
        """The circuit at one point, given what places the unknowns of a program."""
        place, x = self.place, at(self.built)
        count = len(self.bare.readings)
        volts = self.shown(self.asked, at(self.asked))[count : count + len(self.neutrals)]
        severities = [
            math.exp(middle + scale * float(x[int(self.built.program.size) + k]))
            for k, (middle, scale) in enumerate(map(working, place.spans))
        ]
        if place.level != "sound":
            severities = []
        # Legs that have more resistance alike have one severity.
        own = [severities[min(k, len(severities) - 1)] if severities else None for k in range(1 + len(place.also))]
        stretches: dict[Point, tuple[str, ...]] = {
            self.point: ("branch", "cord") if self.point == "appliance_terminals" else ("branch",),
            "service_panel": ("service",),
            "sub_panel": ("feeder",),
        }
        conductors = self.bare.supply.conductors
        return Truth(
            fault=place.spans[0][0].fault if place.spans else place.fault,
            conductor=place.conductor,
            location=place.location,
            also=place.also,
            fault_resistances=tuple(own),
            resistances={
                (c, point): path_constant(self.built, place, x, c, sections, self.bare)
                for point, sections in stretches.items()
                for c in conductors
            },
            neutral_voltages=dict(zip(self.neutrals, map(float, volts), strict=True)),
        )


def _placed_faults(readings: ReadingSet, given: Canonical) -> list[tuple[PlacedFault, float]]:
    """Every span of every place, with its base rate."""
    found = []
    for place in places_of(readings, given.scene):
        if len(place.spans) != 1:
            found.append((place, place.rate * math.prod(sum(s.share for s in spans) for spans in place.spans)))
            continue
        for fault in dict.fromkeys(s.fault for s in place.spans[0]):
            spans = tuple(s for s in place.spans[0] if s.fault == fault)
            found.append(
                (msgspec.structs.replace(place, spans=(spans,), fault=fault), place.rate * sum(s.share for s in spans))
            )
    return [(PlacedFault(place, given), rate) for place, rate in found]


def _severity(spans: tuple[Span, ...], share: float) -> float:
    """Severity below which so much of the prior lies [ln ohm]."""
    left = share * sum(s.share for s in spans)
    for s, (low, high, _, slope) in zip(spans, piece_array(spans).tolist(), strict=True):
        if left <= s.share or s is spans[-1]:
            t, v = slope * (high - low), min(left / s.share, 1.0)
            return low + (high - low) * (v if abs(t) < 1e-9 else math.log1p(v * math.expm1(t)) / t)
        left -= s.share
    return spans[-1].high


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
    wanted = (site.fault, site.conductor, site.location, site.also)
    own = [
        (one, rate)
        for one, rate in _placed_faults(readings, given)
        if (one.place.fault, one.place.conductor, one.place.location, one.place.also) == wanted
    ]
    if not own:
        raise ValueError(f"{site.fault} on {site.conductor} at {site.location} is not weighed for these readings")
    whole = sum(rate for _, rate in own)
    return tuple(_Circuits(one, rate / whole) for one, rate in own)


class _Circuits:
    """One kind of circuit as `Circuits`; see there. Values are standard-normal coordinates; of severities, ln ohm."""

    def __init__(self, one: PlacedFault, share: float) -> None:
        self._one, self.share, self.phasors = one, share, one.place.phasors
        self.contacts_open = one.place.contacts_open
        self.names = one.names(one.built)
        self._observations = observe(one.bare, one.given.scene.readings, one.built, one.place)
        self._shown, self._total = np.zeros((1, len(one.built.order))), np.zeros(1)

    def _x(self, cube: FloatArray) -> FloatArray:
        one, size = self._one, int(self._one.built.program.size)
        x = np.array(
            [_NORMAL.inv_cdf(min(max(float(u), 1e-12), 1.0 - 1e-12)) for u in cube[:size]]
            + [0.0] * len(one.place.spans)
        )
        for k, spans in enumerate(one.place.spans):
            one.put_severity(x, k, _severity(spans, float(cube[size + k])))
        return x

    def log_likelihood(self, cube: FloatArray) -> float:
        shown_by(self._one.built.program, self._x(cube)[None], self._shown)
        likelihoods(self._observations, self._shown, self._total)
        return float(self._total[0])

    def values(self, cube: FloatArray) -> dict[Name, float]:
        x, size = self._x(cube), int(self._one.built.program.size)
        found = x.tolist()
        for k, spans in enumerate(self._one.place.spans):
            middle, scale = working(spans)
            found[size + k] = middle + scale * found[size + k]
        return dict(zip(self.names, found, strict=True))

    def _placed(self, built: Built, values: Mapping[Name, float]) -> FloatArray:
        one, size = self._one, int(built.program.size)
        x = np.zeros(size + len(one.place.spans))
        for d, name in enumerate(one.names(built)[:size]):
            x[d] = values.get(name, 0.0)
        for k, spans in enumerate(one.place.spans):
            severity = values.get(("severity", str(k)), _severity(spans, 0.5))
            if not spans[0].low - 1e-9 <= severity <= spans[-1].high + 1e-9:
                raise ValueError(f"{severity:.4g} lies outside what {one.place.fault} covers")
            one.put_severity(x, k, severity)
        return x

    def shown(self, values: Mapping[Name, float]) -> tuple[float, ...]:
        strange = set(values) - set(self.names)
        if strange:
            raise ValueError(f"no unknown of this circuit: {sorted(strange)}")
        one = self._one
        return tuple(map(float, one.shown(one.built, self._placed(one.built, values))[: len(one.bare.readings)]))

    def truth(self, values: Mapping[Name, float]) -> Truth:
        return self._one.truth(lambda built: self._placed(built, values))


def draw(arrangement: ReadingSet, seed: tuple[int, ...]) -> tuple[Truth, ReadingSet]:
    """Draw what is wrong by base rate, a circuit of it, and what a person would note of it.

    The circuit hangs on supply, meters, load states, base rates, the points that are read and the seed, not on which
    readings are taken; the scatter of a reading hangs on its place in the order and on what is read.

    Parameters
    ----------
    arrangement : ReadingSet
        What will be read. Values are not looked at, but for that of a resistance: the end of the meter's range.
    seed : tuple of int
        The same seed gives the same circuit and the same scatter [1].

    Returns
    -------
    tuple of (Truth, ReadingSet)
        The circuit, and the arrangement with values, not rounded to the meters' resolution.
    """
    given = as_given(arrangement)
    ones = _placed_faults(arrangement, given)
    rates = np.array([rate for _, rate in ones])
    one = ones[int(np.random.default_rng(seed).choice(len(ones), p=rates / rates.sum()))][0]

    def at(built: Built) -> FloatArray:
        # Drawn by name, so that an unknown has the same value whatever else is asked.
        x = np.array([_generator(seed, name).standard_normal() for name in one.names(built)])
        for k, spans in enumerate(one.place.spans):
            one.put_severity(x, k, _severity(spans, float(_generator(seed, ("severity", str(k))).random())))
        return x

    shown = one.shown(one.built, at(one.built))
    count = len(arrangement.readings)
    noted = []
    scatter = observe(one.bare, one.bare.readings, one.built, one.place)
    rows = {number: row for row, number in enumerate(one.built.order)}
    for k, r in enumerate(arrangement.readings):
        rng = _generator(seed, ("noise", str(k), *_what(r)))
        number = k + count if len(shown) > count and rng.random() < 0.5 else k
        noted.append(_noted(r, scatter, rows[number], float(shown[number]), rng))
    return one.truth(at), msgspec.structs.replace(arrangement, readings=tuple(noted))


def _generator(seed: tuple[int, ...], name: tuple[str, ...]) -> np.random.Generator:
    return np.random.default_rng((*seed, zlib.crc32(repr(name).encode())))


def _what(reading: Reading) -> tuple[str, ...]:
    """What is read, whatever came of it."""
    words = msgspec.to_builtins(reading)
    return tuple(f"{key} {words[key]}" for key in sorted(words) if key not in _NOT_WHAT)


def _noted(reading: Reading, o: Observations, row: int, shown: float, rng: np.random.Generator) -> Reading:
    """What a person notes where a meter would show so much: scatter, misreads, ends of ranges."""
    if o.kind[row] == PROXIMITY and isinstance(reading, ProximityReading):
        return msgspec.structs.replace(reading, detected=bool(rng.random() < chance_of_signal(o, row, shown)))
    misread = rng.random() < o.misread[row]
    if isinstance(reading, ResistanceReading):
        end = reading.value or _END_OF_RANGE
        rise = min(shown / end, 4.0) ** OVER_RANGE_STEEPNESS
        if rng.random() < (0.5 if misread else rise / (1.0 + rise)):
            return msgspec.structs.replace(reading, value=end, over_range=True)
    if misread and o.kind[row] == RESISTANCE:
        value = 0.1 * 10.0 ** (PRIORS.misread_decades_ohms * rng.random())
    elif misread:
        value = rng.random() / float(o.misread_density[row])
    else:
        scale = float(np.hypot(o.floor[row], o.relative[row] * shown))
        value = abs(shown + scale * rng.standard_t(PRIORS.tail_degrees))
    return msgspec.structs.replace(reading, value=float(value))


def simulate(simulation: Simulation) -> tuple[Reading, ...]:
    """Take readings of a stated circuit.

    Parameters
    ----------
    simulation : Simulation
        What is wrong, on which circuit, and what to read.

    Returns
    -------
    tuple of Reading
        The readings asked for, in their order, with values at their meters' resolution.

    Raises
    ------
    SimulationError
        If the fault is unknown to the model on this circuit, or a stated value lies outside what its name
        covers.
    """
    canonical = canonical_form(simulation.readings)
    one = _meant(simulation, canonical)
    size = int(one.built.program.size)
    rng = None if simulation.seed is None else np.random.default_rng(simulation.seed)
    x = np.zeros(size + len(one.place.spans))
    if rng is not None:
        x[:size] = rng.standard_normal(size)
    for k, spans in enumerate(one.place.spans):
        one.put_severity(x, k, _severity(spans, 0.5 if rng is None else float(rng.random())))
    _state(one, x, simulation)
    shown = one.shown(one.built, x)
    scatter = observe(one.bare, one.bare.readings, one.built, one.place)
    rows = {number: row for row, number in enumerate(one.built.order)}
    count = len(simulation.readings.readings)
    values = np.zeros(count)
    for k in range(count):
        number = (
            k + count
            if len(shown) > count and ((rng is None and k % 2) or (rng is not None and rng.random() < 0.5))
            else k
        )
        values[canonical.order[k]] = _read(scatter, rows[number], float(shown[number]), rng)
    return tuple(
        _displayed(r, float(v), simulation.readings) for r, v in zip(simulation.readings.readings, values, strict=True)
    )


def _meant(simulation: Simulation, canonical: Canonical) -> PlacedFault:
    """The place that is meant, in the canonical orientation."""
    own = canonical.turned(simulation.conductor)
    asked = msgspec.structs.replace(simulation.readings, base_rates=None)
    every = [one for one, _ in _placed_faults(asked, canonical) if not one.place.also]
    named = [one for one in every if one.place.fault == simulation.fault]
    if not named:
        raise SimulationError("fault", f"{simulation.fault!r} is no single fault of a {asked.supply.system} supply")
    fitting = [one for one in named if own in (None, one.place.conductor)]
    if not fitting:
        carriers = sorted({one.place.conductor for one in named if one.place.conductor})
        raise SimulationError("conductor", f"{simulation.fault} sits on {' or '.join(carriers) or 'no conductor'}")
    placed = [one for one in fitting if simulation.location in (None, one.place.location)]
    if not placed:
        places = sorted({one.place.location for one in fitting if one.place.location})
        raise SimulationError(
            "location", f"with these readings it can be told to be {' or '.join(places) or 'nowhere'}"
        )
    # Without a stated location the branch circuit is meant.
    return next((one for one in placed if one.place.place.startswith("branch")), placed[0])


def _state(one: PlacedFault, x: FloatArray, simulation: Simulation) -> None:
    """Put the stated values in place of the drawn ones."""
    if simulation.supply_voltage is not None:
        wanted = math.log(simulation.supply_voltage / 120.0)
        low, high = (math.log(v) for v in PRIORS.supply_range)
        if one.place.level == "sound":
            share = (wanted - low) / (high - low)
            if not 0.0 < share < 1.0:
                raise SimulationError(
                    "supply_voltage",
                    f"under this fault it lies between {120 * math.exp(low):.4g} and {120 * math.exp(high):.4g}",
                )
            x[one.built.keys.index("supply")] = (
                math.log(share / (1.0 - share)) - one.built.program.supply[4]
            ) / one.built.program.supply[5]
        else:
            far = low - wanted if one.place.level == "low" else wanted - high
            spans = one.place.spans[0]
            if not math.exp(spans[0].low) <= far <= math.exp(spans[-1].high):
                edge, sign = (low, -1.0) if one.place.level == "low" else (high, 1.0)
                ends = sorted(120.0 * math.exp(edge + sign * math.exp(v)) for v in (spans[0].low, spans[-1].high))
                raise SimulationError(
                    "supply_voltage", f"under this fault it lies between {ends[0]:.4g} and {ends[1]:.4g}"
                )
            one.put_severity(x, 0, math.log(far))
    if simulation.resistance is not None:
        if not one.place.spans or one.place.level != "sound":
            raise SimulationError("resistance", f"{simulation.fault} has no series resistance")
        wanted = math.log(simulation.resistance)
        for k, spans in enumerate(one.place.spans):
            if not spans[0].low - 1e-9 <= wanted <= spans[-1].high + 1e-9:
                raise SimulationError(
                    "resistance",
                    f"under this fault it lies between {math.exp(spans[0].low):.4g} and {math.exp(spans[-1].high):.4g}",
                )
            one.put_severity(x, k, wanted)


def _read(o: Observations, row: int, shown: float, rng: np.random.Generator | None) -> float:
    """What is read of an expected magnitude: with scatter and misreads where there is a generator."""
    if o.kind[row] == PROXIMITY:
        if rng is None:
            return float(shown >= float(o.floor[row]))
        return float(rng.random() < chance_of_signal(o, row, shown))
    if rng is None:
        return shown
    if rng.random() < o.misread[row]:
        span = 1.0 / float(o.misread_density[row])
        return 10.0 ** rng.uniform(-1.0, 7.0) if o.kind[row] == RESISTANCE else rng.uniform(0.0, span)
    scatter = math.hypot(float(o.floor[row]), float(o.relative[row]) * shown)
    return abs(shown + scatter * float(rng.standard_t(PRIORS.tail_degrees)))


def _displayed(asked: Reading, value: float, readings: ReadingSet) -> Reading:
    """A reading as its meter displays it."""
    meter = readings.meters[asked.meter]
    if isinstance(asked, ProximityReading) or isinstance(meter, ProximityDetector):
        return msgspec.structs.replace(asked, detected=bool(value))
    steps = round(value / meter.resolution)
    rounded = round(steps * meter.resolution, 9)
    if isinstance(asked, ResistanceReading) and value > asked.value > 0.0:
        return msgspec.structs.replace(asked, value=asked.value, over_range=True)
    return msgspec.structs.replace(asked, value=rounded)
