"""Situations from the breaker to the appliance: breaker, no neutral, neutral and ground, where along the run."""

from dataclasses import replace

import numpy as np

from support.trade.house import OPEN, Joint, Load
from support.trade.parts import broken, kit, some, unbalanced, usual, with_house_loads
from support.trade.scene import Scene, Truth, amps, near, volts
from support.trade.world import Site, pick, resistance_of, site, spread, uniform

FOUR_WIRE = ("14-50R", "14-30R")


def _lifted(here: Site, *poles: str) -> Site:
    return replace(here, house=replace(here.house, run=replace(here.house.run, lifted=poles)))


def breaker_both(rng: np.random.Generator) -> Scene:
    """Both poles open, panel good, outlet dead on a low-impedance meter or ghosts on a high-impedance one."""
    here = _lifted(site(rng, receptacle=pick(rng, *FOUR_WIRE, "10-30R", "6-50R")), "L1", "L2")
    at = "service_panel" if here.house.feeder is None else "sub_panel"
    panel = rng.random() < 0.6
    meters = kit(rng, "dmm", "loz")
    steps = [*usual(rng, here, "dmm", drop=0.2), *usual(rng, here, "loz", drop=0.3)]
    if panel:
        steps += volts("dmm", "L1-L2", "L1-N", "L2-N", point=at)
    seen = ("breaker_found_tripped",) if rng.random() < 0.4 else ()
    truth = Truth("breaker", None, "open", decidable=panel)
    name = "both poles" + (", panel good" if panel else "") + (", found tripped" if seen else "")
    return Scene(here, tuple(steps), meters, truth, name, () if panel else ("fed_from",), seen)


def breaker_half(rng: np.random.Generator) -> Scene:
    """One pole open: an open leg at the panel."""
    leg = pick(rng, "L1", "L2")
    here = _lifted(site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R")), leg)
    at = "service_panel" if here.house.feeder is None else "sub_panel"
    panel = rng.random() < 0.5
    other = "N" if here.neutral else "G"
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-L2", f"{leg}-{other}")]
    if panel:
        steps += volts("dmm", "L1-L2", "L1-N", "L2-N", point=at)
    metres = float(here.house.run.metres)
    truth = Truth("branch_leg", leg, "open", break_metres=metres)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "one pole" + (", panel good" if panel else ""))


def no_neutral_sound(rng: np.random.Generator) -> Scene:
    """Sound, no neutral at the outlet, read unplugged and running."""
    here = site(rng, receptacle=pick(rng, "hardwired", "6-20R", "6-50R"))
    steps = usual(rng, here, "dmm", state="idle" if here.receptacle == "hardwired" else "disconnected")
    steps += usual(rng, here, "dmm", state="running", drop=0.3)
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm"),
        Truth("none", stop=False),
        "sound",
        ("fed_from",) if rng.random() < 0.5 else (),
    )


def no_neutral_service(rng: np.random.Generator) -> Scene:
    """Service neutral off: the legs move apart against G."""
    here = with_house_loads(site(rng, receptacle=pick(rng, "hardwired", "6-50R"), fed="service_panel"), unbalanced(rng))
    here = broken(here, Joint("service", "N", OPEN))
    steps = [*usual(rng, here, "dmm", state="idle"), *some(rng, volts("loz", "L1-G", "L2-G"), 0.7)]
    truth = Truth(
        "service_neutral",
        "N",
        "open",
        never=frozenset({"branch_neutral", "feeder_neutral"}),
    )
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, "service neutral off, legs against G")


def no_neutral_lug(rng: np.random.Generator) -> Scene:
    """A burnt lug in one leg, seen only while the appliance draws."""
    leg = pick(rng, "L1", "L2")
    at_cord = rng.random() < 0.5
    here = site(rng, receptacle=pick(rng, "hardwired", "6-50R"), kind=pick(rng, "water_heater", "vehicle_charger"))
    ohms = uniform(rng, 0.8, 4.0)
    here = broken(here, Joint("cord", leg, ohms) if at_cord else Joint("branch", leg, ohms, 0.0))
    steps = [
        *usual(rng, here, "dmm", state="idle"),
        *usual(rng, here, "dmm", state="running", point="appliance_terminals"),
    ]
    at = "service_panel" if here.house.feeder is None else "sub_panel"
    panel = rng.random() < 0.6
    if panel:
        steps += volts("dmm", "L1-L2", state="running", point=at)
    place = "cord_leg" if at_cord else "branch_leg"
    # The run and the cord read alike where only the terminals were read.
    truth = Truth(
        place, leg, "high_resistance", decidable=panel, refer=frozenset() if at_cord else None, stop=not at_cord
    )
    name = ("lug at the appliance" if at_cord else "lug at the breaker") + (", panel read" if panel else "")
    return Scene(here, tuple(steps), kit(rng, "dmm"), truth, name, () if panel else ("fed_from",))


def no_neutral_leak(rng: np.random.Generator) -> Scene:
    """A water heater's element leaks to its sheath: amperes on G."""
    here = site(rng, receptacle="hardwired", kind="water_heater")
    leak = Load("L1", "G", spread(rng, 15.0, 80.0) + 0j)
    states = {name: (*loads, leak) for name, loads in here.house.states.items()}
    here = replace(here, house=replace(here.house, states=states))
    state = pick(rng, "idle", "running")
    steps = [*usual(rng, here, "dmm", state=state), *amps("clamp", "G", "L1", "L2", state=state)]
    truth = Truth("leak_to_ground", None, refer=frozenset(), stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "clamp"), truth, f"element leaks to its sheath, {state}")


def _live_frame(rng: np.random.Generator, receptacle: str, kind: str) -> Scene:
    here = broken(
        site(rng, receptacle=receptacle, fed="service_panel", kind=kind),
        Joint("branch", "G", OPEN, pick(rng, 0.0, 0.5)),
    )
    leg = pick(rng, "L1", "L2")
    leak = Load(leg, "G", spread(rng, 50.0, 8000.0) + 0j)
    states = {name: (*loads, leak) for name, loads in here.house.states.items()}
    here = replace(here, house=replace(here.house, states=states))
    meter = pick(rng, "dmm", "loz")
    steps = usual(rng, here, meter, state="idle")
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "loz"),
        # Once the ground leads somewhere the leak shows by itself: who finds the one has found enough to hand over.
        Truth("ground", "G", "open", also=frozenset({"leak_to_ground"}), refer=frozenset({"electrician"})),
        f"live frame of a {kind}, {meter}",
        supply={} if receptacle in FOUR_WIRE else {"neutral": "absent"},
    )


def live_frame(rng: np.random.Generator) -> Scene:
    """An element leaks to a frame whose ground is open: nothing trips, and the frame stands at the leg's voltage."""
    return _live_frame(rng, pick(rng, *FOUR_WIRE), "range")


def live_frame_no_neutral(rng: np.random.Generator) -> Scene:
    """The same where there is no neutral to read against."""
    return _live_frame(rng, "hardwired", "water_heater")


def exchanged(rng: np.random.Generator) -> Scene:
    """Neutral and ground exchanged at the outlet: reads right until current flows."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), kind="dryer")
    run = replace(here.house.run, landed={"N": "G", "G": "N"})
    here = replace(here, house=replace(here.house, run=run))
    clamped = rng.random() < 0.6
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running")]
    at = "service_panel" if here.house.feeder is None else "sub_panel"
    if clamped:
        # The bare wire at the bar of grounds carries what lands on the neutral contact.
        steps += amps("clamp", "G", "N", "L1", point="receptacle")
        steps += amps("clamp", "N", point=at)
    truth = Truth("transposed", None, decidable=False, hidden=True)
    return Scene(here, tuple(steps), kit(rng, "dmm", "clamp"), truth, "exchanged" + (", clamp" if clamped else ""))


def exchanged_in_cord(rng: np.random.Generator) -> Scene:
    """Neutral and ground exchanged where the cord is connected: the outlet's ground carries the load."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), kind="dryer")
    here = replace(here, house=replace(here.house, cord=replace(here.house.cord, landed={"N": "G", "G": "N"})))
    clamped = rng.random() < 0.75
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running", point="appliance_terminals")]
    if clamped:
        steps += amps("clamp", "G", "N", "L1")
    # A technician's own work; whether the cord or the outlet is wrong may not be told, so an electrician may be named.
    truth = Truth("transposed", None, decidable=clamped, hidden=not clamped, refer=frozenset(), stop=False)
    name = "exchanged in the cord" + (", clamp" if clamped else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "clamp"), truth, name)


def jumper(rng: np.random.Generator) -> Scene:
    """N and G joined at the outlet, with the ground wire or without it (a false ground that reads right)."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), kind="dryer")
    false = rng.random() < 0.5
    house = replace(here.house, run=replace(here.house.run, jumper=0.01))
    if false:
        house = replace(house, joints=(Joint("branch", "G", OPEN, 0.0),))
    here = replace(here, house=house)
    clamped = rng.random() < 0.6
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running")]
    if clamped:
        steps += amps("clamp", "G", "N", "L1")
    seen = clamped and not false
    truth = Truth(
        "joined",
        None,
        also=frozenset({"ground"}) if false else frozenset(),
        decidable=seen,
        hidden=not seen,
        refer=frozenset({"electrician"}),
    )
    name = ("false ground" if false else "joined, ground wire there") + (", clamp" if clamped else "")
    return Scene(here, tuple(steps), kit(rng, "dmm", "clamp"), truth, name)


def strap(rng: np.random.Generator) -> Scene:
    """The strap left in on four wires: part of the neutral's current on G."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), kind="dryer")
    here = replace(here, house=replace(here.house, cord=replace(here.house.cord, strap=0.005)))
    clamped = rng.random() < 0.7
    steps = [*usual(rng, here, "dmm"), *usual(rng, here, "dmm", state="running")]
    if clamped:
        steps += amps("clamp", "G", "N", "L1", point=pick(rng, "receptacle", "appliance_terminals"))
    # A technician's own work, but a jumper at the outlet reads alike: the electrician may be named too.
    truth = Truth("joined", None, decidable=clamped, hidden=not clamped, refer=frozenset(), stop=False)
    known = {} if rng.random() < 0.5 else {"frame_bonded_to_neutral": True}
    return Scene(
        here,
        tuple(steps),
        kit(rng, "dmm", "clamp"),
        truth,
        "strap left in" + (", clamp" if clamped else ""),
        supply=known,
    )


def _position(rng: np.random.Generator) -> tuple[str, float]:
    name = pick(rng, "panel end", "middle", "contact")
    return name, {"panel end": 0.0, "middle": 0.5, "contact": 1.0}[name]


def break_neutral(rng: np.random.Generator) -> Scene:
    """The branch's neutral off at the panel end, in the middle, or at the contact."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE), fed="service_panel")
    name, position = _position(rng)
    metres = here.house.run.metres * (1.0 - position)
    joint = Joint("contact", "N", OPEN) if name == "contact" else Joint("branch", "N", OPEN, position)
    here = broken(here, joint)
    steps = [
        *usual(rng, here, "dmm"),
        *volts("loz", "L1-N", "L2-N"),
        *some(rng, usual(rng, here, "dmm", state="idle"), 0.4),
    ]
    truth = Truth("branch_neutral", "N", "open", break_metres=metres)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, f"neutral, {name}")


def break_leg(rng: np.random.Generator) -> Scene:
    """A branch's leg off somewhere, panel good."""
    here = site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R", "10-30R"), fed="service_panel")
    leg = pick(rng, "L1", "L2")
    name, position = _position(rng)
    metres = here.house.run.metres * (1.0 - position)
    here = broken(here, Joint("contact", leg, OPEN) if name == "contact" else Joint("branch", leg, OPEN, position))
    other = "N" if here.neutral else "G"
    steps = [*usual(rng, here, "dmm"), *volts("loz", "L1-L2", f"{leg}-{other}")]
    steps += volts("dmm", "L1-L2", "L1-N", "L2-N", point="service_panel")
    truth = Truth("branch_leg", leg, "open", break_metres=metres)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz"), truth, f"leg, {name}")


def contact_wired_to_nothing(rng: np.random.Generator) -> Scene:
    """Ground contact of the outlet wired to nothing."""
    here = broken(
        site(rng, receptacle=pick(rng, *FOUR_WIRE, "6-50R"), fed="service_panel"), Joint("contact", "G", OPEN)
    )
    steps = [*usual(rng, here, "dmm"), *near("pen", "L1")]
    steps += volts("dmm", "L1-G", "L2-G") if here.neutral else []
    steps += volts("loz", "L1-G", "L2-G")
    if here.neutral:
        steps += volts("loz", "L1-N", "L2-N")
    truth = Truth("ground", "G", "open", break_metres=0.0, stop=False)
    return Scene(here, tuple(steps), kit(rng, "dmm", "loz", "pen"), truth, "ground, contact")


def no_neutral_known_load(rng: np.random.Generator) -> Scene:
    """A weak branch leg at a water heater, both ends read while it heats."""
    here = site(rng, receptacle="hardwired", kind="water_heater", fed="service_panel")
    leg = pick(rng, "L1", "L2")
    element = Load("L1", "L2", resistance_of(4500.0, 240.0) + 0j)
    here = replace(
        here,
        house=replace(here.house, states={"idle": (), "running": (element,)}),
        loads={**here.loads, "running": [{"between": ["L1", "L2"], "power": "4.5 kW"}]},
    )
    here = broken(here, Joint("branch", leg, uniform(rng, 1.0, 4.0), 0.0))
    steps = [
        *volts("dmm", "L1-L2", "L1-G", "L2-G", state="running"),
        *volts("dmm", "L1-L2", "L1-G", "L2-G", state="running", point="service_panel"),
    ]
    return Scene(
        here, tuple(steps), kit(rng, "dmm"), Truth("branch_leg", leg, "high_resistance"), "weak leg, both ends read"
    )


SITUATIONS = {
    "breaker": (breaker_both, breaker_half),
    "no_neutral": (no_neutral_sound, no_neutral_service, no_neutral_lug, no_neutral_leak, no_neutral_known_load),
    "live_frame": (live_frame, live_frame_no_neutral),
    "neutral_ground": (exchanged, jumper, strap, exchanged_in_cord),
    "break_position": (break_neutral, break_leg, contact_wired_to_nothing),
}
