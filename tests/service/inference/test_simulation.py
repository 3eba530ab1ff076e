"""The model run forward: readings of a stated circuit, and back again."""

import math
from collections.abc import Sequence

import msgspec
import pytest

from feedproof.assess import assess
from feedproof.errors import SimulationError
from feedproof.faults.catalogue import FAULTS
from feedproof.faults.priors import PRIORS
from feedproof.inference import Simulation, simulate
from feedproof.readings import Conductor, ProximityReading, Reading, ReadingSet, ResistanceReading, VoltageReading
from support.outcomes import amps, ohms, volts
from support.proof_cases import FOUR_WIRE, LABELS, near, of_system, over, visit

LOW, HIGH = PRIORS.supply_range
LEG = 120.0 * LOW * (HIGH / LOW) ** (1.0 / (1.0 + math.exp(-PRIORS.supply_logit[0])))
WHOLE = visit(
    volts("L1", "L2", 0.0),
    volts("L1", "N", 0.0, "loz"),
    volts("L2", "N", 0.0, "loz"),
    volts("N", "G", 0.0),
    volts("L1", "N", 0.0, state="one_side"),
    volts("L2", "N", 0.0, state="one_side"),
    volts("N", "G", 0.0, state="one_side"),
    volts("L1", "L2", 0.0, state="heating"),
    near("N", detected=False),
    amps("N", 0.0, state="one_side"),
    ohms("N", "G", 0.0),
    supply=FOUR_WIRE,
)


def read(*taken: Reading, fault: str = "none_found", **stated: object) -> list[float]:
    """What is read of a stated fault; a signal counts as 1."""
    simulation = Simulation(fault=fault, readings=visit(*taken, supply=FOUR_WIRE), **stated)  # type: ignore[arg-type]
    return [float(r.detected) if isinstance(r, ProximityReading) else r.value for r in simulate(simulation)]


def test_a_sound_supply_reads_as_it_is() -> None:
    """A leg at 121 V: 242, 121 and 0 V."""
    found = read(volts("L1", "L2", 0.0), volts("L1", "N", 0.0), volts("N", "G", 0.0))
    assert found == pytest.approx([2.0 * LEG, LEG, 0.0], abs=0.3)


@pytest.mark.parametrize("leg", [115.0, 118.5, 125.0])
def test_a_stated_supply_voltage_is_used(leg: float) -> None:
    assert read(volts("L1", "L2", 0.0), volts("L1", "N", 0.0), supply_voltage=leg) == pytest.approx(
        [2.0 * leg, leg], abs=0.11
    )


@pytest.mark.parametrize("resistance", [0.5, 2.0, 10.0])
def test_a_bad_neutral_takes_its_share(resistance: float) -> None:
    """10 ohm between L1 and N: the neutral's resistance takes its part of 120 V (divider by hand)."""
    found = read(
        volts("L1", "N", 0.0, state="one_side"),
        amps("N", 0.0, state="one_side"),
        fault="high_resistance_neutral",
        resistance=resistance,
        supply_voltage=120.0,
    )
    # Run and cord of leg and neutral, feeder, service: some hundredths of an ohm.
    rest = 2.0 * (0.0348 + 0.015 + 0.03) + 0.05
    assert found[1] == pytest.approx(120.0 / (10.0 + resistance + rest), rel=0.005)
    assert found[0] == pytest.approx(120.0 - found[1] * (resistance + rest - 0.03), abs=1.0)


def test_an_ohmmeter_sees_the_stated_resistance_and_the_ground_beside_it() -> None:
    """Beside it: the run's neutral, a ground wire of a size that nobody states, and both of a feeder."""
    (found,) = read(ohms("N", "G", 0.0), fault="high_resistance_neutral", resistance=6.0)
    assert found == pytest.approx(6.0 + 0.035 + 0.06 + 2.0 * 0.03, abs=0.06)


def test_beyond_its_range_an_ohmmeter_shows_no_end() -> None:
    simulation = Simulation(fault="open_neutral", resistance=1e8, readings=visit(over("N", "G", 1e6), supply=FOUR_WIRE))
    (found,) = simulate(simulation)
    assert isinstance(found, ResistanceReading)
    assert found.over_range
    assert found.value == 1e6


def test_a_detector_signals_above_its_threshold() -> None:
    assert read(near("L1", detected=False), near("N", detected=True)) == [1.0, 0.0]
    assert read(near("L1", detected=True), fault="no_supply") == [0.0]


def test_readings_are_shown_at_the_meters_resolution() -> None:
    found = read(volts("L1", "N", 0.0), volts("L1", "N", 0.0, "loz"), amps("L1", 0.0), supply_voltage=118.537)
    assert found[0] == round(found[0], 1)
    assert found[1] == round(found[1])
    assert found[2] == round(found[2], 2)
    assert found[0] == pytest.approx(118.5, abs=0.06)


def test_what_was_asked_is_given_back_in_order() -> None:
    found = simulate(Simulation(fault="open_leg", conductor="L2", readings=WHOLE))
    assert len(found) == len(WHOLE.readings)
    for asked, given in zip(WHOLE.readings, found, strict=True):
        assert type(given) is type(asked)
        fields = {"value": None, "detected": None, "over_range": None}
        assert {k: v for k, v in msgspec.structs.asdict(given).items() if k not in fields} == {
            k: v for k, v in msgspec.structs.asdict(asked).items() if k not in fields
        }


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_every_fault_can_be_stated(fault: object) -> None:
    name, conductors = fault.name, fault.conductors or (None,)  # type: ignore[attr-defined]
    for conductor in conductors:
        plain = [simulate(Simulation(fault=name, conductor=conductor, readings=WHOLE)) for _ in range(2)]
        assert plain[0] == plain[1]
        seeded = [simulate(Simulation(fault=name, conductor=conductor, readings=WHOLE, seed=s)) for s in (1, 1, 2)]
        assert seeded[0] == seeded[1] != seeded[2]
        for reading in (*plain[0], *seeded[2]):
            assert isinstance(reading, ProximityReading) or (reading.value >= 0.0 and math.isfinite(reading.value))


def test_drawn_readings_scatter_around_the_plain_ones() -> None:
    taken = (volts("L1", "L2", 0.0),)
    drawn = sorted(read(*taken, seed=seed)[0] for seed in range(400))
    middle = drawn[200]
    assert middle == pytest.approx(2.0 * LEG, rel=0.005)
    # The supply's own spread of 2 % within its range, the meter's gain and the person's rounding.
    assert 0.01 < (drawn[380] - drawn[20]) / middle / 3.29 < 0.03


def test_exchanged_legs_are_exchanged_in_the_readings() -> None:
    first = simulate(Simulation(fault="open_leg", conductor="L1", readings=WHOLE))
    second = simulate(Simulation(fault="open_leg", conductor="L2", readings=WHOLE))
    by: list[dict[object, float]] = [
        {frozenset(r.between): r.value for r in found if isinstance(r, VoltageReading) and r.meter == "loz"}
        for found in (first, second)
    ]
    one, two = frozenset({"L1", "N"}), frozenset({"L2", "N"})
    assert (by[0][one], by[0][two]) == pytest.approx((by[1][two], by[1][one]))
    assert by[0][one] < 5.0
    assert by[0][two] > 100.0


@pytest.mark.parametrize("order", [1, -1])
def test_the_order_of_the_readings_does_not_matter(order: int) -> None:
    """The canonical form may turn the legs; the request's own conductor is meant all the same."""
    taken = WHOLE.readings[::order]
    found = simulate(
        Simulation(
            fault="high_resistance_leg",
            conductor="L1",
            resistance=3.0,
            readings=msgspec.structs.replace(WHOLE, readings=taken),
        )
    )
    loaded = {r.between: r.value for r in found if isinstance(r, VoltageReading) and r.load_state == "one_side"}
    assert loaded["L1", "N"] == pytest.approx(LEG * 10.0 / 13.1, abs=1.5)
    assert loaded["L2", "N"] == pytest.approx(LEG, abs=1.0)


# --- refused ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("stated", "field"),
    [
        ({"fault": "weather"}, "fault"),
        ({"fault": "open_neutral", "conductor": "L1"}, "conductor"),
        ({"fault": "none_found", "conductor": "N"}, "conductor"),
        ({"fault": "open_neutral", "location": "upstream_of_the_moon"}, "location"),
        ({"fault": "open_neutral", "resistance": 5.0}, "resistance"),
        ({"fault": "open_neutral", "resistance": 1e12}, "resistance"),
        ({"fault": "high_resistance_neutral", "resistance": 2e3}, "resistance"),
        ({"fault": "high_resistance_neutral", "resistance": 0.01}, "resistance"),
        ({"fault": "voltage_low", "resistance": 5.0}, "resistance"),
        ({"fault": "none_found", "supply_voltage": 90.0}, "supply_voltage"),
        ({"fault": "none_found", "supply_voltage": 140.0}, "supply_voltage"),
        ({"fault": "voltage_low", "supply_voltage": 120.0}, "supply_voltage"),
        ({"fault": "voltage_high", "supply_voltage": 120.0}, "supply_voltage"),
    ],
)
def test_what_the_model_does_not_have_is_refused(stated: dict[str, object], field: str) -> None:
    with pytest.raises(SimulationError) as refused:
        simulate(Simulation(readings=WHOLE, **stated))  # type: ignore[arg-type]
    assert refused.value.field == field
    assert refused.value.detail


def test_a_supply_of_one_leg_has_no_fault_of_two() -> None:
    readings = visit(volts("L1", "N", 0.0), supply=of_system("single_phase_120"))
    with pytest.raises(SimulationError, match="no single fault"):
        simulate(Simulation(fault="legs_from_same_pole", readings=readings))


@pytest.mark.parametrize(
    ("fault", "least", "most"),
    [("none_found", 114.0, 126.0), ("voltage_low", 42.0, 114.0), ("voltage_high", 126.0, 192.0)],
)
def test_the_refusal_names_what_is_had(fault: str, least: float, most: float) -> None:
    with pytest.raises(SimulationError) as refused:
        simulate(Simulation(fault=fault, supply_voltage=10.0, readings=WHOLE))
    ends = [float(word) for word in refused.value.detail.split() if word[0].isdigit()]
    assert ends == pytest.approx([least, most], rel=0.05)
    inside = 0.5 * (ends[0] + ends[1])
    assert simulate(Simulation(fault=fault, supply_voltage=inside, readings=WHOLE))


# --- there and back -------------------------------------------------------------------------------------------------

SERVICE_NEUTRAL = {"open_service_neutral", "high_resistance_service_neutral"}
CLEAR: Sequence[tuple[str, Conductor | None, float | None]] = (
    ("none_found", None, None),
    ("open_neutral", "N", 1e6),
    ("high_resistance_neutral", "N", 4.0),
    ("open_leg", "L1", 1e7),
    ("open_leg", "L2", 1e7),
    ("high_resistance_leg", "L2", 4.0),
    ("open_service_neutral", "N", None),
    ("no_supply", None, None),
    ("voltage_low", None, None),
    ("voltage_high", None, None),
    ("legs_from_same_pole", None, None),
    ("leg_neutral_transposed", "L2", None),
    ("leg_ground_transposed", "L1", None),
)


@pytest.mark.parametrize(("fault", "conductor", "resistance"), CLEAR)
def test_what_was_simulated_is_found(fault: str, conductor: Conductor | None, resistance: float | None) -> None:
    taken = [r for r in WHOLE.readings if not isinstance(r, ResistanceReading)]
    readings = ReadingSet(
        supply=WHOLE.supply,
        meters=WHOLE.meters,
        load_states={name: LABELS[name] for name in WHOLE.load_states},
        readings=tuple(taken),
    )
    seen = simulate(Simulation(fault=fault, conductor=conductor, resistance=resistance, readings=readings))
    found = assess(msgspec.structs.replace(readings, readings=seen))
    # How much a weak service neutral still carries is not told apart from an open one beside a good electrode.
    named = SERVICE_NEUTRAL if fault in SERVICE_NEUTRAL else {fault}
    assert found.finding.fault in named
    assert found.finding.conductor == conductor
    assert sum(c.probability for c in found.candidates if c.fault in named and c.conductor == conductor) > 0.5
    if resistance is not None and fault.startswith("high"):
        estimate = next(r for r in found.resistances if r.conductor == conductor)
        assert estimate.low <= resistance + 0.035 <= estimate.high
