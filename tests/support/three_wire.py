"""A three-wire circuit with a load on each side, by the second solver and by the model that ships.

Examples on other voltages and loads are scaled: in a linear circuit all voltages scale together, and no voltage changes
where all impedances do. So the model, whose source, strays and leakages are what they are, takes on an example's
figures where those are far from its own.
"""

import math

from feedproof.faults.priors import PRIORS
from feedproof.inference import Circuits, Name
from feedproof.readings import Conductor, Load, LoadState, ReadingSet, Run, Supply, VoltageReading, Voltmeter
from support.network import FixedVoltage, Network, resistor
from support.seam import circuit_of_branch
from support.solver import thevenin

MID, PLUS, MINUS, A, N, B = range(6)  # source terminals, then the load's
STIFF = 1e-9  # a wire that an example takes as perfect [ohm]

Two = tuple[float, float]
Three = tuple[float, float, float]

#: Loads that neither the source's milliohms nor megohms of leakage move [ohm]: with wires that an example takes as
#: perfect, and with wires that are more than what the model has before the panel, so that this can be taken off.
_LOAD, _LOAD_BEHIND_WIRES = 700.0, 60.0
#: Slow enough for strays to play no part: no example has any [Hz].
_FREQUENCY = 1e-3
_DRY = 40.0  # standard deviations of a leakage: none is left
_NONE = -200.0  # of a resistance: none is left
#: A run so long that every wire of the examples is one that it can explain.
_RUN = Run(size="14 AWG", length=3000.0)
_OPEN = 0.999 * PRIORS.open_ceiling
_IDEAL = Voltmeter(name="ideal", input_impedance=1e15, accuracy_percent=0.1, accuracy_counts=0.0, resolution=0.01)


def three_wire(volts: Two, wires: Three, loads: Two, across: float = math.inf) -> Network:
    """Two sources in series, wires (outer, outer, neutral), a load on each side and one across both [V, ohm]."""
    return Network(
        branches=(
            resistor(PLUS, A, wires[0]),
            resistor(B, MINUS, wires[1]),
            resistor(N, MID, wires[2]),
            resistor(A, N, loads[0]),
            resistor(N, B, loads[1]),
            resistor(A, B, across),
        ),
        fixed=(
            FixedVoltage(MID, 0j),
            FixedVoltage(PLUS, complex(volts[0])),
            FixedVoltage(MINUS, complex(-volts[1])),
        ),
    )


def sides(network: Network) -> Two:
    """Voltage on each side's load [V]."""
    return abs(thevenin(network, (A, N)).voltage), abs(thevenin(network, (N, B)).voltage)


def by_second_solver(volts: Two, wires: Three, loads: Two) -> Two:
    """Voltage on each side's load [V]."""
    return sides(three_wire(volts, wires, loads))


def _circuits(loads: Two, fault: str, conductor: Conductor | None) -> Circuits:
    """The model's circuit with these loads, read at the load by a meter that does not load it."""
    pairs: tuple[tuple[Conductor, Conductor], ...] = (("L1", "N"), ("L2", "N"))
    known = tuple(Load(between=b, resistance=r, tolerance_percent=0.1) for b, r in zip(pairs, loads, strict=True))
    visit = ReadingSet(
        supply=Supply(
            equipment_ground="absent",
            frame_bonded_to_neutral=False,
            frequency=_FREQUENCY,
            fed_from="service_panel",
            run=_RUN,
        ),
        meters={"ideal": _IDEAL},
        load_states={"on": LoadState(name="on", kind="test_load", loads=known)},
        readings=tuple(
            VoltageReading(between=b, value=120.0, meter="ideal", load_state="on", point="appliance_terminals")
            for b in pairs
        ),
    )
    return circuit_of_branch(visit, fault, conductor)


def _nominal() -> float:
    """The supply's own unknown where a leg has 120 V: its share of the range's logarithm is logistic."""
    low, high = (math.log(share) for share in PRIORS.supply_range)
    share, (center, spread) = -low / (high - low), PRIORS.supply_logit
    return (math.log(share / (1.0 - share)) - center) / spread


AT_NOMINAL = _nominal()


def _wire(circuits: Circuits, conductor: Conductor, ohms: float) -> float:
    """The run's own unknown where a conductor has so many ohms."""
    low, high = _NONE, 200.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        found = circuits.truth({("branch", conductor): middle, ("cord", conductor): _NONE})
        below = found.resistances[conductor, "appliance_terminals"] < ohms
        low, high = (middle, high) if below else (low, middle)
    return low


def _shown(circuits: Circuits, volts: Two, values: dict[Name, float]) -> Two:
    """Voltage on each side's load, on the example's own voltages [V]."""
    lean = (volts[0] - volts[1]) / (volts[0] + volts[1]) / PRIORS.leg_asymmetry
    cords: dict[Name, float] = {("cord", c): _NONE for c in ("L1", "L2", "N")}
    own = {name: value for name, value in (cords | values).items() if name in circuits.names}
    shown = circuits.shown({("supply",): AT_NOMINAL, ("lean", "on"): lean} | own)
    scale = (volts[0] + volts[1]) / 240.0
    return shown[0] * scale, shown[1] * scale


def by_model(volts: Two, wires: Three, loads: Two) -> Two:
    """Voltage on each side's load by the model that ships [V]; at most one wire is open."""
    usual = _LOAD if STIFF in wires else _LOAD_BEHIND_WIRES
    scale = usual / math.sqrt(loads[0] * loads[1])
    neutral = 1.0 / (1.0 / PRIORS.service_neutral_resistance + 1.0 / PRIORS.electrode_resistance)
    before = (PRIORS.service_leg_resistance, PRIORS.service_leg_resistance, neutral)
    fault, conductor = "none_found", None
    values: dict[Name, float] = {}
    wanted: dict[Conductor, float] = {}
    names: tuple[Conductor, ...] = ("L1", "L2", "N")
    for name, ohms, own in zip(names, wires, before, strict=True):
        if math.isinf(ohms):
            fault, conductor = ("open_neutral" if name == "N" else "open_leg"), name
            values["severity", "0"] = math.log(_OPEN)
            values["damp", "run"] = _DRY
        else:
            wanted[name] = max(ohms * scale - own, STIFF)
    circuits = _circuits((loads[0] * scale, loads[1] * scale), fault, conductor)
    for name, ohms in wanted.items():
        values["branch", name] = _wire(circuits, name, ohms)
    return _shown(circuits, volts, values)


def service_by_model(path: float, loads: Two) -> Two:
    """The same on legs of 120 V where a path of so many ohms holds the neutral at the service [V]."""
    scale = _LOAD / math.sqrt(loads[0] * loads[1])
    open_ = math.isinf(path) or path * scale > PRIORS.open_resistance
    fault = "open_service_neutral" if open_ else "high_resistance_service_neutral"
    circuits = _circuits((loads[0] * scale, loads[1] * scale), fault, "N")
    values: dict[Name, float] = {("branch", c): _NONE for c in ("L1", "L2", "N")}
    # Nothing else is on in the building, and no electrode holds it.
    values |= {("house", "L1"): 200.0, ("house", "L2"): 200.0, ("electrode",): 200.0}
    ohms = _OPEN if math.isinf(path) else path * scale - PRIORS.service_neutral_resistance
    values["severity", "0"] = math.log(ohms)
    return _shown(circuits, (120.0, 120.0), values)
