"""Circuits drawn from the model and inferred again: what is claimed of them beside what is true of them."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray

from feedproof.advice.candidates import merged
from feedproof.inference import Candidate, Truth, draw, infer
from feedproof.readings import Reading, ReadingSet, Supply
from support.outcomes import METERS, amps, ohms, volts
from support.proof_cases import FOUR_WIRE, LABELS, THREE_WIRE, UNKNOWN, near
from support.seam import never

OFF_GROUND = 1.0
"""Where a neutral counts as standing off ground [V]."""

#: Faults in series with the branch, whose resistance an outcome estimates.
IN_SERIES = {"open_neutral", "high_resistance_neutral", "open_leg", "high_resistance_leg"}

#: Enough of all faults to judge the intervals by, in place of the published base rates.
FLAT_RATES: dict[str, float] = {
    "none_found": 0.10,
    "open_neutral": 0.20,
    "high_resistance_neutral": 0.15,
    "open_leg": 0.12,
    "high_resistance_leg": 0.15,
    "open_service_neutral": 0.06,
    "high_resistance_service_neutral": 0.06,
    "no_supply": 0.02,
    "voltage_low": 0.03,
    "voltage_high": 0.03,
    "other_supply_system": 0.02,
    "legs_from_same_pole": 0.02,
    "leg_neutral_transposed": 0.02,
    "leg_ground_transposed": 0.01,
    "open_ground": 0.01,
}


def _arrangement(*readings: Reading, supply: Supply = UNKNOWN) -> ReadingSet:
    return ReadingSet(supply=supply, meters=METERS, load_states=LABELS, readings=readings)


def _legs(meter: str, state: str) -> tuple[Reading, ...]:
    return (
        volts("L1", "L2", 0.0, meter, state),
        volts("L1", "N", 0.0, meter, state),
        volts("L2", "N", 0.0, meter, state),
    )


#: What technicians read, from too little to enough.
LAYOUTS: dict[str, ReadingSet] = {
    "unloaded, high impedance": _arrangement(*_legs("dmm", "disconnected")),
    "unloaded, low impedance": _arrangement(*_legs("loz", "disconnected"), supply=FOUR_WIRE),
    "connected, not started": _arrangement(*_legs("dmm", "idle"), volts("N", "G", 0.0, state="idle"), supply=FOUR_WIRE),
    "running": _arrangement(*_legs("dmm", "running"), volts("N", "G", 0.0, state="running"), supply=FOUR_WIRE),
    "known load, clamp": _arrangement(
        *_legs("dmm", "heating"), amps("L1", 0.0, state="heating"), amps("N", 0.0, state="heating"), supply=FOUR_WIRE
    ),
    "load on one side": _arrangement(
        *_legs("dmm", "one_side"), volts("N", "G", 0.0, state="one_side"), volts("L1", "N", 0.0), supply=FOUR_WIRE
    ),
    "first one meter, then the other": _arrangement(
        *_legs("dmm", "disconnected"),
        volts("L1", "N", 0.0, "loz"),
        volts("L2", "N", 0.0, "loz"),
        volts("N", "G", 0.0),
        supply=FOUR_WIRE,
    ),
    "three wires, detector first": _arrangement(
        near("L1", detected=False),
        near("L2", detected=False),
        near("N", detected=False),
        *_legs("dmm", "idle"),
        supply=THREE_WIRE,
    ),
    "isolated and live": _arrangement(
        ohms("N", "G", 0.0), volts("L1", "L2", 0.0), volts("L1", "N", 0.0, "loz"), supply=FOUR_WIRE
    ),
}


class Held(NamedTuple):
    """One quantity of a finding that was right, its interval and its true value."""

    name: str
    low: float
    high: float
    truth: float

    @property
    def inside(self) -> bool:
        """Whether it does."""
        slack = 1e-9 * max(abs(self.truth), 1e-12)
        return self.low - slack <= self.truth <= self.high + slack


class Judged(NamedTuple):
    """One circuit, drawn and inferred."""

    layout: str
    fault: str
    finding: str
    probability: float
    right: bool
    place: str
    place_probability: float
    """Of the most probable place and conductor, all degrees together [1]."""
    place_right: bool
    degree_probability: float | None
    """Of its most probable degree, given the place [1]; None where the place is wrong or has no degrees."""
    degree_right: bool
    claims: tuple[tuple[str, float, bool], ...]
    """(fault, probability, true) of every candidate."""
    held: tuple[Held, ...]
    """Where the place was right: resistance of what is at fault, and the neutral where it stands off ground."""


def place_of(truth: Truth, candidates: Sequence[Candidate]) -> tuple[str, str | None] | None:
    """The place and conductor of what was drawn: the seam names a circuit by its faults and their location.

    None where it is no candidate, since another explains the readings (one of them misread) so much better.
    """
    own = [c for c in candidates if c.parts == truth.parts]
    near = [c for c in own if (c.location, c.fault) == (truth.location, truth.fault)]
    return next(((c.place, c.conductor) for c in (*near, *own)), None)


def judge(layout: str, seed: tuple[int, ...], base_rates: dict[str, float] | None = None) -> Judged:
    """Draw a circuit, read it as the layout says, infer.

    Parameters
    ----------
    layout : str
        One of `LAYOUTS`.
    seed : tuple of int
        The same seed gives the same circuit.
    base_rates : dict of str to float, optional
        To draw by and to infer with.
    """
    truth, taken = draw(msgspec.structs.replace(LAYOUTS[layout], base_rates=base_rates), seed)
    found = infer(taken, look_ahead=never)
    named = merged(found.candidates)
    places: dict[tuple[str, str | None], float] = {}
    for c in found.candidates:
        places[c.place, c.conductor] = places.get((c.place, c.conductor), 0.0) + c.probability
    leading = max(places, key=lambda key: places[key])
    true = place_of(truth, found.candidates)
    degrees: dict[str, float] = {}
    for c in found.candidates:
        if c.degree is not None and (c.place, c.conductor) == leading == true:
            degrees[c.degree] = degrees.get(c.degree, 0.0) + c.probability
    degree = max(degrees, key=lambda d: degrees[d]) if degrees else None
    held: list[Held] = []
    if leading == true:
        faulted = {conductor for fault, conductor in truth.parts if fault in IN_SERIES}
        held = [
            Held("resistance", r.interval.low, r.interval.high, truth.resistances[r.conductor, r.point])
            for r in found.resistances
            if r.conductor in faulted
        ]
        held += [
            Held("neutral", v.interval.low, v.interval.high, truth.neutral_voltages[v.load_state, v.point, None])
            for v in found.neutral_voltages
            # Below a volt the neutral's sound resistance makes its voltage; nobody reads that off.
            if v.during_reading is None and v.interval.high > OFF_GROUND
        ]
    return Judged(
        layout=layout,
        fault=truth.fault,
        finding=named[0].fault,
        probability=named[0].probability,
        right=named[0].parts == truth.parts,
        place=leading[0],
        place_probability=places[leading],
        place_right=leading == true,
        degree_probability=None if degree is None else degrees[degree] / sum(degrees.values()),
        degree_right=degree is not None
        and any(c.parts == truth.parts and c.degree == degree for c in found.candidates),
        claims=tuple((c.fault, c.probability, c.parts == truth.parts) for c in named),
        held=tuple(held),
    )


def judge_many(block: tuple[str, int, int, int, dict[str, float] | None]) -> list[Judged]:
    """Judge circuits of a layout, given (layout, stream, first, last, base rates)."""
    layout, stream, first, last, base_rates = block
    number = list(LAYOUTS).index(layout)
    return [judge(layout, (stream, number, k), base_rates) for k in range(first, last)]


class Bin(NamedTuple):
    """Findings of like probability."""

    circuits: int
    claimed: float
    """Their mean probability [1]."""
    right: float
    """Share of them that were right [1]."""


EDGES = (0.0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99, 1.0)


def reliability(claimed: Sequence[float], right: Sequence[bool]) -> list[Bin]:
    """Table of findings by the probability that was claimed for them."""
    p, r = np.array(claimed), np.array(right, dtype=float)
    where = np.clip(np.digitize(p, EDGES) - 1, 0, len(EDGES) - 2)
    return [
        Bin(int((where == k).sum()), float(p[where == k].mean()), float(r[where == k].mean()))
        for k in range(len(EDGES) - 1)
        if (where == k).any()
    ]


def calibration_error(table: Iterable[Bin]) -> float:
    """Expected calibration error: mean |share right − probability claimed|, weighed by count [1].

    References
    ----------
    .. [1] M. P. Naeini, G. F. Cooper, M. Hauskrecht, "Obtaining well calibrated probabilities using Bayesian binning",
       AAAI (2015) 2901-2907 (from memory).
    """
    rows = list(table)
    return sum(b.circuits * abs(b.right - b.claimed) for b in rows) / sum(b.circuits for b in rows)


def sharpened(claims: Sequence[float], power: float) -> NDArray[np.float64]:
    """Give probabilities that claim to know more than they do: each to a power, scaled to sum to 1 again."""
    raised = np.array(claims) ** power
    return np.asarray(raised / raised.sum())
