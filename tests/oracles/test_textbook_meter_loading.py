"""What a voltmeter's own impedance does to its reading: published examples, and voltages made by capacitance alone."""

import math

import pytest

from feedproof.faults.priors import PRIORS
from feedproof.inference import Name
from feedproof.readings import CONDUCTORS, Conductor, LoadState, ReadingSet, Supply, VoltageReading, Voltmeter
from support.network import Branch, FixedVoltage, Network, capacitor, extended, resistor
from support.seam import circuit_of_branch
from support.solver import branch_current, node_voltages, thevenin, voltmeter_reading
from support.three_wire import AT_NOMINAL

_OPEN = 0.999 * PRIORS.open_ceiling
#: Standard deviations: of a leakage of which none is left, of a capacitance that is none beside the usual, and of the
#: share that floats, where that is the whole run.
_DRY, _NONE, _WHOLE = 40.0, -120.0, 20.0


def floating_by_model(
    conductor: Conductor,
    strays: dict[Conductor, float],
    pair: tuple[Conductor, Conductor],
    resistance: float,
    capacitance: float = 0.0,
) -> float:
    """What a meter shows where the model that ships has one conductor open, tied to the others by capacitance [F]."""
    meter = Voltmeter(
        name="m",
        input_impedance=resistance,
        input_capacitance=capacitance,
        accuracy_percent=0.1,
        accuracy_counts=0.0,
        resolution=0.1,
    )
    visit = ReadingSet(
        supply=Supply(equipment_ground="present", frame_bonded_to_neutral=False, fed_from="service_panel"),
        meters={"m": meter},
        load_states={"off": LoadState(name="off", kind="disconnected")},
        readings=(VoltageReading(between=pair, value=10.0, meter="m", load_state="off"),),
    )
    circuits = circuit_of_branch(visit, "open_neutral" if conductor == "N" else "open_leg", conductor)
    usual = PRIORS.stray_capacitance * PRIORS.run_length
    values: dict[Name, float] = {("severity", "0"): math.log(_OPEN), ("damp", "run"): _DRY, ("position",): _WHOLE}
    if conductor != "N":
        values["beside",] = _NONE
    for other, farad in strays.items():
        a, b = sorted((conductor, other), key=CONDUCTORS.index)
        # Beside what a bare contact has anyway.
        own = farad - PRIORS.contact_capacitance
        values["stray", a, b] = math.log(own / usual) / PRIORS.pair_spread if farad else _NONE
    return circuits.shown({("supply",): AT_NOMINAL} | values)[0]


# Resistors in series on a source, the meter across the last of them.
# Kuphaldt, Lessons in Electric Circuits vol. I ch. 8: 24 V on 250 and 250 megohm, 10 megohm meter.
# Kalsi, Electronic Instrumentation, ex. 4.11: 100 V on 10 and 10 kohm, 50 V range at 1 and at 20 kohm per volt.
# Sawhney, A Course in Electrical and Electronic Measurements and Instrumentation, ex. 2.26: 50 V behind 100 ohm.
DIVIDERS = [
    pytest.param(24.0, (250e6, 250e6), 10e6, 0.8889, 1e-4, id="Kuphaldt vol. I ch. 8"),
    pytest.param(100.0, (10e3, 10e3), 50e3, 45.45, 0.01, id="Kalsi ex. 4.11, 1 kohm per volt"),
    pytest.param(100.0, (10e3, 10e3), 1e6, 49.75, 0.01, id="Kalsi ex. 4.11, 20 kohm per volt"),
    pytest.param(50.0, (100.0, math.inf), 1000.0, 45.4545, 1e-3, id="Sawhney ex. 2.26"),
]


@pytest.mark.parametrize(("volts", "chain", "meter", "expected", "tolerance"), DIVIDERS)
def test_published_loading(
    volts: float, chain: tuple[float, float], meter: float, expected: float, tolerance: float
) -> None:
    network = Network(
        branches=(resistor(1, 2, chain[0]), resistor(2, 0, chain[1])),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, complex(volts))),
    )
    assert voltmeter_reading(thevenin(network, (2, 0)), meter) == pytest.approx(expected, abs=tolerance)


def test_the_rest_of_the_voltage_stands_across_the_other_resistor() -> None:
    """Kuphaldt vol. I ch. 8: while the meter shows 0.8889 V, the other 250 megohm has 23.1111 V."""
    network = Network(
        branches=(resistor(1, 2, 250e6), resistor(2, 0, 250e6), resistor(2, 0, 10e6)),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, 24 + 0j)),
    )
    assert thevenin(network, (1, 2)).voltage.real == pytest.approx(23.1111, abs=1e-4)


def test_apparent_resistance_beside_a_loading_meter() -> None:
    """Helfrick and Cooper, ex. 1-7: 100 V and 5 mA say 20 kohm; behind a 150 kohm meter it is 23.08, 13.33 % off.

    The figures are those of the solved-example notebook, which says that the printed book differs.
    """
    true_value = 1.0 / (1.0 / 20e3 - 1.0 / 150e3)
    assert true_value == pytest.approx(23.08e3, abs=10.0)
    network = Network(
        branches=(resistor(1, 2, 1e-6), resistor(2, 0, true_value), resistor(2, 0, 150e3)),
        fixed=(FixedVoltage(0, 0j), FixedVoltage(1, 100 + 0j)),
    )
    assert branch_current(network, 0).real == pytest.approx(5e-3, rel=1e-6)
    assert 100.0 * (1.0 - 20e3 / true_value) == pytest.approx(13.33, abs=0.01)


# Capacitance per foot measured on building cable, 14-2: 250 ft = 5.26 nF (nutsvolts.com, "The capacitance connection").
# One value carries this table; a cable may differ from it by a third. Readings worked from the divider
# |V j w C1 / (j w (C1 + C2 + Cm) + 1/Rm)| at 120 V, 60 Hz.
PICOFARAD_PER_FOOT = 21.0
PHANTOM = [
    # feet, then C2 = 0 at 10 Mohm, 10 Mohm with 100 pF, 1 Mohm, 100 kohm, 3 kohm, then C2 = C1 at 10 Mohm, 3 kohm
    (1, (9.47, 8.64, 0.95, 0.095, 0.00285, 9.38, 0.00285), 0.95),
    (10, (74.5, 61.8, 9.47, 0.95, 0.0285, 50.7, 0.0285), 9.5),
    (50, (116.3, 106.8, 44.2, 4.75, 0.143, 59.5, 0.143), 47.5),
    (100, (119.1, 113.7, 74.5, 9.47, 0.285, 59.9, 0.285), 95.0),
]


@pytest.mark.parametrize(("feet", "expected", "microamperes"), PHANTOM)
def test_phantom_voltage_of_an_idle_conductor(feet: int, expected: tuple[float, ...], microamperes: float) -> None:
    stray = PICOFARAD_PER_FOOT * feet * 1e-12
    live, idle, ground = 1, 2, 0
    meters = (
        (10e6, 0.0, 0.0),
        (10e6, 100e-12, 0.0),
        (1e6, 0.0, 0.0),
        (100e3, 0.0, 0.0),
        (3e3, 0.0, 0.0),
        (10e6, 0.0, stray),
        (3e3, 0.0, stray),
    )
    fixed = (FixedVoltage(ground, 0j), FixedVoltage(live, 120 + 0j))
    for (resistance, own, beside), reads in zip(meters, expected, strict=True):
        network = Network(
            branches=(capacitor(live, idle, stray, 60.0), capacitor(idle, ground, beside, 60.0)), fixed=fixed
        )
        meter = 1.0 / complex(1.0 / resistance, 2.0 * math.pi * 60.0 * own)
        assert voltmeter_reading(thevenin(network, (idle, ground)), meter) == pytest.approx(reads, rel=0.006)
    shorted = Network(branches=(capacitor(live, idle, stray, 60.0), resistor(idle, ground, 1e-3)), fixed=fixed)
    drawn = abs(branch_current(shorted, 1))
    assert drawn * 1e6 == pytest.approx(microamperes, rel=0.005)
    assert drawn < 0.3e-3  # the least current that Kuphaldt (vol. I ch. 3) lists as felt


# The same by the model that ships: a branch neutral that is open, held by what it has to L1 and G alone. A gigaohm is
# as open as the model goes, so lengths whose capacitance lets that through are left out.
@pytest.mark.parametrize(("feet", "expected"), [(feet, expected) for feet, expected, _ in PHANTOM if feet >= 50])
def test_phantom_voltage_by_the_model(feet: int, expected: tuple[float, ...]) -> None:
    stray = PICOFARAD_PER_FOOT * feet * 1e-12
    meters = (
        (10e6, 0.0, 0.0),
        (10e6, 100e-12, 0.0),
        (1e6, 0.0, 0.0),
        (100e3, 0.0, 0.0),
        (3e3, 0.0, 0.0),
        (10e6, 0.0, stray),
        (3e3, 0.0, stray),
    )
    for (resistance, own, beside), reads in zip(meters, expected, strict=True):
        shown = floating_by_model("N", {"L1": stray, "L2": 0.0, "G": beside}, ("N", "G"), resistance, own)
        assert shown == pytest.approx(reads, rel=0.006)


FIFTY_FEET = 1.05e-9  # farad
METERS = (10e6, 1e6, 100e3, 3e3)


def floating(conductor: Conductor, to: dict[Conductor, float]) -> Network:
    """One conductor open at the panel and tied to the others by capacitance [F] alone; the others stiff."""
    volts = {"G": 0j, "N": 0j, "L1": 120 + 0j, "L2": -120 + 0j}
    return Network(
        branches=tuple(capacitor(("outlet", conductor), ("outlet", c), farad, 60.0) for c, farad in to.items()),
        fixed=tuple(FixedVoltage(("outlet", c), v) for c, v in volts.items() if c != conductor),
    )


EQUAL: dict[Conductor, float] = {"L1": FIFTY_FEET, "L2": FIFTY_FEET, "G": FIFTY_FEET}
ONE_LEG_HALF: dict[Conductor, float] = {"L1": FIFTY_FEET, "L2": FIFTY_FEET / 2.0, "G": FIFTY_FEET}
FLOATING_LEG: dict[Conductor, float] = {"L1": FIFTY_FEET, "N": FIFTY_FEET, "G": FIFTY_FEET}


FLOATING = [
    pytest.param("N", EQUAL, ("L1", "N"), (119.58, 91.79, 14.15, 0.428), id="open neutral, leg to it"),
    pytest.param("N", EQUAL, ("N", "G"), (0.0, 0.0, 0.0, 0.0), id="open neutral to ground"),
    pytest.param("N", ONE_LEG_HALF, ("N", "G"), (23.88, None, None, 0.071), id="unlike strays"),
    pytest.param("L2", FLOATING_LEG, ("L2", "N"), (39.86, 30.60, 4.72, 0.143), id="open leg to neutral"),
    pytest.param("L2", FLOATING_LEG, ("L1", "L2"), (79.72, 61.19, 9.43, 0.285), id="open leg to leg"),
]


# Fifty feet of the same cable, 120 V at 0 and 180 degrees; figures worked from the node equation of the one free node.
@pytest.mark.parametrize(("conductor", "strays", "pair", "expected"), FLOATING)
def test_one_meter_at_a_time_on_a_floating_conductor(
    conductor: Conductor,
    strays: dict[Conductor, float],
    pair: tuple[Conductor, Conductor],
    expected: tuple[float | None, ...],
) -> None:
    source = thevenin(floating(conductor, strays), (("outlet", pair[0]), ("outlet", pair[1])))
    for meter, reads in zip(METERS, expected, strict=True):
        if reads is not None:
            assert voltmeter_reading(source, meter) == pytest.approx(reads, rel=0.005, abs=1e-9)
            # A millivolt is what the joints of the model may leave of a balance.
            assert floating_by_model(conductor, strays, pair, meter) == pytest.approx(reads, rel=0.005, abs=1e-3)


def test_an_open_unloaded_neutral_looks_perfect_and_collapses_under_load() -> None:
    """The trap: 120, 120 and 0 V on a 10 megohm meter with the neutral open, under half a volt on 3 kohm."""
    network = floating("N", EQUAL)
    for leg in ("L1", "L2"):
        source = thevenin(network, (("outlet", leg), ("outlet", "N")))
        assert voltmeter_reading(source, 10e6) == pytest.approx(120.0, abs=0.5)
        assert voltmeter_reading(source, 3e3) < 0.5


def test_meters_connected_together_are_another_circuit() -> None:
    """Three readings one after another are three circuits; all three meters at once give other figures."""
    network = floating("L2", FLOATING_LEG)
    pairs = [(("outlet", "L2"), ("outlet", other)) for other in ("L1", "N", "G")]
    apart = [voltmeter_reading(thevenin(network, pair), 1e6) for pair in pairs]
    together = node_voltages(extended(network, [Branch(a, b, 1e-6 + 0j) for a, b in pairs]))
    for (a, b), alone in zip(pairs, apart, strict=True):
        assert abs(abs(together[a] - together[b]) - alone) > 1.0
