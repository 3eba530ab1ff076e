"""True figures of a hidden circuit that an answer gives with an interval, by ngspice, without any meter in it."""

from typing import NamedTuple

from support.trade.house import Ask
from support.trade.netlist import read
from support.trade.scene import Scene


class Figures(NamedTuple):
    """What an answer's intervals ought to hold, of one load state."""

    neutral_to_earth: float | None
    """Service panel's neutral to the transformer's grounded point [V]; None for a generator."""
    neutral_to_ground: float | None
    """Neutral at the outlet's contact to the service panel's ground bar [V]; None where there is no neutral."""


def figures(scene: Scene, state: str = "disconnected") -> Figures:
    """True figures at the mean of what drifts."""
    house = scene.site.house
    off, own = None, None
    if house.source.kind != "generator":
        (off,) = read([(house, Ask("to_source", ("N",), "service_panel", state))], 1)
    if scene.site.neutral:
        (own,) = read([(house, Ask("to_ground_bar", ("N",), "receptacle", state))], 1)
    return Figures(off, own)
