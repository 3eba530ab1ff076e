"""From a house and one meter to a netlist. Shares no line with the service's circuit.

Nodes: x_ transformer, m_ bars of the service panel, s_ bars of the sub-panel, r<k>_ along the run, o_ outlet contacts,
t_ terminals, each followed by the conductor; 0 is remote earth.
"""

from collections.abc import Sequence
from itertools import combinations

from support.trade.house import LEGS, OPEN, Ask, House, Load
from support.trade.spice import Deck, solve

_SMALL = 1e-3  # ohm: a breaker's contact, a bonding screw, a receptacle's contact
_DIRECT = 1e-3  # Hz: slow enough for an ohmmeter


class _Builder:
    """A deck in the making, and the one branch that an ammeter may be in."""

    def __init__(self, deck: Deck, clamp: str) -> None:
        self.deck, self.clamp = deck, clamp

    def path(self, name: str, a: str, b: str, ohms: float) -> None:
        """A series resistance; round it the clamp, where it was asked for."""
        if name == self.clamp:
            self.deck.source("clamp", a, "clamped", 0.0)
            a = "clamped"
        self.deck.resistor(a, b, ohms)


def deck_for(house: House, ask: Ask) -> Deck:
    """Netlist of the house with one meter in it.

    Raises
    ------
    ValueError
        If the ask names a place that is not there.
    """
    dead = ask.kind == "resistance"
    deck = Deck(frequency=_DIRECT if dead else house.frequency)
    connected = ask.state in house.states
    clamp = f"{ask.point} {ask.conductors[0]}" if ask.kind == "current" else ""
    build = _Builder(deck, clamp)
    _source(deck, house, 0.0 if dead else 1.0)
    for c in ("L1", "L2", "N"):
        deck.resistor(f"x_{c}", f"m_{c}", house.service + house.joint("service", c))
    deck.resistor("m_G", "0", house.electrode)
    deck.resistor("m_N", "m_G", _SMALL if house.bonded else OPEN)
    _loads(deck, house.loads, "m_")
    bars = "m_"
    if house.feeder is not None:
        bars = "s_"
        _feeder(build, house)
    _run(build, house, bars, off=dead or ask.breaker_off)
    _outlet(build, house)
    if connected:
        _appliance(build, house, house.states[ask.state])
    _meter(deck, house, ask, connected=connected)
    return deck


def _source(deck: Deck, house: House, scale: float) -> None:
    s = house.source
    deck.resistor("x_N", "0", s.pole_ground)
    if s.kind == "split_phase" or (s.kind == "generator" and s.second_volts is None):
        # Two halves on one core: ideal transformers 1:1 from a common primary, whose currents add there.
        deck.source("emf", "e", "0", s.volts * scale)
        deck.impedance("e", "core", s.primary)
        deck.lines += ["E1 h1 x_N core 0 1", "E2 x_N h2 core 0 1", "F1 core 0 Vs1 1", "F2 core 0 Vs2 1"]
        deck.lines += ["Vs1 h1 g1 DC 0 AC 0", "Vs2 g2 h2 DC 0 AC 0"]
        deck.impedance("g1", "x_L1", s.half)
        deck.impedance("g2", "x_L2", s.half)
        return
    second = s.volts if s.second_volts is None else s.second_volts
    for leg, volts, degrees in (("L1", s.volts, 0.0), ("L2", second, s.degrees)):
        deck.source(f"emf{leg}", f"e{leg}", "x_N", volts * scale, degrees)
        deck.impedance(f"e{leg}", f"x_{leg}", s.primary + s.half)


def _loads(deck: Deck, loads: tuple[Load, ...], where: str) -> None:
    for load in loads:
        deck.impedance(where + load.a, where + load.b, load.ohms)


def _feeder(build: _Builder, house: House) -> None:
    feeder, deck = house.feeder, build.deck
    assert feeder is not None
    for c in ("L1", "L2", "N"):
        build.path(f"service_panel {c}", f"m_{c}", f"s_{c}", feeder.ohms + house.joint("feeder", c))
    if feeder.bonded:
        deck.resistor("s_N", "s_G", _SMALL)
        deck.resistor("s_G", "0", feeder.rod)
    else:
        build.path("service_panel G", "m_G", "s_G", feeder.ohms + house.joint("feeder", "G"))
    _loads(deck, feeder.loads, "s_")


def _run(build: _Builder, house: House, bars: str, *, off: bool) -> None:
    """Wires of the run, strays spread over their nodes; a clamp is named by the contact that its wire lands on."""
    run, deck = house.run, build.deck
    contact_of = {run.landed.get(c, c): c for c in run.conductors}
    panel = "service_panel" if house.feeder is None else "sub_panel"
    ground = run.ohms if run.ground_ohms is None else run.ground_ohms
    for c in run.conductors:
        bar = bars + run.bar.get(c, c)
        lifted = c in run.lifted or (off and c in LEGS)
        build.path(f"{panel} {contact_of.get(c, c)}", bar, f"r0_{c}", OPEN if lifted else _SMALL)
        for k in range(run.sections):
            extra = sum(
                j.ohms
                for j in house.joints
                if j.section == "branch"
                and j.conductor == c
                and min(int(j.position * run.sections), run.sections - 1) == k
            )
            deck.resistor(f"r{k}_{c}", f"r{k + 1}_{c}", (ground if c == "G" else run.ohms) / run.sections + extra)
    # A break sits at the start of its section, so what floats beyond it is the strays of the nodes k + 1 onwards.
    for (a, b), farads in run.farads.items():
        if a in run.conductors and b in run.conductors:
            for k in range(1, run.sections + 1):
                deck.capacitor(f"r{k}_{a}", f"r{k}_{b}", farads / run.sections)


def _outlet(build: _Builder, house: House) -> None:
    run, deck = house.run, build.deck
    last = f"r{run.sections}_"
    for c in run.conductors:
        build.path(f"receptacle {c}", last + run.landed.get(c, c), f"o_{c}", _SMALL + house.joint("contact", c))
    for a, b in combinations(run.conductors, 2):
        deck.capacitor(f"o_{a}", f"o_{b}", run.contact_farads)
    for (a, b), ohms in run.leakage.items():
        if a in run.conductors and b in run.conductors:
            deck.resistor(f"o_{a}", f"o_{b}", ohms)
    if run.jumper is not None:
        deck.resistor("o_N", "o_G", run.jumper)
    if run.metalwork is not None:
        deck.resistor("metalwork", "m_G", run.metalwork)
        deck.capacitor("metalwork", "0", 50e-12)


def _appliance(build: _Builder, house: House, loads: tuple[Load, ...]) -> None:
    run, cord, deck = house.run, house.cord, build.deck
    for c in run.conductors:
        build.path(
            f"appliance_terminals {c}",
            f"o_{cord.landed.get(c, c)}",
            f"t_{c}",
            cord.ohms + _SMALL + house.joint("cord", c),
        )
    for a, b in combinations(run.conductors, 2):
        deck.capacitor(f"t_{a}", f"t_{b}", cord.farads)
    if cord.strap is not None and {"N", "G"} <= set(run.conductors):
        deck.resistor("t_N", "t_G", cord.strap)
    _loads(deck, loads, "t_")


def _node(house: House, ask: Ask, conductor: str, *, connected: bool) -> str:
    if conductor == "metalwork":
        if house.run.metalwork is None:
            raise ValueError("no metalwork can be reached in this house")
        return "metalwork"
    if ask.point == "service_panel":
        return f"m_{conductor}"
    if ask.point == "sub_panel":
        if house.feeder is None:
            raise ValueError("this house has no sub-panel")
        return f"s_{conductor}"
    if conductor not in house.run.conductors:
        raise ValueError(f"this outlet has no {conductor}")
    if ask.point == "appliance_terminals":
        if not connected:
            raise ValueError("nothing is connected, so there are no terminals to read at")
        return f"t_{conductor}"
    return f"o_{conductor}"


def _meter(deck: Deck, house: House, ask: Ask, *, connected: bool) -> None:
    if ask.kind == "current":
        deck.wanted = "i(vclamp)"
        if not any(line.startswith("Vclamp ") for line in deck.lines):
            raise ValueError(f"no wire {ask.conductors[0]} at the {ask.point} to put a clamp round")
        return
    nodes = [_node(house, ask, c, connected=connected) for c in ask.conductors]
    if ask.kind == "to_earth":
        deck.wanted = f"v({nodes[0]})"
        return
    if ask.kind in {"to_source", "to_ground_bar"}:
        deck.wanted = f"v({nodes[0]})-v({'x_N' if ask.kind == 'to_source' else 'm_G'})"
        return
    a, b = nodes
    deck.wanted = f"v({a})-v({b})"
    if ask.kind == "resistance":
        deck.lines.append(f"Iohm {b} {a} DC 0 AC 1")
        deck.resistor(a, b, 1e11)
        return
    deck.resistor(a, b, ask.meter.ohms)
    deck.capacitor(a, b, ask.meter.farads)


def read(pairs: Sequence[tuple[House, Ask]], processes: int = 2) -> list[float]:
    """True magnitudes, each meter connected alone: V, A, or ohm."""
    return [abs(value) for value in solve([deck_for(house, ask) for house, ask in pairs], processes)]
