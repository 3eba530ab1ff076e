"""What a person sees at a site without a meter, worked out from the circuit in ngspice. Common practice, no source."""

from dataclasses import replace

import numpy as np

from support.trade.house import LEGS, Ask, House, Load
from support.trade.netlist import read
from support.trade.scene import Scene

_LIT, _DARK = 90.0, 60.0
"""Volts at which a lamp is lit, and below which it is taken for dead."""
_SEEN = 4.0
"""Volts up on one leg while the other is loaded, at which lights are seen to brighten."""


def _leg_volts(house: House) -> tuple[float, float]:
    """Of other circuits on the same panel [V]."""
    point = "service_panel" if house.feeder is None else "sub_panel"
    first, second = read([(house, Ask("voltage", (leg, "N"), point)) for leg in LEGS], 1)  # type: ignore[arg-type]
    return first, second


def brightens(house: House) -> bool:
    """Whether lights on one leg brighten when 1.2 kW is switched on at the other."""
    more = Load("L1", "N", 12.0 + 0j)
    if house.feeder is None:
        loaded = replace(house, loads=(*house.loads, more))
    else:
        loaded = replace(house, feeder=replace(house.feeder, loads=(*house.feeder.loads, more)))
    return _leg_volts(loaded)[1] - _leg_volts(house)[1] > _SEEN


def seen(scene: Scene, code: str, rng: np.random.Generator) -> bool | None:
    """Whether a person sees what an observation's code says; None: cannot tell.

    Raises
    ------
    ValueError
        For a code that the contract does not know.
    """
    house = scene.site.house
    hot = any(j.section in {"branch", "contact", "cord"} and 0.2 < j.ohms < 1e3 for j in house.joints)
    if code == "breaker_found_tripped":
        return len(house.run.lifted) > 1
    if code == "lights_brighten_and_dim":
        return brightens(house)
    if code == "other_circuits_live":
        return max(_leg_volts(house)) > _LIT
    if code == "other_circuits_dead":
        return min(_leg_volts(house)) < _DARK
    if code == "scorched_or_discoloured":
        return bool(rng.random() < (0.3 if hot else 0.01))
    if code == "works_when_moved":
        return scene.sound_sometimes is not None and bool(rng.random() < 0.5)
    if code == "ground_fault_breaker_tripped":
        return "ground_fault_breaker_tripped" in scene.observations
    raise ValueError(f"unknown observation {code}")
