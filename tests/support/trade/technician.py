"""A technician at a hidden circuit, who takes one more reading when asked to.

He has only certain meters, cannot reach certain points, and now and then writes down a wrong figure. A reading that
cannot be taken comes back with a reason and without a value: a plug covers the outlet's contacts, there is no such
conductor.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, product
from typing import Any

import numpy as np

from support.trade import notes
from support.trade.house import House, Load
from support.trade.netlist import read
from support.trade.observing import seen
from support.trade.parts import kit
from support.trade.scene import Scene, Step, ask_for, house_for, noted_reading, request_of

_APART = 0.15
"""Readings of the same that differ by more than this share are two circuits' [1]."""
_LEAST = {"voltage": 0.5, "current": 0.05, "resistance": 0.1, "proximity": 0.5}
"""Nobody notes less: half of the last digit of a usual meter [V, A, ohm]."""
POINTS = ("service_panel", "sub_panel", "receptacle", "appliance_terminals")


@dataclass(frozen=True)
class Taken:
    """What came of a request for a reading."""

    reading: dict[str, Any] | None
    """As a request has it, value included; None where it could not be taken."""
    why_not: str = ""
    wrong: bool = False
    """The value was written down wrongly."""


@dataclass
class Technician:
    """One visit in progress.

    Parameters
    ----------
    scene : Scene
        The hidden circuit; its own steps play no part.
    seed : int
        Of all that is random in this visit.
    meters : sequence of str
        Names of the instruments at hand: dmm, loz, pen, clamp, ohms, tester.
    unreachable : frozenset of str
        Points that he cannot get at.
    mistypes : float
        Share of values that are written down wrongly.
    """

    scene: Scene
    seed: int
    meters: tuple[str, ...] = ("dmm", "loz")
    unreachable: frozenset[str] = frozenset()
    mistypes: float = 0.0
    taken: list[dict[str, Any]] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    forbidden: list[str] = field(default_factory=list)
    observed: list[Any] = field(default_factory=list)
    states: dict[str, dict[str, Any]] = field(default_factory=dict)
    met: bool = False
    """Whether a reading was another than it had been with the house's intermittent joint holding."""

    def __post_init__(self) -> None:
        self._rng = np.random.default_rng([self.seed, 4096])
        own = {name: self.scene.meters.get(name) or kit(self._rng, name)[name] for name in self.meters}
        self.scene = replace(self.scene, meters=own)

    def take(self, wanted: Mapping[str, Any], load_state: Mapping[str, Any] | None = None) -> Taken:
        """Take one more reading.

        Parameters
        ----------
        wanted : mapping
            A reading in the request's shape, without its value.
        load_state : mapping or None
            The load state as a request would define it, where it is not one of the site's own.
        """
        return self.take_many([wanted], load_state)[0]

    def take_many(
        self, wanted: Sequence[Mapping[str, Any]], load_state: Mapping[str, Any] | None = None
    ) -> list[Taken]:
        """Take readings one after the other, all in one run of ngspice."""
        steps = [self._step(one, load_state) for one in wanted]
        there = [step for step in steps if isinstance(step, Step)]
        asked = [(house_for(self.scene, x, self._rng), ask_for(x, self.scene.meters[x.meter])) for x in there]
        values = read(asked)
        self.met = self.met or self._differ(there, values)
        true = iter(values)
        return [
            Taken(None, step) if isinstance(step, str) else self._noted(step, next(true), one.get("repeats"))
            for one, step in zip(wanted, steps, strict=True)
        ]

    def _differ(self, steps: Sequence[Step], values: Sequence[float]) -> bool:
        """Whether any would have read otherwise with the intermittent joint holding; behind an element it may not."""
        own = [(step, value) for step, value in zip(steps, values, strict=True) if step.joints]
        if self.scene.sound_sometimes is None or not own:
            return False
        held = [(self.scene.sound_sometimes, ask_for(step, self.scene.meters[step.meter])) for step, _ in own]
        return any(
            abs(value - other) > max(_APART * max(value, other), _LEAST[step.kind])
            for (step, value), other in zip(own, read(held), strict=True)
        )

    def _step(self, wanted: Mapping[str, Any], load_state: Mapping[str, Any] | None) -> Step | str:
        """What to do, or why it cannot be done."""
        state, point = str(wanted["load_state"]), str(wanted.get("point", "receptacle"))
        at = ("sub_panel" if self.scene.site.house.feeder else "service_panel") if point == "panel" else point
        why = self._obstacle(wanted, at, state, self._with_state(state, load_state))
        if why:
            self.refused.append(why)
            return why
        conductors = tuple(wanted["between"]) if "between" in wanted else (wanted.get("through") or wanted["at"],)
        # An intermittent joint holds half of the time.
        holds = self.scene.sound_sometimes is not None and bool(self._rng.random() < 0.5)
        said = point if point != at else None
        return Step(str(wanted["kind"]), conductors, str(wanted["meter"]), state, at, said, joints=not holds)

    def _noted(self, step: Step, true: float, repeats: object) -> Taken:
        reading = noted_reading(self.scene, step, true, self._rng) | {"id": f"r{len(self.taken) + 1}"}
        if repeats is not None:
            reading["repeats"] = repeats
        wrong = step.kind in {"voltage", "current"} and bool(self._rng.random() < self.mistypes)
        if wrong:
            reading["value"] = notes.mistyped(reading["value"], self._rng)
        self.taken.append(reading)
        return Taken(reading, wrong=wrong)

    def observe(self, code: str) -> bool | None:
        """Whether he sees what is asked for; None: he cannot tell. Noted where he does."""
        answer = seen(self.scene, code, self._rng)
        if answer is True:
            where = "same_panel" if self.scene.site.house.feeder else "whole_building"
            self.observed.append({"code": code, "where": where} if code == "lights_brighten_and_dim" else code)
        return answer

    def request(self) -> dict[str, Any]:
        """All readings so far as a request."""
        scene = replace(self.scene, observations=tuple(self.observed), states={**self.scene.states, **self.states})
        return request_of(scene, self.taken, f"visit to {self.scene.variant} {self.seed}")

    def take_all(self, states: Sequence[str] = ("disconnected", "idle", "running")) -> None:
        """Take every voltage that the meters, the points and the conductors permit, and every current by clamp."""
        wanted: list[dict[str, Any]] = []
        for state, point, name in product(states, POINTS, self.meters):
            base = {"meter": name, "load_state": state, "point": point}
            if self.scene.meters[name].kind == "voltmeter":
                pairs = combinations(("L1", "L2", "N", "G"), 2)
                wanted += [base | {"kind": "voltage", "between": list(pair)} for pair in pairs]
            elif self.scene.meters[name].kind == "clamp_ammeter" and state == "running":
                wanted += [base | {"kind": "current", "through": c} for c in ("L1", "L2", "N", "G")]
        self.take_many(wanted)

    def _with_state(self, state: str, definition: Mapping[str, Any] | None) -> House:
        """The house where the load state that is asked for can be made."""
        house = self.scene.site.house
        given = definition or self.states.get(state) or self.scene.states.get(state)
        if state == "disconnected" or state in house.states or given is None:
            return house
        self.states[state] = {k: v for k, v in given.items() if k in {"kind", "loads"}}
        if given["kind"] == "disconnected":
            return house
        own = house.states.get(str(given["kind"]), ())
        loads = tuple(_load(entry, self._rng) for entry in given.get("loads") or ()) or own
        house = replace(house, states={**house.states, state: loads})
        sometimes = self.scene.sound_sometimes and replace(self.scene.sound_sometimes, states=house.states)
        self.scene = replace(self.scene, site=replace(self.scene.site, house=house), sound_sometimes=sometimes)
        return house

    def _obstacle(self, wanted: Mapping[str, Any], point: str, state: str, house: House) -> str:
        run, connected = house.run, state in house.states
        if wanted["meter"] not in self.scene.meters:
            return f"no meter {wanted['meter']}"
        if point in self.unreachable:
            return f"cannot reach the {point}"
        if point == "sub_panel" and house.feeder is None:
            return "there is no sub-panel"
        if point == "appliance_terminals" and not connected:
            return "nothing is connected"
        touched = wanted["kind"] in {"voltage", "proximity"}
        if touched and point == "receptacle" and connected and self.scene.site.receptacle != "hardwired":
            return "the plug covers the contacts"
        if wanted["kind"] == "resistance" and wanted.get("supply") != "isolated":
            return "resistance only on an isolated circuit"
        names = set(wanted.get("between") or (wanted.get("through") or wanted.get("at"),))
        there = {"L1", "L2", "N", "G"} if touched and point in {"service_panel", "sub_panel"} else set(run.conductors)
        if run.metalwork is not None:
            there.add("metalwork")
        if not names <= there:
            return f"no {'-'.join(sorted(names - there))} at the {point}"
        return ""


_PREFIX = {"k": 1e3, "M": 1e6, "m": 1e-3}


def quantity(given: Any) -> float:
    """A number, or a string with a unit, in the plain unit."""
    if not isinstance(given, str):
        return float(given)
    digits = given.rstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZΩ %")
    unit = given[len(digits) :].strip()
    return float(digits) * (_PREFIX.get(unit[0], 1.0) if len(unit) > 1 and unit not in {"ohm", "ohms"} else 1.0)


def _load(entry: Mapping[str, Any], rng: np.random.Generator) -> Load:
    a, b = entry["between"]
    if entry.get("resistance") is not None:
        ohms = complex(quantity(entry["resistance"]), quantity(entry.get("reactance") or 0.0))
    else:
        usual = 240.0 if {a, b} == {"L1", "L2"} else 120.0
        ohms = complex(quantity(entry.get("voltage") or usual) ** 2 / quantity(entry["power"]))
    return Load(a, b, ohms * float(rng.uniform(0.97, 1.03)))
