"""Situations of the feeder: sound, weak and open neutrals and legs between service panel and sub-panel."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Feeder, Joint
from support.trade.parts import (
    TEST_STATE,
    broken,
    feeder_with_drop,
    kit,
    leg_loads,
    some,
    unbalanced,
    usual,
    weak,
    with_feeder,
    with_test_load,
)
from support.trade.scene import Scene, Truth, volts
from support.trade.world import pick, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")
_FED = ("fed_from",)


def _stated(rng: np.random.Generator) -> tuple[str, ...]:
    return _FED if rng.random() < 0.4 else ()


def sub_sound_unplugged(rng: np.random.Generator) -> Scene:
    """1 to 3 V between N and G, stiff: a sound feeder, or an open one near balance; no load tells."""
    here = with_feeder(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel"), feeder_with_drop(rng, uniform(rng, 1.0, 3.0))
    )
    steps = [
        *usual(rng, here, "dmm", drop=0.2),
        *volts("dmm", "N-G"),
        *some(rng, volts("loz", "L1-N", "L2-N", "N-G"), 0.6),
    ]
    truth = Truth("none", decidable=False, stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "sound, unplugged", _stated(rng))


def sub_sound_plugged(rng: np.random.Generator) -> Scene:
    """The same with the appliance on."""
    here = with_feeder(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel"), feeder_with_drop(rng, uniform(rng, 1.0, 3.0))
    )
    state = pick(rng, "idle", "running")
    steps = [*usual(rng, here, "dmm", state=state, drop=0.2), *volts("dmm", "N-G", state=state)]
    truth = Truth("none", decidable=False, stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, f"sound, {state}", _stated(rng))


def sub_sound_loaded(rng: np.random.Generator) -> Scene:
    """The same, proven with 1.5 kW on one leg."""
    here = with_feeder(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel"), feeder_with_drop(rng, uniform(rng, 1.0, 3.0))
    )
    here = with_test_load(here, rng)
    three = ("L1-N", "L2-N", "N-G")
    steps = [*usual(rng, here, "dmm"), *volts("dmm", "L1-L2", *three, state="test")]
    steps += volts("dmm", "L1-L2", *three, state="running")
    truth = Truth("none", stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "sound, loaded", states={"test": TEST_STATE})


def _bad_feeder(rng: np.random.Generator, ohms: float, degree: str) -> Scene:
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    here = with_feeder(here, Feeder(spread(rng, 0.015, 0.12), loads=unbalanced(rng)))
    here = broken(here, Joint("feeder", "N", ohms))
    plugged = rng.random() < 0.35
    state = "idle" if plugged else "disconnected"
    # Legs against G or a low-impedance meter, so that a floating branch neutral is no rival.
    proof = pick(rng, volts("loz", "L1-N", "L2-N", "N-G"), [*volts("dmm", "L1-G", "L2-G"), *volts("loz", "N-G")])
    steps = [*usual(rng, here, "dmm", state=state), *proof]
    unstated = _stated(rng)
    if rng.random() < 0.4:  # who does not know which panel it is says "panel"
        steps += volts("dmm", "L1-N", "L2-N", "N-G", point="sub_panel", said="panel" if unstated else None)
    truth = Truth("feeder_neutral", "N", degree)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, f"{degree} feeder neutral", unstated)


def sub_weak(rng: np.random.Generator) -> Scene:
    """Ohms in the feeder's neutral: tens of volts, stiff."""
    return _bad_feeder(rng, weak(rng), "high_resistance")


def sub_open(rng: np.random.Generator) -> Scene:
    """Feeder's neutral off."""
    return _bad_feeder(rng, OPEN, "open")


def sub_open_near_balance(rng: np.random.Generator) -> Scene:
    """Feeder's neutral off, legs within a few percent: the same 2 to 3 V as a sound one."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    heavy = uniform(rng, 800.0, 3000.0)
    loads = leg_loads(heavy, heavy * (1.0 - uniform(rng, 0.03, 0.05)), heavy_on_first=rng.random() < 0.5)
    here = broken(
        with_feeder(here, Feeder(0.05, loads=tuple(replace(x, ohms=complex(x.ohms.real)) for x in loads))),
        Joint("feeder", "N", OPEN),
    )
    here = with_test_load(here, rng)
    loaded = rng.random() < 0.5
    steps = [*usual(rng, here, "dmm"), *volts("loz", "N-G", "L1-N")]
    if loaded:
        steps += volts("dmm", "L1-N", "L2-N", "N-G", state="test")
    truth = Truth("feeder_neutral", "N", "open", decidable=loaded)
    name = "open feeder neutral near balance" + (", loaded" if loaded else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, name, states={"test": TEST_STATE})


def sub_bonded_sound(rng: np.random.Generator) -> Scene:
    """An older detached building, neutral and ground joined again: N-G is 0 whatever the feeder drops."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel_bonded")
    here = with_test_load(with_feeder(here, feeder_with_drop(rng, uniform(rng, 1.0, 3.0), bonded=True)), rng)
    steps = [
        *usual(rng, here, "dmm"),
        *usual(rng, here, "dmm", state="test"),
        *usual(rng, here, "dmm", state="running"),
    ]
    truth = Truth("none", stop=False)
    known = _stated(rng)
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "sound, bonded again", known, states={"test": TEST_STATE})


def sub_leg(rng: np.random.Generator) -> Scene:
    """A feeder's leg off: stiff or fed back at every outlet of the sub-panel, good at the service panel."""
    leg = pick(rng, "L1", "L2")
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    here = with_feeder(here, Feeder(spread(rng, 0.015, 0.12), loads=unbalanced(rng)))
    here = broken(here, Joint("feeder", leg, OPEN))
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-L2", f"{leg}-N")]
    both = rng.random() < 0.6
    if both:
        for point in ("sub_panel", "service_panel"):
            steps += volts("dmm", "L1-N", "L2-N", "L1-L2", point=point)
    truth = Truth("feeder_leg", leg, "open")
    name = "open feeder leg" + (", both panels read" if both else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, name, () if both else _stated(rng))


def sub_no_neutral(rng: np.random.Generator) -> Scene:
    """A sound 6-series outlet behind a sub-panel."""
    here = site(rng, receptacle=pick(rng, "6-50R", "6-20R"), fed="sub_panel")
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running")]
    return Scene(here, tuple(steps), kit(rng, "dmm"), Truth("none", stop=False), "sound, no neutral", _stated(rng))


SITUATIONS = {
    "sub_panel": (
        sub_sound_unplugged,
        sub_weak,
        sub_sound_plugged,
        sub_open,
        sub_sound_loaded,
        sub_open_near_balance,
        sub_no_neutral,
        sub_bonded_sound,
        sub_leg,
    ),
}
