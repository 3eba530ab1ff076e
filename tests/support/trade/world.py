"""Seeded draws of sound houses of every layout. Every fault is put into one of these by `scenes_*.py`.

Conductor resistances: 100 % IACS copper (NBS Handbook 100), diameters of ASTM B258, at 20 degC, ohm per 1000 ft.
Strays: 69 pF/m measured on NM cable (Nuts and Volts, "The Capacitance Connection"), 39 pF/m between conductors of the
EPRI triplex; taken as 25 to 110 pF/m. Sizes of loads, lengths, rods: common practice, no source.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

import numpy as np

from support.trade.house import FOUR, Feeder, House, Load, Run, Source

OHM_PER_METRE = {
    size: per_kft / 304.8
    for size, per_kft in {
        "14 AWG": 2.5254,
        "12 AWG": 1.5883,
        "10 AWG": 0.9989,
        "8 AWG": 0.6282,
        "6 AWG": 0.3951,
    }.items()
}
_SIZE_FOR = {"50": "6 AWG", "30": "10 AWG", "20": "12 AWG", "15": "14 AWG"}
_GROUND_FOR = {"50": "10 AWG", "30": "10 AWG", "20": "12 AWG", "15": "14 AWG"}
"""By the breaker: NEC table 250.122 (from memory)."""
_CONDUCTORS = {"14": FOUR, "10": ("L1", "L2", "N"), "6": ("L1", "L2", "G"), "hardwired": ("L1", "L2", "G")}


@dataclass(frozen=True)
class Site:
    """A house, and what a technician who stands there knows of it."""

    house: House
    supply: dict[str, Any]
    """The request's `supply`, all that could be known."""
    kind: str
    receptacle: str
    loads: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    """What the request says of each load state's loads."""
    kinds: Mapping[str, str] = field(default_factory=dict)
    """Kind of each load state."""

    @property
    def neutral(self) -> bool:
        """Whether the outlet has a neutral."""
        return "N" in self.house.run.conductors

    @property
    def ground(self) -> bool:
        """Whether the outlet has an equipment ground."""
        return "G" in self.house.run.conductors


def uniform(rng: np.random.Generator, low: float, high: float) -> float:
    """Even between two ends."""
    return float(rng.uniform(low, high))


def spread(rng: np.random.Generator, low: float, high: float) -> float:
    """Even in the logarithm between two ends."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def pick(rng: np.random.Generator, *choices: Any) -> Any:
    """One of them."""
    return choices[int(rng.integers(len(choices)))]


def resistance_of(watts: float, volts: float) -> float:
    """Of a heater by its rating [ohm]."""
    return volts * volts / watts


def house_loads(
    rng: np.random.Generator, *, imbalance: float | None = None, two_forty: bool | None = None, volts: float = 240.0
) -> tuple[Load, ...]:
    """Other circuits' loads: some on each leg, perhaps a 240 V one.

    `imbalance`: net current on the neutral as a share of the heavier leg's, left out: anything.
    """
    heavy = spread(rng, 150.0, 3500.0)
    share = float(rng.uniform(0.0, 0.95)) if imbalance is None else imbalance
    light = max(heavy * (1.0 - share), 5.0)
    legs = (heavy, light) if rng.random() < 0.5 else (light, heavy)
    loads = [
        Load(leg, "N", 14400.0 / w * (0.97 + 0.2j * rng.random())) for leg, w in zip(("L1", "L2"), legs, strict=True)
    ]
    if two_forty or (two_forty is None and rng.random() < 0.5):
        loads.append(Load("L1", "L2", volts**2 / spread(rng, 500.0, 6000.0) + 0j))
    return tuple(loads)


def strays(rng: np.random.Generator, metres: float, conductors: tuple[str, ...]) -> dict[tuple[str, str], float]:
    """Capacitance between each two wires of a run [F]."""
    middle = spread(rng, 25e-12, 110e-12) * metres
    return {pair: middle * float(np.exp(rng.normal(0.0, 0.2))) for pair in combinations(conductors, 2)}


_KINDS = {
    "14": ("range", "dryer", "range", "dryer", "vehicle_charger"),
    "10": ("range", "dryer"),
    "6": ("air_conditioner", "pump", "vehicle_charger", "air_conditioner"),
    "hardwired": ("water_heater", "water_heater", "heat_pump", "pump", "air_conditioner"),
}


def _states(rng: np.random.Generator, kind: str, volts: float) -> tuple[dict[str, Any], dict[str, Any], dict[str, str]]:
    """Loads of the appliance by state: the true ones, those stated, and the states' kinds."""
    true: dict[str, tuple[Load, ...]] = {}
    said: dict[str, list[dict[str, Any]]] = {"idle": [], "running": []}
    if kind in {"range", "dryer"}:
        clock = Load("L1", "N", spread(rng, 1500.0, 8000.0) * (1.0 + 0.3j))
        watts = float(pick(rng, 1500, 2400, 3000, 3600)) if kind == "range" else float(pick(rng, 4800, 5200, 5400))
        element = Load("L1", "L2", resistance_of(watts, 240.0) * uniform(rng, 0.96, 1.04) + 0j)
        motor = (Load("L1", "N", spread(rng, 22.0, 32.0) * (1.0 + 0.6j)),) if kind == "dryer" else ()
        true = {"idle": (clock,), "running": (clock, element, *motor)}
        said["running"] = [
            {"between": ["L1", "L2"], "resistance": f"{resistance_of(watts, 240.0):.3g} ohm", "tolerance_percent": 6}
        ]
        if abs(volts - 240.0) < 1.0:
            said["running"] = [{"between": ["L1", "L2"], "power": f"{watts / 1e3:g} kW"}]
        if motor:  # a motor's draw is hardly ever known
            said["running"] = []
    elif kind == "water_heater":
        watts = float(pick(rng, 3500, 4500, 5500))
        true = {"idle": (), "running": (Load("L1", "L2", resistance_of(watts, 240.0) * uniform(rng, 0.96, 1.04) + 0j),)}
        said["running"] = [{"between": ["L1", "L2"], "power": f"{watts / 1e3:g} kW"}]
    elif kind == "vehicle_charger":
        true = {
            "idle": (Load("L1", "L2", spread(rng, 6e3, 12e3) + 0j),),
            "running": (Load("L1", "L2", 240.0 / uniform(rng, 16.0, 32.0) + 0j),),
        }
    else:
        watts = spread(rng, 900.0, 4000.0)
        heater = (Load("L1", "L2", resistance_of(spread(rng, 30.0, 80.0), 240.0) + 0j),) if kind != "pump" else ()
        true = {"idle": heater, "running": (*heater, Load("L1", "L2", 57600.0 / watts * (0.8 + 0.45j)))}
    return true, said, {"idle": "idle", "running": "running"}


def site(
    rng: np.random.Generator,
    *,
    receptacle: str | None = None,
    fed: str | None = None,
    system: str = "split_phase_120_240",
    kind: str | None = None,
) -> Site:
    """A sound house of one layout.

    Parameters
    ----------
    rng : numpy.random.Generator
        Where every figure comes from.
    receptacle : str or None
        NEMA designation or "hardwired"; left out, any.
    fed : str or None
        `service_panel`, `sub_panel`, `sub_panel_bonded`; left out, any.
    system : str
        `split_phase_120_240` or `wye_120_208`.
    kind : str or None
        Appliance; left out, one that goes with the receptacle.
    """
    if receptacle is None:
        receptacle = pick(
            rng, "14-50R", "14-30R", "14-50R", "14-30R", "10-30R", "10-50R", "6-50R", "6-20R", "hardwired"
        )
    if fed is None:
        fed = pick(rng, "service_panel", "service_panel", "sub_panel")
    series, _, rest = receptacle.partition("-")
    kind = kind or pick(rng, *_KINDS[series])
    size = _SIZE_FOR[rest[:2]] if rest else "10 AWG"
    metres = round(spread(rng, 4.0, 32.0))
    conductors = _CONDUCTORS[series]
    wye = system == "wye_120_208"
    leg_volts = uniform(rng, 117.0, 124.0)
    source = Source(volts=leg_volts, pole_ground=spread(rng, 0.3, 8.0))
    if wye:
        source = replace(source, kind="wye", degrees=-120.0)
    feeder = None
    if fed != "service_panel":
        feeder = Feeder(spread(rng, 0.015, 0.12), fed == "sub_panel_bonded", spread(rng, 15.0, 150.0), house_loads(rng))
    longer = uniform(rng, 1.0, 1.12)
    ground = _GROUND_FOR[rest[:2]] if rest else "10 AWG"
    run = Run(
        conductors=conductors,
        metres=metres,
        ohms=metres * OHM_PER_METRE[size] * longer,
        ground_ohms=metres * OHM_PER_METRE[ground] * longer,
        farads=strays(rng, metres, conductors),
        leakage={pair: spread(rng, 2e8, 1e11) for pair in combinations(conductors, 2)},
    )
    frame_bonded = series == "10"
    true, said, kinds = _states(rng, kind, 208.0 if wye else 240.0)
    house = House(
        source=source,
        service=spread(rng, 0.008, 0.04),
        electrode=spread(rng, 8.0, 120.0),
        loads=house_loads(rng),
        feeder=feeder,
        run=run,
        states=true,
    )
    supply: dict[str, Any] = {"system": system, "receptacle": receptacle, "fed_from": fed}
    supply["equipment_ground"] = "present" if "G" in conductors else "absent"
    supply["neutral"] = "present" if "N" in conductors else "absent"
    if "N" in conductors:
        supply["frame_bonded_to_neutral"] = frame_bonded
    supply["run"] = {"size": size, "material": "copper", "length": f"{metres} m"}
    return Site(house, supply, kind, receptacle, said, kinds)
