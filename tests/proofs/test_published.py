"""Published worked examples, read by the inference as a technician's readings, and inverted.

Examples on other voltages are scaled to 120 V legs: in a linear circuit all voltages and currents scale together, and
no resistance changes. Feeding points of an example are taken for the service panel, its load points for the receptacle.
"""

import math

import pytest

from feedproof.assess import assess
from feedproof.inference import infer
from feedproof.readings import Conductor, Load, LoadState, ReadingSet, Run, Supply, VoltageReading, Voltmeter
from support.answers import limit, named, probability
from support.outcomes import volts
from support.proof_cases import FOUR_WIRE, visit

#: A bench instrument, so that the example's own figures are what limits the answer.
BENCH = Voltmeter(name="bench", input_impedance=10e6, accuracy_percent=0.05, accuracy_counts=2, resolution=0.01)
SERVICE = ("open_service_neutral", "high_resistance_service_neutral")
PAIRS: tuple[tuple[Conductor, Conductor], ...] = (("L1", "N"), ("L2", "N"), ("L1", "L2"))

Sides = tuple[float, float]


def known(name: str, first: float | None, second: float | None) -> LoadState:
    """A load state with a known resistance on each leg, or on one."""
    loads = [(("L1", "N"), first), (("L2", "N"), second)]
    return LoadState(
        name=name,
        kind="test_load",
        loads=tuple(Load(between=b, resistance=r, tolerance_percent=0.1) for b, r in loads if r is not None),  # type: ignore[arg-type]
    )


def sides(feed: Sides, outer: float, neutral: float, first: float | None, second: float | None) -> Sides:
    """Voltages at the load points of a three-wire circuit, by the node equation of the load's neutral.

    An unloaded side carries no current, so its outer drops nothing.
    """
    y = [0.0 if load is None else 1.0 / (outer + load) for load in (first, second)]
    shift = (feed[0] * y[0] - feed[1] * y[1]) / (y[0] + y[1] + 1.0 / neutral)
    across = (feed[0] - shift, feed[1] + shift)
    return tuple(
        v if load is None else v * load / (outer + load) for v, load in zip(across, (first, second), strict=True)
    )  # type: ignore[return-value]


def three_states(feed: Sides, outer: float, neutral: float, loads: Sides) -> ReadingSet:
    """The published load on both sides, and each side's alone; read at feed and load point."""
    taken, states = [], {}
    for name, first, second in (("both", *loads), ("first", loads[0], None), ("second", None, loads[1])):
        states[name] = known(name, first, second)
        at_load = sides(feed, outer, neutral, first, second)
        for point, pair in (("service_panel", feed), ("receptacle", at_load)):
            for between, value in zip(PAIRS, (*pair, sum(pair)), strict=True):
                taken.append(
                    VoltageReading(
                        between=between,
                        value=round(value, 2),
                        meter="bench",
                        load_state=name,
                        point=point,  # type: ignore[arg-type]
                    )
                )
    return ReadingSet(
        # A run that has about as much as the example's outer wires, from the panel that is read.
        supply=Supply(
            equipment_ground="present",
            fed_from="service_panel",
            run=Run(size="10 AWG", material="copper", length=(outer - 0.01) / 0.0034),
        ),
        meters={"bench": BENCH},
        load_states=states,
        readings=tuple(taken),
    )


# Feed, outer, load, then published load voltages, all as printed, with the neutral that the example states.
EXAMPLES = [
    pytest.param(
        (250.0, 250.0), 0.1, (243.0 / 50.0, 248.0 / 40.0), (243.0, 248.0), 0.20, id="Mehta and Mehta, ex. 13.26"
    ),
    pytest.param((252.8, 244.8), 0.2, (5.0, 6.0), (240.0, 240.0), 0.40, id="Anand, Electrical Power-I, problem 7.13"),
]


@pytest.mark.parametrize(("feed", "outer", "loads", "published", "neutral"), EXAMPLES)
def test_the_neutral_is_found_again(feed: Sides, outer: float, loads: Sides, published: Sides, neutral: float) -> None:
    """Books read as solved-example notebooks. The interval of each conductor holds the published resistance."""
    assert sides(feed, outer, neutral, *loads) == pytest.approx(published, abs=0.01)
    scale = 120.0 / (sum(feed) / 2.0)
    scaled = (feed[0] * scale, feed[1] * scale)
    found = assess(three_states(scaled, outer, neutral, loads))
    expected = {"L1": outer, "L2": outer, "N": neutral}
    for entry in found.resistances:
        assert entry.low <= expected[entry.conductor] <= entry.high, entry
        # A bad joint is told from the sound run that it sits in by what such a run usually has, give or take 15 %.
        assert entry.high - entry.low < 0.12
    assert next(r.value for r in found.resistances if r.conductor == "N") == pytest.approx(neutral, abs=0.03)


def service(path: float, first: float, second: float) -> Sides:
    """V_N = (120/R1 - 120/R2) / (1/R1 + 1/R2 + 1/Rg), the textbook's node equation; legs are 120 -+ V_N."""
    held = 0.0 if math.isinf(path) else 1.0 / path
    shift = (120.0 / first - 120.0 / second) / (1.0 / first + 1.0 / second + held)
    return 120.0 - shift, 120.0 + shift


def loaded_service(path: float) -> ReadingSet:
    """Loads of 12 and 6 ohm behind a service neutral: without them, with one, with both."""
    states = {"disconnected": LoadState(name="disconnected", kind="disconnected")}
    taken = [
        VoltageReading(between=b, value=v, meter="bench", load_state="disconnected")
        for b, v in zip(PAIRS, (120.0, 120.0, 240.0), strict=True)
    ]
    for name, first, second in (("both", 12.0, 6.0), ("first", 12.0, None), ("second", None, 6.0)):
        states[name] = known(name, first, second)
        legs = service(path, first or math.inf, second or math.inf)
        for between, value in zip(PAIRS, (*legs, 240.0), strict=True):
            taken.append(VoltageReading(between=between, value=round(value, 2), meter="bench", load_state=name))
        taken.append(VoltageReading(between=("N", "G"), value=0.0, meter="bench", load_state=name))
    return ReadingSet(supply=FOUR_WIRE, meters={"bench": BENCH}, load_states=states, readings=tuple(taken))


def test_the_service_neutral_is_found_again() -> None:
    """12 against 6 ohm over 0.5 ohm: 124.44 and 115.56 V (figures worked from the node equation)."""
    assert service(0.5, 12.0, 6.0) == pytest.approx((124.44, 115.56), abs=0.01)
    found = infer(loaded_service(0.5)).candidates[0]
    assert found.fault == "high_resistance_service_neutral"


def test_so_is_its_resistance() -> None:
    """The legs are read at the receptacle: the example's path has the branch's sound neutral in it."""
    found = infer(loaded_service(0.5)).resistances
    ohms = next(r.interval for r in found if (r.section, r.conductor) == ("service", "N"))
    assert ohms.low <= 0.5 <= ohms.high
    # What else the building may have holds the neutral too.
    assert ohms.value == pytest.approx(0.5, rel=0.25)


# Node equation of one floating conductor, 50 ft of cable at 21 pF/ft (nutsvolts.com, "The capacitance connection"),
# equal stray capacitances, 120 V at 0 and 180 degrees; at 10 Mohm, and at 3 kohm.
def test_a_floating_neutral_that_reads_right_is_not_established_sound() -> None:
    found = assess(
        visit(volts("L1", "L2", 240.0), volts("L1", "N", 119.58), volts("L2", "N", 119.58), volts("N", "G", 0.0))
    )
    assert not (found.finding.fault == "none_found" and found.determination == "established")
    assert found.disposition != "no_supply_fault_found"
    assert ("open_neutral", "N") in named(found, 0.001)
    assert limit(found, "N") >= 1e3


def test_the_same_at_3_kilohm_is_an_open_neutral() -> None:
    found = assess(
        visit(volts("L1", "L2", 240.0, "loz"), volts("L1", "N", 0.428, "loz"), volts("L2", "N", 0.428, "loz"))
    )
    assert (found.finding.fault, found.finding.conductor) == ("open_neutral", "N")
    assert found.determination == "established"


def test_unlike_strays_show_it_even_at_10_megohm() -> None:
    """The capacitance to L2 halved: 23.88 V to ground."""
    supply = Supply(fed_from="service_panel")  # a feeder's neutral would stand off ground by as much
    found = assess(visit(volts("L1", "L2", 240.0), volts("N", "G", 23.88), supply=supply))
    assert probability(found, "open_neutral", "open_ground") > 0.7
    assert probability(found, "none_found") < 0.1


@pytest.mark.parametrize(("meter", "across", "to_neutral"), [("dmm", 79.72, 39.86), ("loz", 0.285, 0.143)])
def test_a_floating_leg_is_an_open_leg(meter: str, across: float, to_neutral: float) -> None:
    found = assess(
        visit(volts("L1", "L2", across, meter), volts("L2", "N", to_neutral, meter), volts("L1", "N", 120.0, "loz"))
    )
    assert probability(found, "open_leg", conductor="L2") > 0.5


def test_a_balanced_house_hides_its_open_neutral() -> None:
    """10 and 10 ohm: 120 and 120 V whatever the path. Not to be called sound with certainty."""
    assert service(math.inf, 10.0, 10.0) == service(0.03, 10.0, 10.0)
    taken = visit(
        volts("L1", "L2", 240.0, state="running"),
        volts("L1", "N", 120.0, state="running"),
        volts("L2", "N", 120.0, state="running"),
        volts("N", "G", 0.1, state="running"),
        supply=FOUR_WIRE,
    )
    found = assess(taken)
    assert found.determination != "established"
    assert found.confidence.level != "high"
    assert sum(c.probability for c in infer(taken).candidates if c.fault in SERVICE) > 1e-4


# Kersting's center-tapped transformer, ex. 11.1 and 11.2, as GridLAB-D's own regression tests encode them (the book was
# not read): a sound service, heavily and unequally loaded.
@pytest.mark.parametrize("legs", [(118.0, 117.9, 235.9), (115.4, 113.6, 229.1)], ids=["ex. 11.1", "ex. 11.2"])
def test_a_sound_service_is_not_accused(legs: tuple[float, float, float]) -> None:
    taken = [volts(*pair, value, state="running") for pair, value in zip(PAIRS, legs, strict=True)]
    found = assess(visit(*taken, volts("N", "G", 0.4, state="running"), supply=FOUR_WIRE))
    assert found.finding.fault in {"none_found", "voltage_low"}
    assert probability(found, *SERVICE) < 0.2
    assert not (found.finding.fault != "none_found" and found.confidence.level == "high")
