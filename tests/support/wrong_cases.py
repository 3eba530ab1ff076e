"""Seeded houses for `support.wrong_model`, drawn from laws that are not those of the inference's priors.

Strays are spread unevenly along the run and unlike between pairs, leakage sits at one wet spot, supplies of electronics
take constant power, filters put capacitance across the appliance, meters err evenly up to their limit rather than
normally. The figures are invented, within what a campground's cabins could have.
"""

import itertools
import math
import zlib
from dataclasses import dataclass, replace

import numpy as np

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.readings import Material
from support.wrong_model import CONDUCTORS, House, Joint, Load, Shunt

FAULTS: tuple[tuple[str, str | None], ...] = (
    ("none_found", None),
    ("open_neutral", "N"),
    ("high_resistance_neutral", "N"),
    ("open_leg", "L1"),
    ("open_leg", "L2"),
    ("high_resistance_leg", "L1"),
    ("high_resistance_leg", "L2"),
    ("open_service_neutral", "N"),
    ("high_resistance_service_neutral", "N"),
    ("no_supply", None),
    ("voltage_low", None),
    ("voltage_high", None),
    ("other_supply_system", None),
    ("legs_from_same_pole", None),
    ("leg_neutral_transposed", "L1"),
    ("leg_neutral_transposed", "L2"),
    ("leg_ground_transposed", "L1"),
    ("leg_ground_transposed", "L2"),
    ("open_ground", "G"),
)


@dataclass(frozen=True)
class WrongCase:
    """One house with the fault that is in it and what the technician would know of the run."""

    house: House
    fault: str
    conductor: str | None
    size: str
    material: Material
    length: float
    """One way [m]."""


class _Draw:
    """Random numbers of one case."""

    def __init__(self, *key: int) -> None:
        self.rng = np.random.default_rng(key)

    def even(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def decades(self, low: float, high: float) -> float:
        return float(10.0 ** self.rng.uniform(math.log10(low), math.log10(high)))

    def chance(self, probability: float) -> bool:
        return bool(self.rng.random() < probability)

    def pick(self, count: int) -> int:
        return int(self.rng.integers(count))


def _lagging(ohms: float, power_factor: float) -> complex:
    return complex(ohms * power_factor, ohms * math.sqrt(1.0 - power_factor**2))


def _house_loads(draw: _Draw) -> tuple[Load, ...]:
    loads = []
    for leg in ("L1", "L2"):
        for _ in range(1 + draw.pick(3)):
            exponent = (0.0, 0.5, 2.0)[draw.pick(3)]
            z = _lagging(draw.decades(15.0, 400.0), draw.even(0.7, 0.999))
            loads.append(Load(between=(leg, "N"), impedance=z, exponent=exponent))
    if draw.chance(0.5):
        loads.append(Load(between=("L1", "L2"), impedance=complex(draw.decades(12.0, 60.0)), volts=240.0))
    return tuple(loads)


def _strays(draw: _Draw, conductors: tuple[str, ...], length: float, sections: int) -> tuple[Shunt, ...]:
    per_metre = draw.even(40e-12, 130e-12)
    shunts = []
    for pair in itertools.combinations(conductors, 2):
        whole = per_metre * length * draw.even(0.3, 1.7)
        for k, share in enumerate(draw.rng.dirichlet(np.ones(sections)), start=1):
            shunts.append(Shunt(between=pair, capacitance=float(whole * share), position=k / sections))
        shunts.append(Shunt(between=pair, leakage=draw.decades(3e8, 1e11), position=draw.even(0.0, 1.0)))
    for conductor in conductors:
        to_earth = draw.even(0.0, 20e-12) * length
        shunts.append(Shunt(between=(conductor, "earth"), capacitance=to_earth, position=draw.even(0.2, 1.0)))
    if draw.chance(0.25):  # one damp box
        pairs = list(itertools.combinations(conductors, 2))
        wet = Shunt(between=pairs[draw.pick(len(pairs))], leakage=draw.decades(5e4, 1e7), position=draw.even(0.0, 1.0))
        shunts.append(wet)
    return tuple(shunts)


def _appliance(draw: _Draw) -> dict[str, tuple[Load, ...]]:
    leg = ("L1", "L2")[draw.pick(2)]
    filtered = (("L1", "L2"), (leg, "N"))[draw.pick(2)]
    reactance = -1.0 / (2.0 * math.pi * 60.0 * draw.decades(0.05e-6, 0.5e-6))
    board = draw.decades(2.5e3, 15e3)
    idle = (
        Load(between=(leg, "N"), impedance=complex(board, -0.7 * board), exponent=2.0),
        Load(between=filtered, impedance=complex(draw.even(5.0, 50.0), reactance)),
        Load(between=(leg, "N"), impedance=complex(draw.decades(2e5, 2e6))),
    )
    element = Load(between=("L1", "L2"), impedance=complex(draw.even(9.0, 55.0), draw.even(0.0, 1.0)), volts=240.0)
    motor = Load(between=(leg, "N"), impedance=_lagging(draw.decades(60.0, 900.0), draw.even(0.5, 0.9)))
    return {"idle": idle, "running": (*idle, element, motor)}


def _with_fault(draw: _Draw, house: House, fault: str, conductor: str | None) -> House:
    sound = max(abs(z) for z in house.run.values())
    opened, raised = draw.decades(1e3, 3e9), draw.decades(max(0.7, 4.0 * sound), 9e2)
    place = draw.even(0.0, 1.0)
    if fault in {"open_neutral", "open_leg", "open_ground"}:
        return replace(house, joints=(*house.joints, Joint(str(conductor), opened, place)))
    if fault in {"high_resistance_neutral", "high_resistance_leg"}:
        return replace(house, joints=(*house.joints, Joint(str(conductor), raised, place)))
    if fault == "no_supply":
        off = tuple(Joint(leg, draw.decades(1e7, 1e10), 0.0) for leg in ("L1", "L2"))
        return replace(house, joints=(*house.joints, *off))
    partner = {"leg_neutral_transposed": "N", "leg_ground_transposed": "G"}.get(fault)
    if partner is not None and conductor is not None:
        return replace(house, source_of={conductor: partner, partner: conductor})
    changes: dict[str, dict[str, object]] = {
        "none_found": {},
        "open_service_neutral": {"service_neutral_joint": opened},
        "high_resistance_service_neutral": {"service_neutral_joint": draw.decades(0.6, 60.0)},
        "voltage_low": {"volts": draw.even(88.0, 109.0)},
        "voltage_high": {"volts": draw.even(131.0, 145.0)},
        "other_supply_system": {"second_leg_angle": -120.0},
        "legs_from_same_pole": {"source_of": {"L2": "L1"}},
    }
    if fault not in changes:
        raise ValueError(f"no wrong model of {fault} on {conductor}")
    return replace(house, **changes[fault])  # type: ignore[arg-type]


def draw_case(fault: str, conductor: str | None, seed: int, *, ground: bool | None = None) -> WrongCase:
    """A house with a fault in it.

    Parameters
    ----------
    fault, conductor : str, str or None
        One of `FAULTS`.
    seed : int
        The same arguments give the same house.
    ground : bool, optional
        Whether the run has a ground conductor; by default three houses in four have one. Faults of the ground have it.

    Returns
    -------
    WrongCase
        Load states are "disconnected", "idle" and "running".

    Raises
    ------
    ValueError
        If there is no such fault.
    """
    draw = _Draw(seed, zlib.crc32(f"{fault} {conductor}".encode()))
    size, material = (("10 AWG", "copper"), ("8 AWG", "copper"), ("6 AWG", "copper"), ("6 AWG", "aluminum"))[
        draw.pick(4)
    ]
    metal: Material = "copper" if material == "copper" else "aluminum"
    length, warmth = draw.decades(4.0, 40.0), draw.even(-10.0, 65.0)
    grounded = draw.chance(0.75) if ground is None else ground
    conductors = CONDUCTORS if grounded or "ground" in fault else CONDUCTORS[:3]
    wire = length * resistance_per_metre(size, metal, warmth)
    run = {
        c: complex(wire * draw.even(0.95, 1.08) * (1.5 if c == "G" else 1.0) + draw.even(1e-3, 12e-3), 1.6e-4 * length)
        for c in conductors
    }
    base = 120.0**2 / (1000.0 * (15.0, 25.0, 37.5, 50.0)[draw.pick(4)])
    service_x = draw.even(0.005, 0.05)
    sections = 5 + draw.pick(4)
    house = House(
        volts=draw.even(117.5, 125.0),
        primary=complex(0.006, 0.0136) * base,
        half=complex(0.012, 0.0068) * base,
        service={c: complex(draw.even(0.006, 0.04), service_x) for c in ("L1", "L2", "N")},
        service_mutual=service_x * draw.even(0.6, 0.88),
        pole_ground=draw.decades(3.0, 60.0),
        rod=draw.decades(8.0, 150.0),
        house_loads=_house_loads(draw),
        sections=sections,
        run=run,
        shunts=_strays(draw, conductors, length, sections),
        cord={c: complex(draw.even(4e-3, 25e-3)) for c in conductors},
        appliance=_appliance(draw),
        appliance_shunts=tuple(Shunt(between=(c, "G"), capacitance=draw.decades(5e-10, 5e-9)) for c in ("L1", "N")),
        frame_bond=draw.even(0.01, 0.1) if "G" in conductors and draw.chance(0.1) else None,
    )
    faulted = _with_fault(draw, house, fault, conductor)
    return WrongCase(house=faulted, fault=fault, conductor=conductor, size=size, material=metal, length=length)


@dataclass(frozen=True)
class Display:
    """A meter's display: one gain for all of its readings, even errors, a drifting supply, rounded digits."""

    percent: float
    counts: float
    resolution: float
    seed: int
    drift: float = 0.004
    """Largest change of the supply between readings [1]."""

    def show(self, values: list[float]) -> list[float]:
        """What a person reads off for true values, in the order of reading.

        Parameters
        ----------
        values : list of float
            True magnitudes [V, A or ohm].

        Returns
        -------
        list of float
            Rounded to the resolution, never negative.
        """
        rng = np.random.default_rng(self.seed)
        gain = 1.0 + rng.uniform(-1.0, 1.0) * self.percent / 100.0
        shown = []
        for value in values:
            moved = value * gain * (1.0 + rng.uniform(-1.0, 1.0) * self.drift)
            counted = moved + rng.uniform(-1.0, 1.0) * self.counts * self.resolution
            steps = max(0.0, math.floor(counted / self.resolution + 0.5))
            shown.append(round(steps * self.resolution, 9))
        return shown
