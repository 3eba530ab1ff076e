"""What a technician does at a site, and how that becomes a request: steps read in ngspice, noted by a person."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from support.trade import notes
from support.trade.house import Ask, House, Load
from support.trade.netlist import read
from support.trade.notes import Meter
from support.trade.places import ancestors, who_acts
from support.trade.world import Site

_DRIFT = 0.002
"""Standard deviation of the supply from reading to reading [1]. Common practice, no source."""
_OTHERS = 0.03
"""The same of other loads' impedances [1]. Common practice, no source."""
_LEFT_OUT = {"run": 0.35, "frame_bonded_to_neutral": 0.3, "receptacle": 0.2}
"""Share of callers who do not state a field of the supply [1]. Common practice, no source."""


@dataclass(frozen=True)
class Truth:
    """What is so, and which answers a fair judge takes."""

    place: str
    """Narrowest place of the contract's tree; what else `also` names is there too."""
    conductor: str | None = None
    degree: str | None = None
    also: frozenset[str] = frozenset()
    accept: frozenset[str] = frozenset()
    """Further places that may be established, since the readings tell no more."""
    never: frozenset[str] = frozenset()
    """Places that must not be established, beside all that are neither true nor accepted."""
    decidable: bool = True
    """The readings are enough to establish the place or a wider one that holds it."""
    hidden: bool = False
    """The readings are those of a sound supply: `none` is then a miss, and no wrong answer."""
    refer: frozenset[str] | None = None
    """Who has to be named; left out, by place."""
    stop: bool = True
    """Once the place is established, nothing short of stop_and_refer will do."""
    break_metres: float | None = None
    """Of an open: metres from the outlet."""

    @property
    def right(self) -> frozenset[str]:
        """Places that may be established."""
        places = {self.place, *self.also}
        return frozenset().union(*(ancestors(p) for p in places), self.accept) - self.never

    @property
    def who(self) -> frozenset[str]:
        """Who has to be named."""
        if self.refer is not None:
            return self.refer
        return frozenset().union(*(who_acts(p) for p in {self.place, *self.also}))


@dataclass(frozen=True)
class Step:
    """One reading to take."""

    kind: str
    """voltage, current, resistance, proximity"""
    conductors: tuple[str, ...]
    meter: str
    state: str = "disconnected"
    point: str = "receptacle"
    said_point: str | None = None
    """How the request calls the point, where not by its own name ("panel")."""
    joints: bool = True
    """False: the house's intermittent joint holds in this reading."""


def volts(
    meter: str, *pairs: str, state: str = "disconnected", point: str = "receptacle", said: str | None = None
) -> list[Step]:
    """Voltages between pairs written "L1-N"."""
    return [Step("voltage", tuple(pair.split("-")), meter, state, point, said) for pair in pairs]


def amps(
    meter: str, *through: str, state: str = "running", point: str = "receptacle", said: str | None = None
) -> list[Step]:
    """Currents by clamp."""
    return [Step("current", (c,), meter, state, point, said) for c in through]


def near(meter: str, *at: str, state: str = "disconnected", point: str = "receptacle") -> list[Step]:
    """A proximity detector held to conductors."""
    return [Step("proximity", (c,), meter, state, point) for c in at]


@dataclass(frozen=True)
class Scene:
    """A hidden circuit and a visit to it."""

    site: Site
    steps: tuple[Step, ...]
    meters: dict[str, Meter]
    truth: Truth
    variant: str
    unstated: tuple[str, ...] = ()
    """Fields of the supply that the request leaves out."""
    observations: tuple[Any, ...] = ()
    supply: dict[str, Any] = field(default_factory=dict)
    """Fields of the supply that the request states otherwise than the site has them."""
    states: dict[str, dict[str, Any]] = field(default_factory=dict)
    """Further load states as the request states them."""
    whole_volts: bool = True
    sound_sometimes: House | None = None
    """The house while an intermittent joint holds."""


@dataclass(frozen=True)
class Case:
    """A request whose truth is known."""

    situation: str
    variant: str
    seed: int
    truth: Truth
    request: dict[str, Any]
    scene: Scene


def _moved(house: House, rng: np.random.Generator) -> House:
    """The house a moment later."""
    scale = 1.0 + float(rng.normal(0.0, _DRIFT))

    def other(loads: tuple[Load, ...]) -> tuple[Load, ...]:
        return tuple(replace(x, ohms=x.ohms * float(np.exp(rng.normal(0.0, _OTHERS)))) for x in loads)

    source = replace(
        house.source,
        volts=house.source.volts * scale,
        second_volts=None if house.source.second_volts is None else house.source.second_volts * scale,
    )
    feeder = house.feeder and replace(house.feeder, loads=other(house.feeder.loads))
    return replace(house, source=source, loads=other(house.loads), feeder=feeder)


def ask_for(step: Step, meter: Meter) -> Ask:
    """The netlist's question for a step."""
    kind = "to_earth" if step.kind == "proximity" else step.kind
    return Ask(kind, step.conductors, step.point, step.state, meter.input)  # type: ignore[arg-type]


def house_for(scene: Scene, step: Step, rng: np.random.Generator) -> House:
    """The house at the moment of one reading."""
    house = scene.site.house if step.joints or scene.sound_sometimes is None else scene.sound_sometimes
    return _moved(house, rng)


def noted_reading(scene: Scene, step: Step, true: float, rng: np.random.Generator) -> dict[str, Any]:
    """One reading as the request has it."""
    meter = scene.meters[step.meter]
    reading: dict[str, Any] = {"kind": step.kind, "meter": step.meter, "load_state": step.state}
    point = step.said_point or step.point
    if point != "receptacle":
        reading["point"] = point
    if step.kind == "proximity":
        return reading | {"at": step.conductors[0], "detected": notes.signals(meter, true, rng)}
    value = notes.shown(meter, true, rng)
    if step.kind == "current":
        return reading | {"through": step.conductors[0], "value": round(value, 1 if value >= 10.0 else 2)}
    reading["between"] = list(step.conductors)
    if step.kind == "voltage":
        return reading | {"value": notes.noted(value, whole=scene.whole_volts)}
    reading["supply"] = "isolated"
    if value > notes.HIGHEST_OHMS:
        return reading | {"value": notes.HIGHEST_OHMS, "over_range": True}
    return reading | {"value": value}


def request_of(scene: Scene, readings: Sequence[dict[str, Any]], reference: str) -> dict[str, Any]:
    """A request in the shape of the contract, new fields included."""
    supply = {k: v for k, v in (scene.site.supply | scene.supply).items() if k not in scene.unstated}
    used = {r["load_state"] for r in readings}
    states: dict[str, dict[str, Any]] = {}
    for name in sorted(used - {"disconnected"}):
        if name in scene.states:
            states[name] = scene.states[name]
        else:
            states[name] = {"kind": scene.site.kinds.get(name, name)}
            if scene.site.loads.get(name):
                states[name]["loads"] = scene.site.loads[name]
    request: dict[str, Any] = {
        "reference": f"INVENTED {reference}",
        "supply": supply,
        "appliance": {"kind": scene.site.kind},
        "meters": {name: meter.stated for name, meter in scene.meters.items()},
        "readings": list(readings),
    }
    if states:
        request["load_states"] = states
    if scene.observations:
        request["observations"] = list(scene.observations)
    return request


def as_told(scene: Scene, rng: np.random.Generator) -> Scene:
    """The scene with what a caller does not know, or does not trouble to state, left out of the request."""
    unstated = {*scene.unstated}
    unstated |= {name for name, share in _LEFT_OUT.items() if rng.random() < share}
    if "receptacle" in unstated:
        unstated.discard("neutral")  # it then is what tells that there is none
    if "receptacle" not in unstated and rng.random() < 0.7:
        unstated.add("neutral")
    meters = dict(scene.meters)
    if (
        "dmm" in meters
        and meters["dmm"].percent <= 1.0
        and "proved" not in meters["dmm"].stated
        and rng.random() < 0.25
    ):
        meters["dmm"] = replace(meters["dmm"], stated={"kind": "voltmeter"})
    return replace(scene, unstated=tuple(sorted(unstated)), meters=meters)


def _as_taken(scene: Scene, rng: np.random.Generator) -> Scene:
    """The steps where they can be taken: with the plug in, contacts are read in the opened box or at the terminals."""
    terminals = scene.site.receptacle == "hardwired" or rng.random() < 0.6
    steps = [
        replace(step, point="appliance_terminals")
        if terminals and step.kind == "voltage" and step.point == "receptacle" and step.state != "disconnected"
        else step
        for step in scene.steps
    ]
    return replace(scene, steps=tuple(dict.fromkeys(steps)))


def taken(named: Iterable[tuple[str, int, Scene]], processes: int = 2) -> list[Case]:
    """Take every visit's readings in ngspice, all in as few processes as will do.

    Parameters
    ----------
    named : iterable of (str, int, Scene)
        Situation, seed, scene.
    processes : int
        Of ngspice, side by side.
    """
    drawn = [(*case, np.random.default_rng([case[1], 77, len(case[0])])) for case in named]
    rngs = [rng for *_, rng in drawn]
    listed = [(situation, seed, _as_taken(scene, rng)) for situation, seed, scene, rng in drawn]
    asked = [
        (house_for(scene, step, rng), ask_for(step, scene.meters[step.meter]))
        for (_, _, scene), rng in zip(listed, rngs, strict=True)
        for step in scene.steps
    ]
    true = iter(read(asked, processes))
    cases = []
    for (situation, seed, scene), rng in zip(listed, rngs, strict=True):
        readings = [noted_reading(scene, step, next(true), rng) for step in scene.steps]
        request = request_of(scene, readings, f"{situation} {scene.variant} {seed}")
        cases.append(Case(situation, scene.variant, seed, scene.truth, request, scene))
    return cases
