"""The richer houses in ngspice, checked before they judge anything.

`support.wrong_model` writes its netlists from a description of its own. Here the same houses are built once more with
the package's own network and solved by the reference solver, so that a slip in either shows. What a linear solver
cannot follow, loads that depend on their voltage, is checked against its closed form.
"""

import cmath
import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from support.network import (
    Branch,
    FixedVoltage,
    Network,
    Node,
    capacitor,
    coupled_branches,
    impedance,
    resistor,
)
from support.solver import driving_point_impedance, thevenin, voltmeter_reading
from support.wrong_cases import FAULTS, Display, draw_case
from support.wrong_model import CONDUCTORS, Ask, House, Load, Shunt, lumped, read

EARTH: Node = ("earth", "G")
MIDPOINT: Node = ("source", "N")
DMM = 1.0 / complex(1.0 / 10e6, 2.0 * math.pi * 60.0 * 100e-12)
LOW_IMPEDANCE = 3e3 + 0j


def bar(conductor: str) -> Node:
    return ("panel", "N" if conductor == "G" else conductor)


def loaded(start: Node, end: Node, ohms: complex) -> Branch:
    return impedance(start, end, ohms.real, ohms.imag)


def shunted(shunts: tuple[Shunt, ...], place: str, house: House) -> list[Branch]:
    """Strays at a place, "run {k}" or "terminals"."""
    branches = []
    for shunt in shunts:
        if set(shunt.between) <= {*house.run, "earth"}:
            at = place.format(k=round(shunt.position * house.sections))
            a, b = (EARTH if c == "earth" else (at, c) for c in shunt.between)
            branches += [capacitor(a, b, shunt.capacitance, house.frequency), resistor(a, b, shunt.leakage)]
    return branches


def linear_network(house: House, load_state: str) -> Network:
    """A house whose loads do not follow their voltage, as the package's circuit sees it."""
    both = house.primary + house.half
    coupled = -house.primary if house.second_leg_angle == 180.0 else 0j
    windings = np.array([[both, coupled], [coupled, both]])
    mutual = 1j * house.service_mutual
    service = np.array([[house.service[a] if a == b else mutual for b in ("L1", "L2", "N")] for a in ("L1", "L2", "N")])
    emf = (("emf", "L1"), ("emf", "L2"))
    secondary = (("secondary", "L1"), ("secondary", "L2"))
    drop = ("drop", "N")
    branches = [
        *coupled_branches(tuple(zip(emf, secondary, strict=True)), windings),
        *coupled_branches(((secondary[0], bar("L1")), (secondary[1], bar("L2")), (MIDPOINT, drop)), service),
        resistor(drop, bar("N"), house.service_neutral_joint or 1e-9),
        resistor(MIDPOINT, EARTH, house.pole_ground or 1e-9),
        resistor(bar("N"), EARTH, house.rod),
    ]
    branches += [loaded(bar(x.between[0]), bar(x.between[1]), x.impedance) for x in house.house_loads]
    for c, whole in house.run.items():
        for k in range(house.sections):
            start = bar(house.source_of.get(c, c)) if k == 0 else (f"run {k}", c)
            joints = sum(
                j.resistance
                for j in house.joints
                if j.conductor == c and min(int(j.position * house.sections), house.sections - 1) == k
            )
            branches.append(loaded(start, (f"run {k + 1}", c), whole / house.sections + joints))
    at_panel = tuple(s for s in house.shunts if round(s.position * house.sections) == 0)
    along = tuple(s for s in house.shunts if s not in at_panel)
    branches += shunted(along, "run {k}", house)
    for shunt in at_panel:
        a, b = (EARTH if c == "earth" else bar(house.source_of.get(c, c)) for c in shunt.between)
        if a != b:
            branches += [capacitor(a, b, shunt.capacitance, house.frequency), resistor(a, b, shunt.leakage)]
    if load_state != "disconnected":
        outlet = f"run {house.sections}"
        branches += [
            impedance((outlet, c), ("terminals", c), house.cord[c].real, house.cord[c].imag) for c in house.run
        ]
        branches += shunted(house.appliance_shunts, "terminals", house)
        if house.frame_bond is not None:
            branches.append(resistor(("terminals", "G"), ("terminals", "N"), house.frame_bond))
        for load in house.appliance[load_state]:
            a, b = (("terminals", c) for c in load.between)
            branches.append(loaded(a, b, load.impedance))
    return Network(
        branches=tuple(branches),
        fixed=(
            FixedVoltage(MIDPOINT, 0j),
            FixedVoltage(emf[0], complex(house.volts)),
            FixedVoltage(emf[1], cmath.rect(house.volts, math.radians(house.second_leg_angle))),
        ),
    )


def place(house: House, ask: Ask, conductor: str) -> Node:
    """Where a lead touches."""
    if ask.point == "service_panel":
        return bar(conductor)
    return (f"run {house.sections}" if ask.point == "receptacle" else "terminals", conductor)


def ours(house: House, ask: Ask) -> float:
    network = linear_network(house, ask.load_state)
    if ask.kind == "proximity":
        return abs(thevenin(network, (place(house, ask, ask.conductors[0]), EARTH)).voltage)
    a, b = (place(house, ask, c) for c in ask.conductors)
    return voltmeter_reading(thevenin(network, (a, b)), ask.impedance)


def asks(house: House) -> list[Ask]:
    conductors = tuple(c for c in CONDUCTORS if c in house.run)
    found = [
        Ask("voltage", pair, point, state, meter)
        for state, point in (
            ("disconnected", "receptacle"),
            ("idle", "appliance_terminals"),
            ("running", "receptacle"),
            ("running", "service_panel"),
        )
        for meter in (DMM, LOW_IMPEDANCE)
        for pair in itertools.combinations(conductors, 2)
        if not (point == "service_panel" and set(pair) == {"N", "G"})
    ]
    return [*found, *(Ask("proximity", (c,), "receptacle", "idle") for c in conductors)]


def linear(house: House) -> House:
    """The same house with loads that keep their impedance."""
    return replace(
        house,
        house_loads=tuple(replace(x, exponent=0.0) for x in house.house_loads),
        appliance={s: tuple(replace(x, exponent=0.0) for x in loads) for s, loads in house.appliance.items()},
    )


@pytest.mark.parametrize(("fault", "conductor"), FAULTS)
def test_strays_set_to_the_lumped_picture_agree_with_the_reference_solver(fault: str, conductor: str | None) -> None:
    house = lumped(draw_case(fault, conductor, seed=1).house)
    assert house.sections == 1
    wanted = asks(house)
    for ask, judged in zip(wanted, read(house, wanted), strict=True):
        assert ours(house, ask) == pytest.approx(judged, rel=1e-6, abs=1e-8), ask


@pytest.mark.parametrize(("fault", "conductor"), FAULTS)
def test_the_whole_of_a_linear_house_agrees_with_the_reference_solver(fault: str, conductor: str | None) -> None:
    house = linear(draw_case(fault, conductor, seed=2).house)
    assert house.sections >= 5
    assert house.service_mutual > 0.0
    wanted = asks(house)
    for ask, judged in zip(wanted, read(house, wanted), strict=True):
        assert ours(house, ask) == pytest.approx(judged, rel=1e-6, abs=1e-8), ask


def test_lumping_changes_what_is_read() -> None:
    """The control: were the two pictures the same, the richer one would be no test of the inference."""
    house = draw_case("open_neutral", "N", seed=3, ground=True).house
    ask = [Ask("voltage", ("N", "G"), "receptacle", "disconnected", DMM)]
    rich, plain = read(house, ask)[0], read(lumped(house), ask)[0]
    assert abs(rich - plain) > 0.01 * rich


# Constant power P behind a resistance R: V = (E + sqrt(E^2 - 4 R P)) / 2, from V^2 - E V + R P = 0.
@pytest.mark.parametrize("meter", [complex(math.inf), DMM])
@pytest.mark.parametrize("series", [0.5, 2.0])
def test_a_constant_power_load_settles_at_its_closed_form(series: float, meter: complex) -> None:
    watts = 1500.0
    service = {"L1": complex(series), "L2": 0.01 + 0j, "N": 1e-6 + 0j}
    load = Load(between=("L1", "N"), impedance=complex(120.0**2 / watts), exponent=2.0)
    house = House(volts=120.0, service=service, house_loads=(load,), run=dict.fromkeys(CONDUCTORS, 0.001 + 0j))
    expected = (120.0 + math.sqrt(120.0**2 - 4.0 * series * watts)) / 2.0
    assert expected > 60.0
    found = read(house, [Ask("voltage", ("L1", "N"), "service_panel", "disconnected", meter)])[0]
    assert found == pytest.approx(expected, rel=1e-5)


def test_a_clamp_and_an_ohmmeter_see_what_they_should() -> None:
    element = Load(between=("L1", "L2"), impedance=24.0 + 0j, volts=240.0)
    house = House(
        service=dict.fromkeys(("L1", "L2", "N"), 1e-6 + 0j),
        run=dict.fromkeys(CONDUCTORS, 0.2 + 0j),
        cord=dict.fromkeys(CONDUCTORS, 0.05 + 0j),
        appliance={"running": (element,)},
    )
    amperes = read(house, [Ask("current", (c,), load_state="running") for c in CONDUCTORS])
    assert amperes[:2] == pytest.approx([240.0 / 24.5] * 2, rel=1e-6)
    assert max(amperes[2:]) < 1e-6
    ohms = read(house, [Ask("resistance", ("N", "G")), Ask("resistance", ("L1", "L2"), load_state="running")])
    assert ohms == pytest.approx([0.4, 24.1], rel=1e-6)  # the supply is off: no path beyond the open breaker
    assert read(house, [Ask("resistance", ("L1", "N"))])[0] > 1e9


def test_the_ohmmeter_agrees_with_the_reference_solver() -> None:
    house = replace(linear(draw_case("high_resistance_neutral", "N", seed=4, ground=True).house), shunts=())
    found = read(house, [Ask("resistance", ("N", "G"))])[0]
    path = sum(house.run[c].real for c in ("N", "G")) + sum(j.resistance for j in house.joints)
    assert found == pytest.approx(path, rel=1e-6)
    direct = Network(
        branches=(
            resistor(0, 1, house.run["N"].real + house.joints[0].resistance),
            resistor(0, 2, house.run["G"].real),
        ),
        fixed=(),
    )
    assert driving_point_impedance(direct, (1, 2)).real == pytest.approx(found, rel=1e-6)


@pytest.mark.parametrize("seed", range(10, 22))
def test_a_sound_house_is_sound(seed: int) -> None:
    """No house drawn without fault may have one by accident: legs within range B, neutral held."""
    case = draw_case("none_found", None, seed)
    wanted = [
        Ask("voltage", pair, "receptacle", state, DMM)
        for state in ("disconnected", "running")
        for pair in (("L1", "N"), ("L2", "N"))
    ]
    for volts in read(case.house, wanted):
        assert 110.0 <= volts <= 127.0
    assert not case.house.joints
    for c in case.house.run:
        assert abs(case.house.run[c]) < 0.5


def test_a_case_is_its_seed() -> None:
    first, again = (draw_case("open_leg", "L2", 7) for _ in range(2))
    assert first == again
    assert draw_case("open_leg", "L2", 8) != first
    assert draw_case("open_leg", "L1", 7).house.run != first.house.run


def test_an_unknown_fault_or_conductor_is_refused() -> None:
    with pytest.raises(ValueError, match="no wrong model"):
        draw_case("haunted", None, 1)
    house = draw_case("none_found", None, 1, ground=False).house
    with pytest.raises(ValueError, match="no conductor G"):
        read(house, [Ask("voltage", ("N", "G"))])
    with pytest.raises(ValueError, match="no terminals"):
        read(house, [Ask("voltage", ("L1", "N"), "appliance_terminals", "disconnected")])


def test_a_display_rounds_errs_within_its_limits_and_is_its_seed() -> None:
    display = Display(percent=1.0, counts=2.0, resolution=0.1, seed=5)
    shown = display.show([120.0] * 200)
    assert shown == display.show([120.0] * 200)
    assert all(abs(v - round(v, 1)) < 1e-9 for v in shown)
    limit = 120.0 * (0.01 + display.drift * 1.01) + 0.2 + 0.05
    assert all(abs(v - 120.0) <= limit for v in shown)
    assert len(set(shown)) > 3
    assert min(Display(percent=1.0, counts=3.0, resolution=0.1, seed=6).show([0.0] * 50)) == 0.0
