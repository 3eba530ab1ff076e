"""A house as an electrician would draw it: source, service, panel, feeder, branch run, outlet, cord, appliance, faults.

Plain values, nothing solved here. What the parts have in common is the name of a conductor: L1, L2, N, G. Names of
nodes and the netlist are in `netlist.py`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

LEGS = ("L1", "L2")
FOUR = ("L1", "L2", "N", "G")
OPEN = 1e10
"""A clean break: an air gap's leakage over its insulation [ohm]. Common practice, no source."""

Section = Literal["service", "feeder", "branch", "contact", "cord"]


@dataclass(frozen=True)
class Load:
    """A constant impedance between two conductors."""

    a: str
    b: str
    ohms: complex
    """At 60 Hz, series form, inductive positive [ohm]."""


@dataclass(frozen=True)
class Source:
    """The transformer, two phases of a wye, or a generator."""

    kind: Literal["split_phase", "wye", "generator", "two_transformers"] = "split_phase"
    volts: float = 120.0
    """Open-circuit voltage of each leg to the mid-point [V]."""
    degrees: float = 180.0
    """Of the second leg's voltage, for any kind but `split_phase` [deg]."""
    second_volts: float | None = None
    """Of the second leg, where it differs; for any kind but `split_phase` [V]."""
    primary: complex = 0.004 + 0.008j
    """The primary side seen from one half of the secondary, common to both halves [ohm]."""
    half: complex = 0.006 + 0.004j
    """Each half, or each phase [ohm]."""
    pole_ground: float = 1.0
    """Mid-point to earth [ohm]. A generator that is not bonded has `OPEN` here."""


@dataclass(frozen=True)
class Joint:
    """Resistance in series with one conductor at one place."""

    section: Section
    conductor: str
    ohms: float
    """[ohm]"""
    position: float = 0.5
    """Along the branch run, 0 at its panel, 1 at the outlet; of no meaning in other sections."""


@dataclass(frozen=True)
class Feeder:
    """Feeder and sub-panel."""

    ohms: float = 0.03
    """Of each conductor [ohm]."""
    bonded: bool = False
    """Neutral and ground joined again at its far end; the feeder then has no ground wire and the building a rod."""
    rod: float = 40.0
    """Only where bonded again [ohm]."""
    loads: tuple[Load, ...] = ()


@dataclass(frozen=True)
class Run:
    """The branch circuit's wires from the breaker to the outlet's contacts."""

    conductors: tuple[str, ...] = FOUR
    metres: float = 15.0
    ohms: float = 0.03
    """Of each conductor, whole length [ohm]."""
    ground_ohms: float | None = None
    """Of the ground wire; None: as the others [ohm]."""
    farads: Mapping[tuple[str, str], float] = field(default_factory=dict)
    """Whole run, between each pair of wires [F]."""
    leakage: Mapping[tuple[str, str], float] = field(default_factory=dict)
    """Surface leakage at the outlet [ohm]."""
    sections: int = 6
    contact_farads: float = 3e-12
    """Between each two contacts of the outlet, its own [F]."""
    landed: Mapping[str, str] = field(default_factory=dict)
    """Which wire lands on a contact, where it is not the one of the same name."""
    bar: Mapping[str, str] = field(default_factory=dict)
    """Which bar of the panel a wire starts from, where it is not the one of the same name."""
    jumper: float | None = None
    """N to G contact at the outlet [ohm]; None: there is none."""
    metalwork: float | None = None
    """Box or pipe at the outlet to the panel's ground bar [ohm]; None: not to be reached."""
    lifted: tuple[str, ...] = ()
    """Breaker poles that are open."""


@dataclass(frozen=True)
class Cord:
    """The cord, or the whip of a hardwired appliance."""

    ohms: float = 0.006
    """[ohm]"""
    farads: float = 120e-12
    """Between each two conductors [F]."""
    landed: Mapping[str, str] = field(default_factory=dict)
    """Which of its conductors lands on a terminal, where it is not the one of the same name."""
    strap: float | None = None
    """N to frame at the appliance [ohm]; None: taken out. The frame is on G where the cord has one."""


@dataclass(frozen=True)
class House:
    """All of it."""

    source: Source = Source()
    service: float = 0.02
    """Each conductor of the service drop [ohm]."""
    bonded: bool = True
    """Neutral and ground joined at the service panel."""
    electrode: float = 25.0
    """Service panel's ground bar to earth: rods, or a water pipe [ohm]."""
    loads: tuple[Load, ...] = ()
    """At the service panel."""
    feeder: Feeder | None = None
    run: Run = Run()
    cord: Cord = Cord()
    states: Mapping[str, tuple[Load, ...]] = field(default_factory=lambda: {"idle": ()})
    """Appliance's loads by load state; a state that is not here has nothing connected."""
    joints: tuple[Joint, ...] = ()
    frequency: float = 60.0

    def with_joints(self, *joints: Joint) -> "House":
        """The same house with these joints instead."""
        return replace(self, joints=joints)

    def joint(self, section: Section, conductor: str) -> float:
        """Extra resistance in a section other than the run [ohm]."""
        return sum(j.ohms for j in self.joints if (j.section, j.conductor) == (section, conductor))


@dataclass(frozen=True)
class VoltInput:
    """What a voltmeter puts across the circuit."""

    ohms: float = 10e6
    farads: float = 100e-12


@dataclass(frozen=True)
class Ask:
    """One reading of a house: one meter, at one place, in one load state."""

    kind: Literal["voltage", "current", "resistance", "to_earth", "to_source", "to_ground_bar"]
    """Without a meter: `to_earth` a conductor to remote earth, `to_source` to the transformer's grounded point,
    `to_ground_bar` to the service panel's ground bar."""
    conductors: tuple[str, ...]
    """Two for a voltage or a resistance; "metalwork" may be one of them."""
    point: Literal["service_panel", "sub_panel", "receptacle", "appliance_terminals"] = "receptacle"
    state: str = "disconnected"
    meter: VoltInput = VoltInput()
    breaker_off: bool = False
    """The branch's breaker was put off for this reading (always for a resistance)."""
