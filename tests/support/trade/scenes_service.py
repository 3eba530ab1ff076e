"""Situations of the service: its neutral and its legs, weak or lost."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Feeder, Joint
from support.trade.parts import (
    TEST_STATE,
    broken,
    kit,
    leg_loads,
    some,
    unbalanced,
    usual,
    weak,
    with_feeder,
    with_house_loads,
    with_test_load,
)
from support.trade.scene import Scene, Step, Truth, volts
from support.trade.world import pick, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")
_FED = ("fed_from",)


def _stated(rng: np.random.Generator) -> tuple[str, ...]:
    return _FED if rng.random() < 0.4 else ()


def _bad_service_neutral(rng: np.random.Generator, ohms: float, degree: str, *, known: bool) -> Scene:
    here = with_house_loads(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), unbalanced(rng))
    here = broken(here, Joint("service", "N", ohms))
    state = pick(rng, "disconnected", "idle")
    steps = usual(rng, here, "dmm", state=state)
    steps += some(rng, volts("loz", "L1-N", "L2-N"), 0.6 if known else 1.0)
    if rng.random() < 0.4:
        steps += volts("dmm", "L1-N", "L2-N", "N-G", point="service_panel")
    truth = Truth("service_neutral", "N", degree)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, f"{degree} service neutral", () if known else _FED)


def service_open(rng: np.random.Generator) -> Scene:
    """Service neutral off, panel known."""
    return _bad_service_neutral(rng, OPEN, "open", known=True)


def service_weak(rng: np.random.Generator) -> Scene:
    """Ohms in the service neutral."""
    return _bad_service_neutral(rng, weak(rng), "high_resistance", known=rng.random() < 0.5)


def service_behind_sub_panel(rng: np.random.Generator) -> Scene:
    """Service neutral off, the outlet behind a sub-panel: legs apart against ground too, a volt or two from N to G."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    here = with_feeder(here, Feeder(spread(rng, 0.015, 0.1), loads=leg_loads(600.0, 400.0, heavy_on_first=True)))
    here = broken(with_house_loads(here, unbalanced(rng)), Joint("service", "N", OPEN))
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N", "L1-G", "L2-G")]
    truth = Truth("service_neutral", "N", "open")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "behind a sub-panel", _stated(rng))


def service_no_ground(rng: np.random.Generator) -> Scene:
    """Legs apart at a 10-series outlet: no N-G to part service, feeder and branch with the appliance on."""
    here = with_house_loads(site(rng, receptacle=pick(rng, "10-30R", "10-50R"), fed="service_panel"), unbalanced(rng))
    here = broken(here, Joint("service", "N", OPEN if rng.random() < 0.6 else weak(rng)))
    state = pick(rng, "idle", "disconnected")
    steps = [*usual(rng, here, "dmm", state=state), *some(rng, volts("loz", "L1-N", "L2-N"))]
    truth = Truth("service_neutral", "N")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "no ground at the outlet", _stated(rng))


def service_water_pipe(rng: np.random.Generator) -> Scene:
    """Service neutral off, held by a water pipe: some volts of shift, or none to be seen."""
    here = with_house_loads(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), unbalanced(rng))
    house = replace(here.house, electrode=spread(rng, 0.1, 0.5), source=replace(here.house.source, pole_ground=0.1))
    here = broken(replace(here, house=house), Joint("service", "N", OPEN))
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="idle", drop=0.3)]
    truth = Truth("service_neutral", "N", "open", decidable=False, hidden=True)
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "water pipe holds the neutral", _stated(rng))


def service_wye(rng: np.random.Generator) -> Scene:
    """208Y that lost its neutral; balanced it reads 104/104/208, until a load on one leg is switched."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", system="wye_120_208")
    watts = uniform(rng, 700.0, 2500.0)
    here = with_house_loads(here, leg_loads(watts, watts * uniform(rng, 0.97, 1.0), heavy_on_first=True))
    here = with_test_load(broken(here, Joint("service", "N", OPEN)), rng)
    loaded = rng.random() < 0.6
    steps = [*usual(rng, here, "dmm"), *some(rng, volts("loz", "L1-N", "L2-N"))]
    if loaded:
        steps += volts("dmm", "L1-L2", "L1-N", "L2-N", "N-G", state="test")
    known = {} if rng.random() < 0.5 else {"system": "split_phase_120_240"}
    accept = frozenset({"other_supply_system", "supply_system"}) if known else frozenset()
    truth = Truth("service_neutral", "N", "open", accept=accept, decidable=loaded, never=frozenset({"supply_voltage"}))
    name = "208Y without neutral" + (", loaded" if loaded else "") + (", taken for split phase" if known else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, name, states={"test": TEST_STATE}, supply=known)


def wye_sound(rng: np.random.Generator) -> Scene:
    """A sound 208Y service, stated or not."""
    here = with_test_load(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", system="wye_120_208"), rng)
    steps = [*usual(rng, here, "dmm"), *volts("dmm", "L1-L2", "L1-N", "L2-N", "N-G", state="test")]
    stated = rng.random() < 0.5
    truth = Truth(
        "none", accept=frozenset() if stated else frozenset({"other_supply_system", "supply_system"}), stop=False
    )
    if not stated:
        truth = Truth("other_supply_system", stop=False, refer=frozenset())
    known = {} if stated else {"system": "split_phase_120_240"}
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm"),
        truth,
        "sound 208Y" + ("" if stated else ", not stated"),
        states={"test": TEST_STATE},
        supply=known,
    )


def _lost_leg(rng: np.random.Generator, *, two_forty: bool, panel: bool, ohms: float) -> Scene:
    leg = pick(rng, "L1", "L2")
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "10-30R"), fed="service_panel")
    here = with_house_loads(here, unbalanced(rng, two_forty=two_forty))
    here = broken(here, Joint("service", leg, ohms))
    steps = usual(rng, here, "dmm", drop=0.15)
    low = rng.random() < 0.6
    if low:
        steps += volts("loz", "L1-L2", f"{leg}-N")
    if panel:
        steps += volts("dmm", "L1-L2", "L1-N", "L2-N", point="service_panel")
    degree = "open" if ohms > 1e3 else "high_resistance"
    truth = Truth("service_leg", leg, degree, decidable=panel or low)
    name = f"{degree} service leg" + (", fed back" if two_forty else "") + (", panel read" if panel else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, name, () if panel else _stated(rng))


def leg_fed_back(rng: np.random.Generator) -> Scene:
    """Lost, the house's 240 V loads feed it back."""
    return _lost_leg(rng, two_forty=True, panel=rng.random() < 0.5, ohms=OPEN)


def leg_lost(rng: np.random.Generator) -> Scene:
    """Lost, nothing feeds it back."""
    return _lost_leg(rng, two_forty=False, panel=rng.random() < 0.5, ohms=OPEN)


def leg_weak(rng: np.random.Generator) -> Scene:
    """A bad joint in a service leg, seen with the appliance running."""
    leg = pick(rng, "L1", "L2")
    here = with_house_loads(site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"), unbalanced(rng))
    here = broken(here, Joint("service", leg, spread(rng, 1.0, 6.0)))
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running")]
    steps += volts("dmm", "L1-N", "L2-N", "L1-L2", state="running", point="service_panel")
    truth = Truth("service_leg", leg, "high_resistance")
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "weak service leg, panel read running")


def leg_through_appliance(rng: np.random.Generator) -> Scene:
    """Lost upstream, with the appliance's own element on: a lost leg, or both legs from one pole."""
    leg = pick(rng, "L1", "L2")
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel", kind="range")
    here = broken(with_house_loads(here, unbalanced(rng, two_forty=False)), Joint("service", leg, OPEN))
    steps: list[Step] = usual(rng, here, "dmm", state="running")
    truth = Truth("service_leg", leg, "open", decidable=False)
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "lost leg seen through the element only", _stated(rng))


SITUATIONS = {
    "service_neutral": (
        service_open,
        service_weak,
        service_no_ground,
        service_wye,
        service_water_pipe,
        wye_sound,
        service_behind_sub_panel,
    ),
    "service_leg": (leg_fed_back, leg_lost, leg_weak, leg_through_appliance),
}
