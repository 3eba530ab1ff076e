"""Seeded random split-phase networks for comparing solvers: milliohm joints, gigaohm opens, picofarad strays."""

import itertools
import math

import numpy as np

from support.network import Branch, FixedVoltage, Network, Node, capacitor, impedance, resistor

CONDUCTORS = ("L1", "L2", "N", "G")
POINTS = ("service_panel", "receptacle", "appliance_terminals")
METER_IMPEDANCES: tuple[complex, ...] = (
    1.0 / complex(1.0 / 10e6, 2.0 * math.pi * 60.0 * 100e-12),  # 10 Mohm with 100 pF
    1e6 + 0j,
    100e3 + 0j,
    3e3 + 0j,
)


def split_phase_network(seed: int, frequency: float = 60.0) -> Network:
    """A random split-phase supply down to the appliance's terminals, with up to three opened sections.

    Parameters
    ----------
    seed : int
        The same seed gives the same network.
    frequency : float
        [Hz]

    Returns
    -------
    Network
        Nodes are (point, conductor); neutral and ground are one node at the panel, ("service_panel", "N").
    """
    rng = np.random.default_rng(seed)

    def log_uniform(low: float, high: float) -> float:
        return float(10.0 ** rng.uniform(math.log10(low), math.log10(high)))

    def at(point: str, conductor: str) -> Node:
        bonded = point == "service_panel" and conductor == "G"
        return (point, "N") if bonded else (point, conductor)

    leg = 120.0 * (1.0 + 0.03 * rng.standard_normal())
    fixed = (
        FixedVoltage(("source", "N"), 0j),
        FixedVoltage(("source", "L1"), complex(leg)),
        FixedVoltage(("source", "L2"), complex(-leg * (1.0 + 0.01 * rng.standard_normal()))),
    )
    series: list[tuple[Node, Node]] = [(("source", c), at("service_panel", c)) for c in ("L1", "L2", "N")]
    for here, there in itertools.pairwise(POINTS):
        series += [(at(here, c), at(there, c)) for c in CONDUCTORS]
    opened = set(rng.choice(len(series), size=rng.integers(0, 4), replace=False).tolist())
    branches: list[Branch] = []
    for position, (start, end) in enumerate(series):
        resistance = log_uniform(1e3, 1e10) if position in opened else log_uniform(1e-3, 1.0)
        branches.append(resistor(start, end, resistance))
    panel_neutral = at("service_panel", "N")
    for leg_name in ("L1", "L2"):  # the rest of the house
        house = (log_uniform(2.0, 200.0), log_uniform(0.1, 50.0))
        branches += [impedance(at("service_panel", leg_name), panel_neutral, *house)]
    for a, b in itertools.combinations(CONDUCTORS, 2):
        start, end = at("receptacle", a), at("receptacle", b)
        branches.append(capacitor(start, end, log_uniform(5e-12, 5e-9), frequency))
        branches.append(resistor(start, end, log_uniform(1e5, 1e10)))
        start, end = at("appliance_terminals", a), at("appliance_terminals", b)
        branches.append(resistor(start, end, log_uniform(1e6, 1e11)))
    for a, b in (("L1", "N"), ("L2", "N"), ("L1", "L2")):
        if rng.random() < 0.7:
            start, end = at("appliance_terminals", a), at("appliance_terminals", b)
            branches.append(impedance(start, end, log_uniform(5.0, 5e4), log_uniform(0.5, 5e3) * rng.choice([-1, 1])))
    return Network(branches=tuple(branches), fixed=fixed)


def readable_pairs() -> tuple[tuple[Node, Node], ...]:
    """The six pairs of conductors at the receptacle and the six at the appliance's terminals."""
    return tuple(((point, a), (point, b)) for point in POINTS[1:] for a, b in itertools.combinations(CONDUCTORS, 2))
