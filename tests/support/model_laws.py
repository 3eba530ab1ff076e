"""The laws of the generative model's unknowns once more, from the description of its priors.

They are those of `scipy.stats`; of the package only the published priors and the conductor tables are used. What each
fault does to the circuit is stated here once more too, from the catalogue's words. An inference's unknowns have the
same names.
"""

import math
from itertools import combinations
from typing import Any

from msgspec import Struct
from scipy import stats

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.faults.priors import PRIORS
from feedproof.inference import Name, Site
from feedproof.readings import CONDUCTORS, ProximityDetector, ReadingSet, Run

Law = Any  # a frozen distribution of scipy.stats

PAIRS = tuple(combinations(CONDUCTORS, 2))


class Fault(Struct, frozen=True, kw_only=True):
    """What a site does to the circuit."""

    series: dict[tuple[str, str], str]
    """Severity, `open` or `high`, by section and conductor."""
    band: str
    landing: dict[str, str]
    """Conductor of the run that ends at each label of the receptacle."""
    inconsistent: bool


def fault_of(site: Site) -> Fault:
    """Give what the names of a site say of the circuit."""
    section = {
        "upstream_of_service_panel": "service",
        "between_receptacle_and_appliance_terminals": "cord",
    }.get(site.location or "", "branch")
    series: dict[tuple[str, str], str] = {}
    landing: dict[str, str] = {c: c for c in CONDUCTORS}
    for fault, conductor in ((site.fault, site.conductor), *site.also):
        if fault.startswith(("open_", "high_resistance_")) and conductor is not None:
            own = "service" if fault.endswith("service_neutral") else section
            series[own, str(conductor)] = "open" if fault.startswith("open_") else "high"
        partner = {"leg_neutral_transposed": "N", "leg_ground_transposed": "G"}.get(fault)
        if partner is not None and conductor is not None:
            landing |= {conductor: partner, partner: conductor}
    bands = {"voltage_low": "low", "voltage_high": "high", "no_supply": "off"}
    return Fault(
        series=series,
        band=bands.get(site.fault, "sound"),
        landing=landing,
        inconsistent=site.fault == "readings_inconsistent",
    )


def sound_run(run: Run) -> tuple[float, float]:
    """Median [ohm] and logarithmic spread of one sound conductor of the branch circuit."""
    if run.size is None or run.length is None:
        return PRIORS.branch_resistance, PRIORS.branch_spread
    celsius = 30.0 if run.temperature is None else run.temperature
    metal = resistance_per_metre(run.size, run.material or "copper", celsius) * run.length
    return metal + PRIORS.joint_resistance, PRIORS.known_run_spread


def explained(run: Run) -> float:
    """Where `high_resistance` begins [ohm]."""
    if run.size is None or run.length is None:
        return PRIORS.unexplained_resistance
    return PRIORS.known_run_margin * sound_run(run)[0] + PRIORS.known_run_allowance


def lognormal(median: float, spread: float) -> Law:
    """Law of the logarithm of a quantity."""
    return stats.norm(math.log(median), spread)


def log_uniform(low: float, high: float) -> Law:
    """The same where only the ends are known."""
    return stats.uniform(math.log(low), math.log(high) - math.log(low))


def no_less(median: float, spread: float, least: float) -> Law:
    """Law of the logarithm of a resistance that is never below an end."""
    return stats.truncnorm(math.log(least / median) / spread, 6.0, loc=math.log(median), scale=spread)


def part_law(least: float) -> Law:
    """Law of the logarithm of what floats, as a part of the whole: between a bare contact's and all of it."""
    spread = -PRIORS.position_spread * least
    return stats.truncnorm(least / spread, -0.5 * least / spread, loc=0.5 * least, scale=spread)


def _supply_law(band: str) -> Law:
    low, high = (math.log(x) for x in PRIORS.supply_range)
    center, spread, ends = {
        "low": (low, PRIORS.low_spread, (math.log(PRIORS.low_floor), low)),
        "high": (high, PRIORS.high_spread, (high, math.log(PRIORS.high_ceiling))),
    }.get(band, (math.log(PRIORS.supply_center), PRIORS.supply_spread, (low, high)))
    cuts = [(end - center) / spread for end in ends]
    return stats.truncnorm(*cuts, loc=center, scale=spread)


def laws(site: Site, visit: ReadingSet) -> dict[Name, Law]:
    """Every unknown of a site with its law; most are logarithms of a quantity in SI units.

    Parameters
    ----------
    site : Site
        What is wrong.
    visit : ReadingSet
        Supply, meters and load states.
    """
    p, run, fault = PRIORS, visit.supply.run, fault_of(site)
    band = fault.band if fault.band in {"low", "high"} else "sound"
    found: dict[Name, Law] = {("supply", band): _supply_law(band)}
    found |= _fault_laws(fault, run)
    for name, meter in visit.meters.items():
        if not isinstance(meter, ProximityDetector):
            found["gain", name] = stats.norm(0.0, max(meter.accuracy_percent / 100.0 / math.sqrt(3.0), 1e-6))
    at_service = any(section == "service" for section, _ in fault.series)
    for name in visit.load_states:
        found["lean", name] = stats.norm(0.0, p.changing_asymmetry if at_service else p.leg_asymmetry)
    for c in CONDUCTORS:
        found["run", c] = lognormal(*sound_run(run))
        found["cord", c] = lognormal(p.cord_resistance, p.cord_spread)
    for place in ("run", "wiring"):
        found["strays", place] = stats.norm(0.0, p.run_length_spread if run.length is None else p.stray_spread)
        found["damp", place] = stats.norm(0.0, p.leakage_spread)
        for a, b in PAIRS:
            found["stray", place, a, b] = stats.norm(0.0, p.pair_spread)
        part = math.log(p.contact_capacitance / whole_capacitance(place, run))
        if broken(fault, place) and part < 0.0:
            found["position", place] = part_law(part)
    for name, state in visit.load_states.items():
        found |= _appliance_laws(name, visit)
        for number, load in enumerate(state.loads):
            found["load", name, str(number)] = stats.norm(
                0.0, max(load.tolerance_percent, 0.01) / 100.0 / math.sqrt(3.0)
            )
    return found


def whole_capacitance(place: str, run: Run) -> float:
    """Between two conductors of a whole section [F]."""
    length = PRIORS.run_length if run.length is None else run.length
    return {"run": PRIORS.stray_capacitance * length, "wiring": PRIORS.cord_stray_capacitance}[place]


def broken(fault: Fault, place: str) -> set[str]:
    """Conductors that are open in a section."""
    own = {"run": "branch", "wiring": "cord"}[place]
    return {c for (section, c), severity in fault.series.items() if section == own and severity == "open"}


def _fault_laws(fault: Fault, run: Run) -> dict[Name, Law]:
    """What only a faulty supply has."""
    p = PRIORS
    found: dict[Name, Law] = {}
    if fault.band == "off":
        found["off",] = log_uniform(*p.breaker_open)
    for (section, conductor), severity in fault.series.items():
        opened = severity == "open"
        if (section, conductor) == ("service", "N"):
            found["return", severity] = lognormal(*(p.open_return if opened else p.weak_return))
            found["shift", severity] = stats.norm(0.0, p.open_shift if opened else p.weak_shift)
            continue
        if section == "service":
            found["house",] = lognormal(p.house_resistance, p.house_spread)
        least = explained(run) if section == "branch" else p.unexplained_resistance
        ends = (p.open_resistance, p.open_ceiling) if opened else (least, p.open_resistance)
        found["fault", section, conductor] = log_uniform(*ends)
    return found


def _appliance_laws(name: str, visit: ReadingSet) -> dict[Name, Law]:
    """What the appliance draws that nobody has stated."""
    p, state = PRIORS, visit.load_states[name]
    if state.kind == "disconnected" or (state.kind == "test_load" and state.loads):
        return {}
    running = state.kind in {"running", "test_load"}
    side = p.idle_resistance, p.idle_spread
    if running and state.loads:
        side = p.running_beside_resistance, p.running_beside_spread
    elif running:
        side = p.running_auxiliary_resistance, p.running_auxiliary_spread
    across = p.idle_across_resistance, p.idle_across_spread
    if running:
        across = p.running_resistance, p.running_spread
    found: dict[Name, Law] = {("angle", name): stats.norm(0.0, p.load_angle)}
    found["appliance", name, "L1", "N"] = no_less(*side, p.least_side_resistance)
    if visit.supply.system != "single_phase_120":
        found["appliance", name, "L2", "N"] = no_less(*side, p.least_side_resistance)
        if not state.loads:
            found["appliance", name, "L1", "L2"] = no_less(*across, p.least_across_resistance)
    return found


def medians(site: Site, visit: ReadingSet) -> dict[Name, float]:
    """Every unknown at its median, but for the strays' own, which are left out."""
    return {key: float(law.median()) for key, law in laws(site, visit).items() if key[0] != "stray"}
