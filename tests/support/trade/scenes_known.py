"""Situations that were known before the wider world, so that a wider world can be seen not to make answers vaguer."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Joint
from support.trade.parts import TEST_STATE, broken, kit, some, usual, with_test_load
from support.trade.scene import Scene, Truth, volts
from support.trade.world import Site, pick, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")


def _wired(here: Site, **changes: dict[str, str]) -> Site:
    return replace(here, house=replace(here.house, run=replace(here.house.run, **changes)))  # type: ignore[arg-type]


def branch_neutral_open(rng: np.random.Generator) -> Scene:
    """Connected, one leg to neutral near zero and the other near 240 V, panel known."""
    here = broken(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", kind="range"), Joint("branch", "N", OPEN, 0.0)
    )
    steps = [*usual(rng, here, "dmm", state="idle"), *some(rng, volts("loz", "L1-N", "L2-N"))]
    return Scene(
        here, tuple(steps), kit(rng, "dmm", "loz"), Truth("branch_neutral", "N", "open"), "branch neutral off, idle"
    )


def branch_neutral_weak(rng: np.random.Generator) -> Scene:
    """Ohms in the branch's neutral, under a known load and without it."""
    here = broken(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"),
        Joint("branch", "N", spread(rng, 1.0, 8.0), 0.0),
    )
    here = with_test_load(here, rng)
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="test")]
    truth = Truth("branch_neutral", "N", "high_resistance")
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "branch neutral weak, loaded", states={"test": TEST_STATE})


def branch_leg_weak(rng: np.random.Generator) -> Scene:
    """Ohms in a branch's leg, both ends read while the element is on."""
    leg = pick(rng, "L1", "L2")
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", kind="range")
    here = broken(here, Joint("branch", leg, spread(rng, 1.0, 5.0), 0.0))
    steps = [
        *usual(rng, here, "dmm", state="running"),
        *volts("dmm", "L1-N", "L2-N", state="running", point="service_panel"),
    ]
    truth = Truth("branch_leg", leg, "high_resistance")
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "branch leg weak, both ends read")


def cord_neutral_open(rng: np.random.Generator) -> Scene:
    """The neutral off in the cord: good at the outlet by a low-impedance meter, gone at the terminals."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", kind="range")
    here = broken(here, Joint("cord", "N", OPEN))
    steps = [*usual(rng, here, "loz"), *usual(rng, here, "dmm", state="idle", point="appliance_terminals")]
    truth = Truth("cord_neutral", "N", "open", stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "cord neutral off")


def leg_and_neutral(rng: np.random.Generator) -> Scene:
    """A leg and the neutral exchanged at the outlet."""
    here = _wired(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), landed={"L1": "N", "N": "L1"})
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-L2", "L2-N")]
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), Truth("transposed"), "leg and neutral exchanged")


def leg_and_ground(rng: np.random.Generator) -> Scene:
    """A leg and the ground exchanged at the outlet: every frame on it live."""
    here = _wired(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), landed={"L1": "G", "G": "L1"})
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "N-G", "L2-G")]
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), Truth("transposed"), "leg and ground exchanged")


def same_pole(rng: np.random.Generator) -> Scene:
    """Both legs from one pole, by a low-impedance meter, unplugged."""
    here = _wired(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), bar={"L2": "L1"})
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "loz")]
    return Scene(
        here, tuple(steps), kit(rng, "dmm", "loz"), Truth("legs_from_same_pole", stop=False), "legs from one pole"
    )


def ground_open(rng: np.random.Generator) -> Scene:
    """The equipment ground off along the run, source known."""
    here = broken(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"),
        Joint("branch", "G", OPEN, pick(rng, 0.0, 0.5)),
    )
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N", "L1-G", "L2-G")]
    truth = Truth("ground", "G", "open", stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "ground off", supply={"source": "utility"})


def voltage_off(rng: np.random.Generator) -> Scene:
    """Both legs low or high alike, everything stiff."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel")
    high = rng.random() < 0.5
    volts_off = uniform(rng, 132.0, 140.0) if high else uniform(rng, 95.0, 102.0)
    here = replace(here, house=replace(here.house, source=replace(here.house.source, volts=volts_off)))
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N")]
    truth = Truth("supply_voltage", refer=frozenset({"utility"}), stop=False, decidable=high)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "voltage " + ("high" if high else "low"))


SITUATIONS = {
    "known_faults": (
        branch_neutral_open,
        branch_neutral_weak,
        branch_leg_weak,
        cord_neutral_open,
        leg_and_neutral,
        leg_and_ground,
        same_pole,
        ground_open,
        voltage_off,
    )
}
