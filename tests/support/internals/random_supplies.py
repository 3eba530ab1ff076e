"""Random circuits of the one graph, alone or with an appliance."""

import numpy as np

from feedproof.circuit import topology as net

ALONE, CONNECTED = "alone", "connected"
ARRANGEMENTS = (ALONE, CONNECTED)
Edges = dict[tuple[int, int], complex]
"""Admittance between two nodes [S]."""


def random_admittances(seed: int, arrangement: str) -> Edges:
    """Admittance of each edge that the arrangement has: milliohm joints, opens, strays, complex loads [S]."""
    rng = np.random.default_rng((seed, ARRANGEMENTS.index(arrangement)))

    def decades(low: float, high: float) -> float:
        return float(10.0 ** rng.uniform(np.log10(low), np.log10(high)))

    def load() -> complex:
        return 1.0 / complex(decades(5.0, 1e5), decades(0.1, 1e4) * rng.choice([-1.0, 1.0]))

    def stray() -> complex:
        return complex(1.0 / decades(1e5, 1e11), 2.0 * np.pi * 60.0 * decades(5e-12, 5e-9))

    series = [*net.SERVICE_EDGES[:3], *net.BRANCH_EDGES]
    if arrangement == CONNECTED:
        series += net.CORD_EDGES
    opened = set(rng.choice(len(series), size=rng.integers(0, 4), replace=False).tolist())
    found = {
        edge: complex(1.0 / (decades(1e3, 1e10) if k in opened else decades(1e-3, 1.0)))
        for k, edge in enumerate(series)
    }
    found |= {edge: load() for edge in net.SERVICE_EDGES[3:]}
    found |= {edge: stray() for edge in net.RECEPTACLE_PAIRS}
    if arrangement == CONNECTED:
        found |= {edge: load() if rng.random() < 0.5 else stray() for edge in net.TERMINAL_PAIRS}
    return found


def sources(seed: int) -> dict[int, complex]:
    rng = np.random.default_rng((seed, 99))
    leg = 120.0 * (1.0 + 0.05 * rng.standard_normal())
    angle = np.exp(1j * np.pi * (1.0 if seed % 3 else 2.0 / 3.0))
    return {net.X0: 0j, net.S1: complex(leg), net.S2: complex(leg * 1.01 * angle)}
