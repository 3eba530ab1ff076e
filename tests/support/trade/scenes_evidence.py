"""Situations of the evidence: dead testers, intermittent joints, generators, what a person saw; and sound houses."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Joint, Source
from support.trade.parts import TEST_STATE, broken, kit, some, unbalanced, usual, with_house_loads, with_test_load
from support.trade.scene import Scene, Step, Truth, near, volts
from support.trade.world import Site, pick, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")


def tester_dead(rng: np.random.Generator) -> Scene:
    """A sound outlet, the voltmeter on the wrong function; a pen or a second meter, or nothing, against it."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R"))
    meters = kit(rng, "dmm", "loz", "pen")
    meters["dmm"] = replace(meters["dmm"], dead=True)
    against = pick(rng, "pen", "second meter", "nothing")
    steps = usual(rng, here, "dmm")
    if against == "pen":
        steps += near("pen", "L1", "L2")
    elif against == "second meter":
        steps += usual(rng, here, "loz")
    truth = Truth(
        "tester",
        accept=frozenset({"none"}) if against == "second meter" else frozenset(),
        never=frozenset({"both_legs", "supply_lost", "breaker"}),
        decidable=False,
        refer=frozenset(),
        stop=False,
    )
    return Scene(
        here, tuple(steps), meters, truth, f"dead tester against {against}", ("fed_from",) if rng.random() < 0.5 else ()
    )


def tester_proved(rng: np.random.Generator) -> Scene:
    """Really dead, by a meter proven before and after; the main is off, or a breaker."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R"), fed="service_panel")
    breaker = rng.random() < 0.5
    if breaker:
        here = replace(here, house=replace(here.house, run=replace(here.house.run, lifted=("L1", "L2"))))
    else:
        here = broken(here, Joint("service", "L1", OPEN), Joint("service", "L2", OPEN))
    meters = kit(rng, "dmm", "loz")
    for name, meter in meters.items():
        meters[name] = replace(meter, stated=meter.stated | {"proved": {"before": True, "after": True}})
    steps = [*usual(rng, here, "loz"), *some(rng, usual(rng, here, "dmm"))]
    panel = rng.random() < 0.5
    if panel:
        steps += volts("loz", "L1-L2", "L1-N", "L2-N", point="service_panel")
    place = "breaker" if breaker else "supply_lost"
    name = f"{'breaker' if breaker else 'no supply'}, proven tester" + (", panel read" if panel else "")
    return Scene(here, tuple(steps), meters, Truth(place, None, "open"), name)


def intermittent(rng: np.random.Generator) -> Scene:
    """A joint that holds in one reading and not in the next, all in one state."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel")
    conductor = pick(rng, "L1", "L2", "N")
    bad = broken(
        here, Joint("branch", conductor, OPEN if rng.random() < 0.5 else spread(rng, 2e3, 1e5), pick(rng, 0.0, 0.5))
    )
    pairs = ("L1-N", "L2-N") if conductor == "N" else (f"{conductor}-N", "L1-L2")
    off = volts("loz", *pairs)
    held = [replace(step, joints=False) for step in volts("loz", "L1-N", "L2-N", "L1-L2")]
    steps = [*held, *off] if rng.random() < 0.5 else [*off, *held]
    if rng.random() < 0.5:
        steps += [replace(step, joints=False) for step in usual(rng, here, "dmm")]
    seen = ("works_when_moved",) if rng.random() < 0.4 else ()
    place = "branch_neutral" if conductor == "N" else "branch_leg"
    # A joint upstream would read alike, since no panel was read: the wider place is what two such readings establish.
    truth = Truth(place, conductor, None, never=frozenset({"tester"}))
    meters = kit(rng, "dmm", "loz")
    return Scene(bad, tuple(steps), meters, truth, f"intermittent {conductor}", (), seen, sound_sometimes=here.house)


def _generator(rng: np.random.Generator) -> Site:
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel")
    source = Source("generator", uniform(rng, 117.0, 125.0), primary=0.02 + 0.03j, half=0.05 + 0.03j, pole_ground=OPEN)
    house = replace(here.house, source=source, bonded=False)
    # Filters of other appliances hang between a leg and the frame: nF, unlike on the two legs.
    run = house.run
    farads = dict(run.farads) | {("L1", "G"): spread(rng, 1e-9, 2e-8), ("L2", "G"): spread(rng, 1e-9, 2e-8)}
    return replace(here, house=replace(house, run=replace(run, farads=farads)))


def generator(rng: np.random.Generator) -> Scene:
    """A portable generator whose neutral is not bonded: legs right against N, soft against G."""
    here = _generator(rng)
    stated = pick(rng, "generator", "unknown", None)
    low = rng.random() < 0.75
    steps = [*usual(rng, here, "dmm"), *volts("dmm", "L1-G", "L2-G")]
    if low:
        steps += volts("loz", "L1-N", "L2-N", "L1-G", "L2-G")
    truth = Truth(
        "neutral_not_bonded",
        None,
        accept=frozenset({"ground"}) if stated != "generator" else frozenset(),
        decidable=low and stated == "generator",
        refer=frozenset({"electrician"}),
        stop=False,
    )
    name = f"not bonded, source {'stated' if stated == 'generator' else 'not stated'}"
    return Scene(
        here, tuple(steps), kit(rng, "dmm", "loz"), truth, name, supply={} if stated is None else {"source": stated}
    )


def generator_sound(rng: np.random.Generator) -> Scene:
    """A generator that is bonded at the panel."""
    here = _generator(rng)
    here = with_test_load(replace(here, house=replace(here.house, bonded=True)), rng)
    steps = [
        *usual(rng, here, "dmm"),
        *volts("loz", "L1-G", "L1-N"),
        *volts("dmm", "L1-L2", "L1-N", "L2-N", "N-G", state="test"),
    ]
    truth = Truth("none", stop=False)
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        truth,
        "bonded",
        states={"test": TEST_STATE},
        supply={"source": "generator"},
    )


def lights(rng: np.random.Generator) -> Scene:
    """Legs apart with the appliance on and no ground to read: lights elsewhere part service from branch."""
    here = site(rng, receptacle=pick(rng, "10-30R", "10-50R"), fed="service_panel", kind="dryer")
    here = with_house_loads(here, unbalanced(rng))
    service = rng.random() < 0.5
    here = broken(here, Joint("service", "N", OPEN) if service else Joint("branch", "N", spread(rng, 5.0, 60.0), 0.0))
    steps = usual(rng, here, "dmm", state="running")
    seen = ({"code": "lights_brighten_and_dim", "where": "whole_building"},) if service else ()
    if service:
        truth = Truth("service_neutral", "N", "open")
        return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "service, lights seen", (), seen)
    truth = Truth("branch_neutral", "N", "high_resistance")
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, "branch, nothing seen", (), seen)


def others_live(rng: np.random.Generator) -> Scene:
    """A dead outlet by one meter; other circuits live, or dead, part breaker, lost supply and tester."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R"), fed="service_panel")
    cause = pick(rng, "breaker", "supply_lost", "tester")
    meters = kit(rng, "loz")
    if cause == "tester":
        meters["loz"] = replace(meters["loz"], dead=True)
        truth = Truth("tester", decidable=False, refer=frozenset(), stop=False)
        seen = ("other_circuits_live",)
        return Scene(here, tuple(usual(rng, here, "loz")), meters, truth, "other_circuits_live, tester dead", (), seen)
    breaker = cause == "breaker"
    if breaker:
        here = replace(here, house=replace(here.house, run=replace(here.house.run, lifted=("L1", "L2"))))
    else:
        here = broken(here, Joint("service", "L1", OPEN), Joint("service", "L2", OPEN))
    proved = rng.random() < 0.5
    if proved:
        meters["loz"] = replace(
            meters["loz"], stated=meters["loz"].stated | {"proved": {"before": True, "after": True}}
        )
    steps: list[Step] = usual(rng, here, "loz")
    code = "other_circuits_live" if breaker else "other_circuits_dead"
    truth = Truth("breaker" if breaker else "supply_lost", None, "open", decidable=proved)
    return Scene(here, tuple(steps), meters, truth, code + (", proven" if proved else ""), (), (code,))


def sound_high_impedance(rng: np.random.Generator) -> Scene:
    """Sound, read unloaded with a high-impedance meter only: proves nothing of the neutral."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "10-30R"))
    truth = Truth("none", decidable=False, stop=False, never=frozenset({"none"}))
    return Scene(
        here,
        tuple(usual(rng, here, "dmm", drop=0.2)),
        kit(rng, "dmm"),
        truth,
        "unloaded, high impedance",
        ("fed_from",),
    )


def sound_proven(rng: np.random.Generator) -> Scene:
    """Sound, proven by an element across the legs and a known load on one leg, any layout."""
    here = with_test_load(site(rng, receptacle=pick(rng, *FOUR_WIRE, "10-30R", "10-50R"), kind="range"), rng)
    steps = [
        *usual(rng, here, "dmm"),
        *usual(rng, here, "dmm", state="test"),
        *usual(rng, here, "dmm", state="running"),
    ]
    steps += some(rng, volts("loz", "L1-N", "L2-N"))
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        Truth("none", stop=False),
        f"proven under load, {here.receptacle}",
        ("fed_from",) if rng.random() < 0.4 else (),
        states={"test": TEST_STATE},
    )


def sound_running(rng: np.random.Generator) -> Scene:
    """Sound, read with the appliance idle and running."""
    here = site(rng)
    steps = [*usual(rng, here, "dmm", state="idle", drop=0.2), *usual(rng, here, "dmm", state="running", drop=0.2)]
    truth = Truth("none", decidable=False, stop=False)
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm"),
        truth,
        f"idle and running, {here.receptacle}",
        ("fed_from",) if rng.random() < 0.5 else (),
    )


def sound_low_impedance(rng: np.random.Generator) -> Scene:
    """Sound by a low-impedance meter."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "10-30R"))
    truth = Truth("none", decidable=False, stop=False)
    return Scene(
        here,
        tuple(usual(rng, here, "loz")),
        kit(rng, "loz"),
        truth,
        "low impedance",
        ("fed_from",) if rng.random() < 0.5 else (),
    )


def sound_metalwork(rng: np.random.Generator) -> Scene:
    """A sound 10-series outlet; its box or a pipe beside it is read, whose way to ground nobody knows."""
    here = site(rng, receptacle=pick(rng, "10-30R", "10-50R"))
    way = pick(rng, spread(rng, 0.1, 5.0), spread(rng, 1e3, 1e6), OPEN)
    here = replace(here, house=replace(here.house, run=replace(here.house.run, metalwork=way)))
    steps = [*usual(rng, here, "dmm"), *volts("dmm", "L1-metalwork", "N-metalwork"), *usual(rng, here, "loz", drop=0.3)]
    truth = Truth("none", decidable=False, stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "metalwork read", ("fed_from",))


SITUATIONS = {
    "tester": (tester_dead, tester_proved),
    "intermittent": (intermittent,),
    "generator": (generator, generator, generator_sound),
    "observations": (lights, others_live),
    "sound": (sound_proven, sound_high_impedance, sound_running, sound_low_impedance, sound_metalwork),
}
