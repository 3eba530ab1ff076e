"""Which unknowns a hypothesis has, and how far a sound path goes."""

import math

import msgspec
import numpy as np
import pytest

from feedproof.circuit.conductors import run_resistance
from feedproof.faults.hypotheses import Hypothesis
from feedproof.faults.priors import PRIORS
from feedproof.inference.forward import PROXIMITY, RESISTANCE, UNIFORM, VOLTAGE, unknown_column
from feedproof.inference.program import NOMINAL, Built, build, observe
from feedproof.inference.runs import explained_resistance, sound_run, sound_span
from feedproof.inference.scene import Scene, without_values
from feedproof.instruments.scatter import gain_spread, scatter_floor, scatter_relative
from feedproof.readings import ReadingSet, Run, Supply
from support.internals.engine import asked, compiled, posed, shown
from support.outcomes import DMM, LOZ, amps, ohms, volts
from support.proof_cases import CASES, FOUR_WIRE, near, over, visit

KNOWN = Run(size="6 AWG", material="copper", length=18.0)
LEGS = (volts("L1", "L2", 240.0), volts("L1", "N", 120.0), volts("L2", "N", 120.0))


def state(readings: ReadingSet, fault: str, conductor: str | None = None) -> tuple[Hypothesis, Scene]:
    case = posed(readings)
    found = next(h for h in case.states if h.fault == fault and not h.also and conductor in {None, h.conductor})
    return found, case.oriented(found)


def programmed(readings: ReadingSet, fault: str, conductor: str | None = None) -> Built:
    hypothesis, scene = state(readings, fault, conductor)
    return asked(hypothesis, scene, scene.readings)


def test_a_sound_run_is_its_conductor_and_its_joints() -> None:
    median, spread = sound_run(KNOWN)
    assert median == pytest.approx(run_resistance("6 AWG", "copper", 18.0, 30.0) + PRIORS.joint_resistance)
    assert median == pytest.approx(0.0348, abs=0.0005)  # 0.491 ohm per 1000 ft at 75 degC, 59 ft, and 10 milliohm
    assert spread == PRIORS.known_run_spread


@pytest.mark.parametrize("run", [Run(), Run(size="6 AWG"), Run(length=18.0)])
def test_a_run_that_is_not_stated_is_broad(run: Run) -> None:
    assert sound_run(run) == (PRIORS.branch_resistance, PRIORS.branch_spread)
    assert explained_resistance(run) == PRIORS.unexplained_resistance == 0.5


def test_what_a_run_can_explain_grows_with_it() -> None:
    long = Run(size="6 AWG", material="copper", length=60.0)
    assert explained_resistance(KNOWN) < explained_resistance(long)
    assert explained_resistance(KNOWN) > sound_span(KNOWN, to_terminals=False)[1]


def test_the_span_holds_nine_in_ten() -> None:
    median, spread = sound_run(KNOWN)
    low, high = sound_span(KNOWN, to_terminals=False)
    assert math.log(high / median) / spread == pytest.approx(1.645, abs=1e-3)
    assert math.log(median / low) / spread == pytest.approx(1.645, abs=1e-3)
    longer = sound_span(KNOWN, to_terminals=True)
    assert longer[0] - low == pytest.approx(PRIORS.cord_resistance)


def test_a_sound_unloaded_outlet_has_hardly_any_unknowns() -> None:
    """The supply, the meter's gain and the legs' leaning: no current, so no joint shows."""
    assert set(programmed(visit(*LEGS), "none_found").keys) == {("supply", "sound"), ("gain", 0), ("lean", 0)}


def test_a_faulted_conductor_is_unknown() -> None:
    keys = programmed(visit(*LEGS), "high_resistance_neutral").keys
    assert ("fault", "branch", "N") in keys
    assert not any(key[0] == "stray" for key in keys)


def test_an_open_conductor_floats_on_its_strays() -> None:
    keys = set(programmed(visit(*LEGS), "open_neutral").keys)
    pairs = {key[2:] for key in keys if key[0] == "stray"}
    assert pairs == {("L1", "N"), ("L2", "N"), ("N", "G")}


def test_a_load_makes_the_run_matter() -> None:
    keys = programmed(visit(*LEGS, amps("L1", 20.0)), "none_found").keys
    assert {("run", "L1"), ("run", "L2"), ("run", "N")} <= set(keys)


@pytest.mark.parametrize(
    ("fault", "low", "high"),
    [
        ("open_neutral", PRIORS.open_resistance, PRIORS.open_ceiling),
        ("high_resistance_neutral", explained_resistance(KNOWN), PRIORS.open_resistance),
    ],
)
def test_a_faults_resistance_covers_what_its_name_does(fault: str, low: float, high: float) -> None:
    built = programmed(visit(*LEGS, supply=FOUR_WIRE), fault)
    d = built.keys.index(("fault", "branch", "N"))
    assert built.program.coordinate_kind[d] == UNIFORM
    z = np.zeros((3, len(built.keys)))
    z[:, d] = (-9.0, 0.0, 9.0)
    found = np.exp(unknown_column(built.program, z, d))
    assert found == pytest.approx([low, math.sqrt(low * high), high], rel=1e-6)


@pytest.mark.parametrize(("fault", "low", "high"), [("none_found", 114.0, 126.0), ("voltage_low", 42.0, 114.0)])
def test_the_supply_stays_in_its_band(fault: str, low: float, high: float) -> None:
    """Range A at the service is 114 to 126 V (COMAR 20.50.07.02); a leg below 42 V counts as lost."""
    built = programmed(visit(*LEGS), fault)
    d = built.program.supply
    z = np.zeros((41, len(built.keys)))
    z[:, d] = np.linspace(-12.0, 8.0, 41)
    legs = NOMINAL * np.exp(unknown_column(built.program, z, d))
    assert legs.min() == pytest.approx(low, rel=1e-6)
    assert legs.max() == pytest.approx(high, rel=1e-6)
    assert shown(built, z)[:, 0] == pytest.approx(2.0 * legs, rel=1e-4)


@pytest.mark.parametrize("name", CASES)
def test_the_order_of_a_program_is_a_permutation(name: str) -> None:
    case = posed(CASES[name])
    for hypothesis in case.states:
        scene = case.oriented(hypothesis)
        built = asked(hypothesis, scene, scene.readings)
        assert sorted(built.order) == list(range(len(scene.readings)))
        assert len(set(built.keys)) == len(built.keys) == built.program.location.size
        assert built.program.reading_start[-1] == len(scene.readings)


def test_one_arrangement_is_built_once() -> None:
    hypothesis, scene = state(visit(*LEGS), "none_found")
    other, again = state(visit(*(msgspec.structs.replace(r, value=r.value + 1.0) for r in LEGS)), "none_found")
    first, second = without_values(scene), without_values(again)
    assert build(hypothesis, first, first.readings) is build(other, second, second.readings)


def test_readings_of_one_state_share_a_circuit_and_isolated_ones_have_their_own() -> None:
    built = programmed(visit(*LEGS, volts("L1", "N", 119.0, state="idle"), ohms("N", "G", 0.3)), "none_found")
    assert sorted(built.program.energized.tolist()) == [0, 1, 1]
    assert built.program.reading_start.tolist() == [0, 1, len(LEGS) + 1, len(LEGS) + 2]


def test_a_meter_has_one_gain_for_all_its_readings() -> None:
    built = programmed(visit(*LEGS, volts("L1", "N", 119.0, "loz")), "none_found")
    gains = [key for key in built.keys if key[0] == "gain"]
    assert len(gains) == 2
    hypothesis, scene = state(visit(*LEGS), "none_found")
    one = asked(hypothesis, scene, scene.readings)
    assert len(set(one.program.gain.tolist())) == 1
    assert one.program.scale[one.program.gain[0]] == pytest.approx(gain_spread(DMM))


def test_observations_stand_in_the_programs_order() -> None:
    readings = visit(
        *LEGS, volts("L1", "N", 119.0, "loz"), ohms("N", "G", 0.3), over("L1", "N", 40e6), near("N", detected=True)
    )
    hypothesis, scene = state(readings, "none_found")
    built, o = compiled(hypothesis, scene)
    for row, index in enumerate(built.order):
        reading, meter = scene.readings[index], scene.meters[scene.readings[index].meter]
        assert o.value[row] == reading.value
        assert bool(o.over_range[row]) == reading.over_range
        if reading.kind == "proximity":
            assert (o.kind[row], o.floor[row]) == (PROXIMITY, 50.0)
            continue
        assert o.kind[row] == (VOLTAGE if reading.kind == "voltage" else RESISTANCE)
        assert o.floor[row] == pytest.approx(scatter_floor(meter))  # type: ignore[arg-type]
        assert o.relative[row] == pytest.approx(scatter_relative(meter))  # type: ignore[arg-type]
        assert o.misread[row] == PRIORS.misread_share


def test_under_inconsistent_readings_each_may_be_wrong() -> None:
    _, scene = state(visit(*LEGS), "none_found")
    o = observe(without_values(scene), scene.readings, range(3), inconsistent=True)
    assert (o.misread == PRIORS.inconsistent_share).all()


def test_transposed_wires_land_elsewhere() -> None:
    """Leg L1 and neutral exchanged on an empty outlet: L1-L2 shows the other leg alone, N-L2 both."""
    built = programmed(visit(*LEGS), "leg_neutral_transposed", "L1")
    hypothesis, scene = state(visit(*LEGS), "leg_neutral_transposed", "L1")
    assert dict(hypothesis.landing) == {"L1": "N", "N": "L1"}
    found = dict(
        zip((r.conductors for r in scene.readings), shown(built, np.zeros((1, len(built.keys))))[0], strict=True)
    )
    leg = NOMINAL * PRIORS.supply_center
    assert found["L1", "L2"] == pytest.approx(leg, rel=0.01)
    assert found["L2", "N"] == pytest.approx(2.0 * leg, rel=0.01)
    assert found["L1", "N"] == pytest.approx(leg, rel=0.01)


@pytest.mark.parametrize("bonded", [True, None])
def test_a_frame_bond_joins_neutral_and_ground_only_where_it_is_stated(bonded: bool | None) -> None:
    """With the neutral open and the frame on it, ground carries the load: the neutral stays near ground."""
    supply = Supply(equipment_ground="present", frame_bonded_to_neutral=bonded)
    readings = visit(volts("L1", "N", 120.0, state="one_side"), volts("N", "G", 0.0, state="one_side"), supply=supply)
    built = programmed(readings, "open_neutral")
    hypothesis, scene = state(readings, "open_neutral")
    found = dict(
        zip((r.conductors for r in scene.readings), shown(built, np.zeros((1, len(built.keys))))[0], strict=True)
    )
    assert hypothesis.series[0].conductor == "N"
    assert (found["N", "G"] < 2.0) == bool(bonded)
    assert (found["N", "G"] > 100.0) == (not bonded)


def test_meters_load_as_they_are() -> None:
    built = programmed(visit(volts("L1", "N", 7.0, "loz"), volts("L1", "L2", 240.0)), "none_found")
    loads = sorted(built.program.meter_admittance, key=abs)
    assert loads[1] == pytest.approx(1.0 / LOZ.input_impedance)
    assert abs(loads[0]) == pytest.approx(abs(complex(1e-7, 2.0 * math.pi * 60.0 * 100e-12)))
