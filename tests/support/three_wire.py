"""A three-wire circuit with a load on each side, by the second solver and by the model that ships.

Examples on other voltages and loads are scaled: in a linear circuit all voltages scale together, and no voltage changes
where all impedances do. So the model, whose source, strays and leakages are what they are, takes on an example's
figures where those are far from its own.
"""

import math

from feedproof.faults.priors import PRIORS
from feedproof.inference import Circuits, Name, circuits_of
from feedproof.readings import Conductor, Load, LoadState, ReadingSet, Supply, VoltageReading, Voltmeter
from support.network import FixedVoltage, Network, resistor
from support.seam import site
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
_DRY = 40.0  # logarithm of how many times the usual a leakage has: none is left
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
        supply=Supply(equipment_ground="absent", frame_bonded_to_neutral=False, frequency=_FREQUENCY),
        meters={"ideal": _IDEAL},
        load_states={"on": LoadState(name="on", kind="test_load", loads=known)},
        readings=tuple(
            VoltageReading(between=b, value=0.0, meter="ideal", load_state="on", point="appliance_terminals")
            for b in pairs
        ),
    )
    (found,) = circuits_of(visit, site(visit, fault, conductor))
    return found


def _shown(circuits: Circuits, volts: Two, values: dict[Name, float]) -> Two:
    """Voltage on each side's load, on the example's own voltages [V]."""
    lean = (volts[0] - volts[1]) / (volts[0] + volts[1])
    cords: dict[Name, float] = {("cord", c): math.log(STIFF) for c in ("L1", "L2", "N")}
    shown = circuits.shown({("supply", "sound"): 0.0, ("lean", "on"): lean} | cords | values)
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
    names: tuple[Conductor, ...] = ("L1", "L2", "N")
    for name, ohms, own in zip(names, wires, before, strict=True):
        if math.isinf(ohms):
            fault, conductor = ("open_neutral" if name == "N" else "open_leg"), name
            values["fault", "branch", name] = math.log(_OPEN)
            values["damp", "run"] = _DRY
        else:
            values["run", name] = math.log(max(ohms * scale - own, STIFF))
    return _shown(_circuits((loads[0] * scale, loads[1] * scale), fault, conductor), volts, values)


def service_by_model(path: float, loads: Two) -> Two:
    """The same on legs of 120 V where a path of so many ohms holds the neutral at the service [V]."""
    scale = _LOAD / math.sqrt(loads[0] * loads[1])
    circuits = _circuits((loads[0] * scale, loads[1] * scale), "high_resistance_service_neutral", "N")
    values: dict[Name, float] = {("run", c): math.log(STIFF) for c in ("L1", "L2", "N")}
    values["return", "high"] = math.log(1e12 if math.isinf(path) else path * scale)
    return _shown(circuits, (120.0, 120.0), values)
