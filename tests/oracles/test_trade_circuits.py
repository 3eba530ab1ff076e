"""The circuits of the trade against published figures and figures worked by hand, before they judge anything."""

from dataclasses import replace
from itertools import combinations

import pytest

from support.trade.house import FOUR, OPEN, Ask, Feeder, House, Joint, Load, Run, Source, VoltInput
from support.trade.netlist import read
from support.trade.parts import leg_loads
from support.trade.world import OHM_PER_METRE

NOTHING = 1e-6  # ohm; ngspice takes 0 for a milliohm
STIFF = Source(primary=NOTHING + 0j, half=NOTHING + 0j, pole_ground=NOTHING)
DMM = VoltInput(10e6, 100e-12)
LOZ = VoltInput(3e3, 0.0)
IDEAL = VoltInput(1e9, 0.0)


def at_panel(house: House, *pairs: str, meter: VoltInput = IDEAL) -> list[float]:
    return read([(house, Ask("voltage", tuple(p.split("-")), "service_panel", meter=meter)) for p in pairs])


def at_outlet(house: House, *pairs: str, meter: VoltInput = DMM, state: str = "disconnected") -> list[float]:
    return read([(house, Ask("voltage", tuple(p.split("-")), "receptacle", state, meter)) for p in pairs])


def bare(loads: tuple[Load, ...], source: Source = STIFF, service: float = NOTHING, *joints: Joint) -> House:
    """No rod, nothing on the branch."""
    return House(source=source, service=service, electrode=OPEN, loads=loads, joints=joints)


# 12 and 6 ohm on ideal 120 V legs: closed form V_N = (120/R1 - 120/R2)/(1/R1 + 1/R2 + 1/Rg), worked by hand.
@pytest.mark.parametrize(
    ("earth", "first", "second", "shift"),
    [
        (OPEN, 160.00, 80.00, 40.00),
        (100.0, 158.46, 81.54, 38.46),
        (25.0, 154.48, 85.52, 34.48),
        (5.0, 142.22, 97.78, 22.22),
        (0.5, 124.44, 115.56, 4.44),
    ],
)
def test_open_service_neutral_moves_the_legs_as_the_closed_form_says(
    earth: float, first: float, second: float, shift: float
) -> None:
    loads = (Load("L1", "N", 12.0 + 0j), Load("L2", "N", 6.0 + 0j))
    house = replace(bare(loads, STIFF, NOTHING, Joint("service", "N", 1e9)), electrode=earth)
    for more in ((), (Load("L1", "L2", 9.0 + 0j),)):  # a 240 V load moves nothing
        found = at_panel(replace(house, loads=(*loads, *more)), "L1-N", "L2-N", "N-G")
        assert found == pytest.approx([first, second, 0.0], abs=0.02)  # a bonding screw of 1 mohm
    (off,) = read([(house, Ask("to_earth", ("N",), "service_panel"))])
    assert off == pytest.approx(shift, abs=0.02)


def test_legs_at_97_and_145_volts_leave_every_frame_24_volts_off_earth() -> None:
    # (145 - 97) / 2, the shift of both legs, by hand.
    loads = (Load("L1", "N", 9.7 + 0j), Load("L2", "N", 14.5 + 0j))
    house = bare(loads, replace(STIFF, volts=121.0), NOTHING, Joint("service", "N", 1e9))
    assert at_panel(house, "L1-N", "L2-N", "N-G") == pytest.approx([97.0, 145.0, 0.0], abs=0.05)
    assert read([(house, Ask("to_earth", ("N",), "service_panel"))]) == pytest.approx([24.0], abs=0.05)


# Mehta and Mehta, Principles of Power System, Ex. 13.26: 250-0-250, outers 0.1, neutral 0.2 ohm, 50 and 40 A.
def test_three_wire_feeder_of_a_textbook() -> None:
    loads = (Load("L1", "N", 243.0 / 50.0 + 0j), Load("L2", "N", 248.0 / 40.0 + 0j))
    house = bare(loads, replace(STIFF, volts=250.0), 0.1, Joint("service", "N", 0.1))
    assert at_panel(house, "L1-N", "L2-N") == pytest.approx([243.0, 248.0], abs=0.01)


# A solved textbook example: fed at 252 and 243 V, loads 4 and 6 ohm, wires 0.15 ohm; by hand 495/10.3 A, 243/6.3 A and
# 252/4.3 A.
@pytest.mark.parametrize(("gone", "four", "six"), [("N", 192.23, 288.35), ("L1", 0.0, 231.43), ("L2", 234.42, 0.0)])
def test_three_wire_feeder_with_one_wire_open(gone: str, four: float, six: float) -> None:
    loads = (Load("L1", "N", 4.0 + 0j), Load("L2", "N", 6.0 + 0j))
    source = replace(STIFF, kind="two_transformers", volts=252.0, second_volts=243.0)
    house = bare(loads, source, 0.15, Joint("service", gone, 1e9))
    assert at_panel(house, "L1-N", "L2-N") == pytest.approx([four, six], abs=0.01)


# Kersting's example 11.1 as GridLAB-D's regression test has it: 50 kVA, Z0 = 0.5 R + j0.8 X, Z1 = Z2 = R + j0.4 X.
def test_center_tapped_transformer_of_kersting() -> None:
    base, r, x = 120.0**2 / 50e3, 0.011, 0.018
    source = Source(primary=base * complex(0.5 * r, 0.8 * x), half=base * complex(r, 0.4 * x), pole_ground=NOTHING)
    loads = (Load("L1", "N", 1.4 + 0.5j), Load("L2", "N", 0.9 + 0.4j), Load("L1", "L2", 2.0 + 1.2j))
    found = at_panel(bare(loads, source), "L1-N", "L2-N", "L1-L2")
    assert found == pytest.approx([118.0, 117.9, 235.9], abs=0.06)


# Floating conductors, 1.05 nF between each two (50 ft at 21 pF/ft measured, Nuts and Volts): voltage dividers by hand.
@pytest.mark.parametrize(
    ("ohms", "neutral", "leg", "legs"),
    [(10e6, 119.58, 39.86, 79.72), (1e6, 91.79, 30.60, 61.19), (1e5, 14.15, 4.72, 9.43), (3e3, 0.428, 0.143, 0.285)],
)
def test_ghost_voltages_of_fifty_feet(ohms: float, neutral: float, leg: float, legs: float) -> None:
    farads = dict.fromkeys(combinations(FOUR, 2), 1.05e-09)
    house = House(source=STIFF, run=Run(farads=farads, contact_farads=0.0))
    meter = VoltInput(ohms, 0.0)
    open_neutral = house.with_joints(Joint("branch", "N", 1e13, 0.0))
    assert at_outlet(open_neutral, "L1-N", "N-G", meter=meter) == pytest.approx([neutral, 0.0], rel=0.005, abs=2e-3)
    open_leg = house.with_joints(Joint("branch", "L2", 1e13, 0.0))
    assert at_outlet(open_leg, "L2-N", "L1-L2", meter=meter) == pytest.approx([leg, legs], rel=0.005)


@pytest.mark.parametrize(("metres", "volts"), [(1.0, 61.0), (5.0, 107.0), (15.0, 116.0)])
def test_what_floats_beyond_a_break_grows_with_its_length(metres: float, volts: float) -> None:
    # |y_c / (y_c + y_m)| with 3 x 69 pF/m against 10 Mohm || 100 pF: 61, 107 and 116 V by hand.
    farads = dict.fromkeys(combinations(FOUR, 2), 6.9e-11 * 30.0)
    run = Run(metres=30.0, farads=farads, contact_farads=0.0, sections=30)
    house = House(source=STIFF, run=run, joints=(Joint("branch", "N", 1e13, 1.0 - metres / 30.0 + 1e-9),))
    assert at_outlet(house, "L1-N") == pytest.approx([volts], abs=1.0)
    assert at_outlet(house, "L1-N", meter=LOZ)[0] < 0.5


def test_a_bare_contact_shows_a_few_volts_where_the_whole_run_shows_nearly_all() -> None:
    farads = dict.fromkeys(combinations(FOUR, 2), 6.9e-11 * 15.0)
    house = House(source=STIFF, run=Run(farads=farads))
    (contact,) = at_outlet(house.with_joints(Joint("contact", "N", 1e13)), "L1-N")
    (whole,) = at_outlet(house.with_joints(Joint("branch", "N", 1e13, 0.0)), "L1-N")
    assert 1.0 < contact < 8.0
    assert whole > 115.0


def test_a_lost_service_leg_is_fed_back_as_a_divider_says() -> None:
    # 240 V loads of 3.5 ohm in series with 8.5 ohm on the lost leg: 120 x 8.5/12 = 85 V, and 35 V from leg to leg.
    loads = (Load("L1", "N", 10.0 + 0j), Load("L2", "N", 8.5 + 0j), Load("L1", "L2", 3.5 + 0j))
    house = bare(loads, STIFF, NOTHING, Joint("service", "L2", 1e9))
    assert at_outlet(house, "L1-N", "L2-N", "L1-L2", meter=LOZ) == pytest.approx([120.0, 85.0, 35.0], abs=0.1)


def test_a_low_impedance_meter_from_leg_to_leg_parts_a_service_leg_from_a_branch_leg() -> None:
    farads = dict.fromkeys(combinations(FOUR, 2), 6.9e-11 * 15.0)
    house = House(source=STIFF, loads=leg_loads(600.0, 300.0, heavy_on_first=True), run=Run(farads=farads))
    assert at_outlet(house.with_joints(Joint("service", "L2", OPEN)), "L1-L2", meter=LOZ)[0] > 100.0
    assert at_outlet(house.with_joints(Joint("branch", "L2", OPEN, 0.0)), "L1-L2", meter=LOZ)[0] < 1.0


def test_208y_without_its_neutral_reads_like_a_low_split_phase_supply() -> None:
    # Balanced: half of 120 x sqrt(3) on each leg; the neutral sits at the middle of the two phases, 60 V off earth.
    source = replace(STIFF, kind="wye", degrees=-120.0)
    house = bare(
        (Load("L1", "N", 16.0 + 0j), Load("L2", "N", 16.0 + 0j)),
        source,
        NOTHING,
        Joint("service", "N", 1e9),
    )
    assert at_panel(house, "L1-L2", "L1-N", "L2-N", "N-G") == pytest.approx([207.85, 103.92, 103.92, 0.0], abs=0.05)
    assert read([(house, Ask("to_earth", ("N",), "service_panel"))]) == pytest.approx([60.0], abs=0.05)


def test_a_sound_feeder_puts_its_neutrals_drop_between_neutral_and_ground_for_any_meter() -> None:
    # 20 A in 0.13 ohm is 2.6 V; the heavy leg loses it twice, 120 - 2 x 2.6, the light one gains it once.
    loads = (Load("L1", "N", 114.8 / 20.0 + 0j),)
    house = House(source=STIFF, service=NOTHING, electrode=OPEN, feeder=Feeder(0.13, loads=loads))
    for meter in (DMM, LOZ):
        assert at_outlet(house, "N-G", "L1-N", "L2-N", meter=meter) == pytest.approx([2.6, 114.8, 122.6], abs=0.05)


def test_an_open_feeder_neutral_moves_the_legs_against_neutral_and_not_against_ground() -> None:
    # 12 and 6 ohm again: 160, 80, and 40 V between neutral and ground, which no rod can hold, since ground is sound.
    loads = (Load("L1", "N", 12.0 + 0j), Load("L2", "N", 6.0 + 0j))
    feeder = Feeder(NOTHING, loads=loads)
    house = House(source=STIFF, service=NOTHING, electrode=5.0, feeder=feeder, joints=(Joint("feeder", "N", 1e9),))
    found = at_outlet(house, "L1-N", "L2-N", "N-G", "L1-G", "L2-G", meter=LOZ)
    assert found == pytest.approx([160.0, 80.0, 40.0, 120.0, 120.0], abs=0.5)
    again = replace(
        house, feeder=replace(feeder, bonded=True, rod=5.0)
    )  # joined again: N-G is 0, the rods hold a little
    shift = (10.0 - 20.0) / (1.0 / 12.0 + 1.0 / 6.0 + 1.0 / 5.0)
    assert at_outlet(again, "N-G", "L1-N", meter=LOZ) == pytest.approx([0.0, 120.0 - shift], abs=0.2)


def test_a_leak_shows_on_the_ground_wire_at_every_point_upstream_of_it() -> None:
    house = House(source=STIFF, states={"idle": (Load("L1", "G", 24.0 + 0j),)})
    asks = [Ask("current", ("G",), state="idle")]
    asks += [replace(asks[0], point="service_panel"), replace(asks[0], point="appliance_terminals")]
    assert read([(house, ask) for ask in asks]) == pytest.approx([5.0] * 3, rel=0.01)
    assert read([(house, Ask("current", ("N",), "receptacle", "idle"))])[0] < 1e-3


def test_neutral_and_ground_joined_share_the_neutrals_current_and_an_ohmmeter_reads_the_loop() -> None:
    run = Run(ohms=0.05, jumper=1e-3)
    house = House(source=STIFF, run=run, states={"running": (Load("L1", "N", 12.0 + 0j),)})
    ground, neutral = read([(house, Ask("current", (c,), "receptacle", "running")) for c in ("G", "N")])
    assert ground + neutral == pytest.approx(10.0, rel=0.02)
    assert ground == pytest.approx(neutral, rel=0.05)
    (loop,) = read([(replace(house, run=replace(run, jumper=None)), Ask("resistance", ("N", "G")))])
    assert loop == pytest.approx(2 * 0.05, abs=0.01)


def test_an_unbonded_generator_is_right_against_neutral_and_soft_against_ground() -> None:
    source = Source("generator", 120.0, primary=NOTHING + 0j, half=NOTHING + 0j, pole_ground=OPEN)
    farads = {("L1", "G"): 5e-9, ("L2", "G"): 1e-9, ("N", "G"): 1e-9}
    house = House(source=source, bonded=False, run=Run(farads=farads, contact_farads=0.0))
    assert at_outlet(house, "L1-N", "L2-N", meter=LOZ) == pytest.approx([120.0, 120.0], abs=0.1)
    # G floats where its capacitances leave it: 120 (5 - 1)/7 from N towards L1.
    assert at_outlet(house, "N-G", meter=VoltInput(1e12, 0.0)) == pytest.approx([120.0 * 4.0 / 7.0], abs=0.5)
    assert at_outlet(house, "L1-G", "L2-G", meter=LOZ) == pytest.approx([0.0, 0.0], abs=2.0)


def test_conductors_follow_the_published_table() -> None:
    # 50 ft of 10 AWG copper at 20 degC: 0.0499 ohm (IACS and ASTM B258; the NEC's table says 0.0605 at 75 degC).
    assert OHM_PER_METRE["10 AWG"] * 15.24 == pytest.approx(0.0499, abs=1e-4)
