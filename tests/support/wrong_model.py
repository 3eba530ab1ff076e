"""A house as ngspice sees it, richer than the inference's own model, to ask how the inference fares when it is wrong.

What the inference lumps is spread out here: each conductor of the run is a chain of sections with its strays and its
leakage where they lie; the service is a center-tapped transformer with coupled halves and coupled conductors, grounded
through rods of its own; loads have a power factor, and may take more or less than their share as the voltage moves.
The netlist is written straight from this description. It shares no code with the package's circuit, so that an error
there cannot hide here. Every meter gets a copy of the whole house of its own.
"""

import cmath
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from support.ngspice_oracle import ac_phasor, resistor_lines, run

CONDUCTORS = ("L1", "L2", "N", "G")
_BREAKER_OFF = 1e12  # ohm, an open air gap
_DIRECT = 1e-3  # Hz; slow enough that an ohmmeter's circuit is purely resistive
_BATCH = 4  # ngspice orders a larger matrix in more than proportional time
_ROUNDS = 200
_SETTLED = 1e-7  # relative change of a load's impedance


@dataclass(frozen=True)
class Load:
    """An impedance between two conductors, which may follow its own voltage."""

    between: tuple[str, str]
    impedance: complex
    """At `volts` [ohm]."""
    exponent: float = 0.0
    """The impedance goes with the voltage to this power: 0 a heater, about 0.5 a lamp, 2 a constant power."""
    volts: float = 120.0

    def at(self, voltage: float) -> complex:
        """Impedance at a voltage, which counts only between half and one and a half times the rated one [ohm]."""
        return self.impedance * math.pow(min(max(voltage / self.volts, 0.5), 1.5), self.exponent)


@dataclass(frozen=True)
class Shunt:
    """Capacitance and leakage between two conductors, or from one to "earth", at one place of the run."""

    between: tuple[str, str]
    capacitance: float = 0.0
    """[F]"""
    leakage: float = math.inf
    """[ohm]"""
    position: float = 1.0
    """0 at the panel, 1 at the receptacle."""


@dataclass(frozen=True)
class Joint:
    """A resistance in series with one conductor."""

    conductor: str
    resistance: float
    """[ohm]"""
    position: float = 0.5
    """0 at the panel, 1 at the receptacle."""


@dataclass(frozen=True)
class House:
    """Everything between the transformer and the appliance. Impedances at `frequency`, in ohm."""

    volts: float = 120.0
    """Each leg's open-circuit voltage to the transformer's mid-point."""
    second_leg_angle: float = 180.0
    """-120 for two phases of a wye, whose legs share no transformer core [deg]."""
    frequency: float = 60.0
    primary: complex = 0j
    """Transformer's primary side, seen from one half of the secondary; common to both halves."""
    half: complex = 0j
    """Each half of the secondary."""
    service: Mapping[str, complex] = field(default_factory=lambda: dict.fromkeys(("L1", "L2", "N"), 0.02 + 0j))
    service_mutual: float = 0.0
    """Mutual reactance between each two service conductors."""
    service_neutral_joint: float = 0.0
    pole_ground: float = 0.0
    """From the transformer's mid-point to earth; 0 is a perfect connection."""
    rod: float = math.inf
    """From the panel's neutral to earth."""
    house_loads: tuple[Load, ...] = ()
    sections: int = 6
    run: Mapping[str, complex] = field(default_factory=lambda: dict.fromkeys(CONDUCTORS, 0.05 + 0j))
    """Whole series impedance of each conductor of the run; without "G" there is no ground conductor."""
    source_of: Mapping[str, str] = field(default_factory=dict)
    """Which bar of the panel a conductor of the run starts from, where it is not its own."""
    joints: tuple[Joint, ...] = ()
    shunts: tuple[Shunt, ...] = ()
    cord: Mapping[str, complex] = field(default_factory=lambda: dict.fromkeys(CONDUCTORS, 0.01 + 0j))
    appliance: Mapping[str, tuple[Load, ...]] = field(default_factory=dict)
    """Loads at the terminals by load state; "disconnected" needs no entry."""
    appliance_shunts: tuple[Shunt, ...] = ()
    """At the terminals; positions are ignored."""
    frame_bond: float | None = None
    """From ground to neutral at the terminals, as on three-wire appliances."""


@dataclass(frozen=True)
class Ask:
    """One thing to read."""

    kind: str
    """"voltage", "current", "resistance", or "proximity", which gives the voltage to earth."""
    conductors: tuple[str, ...]
    point: str = "receptacle"
    load_state: str = "disconnected"
    impedance: complex = complex(math.inf)
    """The voltmeter's [ohm]."""


class _Deck:
    """Netlist lines of many copies of a house."""

    def __init__(self) -> None:
        self.lines = ["wrong model"]
        self.count = 0
        self.copy = 0

    def name(self) -> str:
        self.count += 1
        return f"{self.copy}x{self.count}"

    def node(self, name: str) -> str:
        return "0" if name == "earth" else f"c{self.copy}_{name}".lower()

    def resistance(self, a: str, b: str, ohms: float) -> None:
        if math.isfinite(ohms):
            self.lines += resistor_lines(self.name(), self.node(a), self.node(b), ohms)

    def inductance(self, a: str, b: str, henry: float) -> str:
        name = f"L{self.name()}"
        self.lines.append(f"{name} {self.node(a)} {self.node(b)} {henry!r}")
        return name

    def capacitance(self, a: str, b: str, farad: float) -> None:
        if farad > 0.0:
            self.lines.append(f"C{self.name()} {self.node(a)} {self.node(b)} {farad!r}")

    def sensor(self, a: str, b: str) -> str:
        name = f"V{self.name()}"
        self.lines.append(f"{name} {self.node(a)} {self.node(b)} DC 0 AC 0")
        return name

    def source(self, a: str, b: str, phasor: complex) -> None:
        self.lines.append(f"V{self.name()} {self.node(a)} {self.node(b)} DC 0 {ac_phasor(phasor)}")

    def series(self, a: str, b: str, ohms: complex, frequency: float) -> str | None:
        """Resistance, then inductance or capacitance; returns the inductor's name where there is one."""
        middle, omega = f"{a}_{b}_{self.count}", 2.0 * math.pi * frequency
        if ohms.imag == 0.0:
            if ohms.real == 0.0:
                self.sensor(a, b)
            else:
                self.resistance(a, b, ohms.real)
            return None
        if ohms.real != 0.0:
            self.resistance(a, middle, ohms.real)
        else:
            middle = a
        if ohms.imag > 0.0:
            return self.inductance(middle, b, ohms.imag / omega)
        self.capacitance(middle, b, -1.0 / (omega * ohms.imag))
        return None


def _bar(conductor: str) -> str:
    return "panel_n" if conductor in {"N", "G"} else f"panel_{conductor}"


def _transformer(deck: _Deck, house: House, scale: float) -> None:
    """Secondary terminals sec_L1, sec_L2 and the mid-point sec_N."""
    if house.pole_ground > 0.0:
        deck.resistance("sec_N", "earth", house.pole_ground)
    else:
        deck.sensor("sec_N", "earth")
    volts, f = house.volts * scale, house.frequency
    if house.second_leg_angle != 180.0:
        angle = math.radians(house.second_leg_angle)
        for leg, phasor in (("L1", complex(volts)), ("L2", cmath.rect(volts, angle))):
            deck.source(f"emf_{leg}", "sec_N", phasor)
            deck.series(f"emf_{leg}", f"sec_{leg}", house.primary + house.half, f)
        return
    deck.source("primary", "earth", complex(volts))
    deck.series("primary", "core", house.primary, f)
    first, second = deck.sensor("wound_1", "emf_L1"), deck.sensor("emf_L2", "wound_2")
    core, mid = deck.node("core"), deck.node("sec_N")
    deck.lines += [
        f"E{deck.name()} {deck.node('wound_1')} {mid} {core} 0 1",
        f"E{deck.name()} {mid} {deck.node('wound_2')} {core} 0 1",
        f"F{deck.name()} {core} 0 {first} 1",
        f"F{deck.name()} {core} 0 {second} 1",
    ]
    for leg in ("L1", "L2"):
        deck.series(f"emf_{leg}", f"sec_{leg}", house.half, f)


def _service(deck: _Deck, house: House) -> None:
    """Service drop from the secondary to the panel's bars, and the panel's rod."""
    inductors: list[tuple[str, float]] = []
    for c, ohms in house.service.items():
        end = "drop_n" if c == "N" else _bar(c)
        name = deck.series(f"sec_{c}", end, ohms, house.frequency)
        if name is not None:
            inductors.append((name, ohms.imag))
    if house.service_mutual > 0.0:
        for i, (first, x) in enumerate(inductors):
            for second, y in inductors[i + 1 :]:
                deck.lines.append(f"K{deck.name()} {first} {second} {house.service_mutual / math.sqrt(x * y)!r}")
    deck.series("drop_n", "panel_n", complex(house.service_neutral_joint), house.frequency)
    deck.resistance("panel_n", "earth", house.rod)


def _run(deck: _Deck, house: House, *, isolated: bool) -> dict[str, str]:
    """The branch circuit; returns the sensor of each conductor at the panel."""
    sensors = {}
    last = house.sections
    for c, whole in house.run.items():
        start = _bar(house.source_of.get(c, c))
        if isolated and start != "panel_n":
            deck.resistance(start, f"breaker_{c}", _BREAKER_OFF)
            start = f"breaker_{c}"
        sensors[c] = deck.sensor(start, f"run_{c}_0")
        for k in range(last):
            extra = sum(
                j.resistance for j in house.joints if j.conductor == c and min(int(j.position * last), last - 1) == k
            )
            deck.series(f"run_{c}_{k}", f"run_{c}_{k + 1}", whole / last + extra, house.frequency)
    for shunt in house.shunts:
        _shunt(deck, house, shunt, "run_{}_" + str(round(shunt.position * last)))
    return sensors


def _shunt(deck: _Deck, house: House, shunt: Shunt, place: str) -> None:
    if set(shunt.between) <= {*house.run, "earth"}:
        a, b = (c if c == "earth" else place.format(c) for c in shunt.between)
        deck.capacitance(a, b, shunt.capacitance)
        deck.resistance(a, b, shunt.leakage)


def _place(house: House, point: str, conductor: str) -> str:
    """The node where a meter's lead touches."""
    if conductor not in house.run:
        raise ValueError(f"this house has no conductor {conductor}")
    if point == "service_panel":
        return _bar(conductor)
    return f"run_{conductor}_{house.sections}" if point == "receptacle" else f"term_{conductor}"


@dataclass(frozen=True)
class _Copy:
    """Where to find a copy's results."""

    following: dict[int, tuple[str, str]]
    """Nodes of each load that follows its voltage."""
    value: tuple[str, ...]
    """Node or two nodes of a voltage, or the sensor of a current."""


def _add_house(deck: _Deck, house: House, ask: Ask, impedances: Mapping[int, complex]) -> _Copy:
    """One copy of the house with one meter in it."""
    isolated = ask.kind == "resistance"
    _transformer(deck, house, 0.0 if isolated else 1.0)
    _service(deck, house)
    sensors = {"service_panel": _run(deck, house, isolated=isolated), "receptacle": {}}
    connected = ask.load_state != "disconnected"
    loads: list[tuple[Load, str, str]] = [(x, _bar(x.between[0]), _bar(x.between[1])) for x in house.house_loads]
    if connected:
        for c in house.run:
            sensors["receptacle"][c] = deck.sensor(f"run_{c}_{house.sections}", f"cord_{c}")
            deck.series(f"cord_{c}", f"term_{c}", house.cord[c], house.frequency)
        for shunt in house.appliance_shunts:
            _shunt(deck, house, shunt, "term_{}")
        if house.frame_bond is not None and "G" in house.run:
            deck.resistance("term_G", "term_N", house.frame_bond)
        loads += [(x, f"term_{x.between[0]}", f"term_{x.between[1]}") for x in house.appliance[ask.load_state]]
    following = {}
    for number, (load, a, b) in enumerate(loads):
        deck.series(a, b, impedances.get(number, load.impedance), house.frequency)
        if load.exponent != 0.0 and not isolated:
            following[number] = (deck.node(a), deck.node(b))
    return _Copy(following, _add_meter(deck, house, ask, sensors, connected=connected))


def _add_meter(
    deck: _Deck, house: House, ask: Ask, sensors: Mapping[str, Mapping[str, str]], *, connected: bool
) -> tuple[str, ...]:
    if ask.point == "appliance_terminals" and not connected:
        raise ValueError("nothing is connected, so there are no terminals to read at")
    if ask.kind == "current":
        (conductor,) = ask.conductors
        where = "service_panel" if ask.point == "service_panel" else "receptacle"
        return (sensors[where].get(conductor, ""),)
    places = tuple(_place(house, ask.point, c) for c in ask.conductors)
    if ask.kind == "voltage" and cmath.isfinite(ask.impedance):
        admittance = 1.0 / ask.impedance
        a, b = places
        deck.resistance(a, b, 1.0 / admittance.real)
        deck.capacitance(a, b, admittance.imag / (2.0 * math.pi * house.frequency))
    if ask.kind == "resistance":
        deck.lines.append(f"I{deck.name()} {deck.node(places[1])} {deck.node(places[0])} DC 0 AC 1")
    return tuple(deck.node(place) for place in places)


def _difference(found: Mapping[str, complex], nodes: Sequence[str]) -> float:
    ends = [0j if node == "0" else found[f"v({node})"] for node in nodes]
    return abs(ends[0] - (ends[1] if len(ends) > 1 else 0j))


def _solved(
    house: House, asks: Sequence[Ask], frequency: float, start: Mapping[str, Mapping[int, complex]]
) -> tuple[list[float], list[dict[int, complex]]]:
    """Values read, and the impedances that the loads have settled at, in each copy."""
    impedances = [dict(start.get(ask.load_state, {})) for ask in asks]
    weight, before = 1.0, math.inf
    for _ in range(_ROUNDS):
        deck, copies = _Deck(), []
        for number, ask in enumerate(asks):
            deck.copy = number
            copies.append(_add_house(deck, house, ask, impedances[number]))
        found = run("\n".join(deck.lines), f"ac lin 1 {frequency!r} {frequency!r}")
        moved = 0.0
        for ask, copy, values in zip(asks, copies, impedances, strict=True):
            loads = (*house.house_loads, *house.appliance.get(ask.load_state, ()))
            for number, nodes in copy.following.items():
                last = values.get(number, loads[number].impedance)
                step = loads[number].at(_difference(found, nodes)) - last
                values[number] = last + weight * step
                moved = max(moved, abs(step / last))
        if moved < _SETTLED:
            values_read = [_value(found, ask, copy) for ask, copy in zip(asks, copies, strict=True)]
            return values_read, impedances
        if moved > 0.95 * before:  # a constant power behind a high impedance swings unless it is slowed
            weight = max(0.5 * weight, 0.1)
        before = moved
    raise RuntimeError("the loads did not settle")


def _value(found: Mapping[str, complex], ask: Ask, copy: _Copy) -> float:
    if ask.kind == "current":
        return abs(found[f"i({copy.value[0].lower()})"]) if copy.value[0] else 0.0
    return _difference(found, copy.value)


def read(house: House, asks: Sequence[Ask]) -> list[float]:
    """What ideal displays would show, each meter connected alone.

    Parameters
    ----------
    house : House
        The circuit.
    asks : sequence of Ask
        What to read.

    Returns
    -------
    list of float
        Voltages [V], currents [A], resistances [ohm], and for "proximity" the voltage to earth [V].

    Raises
    ------
    ValueError
        If an ask names a conductor that the house lacks, or terminals while nothing is connected.
    KeyError
        If it names a load state that the house lacks.
    RuntimeError
        If loads that follow their voltage find no balance.
    """
    results = [math.nan] * len(asks)
    start: dict[str, dict[int, complex]] = {}
    for state in sorted({ask.load_state for ask in asks if ask.kind != "resistance"}):
        # Without any meter first: from there a meter moves the loads only a little.
        _, settled = _solved(house, [Ask("proximity", ("N",), "service_panel", state)], house.frequency, {})
        start[state] = settled[0]
    for direct in (False, True):
        chosen = [k for k, ask in enumerate(asks) if (ask.kind == "resistance") is direct]
        for batch in (chosen[k : k + _BATCH] for k in range(0, len(chosen), _BATCH)):
            frequency = _DIRECT if direct else house.frequency
            values, _ = _solved(house, [asks[k] for k in batch], frequency, start)
            for k, value in zip(batch, values, strict=True):
                results[k] = value
    return results


def lumped(house: House) -> House:
    """The same house in the inference's picture: one section, all strays at the receptacle, no coupling."""
    return replace(
        house,
        sections=1,
        service_mutual=0.0,
        shunts=tuple(replace(shunt, position=1.0) for shunt in house.shunts),
        house_loads=tuple(replace(load, exponent=0.0) for load in house.house_loads),
        appliance={s: tuple(replace(x, exponent=0.0) for x in loads) for s, loads in house.appliance.items()},
    )
