"""What several situations have in common: sets of meters, usual readings, known loads, other circuits' loads."""

from dataclasses import replace
from typing import Any

import numpy as np

from support.trade import notes
from support.trade.house import Feeder, Joint, Load
from support.trade.notes import Meter
from support.trade.scene import Step, volts
from support.trade.world import Site, resistance_of, spread, uniform

TEST_STATE: dict[str, Any] = {"kind": "test_load", "loads": [{"between": ["L1", "N"], "power": "1.5 kW"}]}
"""A heater of 1.5 kW on one leg, in the appliance's place."""


def kit(rng: np.random.Generator, *names: str) -> dict[str, Meter]:
    """The instruments at hand, by name."""
    makers = {
        "dmm": notes.dmm,
        "loz": notes.low_impedance,
        "pen": notes.pen,
        "clamp": notes.clamp,
        "ohms": notes.ohms,
        "tester": notes.middling,
    }
    return {name: makers[name](rng) for name in names}


def pairs_at(site: Site) -> list[str]:
    """The usual voltage readings of this outlet, legs first."""
    out = ["L1-L2"]
    if site.neutral:
        out += ["L1-N", "L2-N"]
    if site.neutral and site.ground:
        out += ["N-G"]
    if not site.neutral:
        out += ["L1-G", "L2-G"]
    return out


def usual(
    rng: np.random.Generator,
    site: Site,
    meter: str,
    *,
    state: str = "disconnected",
    point: str = "receptacle",
    drop: float = 0.0,
) -> list[Step]:
    """The usual readings, of which some may not have been taken."""
    chosen = [pair for k, pair in enumerate(pairs_at(site)) if k == 0 or rng.random() >= drop]
    return volts(meter, *chosen, state=state, point=point)


def some(rng: np.random.Generator, steps: list[Step], share: float = 0.5) -> list[Step]:
    """All of these, or none."""
    return steps if rng.random() < share else []


def with_test_load(site: Site, rng: np.random.Generator) -> Site:
    """The site, where a known heater can stand in the appliance's place."""
    heater = Load("L1", "N", resistance_of(1500.0, 120.0) * uniform(rng, 0.97, 1.03) + 0j)
    return replace(site, house=replace(site.house, states={**site.house.states, "test": (heater,)}))


def broken(site: Site, *joints: Joint) -> Site:
    """The site with these joints."""
    return replace(site, house=replace(site.house, joints=joints))


def leg_loads(heavy: float, light: float, *, heavy_on_first: bool, two_forty: float = 0.0) -> tuple[Load, ...]:
    """Loads of so many watts on each leg, and between the legs."""
    first, second = (heavy, light) if heavy_on_first else (light, heavy)
    loads = [Load("L1", "N", 14400.0 / first + 0j), Load("L2", "N", 14400.0 / second * (1.0 + 0.1j))]
    return (*loads, Load("L1", "L2", 57600.0 / two_forty + 0j)) if two_forty > 0.0 else tuple(loads)


def unbalanced(rng: np.random.Generator, *, two_forty: bool | None = None) -> tuple[Load, ...]:
    """Other circuits with 6 to 25 A between the legs."""
    heavy = uniform(rng, 1000.0, 3500.0)
    asked = rng.random() < 0.4 if two_forty is None else two_forty
    light = heavy * uniform(rng, 0.03, 0.4)
    return leg_loads(
        heavy, light, heavy_on_first=rng.random() < 0.5, two_forty=spread(rng, 800.0, 5000.0) if asked else 0.0
    )


def feeder_with_drop(rng: np.random.Generator, wanted: float, *, bonded: bool = False) -> Feeder:
    """A sound feeder whose neutral drops so many volts with the sub-panel's own loads on."""
    ohms = uniform(rng, max(0.03, wanted / 30.0), 0.12)
    light = uniform(rng, 30.0, 600.0)
    loads = leg_loads(light + wanted / ohms * 120.0, light, heavy_on_first=rng.random() < 0.5)
    return Feeder(ohms, bonded, 40.0, loads)


def with_feeder(site: Site, feeder: Feeder) -> Site:
    """The site with another feeder."""
    return replace(site, house=replace(site.house, feeder=feeder))


def with_house_loads(site: Site, loads: tuple[Load, ...]) -> Site:
    """The site with other loads at the service panel."""
    return replace(site, house=replace(site.house, loads=loads))


def weak(rng: np.random.Generator) -> float:
    """A bad joint that moves volts at some amperes [ohm]."""
    return spread(rng, 1.2, 15.0)
