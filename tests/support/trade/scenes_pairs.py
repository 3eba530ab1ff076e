"""Pairs that readings cannot part, and circuits that no model of the trade's usual faults fits."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Feeder, Joint, Load, Source
from support.trade.parts import (
    broken,
    feeder_with_drop,
    kit,
    leg_loads,
    some,
    unbalanced,
    usual,
    with_feeder,
    with_house_loads,
)
from support.trade.scene import Scene, Truth, volts
from support.trade.scenes_evidence import generator, others_live
from support.trade.world import pick, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")


def stiff_volts(rng: np.random.Generator) -> Scene:
    """N-G 2 to 3 V, low impedance too: sound feeder, or open near balance."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    sound = rng.random() < 0.5
    if sound:
        here = with_feeder(here, feeder_with_drop(rng, uniform(rng, 2.0, 3.0)))
    else:
        heavy = uniform(rng, 800.0, 3000.0)
        loads = leg_loads(heavy, heavy * (1.0 - uniform(rng, 0.033, 0.05)), heavy_on_first=True)
        loads = tuple(replace(x, ohms=complex(x.ohms.real)) for x in loads)
        here = broken(with_feeder(here, Feeder(0.05, loads=loads)), Joint("feeder", "N", OPEN))
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "N-G")]
    truth = Truth("none" if sound else "feeder_neutral", decidable=False, refer=frozenset(), stop=False)
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        truth,
        "stiff 2 to 3 V: " + ("sound" if sound else "open feeder neutral"),
    )


def collapses(rng: np.random.Generator) -> Scene:
    """Right to N, collapsing at 3 kohm, nothing else on the panel: open feeder neutral or open branch neutral."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel")
    feeder = rng.random() < 0.5
    here = with_feeder(here, Feeder(0.05))
    here = broken(here, Joint("feeder", "N", OPEN) if feeder else Joint("branch", "N", OPEN, 0.0))
    panel = rng.random() < 0.3
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N")]
    if panel:
        steps += volts("loz", "L1-N", "L2-N", "L1-G", point="sub_panel")
    place = "feeder_neutral" if feeder else "branch_neutral"
    name = f"collapses: {place}" + (", panel read" if panel else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), Truth(place, "N", "open", decidable=True), name)


def own_load(rng: np.random.Generator) -> Scene:
    """Own load on, legs apart, N-G 10 V: weak feeder neutral or weak branch neutral."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel", kind="dryer")
    feeder = rng.random() < 0.5
    here = with_feeder(here, Feeder(0.04, loads=leg_loads(120.0, 100.0, heavy_on_first=True)))
    ohms = uniform(rng, 2.5, 6.0)
    here = broken(here, Joint("feeder", "N", ohms) if feeder else Joint("branch", "N", ohms, 0.0))
    unplugged = rng.random() < 0.4
    steps = usual(rng, here, "dmm", state="running")
    if unplugged:
        steps += [*usual(rng, here, "dmm"), *volts("dmm", "L1-N", "N-G", state="running", point="sub_panel")]
    place = "feeder_neutral" if feeder else "branch_neutral"
    truth = Truth(place, "N", "high_resistance", decidable=True)
    return Scene(
        here, tuple(steps), kit(rng, "dmm"), truth, f"own load: {place}" + (", panel read" if unplugged else "")
    )


def apart_without_ground(rng: np.random.Generator) -> Scene:
    """97/145 without ground: service neutral or feeder neutral."""
    feeder = rng.random() < 0.5
    here = site(rng, receptacle=pick(rng, "10-30R", "10-50R"), fed="sub_panel" if feeder else "service_panel")
    if feeder:
        here = broken(with_feeder(here, Feeder(0.04, loads=unbalanced(rng))), Joint("feeder", "N", OPEN))
    else:
        here = broken(with_house_loads(here, unbalanced(rng)), Joint("service", "N", OPEN))
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N")]
    place = "feeder_neutral" if feeder else "service_neutral"
    # Established as `neutral`: nothing unplugged pulls a branch's neutral so far that 3 kohm do not move it.
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        Truth(place, "N", "open"),
        f"97/145, no ground: {place}",
        ("fed_from",),
    )


def apart_with_ground(rng: np.random.Generator) -> Scene:
    """Legs apart, N-G 0: service neutral, or feeder neutral into a building bonded again."""
    feeder = rng.random() < 0.5
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="sub_panel_bonded" if feeder else "service_panel")
    if feeder:
        here = broken(
            with_feeder(here, Feeder(0.05, True, spread(rng, 20.0, 150.0), unbalanced(rng))), Joint("feeder", "N", OPEN)
        )
    else:
        here = broken(with_house_loads(here, unbalanced(rng)), Joint("service", "N", OPEN))
    stated = rng.random() < 0.4
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-N", "L2-N", "L1-G")]
    place = "feeder_neutral" if feeder else "service_neutral"
    accept = frozenset({"service_neutral"}) if feeder and stated else frozenset()
    # Into a bonded building the service's neutral is never excluded by readings at the outlet.
    truth = Truth(place, "N", "open", accept=accept if not feeder else frozenset())
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        truth,
        f"legs apart, N-G 0: {place}" + (", stated" if stated else ""),
        () if stated else ("fed_from",),
    )


def ground_soft(rng: np.random.Generator) -> Scene:
    """Ground soft: open ground, or a generator that is not bonded."""
    if rng.random() < 0.5:
        return replace(generator(rng), variant="ground soft: generator")
    here = broken(
        site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel"),
        Joint("branch", "G", OPEN, pick(rng, 0.0, 0.5)),
    )
    stated = rng.random() < 0.5
    steps = [*usual(rng, here, "dmm"), *volts("dmm", "L1-G"), *volts("loz", "L1-N", "L2-N", "L1-G", "L2-G")]
    truth = Truth("ground", "G", "open", decidable=stated, stop=False)
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        truth,
        "ground soft: open ground",
        supply={"source": "utility"} if stated else {"source": "unknown"},
    )


def ground_fault_breaker(rng: np.random.Generator) -> Scene:
    """A ground-fault breaker has tripped on what puts current on G: the outlet is dead until it is reset."""
    cause = pick(rng, "leak", "joined")
    here = site(rng, receptacle="14-50R", fed="service_panel", kind="range")
    if cause == "leak":
        leak = Load("L1", "G", spread(rng, 400.0, 8000.0) + 0j)
        here = replace(here, house=replace(here.house, states={n: (*x, leak) for n, x in here.house.states.items()}))
    else:
        here = replace(here, house=replace(here.house, run=replace(here.house.run, jumper=0.01)))
    here = replace(here, house=replace(here.house, run=replace(here.house.run, lifted=("L1", "L2"))))
    steps = [*usual(rng, here, "loz"), *volts("dmm", "L1-L2", "L1-N", "L2-N", point="service_panel")]
    also = frozenset({"leak_to_ground"}) if cause == "leak" else frozenset({"joined"})
    truth = Truth("breaker", None, "open", also=also, decidable=True, refer=frozenset({"electrician"}))
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        truth,
        f"ground-fault breaker tripped by {cause}",
        (),
        ("ground_fault_breaker_tripped", "breaker_found_tripped"),
    )


_OUTSIDE = Truth(
    "readings",
    decidable=False,
    refer=frozenset(),
    stop=False,
    accept=frozenset({"supply_system", "other_supply_system"}),
    never=frozenset({"none"}),
)


def _outside(rng: np.random.Generator, source: Source, name: str) -> Scene:
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel")
    here = replace(here, house=replace(here.house, source=source, loads=()))
    steps = [
        *usual(rng, here, "dmm"),
        *volts("loz", "L1-L2", "L1-N", "L2-N", "L1-G"),
        *some(rng, volts("dmm", "L1-G", "L2-G")),
    ]
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), _OUTSIDE, name)


def two_feeders(rng: np.random.Generator) -> Scene:
    """The legs from two transformers on different phases: no system has that angle."""
    degrees = float(pick(rng, 60.0, 90.0, 150.0))
    return _outside(
        rng, Source("two_transformers", uniform(rng, 118.0, 122.0), degrees), f"two feeders, {degrees:g} deg apart"
    )


def corner(rng: np.random.Generator) -> Scene:
    """Legs of two voltages in no known system, a delta tapped off its middle."""
    source = Source("two_transformers", uniform(rng, 90.0, 100.0), pick(rng, 110.0, 130.0), uniform(rng, 190.0, 215.0))
    return _outside(rng, source, "tapped delta")


def autotransformer(rng: np.random.Generator) -> Scene:
    """One leg boosted against the other by an autotransformer, everything stiff, both against N and G."""
    source = Source("two_transformers", uniform(rng, 119.0, 121.0), 180.0, uniform(rng, 148.0, 165.0))
    return _outside(rng, source, "autotransformer in one leg")


SITUATIONS = {
    "pairs": (
        stiff_volts,
        collapses,
        own_load,
        apart_without_ground,
        apart_with_ground,
        others_live,
        ground_soft,
        ground_fault_breaker,
    ),
    "outside": (two_feeders, corner, autotransformer),
}
