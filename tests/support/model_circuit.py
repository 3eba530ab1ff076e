"""The circuit of the generative model once more, from its description, as named branches for the second solver.

Of the package only the records, the published priors and the conductor tables are used; nothing compiled. What each
fault does to the circuit is stated here once more, from the catalogue's words.

Unknowns are standard normal and have the names that an inference gives them; one that it leaves out is at its median.
"""

import cmath
import math
from collections.abc import Mapping
from itertools import combinations

import msgspec

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.faults.priors import PRIORS
from feedproof.inference import Candidate, Circuits, Name
from feedproof.readings import CONDUCTORS, CurrentReading, ReadingSet, Run, VoltageReading
from support.network import Branch, FixedVoltage, Network, Node, capacitor, impedance, resistor

NOMINAL = 120.0
MIDPOINT: Node = ("source", "N")
POINTS = {
    "service_panel": "panel",
    "sub_panel": "sub",
    "panel": "sub",
    "receptacle": "receptacle",
    "appliance_terminals": "terminals",
}
PANELS = ("panel", "sub")
IN_CORD = "between_receptacle_and_appliance_terminals"
PAIRS = tuple(combinations(CONDUCTORS, 2))
#: How often the legs are phases A and C, A and B, B and C of a high-leg supply (as in the model).
HIGH_LEG_PAIRS = (0.8, 0.1)
#: A distant source of a current [ohm].
FAR = 1e11


def sound_run(run: Run) -> tuple[float, float]:
    """Median [ohm] and logarithmic spread of one sound conductor of the branch circuit."""
    if run.size is None or run.length is None:
        return PRIORS.branch_resistance, PRIORS.branch_spread
    celsius = 30.0 if run.temperature is None else run.temperature
    metal = resistance_per_metre(run.size, run.material or "copper", celsius) * run.length
    return metal + PRIORS.joint_resistance, PRIORS.known_run_spread


def without_ground_wire(share: float) -> bool:
    """Whether a share is that of neutral and ground joined at a receptacle that has no ground wire.

    It is the more frequent of the two; where the legs may be any of three phases' pairs, in each of those.
    """
    own = PRIORS.joined_without_ground / (PRIORS.joined_at_receptacle + PRIORS.joined_without_ground)
    return any(math.isclose(share, of_pair * own) for of_pair in (1.0, *HIGH_LEG_PAIRS))


def on_both_contacts(share: float) -> bool:
    """Whether a share is that of a leg on its own contact and the ground's, and not of the two exchanged."""
    return any(math.isclose(share, of_pair * PRIORS.live_ground_contact) for of_pair in (1.0, *HIGH_LEG_PAIRS))


def series_of(
    site: Candidate, values: Mapping[Name, float], share: float, legs: tuple[str, ...]
) -> dict[tuple[str, str], float]:
    """Extra resistance by section and conductor [ohm]."""
    section = {
        "upstream_of_service_panel": "service",
        "between_service_panel_and_sub_panel": "feeder",
        "between_receptacle_and_appliance_terminals": "cord",
    }.get(site.location or "", "branch")
    if site.fault == "no_supply":
        return {("service", leg): PRIORS.lost_leg_resistance for leg in legs}
    if site.fault == "breaker_open":
        return {("branch", leg): math.exp(values["severity", "0"]) for leg in legs}
    if site.fault == "neutral_ground_joined" and without_ground_wire(share):
        return {("branch", "G"): PRIORS.missing_ground_resistance} if section == "branch" else {}
    found = {}
    for number, (fault, conductor) in enumerate(((site.fault, site.conductor), *site.also)):
        if fault.startswith(("open_", "high_resistance_")) and conductor is not None:
            # Legs that have more resistance alike have one severity.
            found[section, str(conductor)] = math.exp(values.get(("severity", str(number)), values["severity", "0"]))
    return found


class Circuit:
    """The branches of one circuit, and which of them carries each conductor's current."""

    def __init__(
        self, site: Candidate, circuits: Circuits, visit: ReadingSet, values: Mapping[Name, float], state: str
    ) -> None:
        self.site, self.circuits, self.visit, self.values, self.state = site, circuits, visit, values, state
        self.supply, self.kind = visit.supply, visit.load_states[state].kind
        self.connected = self.kind != "disconnected"
        read = [r for r in visit.readings if r.load_state == state]
        self.current_read = any(isinstance(r, CurrentReading) for r in read)
        self.pairs_read = [{*r.between} for r in read if isinstance(r, VoltageReading)]
        self.one_leg = self.supply.system == "single_phase_120"
        self.series = series_of(site, values, circuits.share, ("L1",) if self.one_leg else ("L1", "L2"))
        self.landing: dict[str, str] = {c: c for c in CONDUCTORS}
        partner = {"leg_neutral_transposed": "N", "leg_ground_transposed": "G", "neutral_ground_transposed": "G"}
        if site.fault in partner and site.conductor is not None:
            own, other = str(site.conductor), partner[site.fault]
            if other == "N" and not self.supply.neutral:
                self.landing |= {own: "G"}
            elif (self.one_leg and own == "L2") or (other == "G" and on_both_contacts(circuits.share)):
                self.landing |= {other: own}
            else:
                self.landing |= {own: other, other: own}
        self.unbonded = site.fault == "neutral_not_bonded"

    def z(self, *name: str) -> float:
        return self.values.get(name, 0.0)

    def lognormal(self, median: float, spread: float, *name: str) -> float:
        return median * math.exp(spread * self.z(*name))

    def conductor(self, section: str, c: str) -> float:
        """Resistance of one section of one conductor [ohm]."""
        p = PRIORS
        if section in {"branch", "cord"}:
            if (c == "N" and not self.supply.neutral) or (c == "G" and self.supply.equipment_ground == "absent"):
                return p.open_ceiling
            ohms = sound_run(self.run_of(c))[0] if section == "branch" else p.cord_resistance
            if (section, c) in self.values and section == "branch":
                ohms = self.run(c)
            elif section == "cord":
                ohms = self.lognormal(ohms, p.cord_spread, section, c)
        else:
            service = p.service_neutral_resistance if c == "N" else p.service_leg_resistance
            ohms = service if section == "service" else p.feeder_resistance
        return ohms + self.series.get((section, c), 0.0)

    def run_of(self, c: str) -> Run:
        """The ground wire's size is not that of the others, and nobody states it."""
        return msgspec.structs.replace(self.supply.run, size=None) if c == "G" else self.supply.run

    def run(self, c: str) -> float:
        """Resistance of a run that is never more than it can explain: a log-normal one and that most in parallel [ohm].

        So that its median and its 5 % point are those of the log-normal law that a run's resistance usually has.
        """
        run = self.run_of(c)
        usual, spread = sound_run(run)
        known = run.size is not None and run.length is not None
        most = usual * math.exp(PRIORS.sound_reach * spread)
        if known:
            most = PRIORS.known_run_margin * usual + PRIORS.known_run_allowance
        beside = [1.0 / (1.0 / ohms - 1.0 / most) for ohms in (usual, usual * math.exp(-PRIORS.sound_reach * spread))]
        steepness = math.log(beside[0] / beside[1]) / PRIORS.sound_reach
        return 1.0 / (1.0 / most + 1.0 / (beside[0] * math.exp(steepness * self.z("branch", c))))

    def others(self, at: str, key: str, median: float, spread: float) -> list[Branch]:
        """What else is on from each leg to the neutral at a panel."""
        p, found = PRIORS, []
        for leg in ("L1", "L2"):
            changed = p.load_change * self.z(key, leg, self.state)
            ohms = self.lognormal(median, spread, key, leg) * math.exp(changed)
            found.append(resistor((at, leg), (at, "N"), ohms + p.least_house_resistance))
        return found

    def across(self, at: str, key: str, median: float, spread: float) -> list[Branch]:
        """What else is on from leg to leg at a panel, where a leg is at fault before it."""
        if self.one_leg:
            return []
        ohms = self.lognormal(median, spread, key, "L1", "L2") + PRIORS.least_house_across_resistance
        return [resistor((at, "L1"), (at, "L2"), ohms)]

    def upstream(self, *, energized: bool) -> list[Branch]:
        p = PRIORS
        at_fault = dict(self.series.keys())
        found = [resistor(MIDPOINT, ("panel", "N"), self.conductor("service", "N"))]
        earth = p.electrode_resistance
        if at_fault.get("service") == "N":
            earth = self.lognormal(earth, p.electrode_spread, "electrode")
        if self.unbonded:
            for c in ("L1", "L2", "N"):
                generator = self.supply.source == "generator"
                size = p.generator_capacitance if generator else p.frame_capacitance
                spread = p.generator_capacitance_spread if generator else p.frame_capacitance_spread
                farad = self.lognormal(size, spread, "ground") * self.lognormal(1.0, p.pair_spread, "ground", c)
                leak = self.lognormal(p.leakage_resistance, p.leakage_spread, "damp", "ground")
                found.append(resistor(("panel", c), ("panel", "G"), leak))
                if energized:
                    found.append(capacitor(("panel", c), ("panel", "G"), farad, self.supply.frequency))
        else:
            found += [resistor(("panel", "N"), ("panel", "G"), 1e-3), resistor(("panel", "G"), MIDPOINT, earth)]
        if energized:
            found += [resistor(("source", leg), ("panel", leg), self.conductor("service", leg)) for leg in ("L1", "L2")]
            if "service" in at_fault:
                found += self.others("panel", "house", p.house_resistance, p.house_spread)
                if at_fault["service"] != "N":
                    found += self.across("panel", "house", p.house_across_resistance, p.house_across_spread)
        return found + self.feeder(at_fault, energized=energized)

    def feeder(self, at_fault: Mapping[str, str], *, energized: bool) -> list[Branch]:
        p, fed = PRIORS, self.supply.fed_from
        if fed == "service_panel":
            return [resistor(("panel", c), ("sub", c), 1e-5) for c in CONDUCTORS]
        bonded = fed == "sub_panel_bonded"
        found = [
            resistor(("panel", c), ("sub", c), self.conductor("feeder", c))
            for c in CONDUCTORS
            if not (c == "G" and bonded)
        ]
        if bonded:
            earth = self.lognormal(p.electrode_resistance, p.electrode_spread, "electrode")
            found += [resistor(("sub", "N"), ("sub", "G"), 1e-3), resistor(("sub", "G"), MIDPOINT, earth)]
        # Where nothing else is on behind it, the circuit has no such unknowns.
        if energized and "feeder" in at_fault and any(name[0] == "sub" for name in self.circuits.names):
            found += self.others("sub", "sub", p.sub_resistance, p.sub_spread)
            if at_fault["feeder"] != "N":
                found += self.across("sub", "sub", p.sub_across_resistance, p.sub_across_spread)
        return found

    def path(self) -> list[Branch]:
        """The run, then the cord; the first four are the run's, the next four the cord's."""
        found = [resistor(("sub", c), ("receptacle", c), self.conductor("branch", c)) for c in CONDUCTORS]
        if self.connected:
            found += [resistor(("receptacle", c), ("terminals", c), self.conductor("cord", c)) for c in CONDUCTORS]
        return found

    def strays(self, *, energized: bool) -> list[Branch]:
        p, run, f = PRIORS, self.supply.run, self.supply.frequency
        length, spread = (p.run_length, p.run_length_spread) if run.length is None else (run.length, p.stray_spread)
        share = 1.0
        if ("position",) in self.values:
            share = 1.0 / (1.0 + math.exp(-p.position_spread * self.z("position")))
        loose = self.unbonded or any(c in {"N", "G"} for _, c in self.series)
        places = [("stray", "run", "receptacle", p.stray_capacitance * length, share)]
        if self.connected:
            places.append(("wiring", "wiring", "terminals", p.cord_stray_capacitance, 1.0))
        found = []
        for key, place, at, farad, part in places:
            for a, b in PAIRS:
                if "N" in {a, b} and not self.supply.neutral:
                    continue
                size, leak = farad, p.leakage_resistance
                if (key, a, b) in self.values:
                    # Only what lies beyond the break floats; what lies closer has more capacitance, and leaks more.
                    own = p.pair_spread * self.z(key, a, b)
                    size *= part * math.exp(spread * self.z("strays", place) + own)
                    size += p.contact_capacitance if place == "run" else 0.0
                    leak *= math.exp(p.leakage_spread * self.z("damp", place) - own) / part
                if energized:
                    found.append(capacitor((at, a), (at, b), size, f))
                    found.append(resistor((at, a), (at, b), leak))
                elif at == "receptacle":
                    ohms = p.insulation_resistance
                    if loose or (a, b) != ("N", "G"):
                        ohms = self.lognormal(ohms, p.insulation_spread, "insulation")
                        if a in {"L1", "L2"} and b in {"N", "G"}:
                            ohms *= self.lognormal(1.0, p.insulation_leg_spread, "insulation", a)
                    found.append(resistor((at, a), (at, b), p.insulation_least + ohms))
        if energized and ("beside",) in self.values:
            farad = self.lognormal(p.beside_capacitance, p.beside_spread, "beside")
            legs = [c for section, c in self.series if section == "branch" and c in {"L1", "L2"}]
            found += [capacitor(("sub", leg), ("receptacle", leg), farad, f) for leg in legs]
        return found

    def contact(self, label: str, at: str = "terminals") -> tuple[str, str]:
        """The node that the contact of a name is joined to."""
        own = at in PANELS or (at == "receptacle" and self.site.location == IN_CORD)
        return (at, label if own else self.landing[label])

    def leaks(self) -> list[Branch]:
        faults = enumerate(((self.site.fault, self.site.conductor), *self.site.also))
        return [
            resistor(self.contact(str(leg)), self.contact("G"), math.exp(self.values["severity", str(number)]))
            for number, (fault, leg) in faults
            if fault == "leak_to_ground"
        ]

    def appliance(self) -> list[Branch]:
        p, found = PRIORS, []
        if self.site.fault == "neutral_ground_joined":
            at = "terminals" if self.site.location == IN_CORD else "receptacle"
            if at == "receptacle" or self.connected:
                found.append(resistor(self.contact("N", at), self.contact("G", at), p.bridge_resistance))
        if not self.connected:
            return found
        # What stands in the appliance's place takes its leaks and straps out of the circuit.
        found = found if self.kind != "test_load" or self.site.location != IN_CORD else []
        found += self.leaks() if self.kind != "test_load" else []
        # A strap beside a ground is a fault of its own, which a sound supply has not.
        sound = self.site.fault == "none_found" and self.supply.equipment_ground == "present"
        strapped = self.supply.frame_bonded_to_neutral and self.supply.neutral and not sound
        if strapped and self.kind != "test_load":
            found.append(resistor(self.contact("N"), self.contact("G"), p.frame_bond_resistance))
        state = self.visit.load_states[self.state]
        for number, load in enumerate(state.loads):
            tolerance = max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3.0)
            stated, name = complex(load.resistance, load.reactance), ("load", self.state, str(number))
            z = stated * self.lognormal(1.0, tolerance, *name)
            if self.kind == "running" and self.current_read and {*load.between} in self.pairs_read:
                z *= self._undrawn(abs(stated), *name)
            found.append(impedance(self.contact(load.between[0]), self.contact(load.between[1]), z.real, z.imag))
        if self.kind == "test_load" and state.loads:
            return found
        return found if self.kind == "idle" and self.circuits.contacts_open else [*found, *self._unstated()]

    def _unstated(self) -> list[Branch]:
        """What the appliance has beside the loads that are stated."""
        p, state, found = PRIORS, self.visit.load_states[self.state], list[Branch]()
        running = self.kind in {"running", "test_load"}
        side, across = (p.idle_resistance, p.idle_spread), (p.idle_across_resistance, p.idle_across_spread)
        if running:
            side = (p.running_auxiliary_resistance, p.running_auxiliary_spread)
            if self.one_leg:
                side = (p.running_alone_resistance, p.running_alone_spread)
            across = (p.running_resistance, p.running_spread)
        if running and state.loads:
            side = (p.running_beside_resistance, p.running_beside_spread)
        for leg, turn in (("L1", -1.0), ("L2", 1.0)):
            if self.supply.neutral and not (self.one_leg and leg == "L2"):
                angle = turn * p.load_angle * self.z("angle", self.state)
                alone = running and self.one_leg and not state.loads
                least = p.running_alone_least if alone else p.least_side_resistance
                z = least + cmath.rect(self.lognormal(*side, "side", leg, self.state), angle)
                found.append(impedance(self.contact(leg), self.contact("N"), z.real, z.imag))
        if not self.one_leg and not state.loads:
            ohms = p.least_across_resistance + self.lognormal(*across, "across", self.state) * (
                self._undrawn(across[0], "across", self.state) if running else 1.0
            )
            found.append(resistor(self.contact("L1"), self.contact("L2"), ohms))
        return found

    def _undrawn(self, median: float, *name: str) -> float:
        """How many times as much an element has that may not draw while the appliance runs [1]."""
        square = (max(self.z(*name) - 1.28, 0.0) / 0.3) ** 2
        return float((PRIORS.unconnected_resistance / median) ** (square / (1.0 + square)))

    def level(self) -> float:
        """Leg to midpoint at the source [V]."""
        low, high = (math.log(x) for x in PRIORS.supply_range)
        if self.site.fault == "voltage_low":
            return NOMINAL * math.exp(low - math.exp(self.values["severity", "0"]))
        if self.site.fault == "voltage_high":
            return NOMINAL * math.exp(high + math.exp(self.values["severity", "0"]))
        center, spread = PRIORS.supply_logit
        return NOMINAL * math.exp(low + (high - low) / (1.0 + math.exp(-center - spread * self.z("supply"))))

    def network(self, *, energized: bool) -> Network:
        p = PRIORS
        branches = [
            *self.path(),
            *self.upstream(energized=energized),
            *self.strays(energized=energized),
            *self.appliance(),
        ]
        # Two contacts of the appliance may hang on one conductor.
        branches = [b for b in branches if b.start != b.end]
        fixed = [FixedVoltage(MIDPOINT, 0j)]
        if energized:
            lean = p.leg_asymmetry * self.z("lean", self.state)
            factors = (1.0 + lean, 1.0 - lean)
            for leg, z, factor in zip(("L1", "L2"), self.circuits.phasors, factors, strict=True):
                fixed.append(FixedVoltage(("source", leg), z * self.level() * factor))
            if ("feeder",) in self.values:
                # Other loads behind the feeder return by its neutral.
                z = self.z("feeder")
                least = p.unknown_feeder_near if self.supply.fed_from == "unknown" else p.feeder_near
                far = z / math.hypot(z, p.feeder_bend)
                amperes = p.feeder_most / p.feeder_resistance * (far**3 + least * far * (1.0 - far**2))
                flows = {"sub": amperes}
                if ("service", "N") in self.series:
                    # The house's loads decide what becomes of it.
                    flows["panel"] = -amperes
                for node, current in flows.items():
                    branches.append(resistor(("other loads", node), (node, "N"), FAR))
                    fixed.append(FixedVoltage(("other loads", node), complex(current * FAR)))
        return Network(branches=tuple(branches), fixed=tuple(fixed))
