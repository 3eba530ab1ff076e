"""What meters show by the model that ships, and its derivatives, against the second solver and finite differences."""

import cmath
import math

import numpy as np
import pytest

from feedproof.circuit.forward import CURRENT, DEAD, NEUTRAL_DURING, RESISTANCE, FloatArray, level
from feedproof.faults.places import Site, neutral_rate
from feedproof.inference.branch import appliance, insulation, path, strays
from feedproof.inference.draft import S1, S2, X0, Draft
from feedproof.inference.predictions import linearized, shown_by
from feedproof.inference.program import Built, build
from feedproof.inference.scene import Scene, SceneReading, canonical_form, without_values
from feedproof.inference.upstream import feeder, service
from feedproof.readings import PANELS, ReadingSet, Supply
from support.internals.fits import places
from support.network import Branch, FixedVoltage, Network
from support.outcomes import amps, ohms, volts
from support.proof_cases import FOUR_WIRE, THREE_WIRE, of_system, visit
from support.solver import branch_current, driving_point_impedance, node_voltages, thevenin, voltmeter_reading

_TAKEN = (
    volts("L1", "L2", 240.0),
    volts("L1", "N", 120.0, "loz"),
    volts("N", "G", 0.2),
    volts("L2", "N", 120.0, state="one_side"),
    amps("N", 12.0, state="one_side"),
    amps("L1", 12.0, state="one_side", point="appliance_terminals"),
    ohms("L1", "N", 50.0),
)
ARRANGEMENTS: dict[str, ReadingSet] = {
    "at the service panel": visit(*_TAKEN, supply=Supply(run=FOUR_WIRE.run, fed_from="service_panel")),
    "behind a feeder": visit(*_TAKEN, supply=Supply(fed_from="sub_panel")),
    "behind a bonded feeder": visit(*_TAKEN, supply=Supply(fed_from="sub_panel_bonded")),
    "frame on the neutral": visit(volts("L1", "N", 118.0, state="idle"), ohms("N", "G", 0.4), supply=THREE_WIRE),
    "wye": visit(volts("L1", "L2", 208.0), volts("L1", "N", 120.0, state="idle"), supply=of_system("wye_120_208")),
    "one leg": visit(volts("L1", "N", 120.0, "loz"), volts("L1", "G", 120.0), supply=of_system("single_phase_120")),
}


def programs(readings: ReadingSet) -> list[tuple[Site, Scene, Built]]:
    bare = without_values(canonical_form(readings).scene)
    sites = [neutral_rate(site) for site in places(readings)]
    return [(site, bare, build(site, bare, bare.readings)) for site in sites]


def somewhere(built: Built, severities: int, seed: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    return rng.standard_normal(len(built.keys) + severities) * 0.8


def drafted(site: Site, scene: Scene) -> Draft:
    d = Draft(site, scene, scene.readings)
    if site.level == "sound":
        d.unknown("supply")
    for state in sorted({s for s, on, _ in d.circuits if on}):
        d.unknown(f"lean {state}")
    for part in (service, feeder, path, strays, insulation, appliance):
        part(d)
    return d


def network_of(d: Draft, site: Site, built: Built, x: FloatArray, c: int) -> Network:
    """Circuit number c whole, nothing of it reduced, at the point x."""
    p, size = built.program, len(built.keys)
    share = 1.0 / (1.0 + math.exp(-p.position_spread * x[p.position])) if p.position >= 0 else 1.0
    leg = 120.0 * math.exp(level(p, x)[0])
    state, on, _ = d.circuits[c]
    lean = p.asymmetry_scale * x[d.keys[f"lean {state}"]] if on else 0.0
    branches = [Branch(a, b, y) for (a, b), y in d.constants[c].items() if a != b]
    for a, b, mask, log, least, terms, scaled in d.elements:
        if mask >> c & 1 and a != b:
            whole = log + sum(f * (x[u] if u >= 0 else x[size - 1 - u]) for u, f in terms)
            branches.append(Branch(a, b, (share if scaled else 1.0) / (least + cmath.exp(-whole))))
    fixed = [
        FixedVoltage(X0, 0j),
        FixedVoltage(S1, leg * (1.0 + lean) * site.phasors[0]),
        FixedVoltage(S2, leg * (1.0 - lean) * site.phasors[1]),
    ]
    if p.inject_node[c] >= 0:
        # A current, as distant sources of it.
        far, (_, most, square, floor) = 1e8, p.inject
        z = float(x[int(p.inject[0])])
        amperes = most * z * (z**2 + floor) / (z**2 + square) ** 1.5
        ends = {("Q", "N"): amperes} | ({("P", "N"): -amperes} if p.return_node[c] > 0 else {})
        for node, current in ends.items():
            away = ("other loads", node[0])
            branches.append(Branch(away, node, 1.0 / far))
            fixed.append(FixedVoltage(away, complex(current * far)))
    return Network(branches=tuple(branches), fixed=tuple(fixed))


def by_second_solver(site: Site, scene: Scene, built: Built, x: FloatArray) -> list[float]:
    """Every reading, in the program's order."""
    d, p = drafted(site, scene), built.program
    assert tuple(d.keys) == built.keys[: len(d.keys)]
    networks = [network_of(d, site, built, x, c) for c in range(len(d.circuits))]
    circuit_of = {key: c for c, key in enumerate(d.circuits)}
    found = []
    for row, number in enumerate(built.order):
        r = scene.readings[number % len(scene.readings)]
        copy = number // len(scene.readings)
        network = networks[circuit_of[r.state, r.kind != "resistance", copy]]
        shown = 0.0 if p.reading_kind[row] == DEAD else _read(d, r, network, complex(p.meter[row]))
        found.append(shown * (1.0 + (p.gain_scale[row] * x[p.gain[row]] if p.gain[row] >= 0 else 0.0)))
    return found


def _read(d: Draft, r: SceneReading, network: Network, meter: complex) -> float:
    if r.kind == "current":
        at_terminals, wire = r.point == "appliance_terminals", r.conductors[0]
        down = d.node("appliance_terminals" if at_terminals else "receptacle", wire)
        if r.point in PANELS:
            down = "R", wire
        ends = {down, ("R" if at_terminals else "Q", down[1])}
        return abs(sum(branch_current(network, k) for k, b in enumerate(network.branches) if {b.start, b.end} == ends))
    pair = (d.node(r.point, r.conductors[0]), d.node(r.point, r.conductors[1]))
    if r.kind == "resistance":
        return abs(driving_point_impedance(network, pair, "shorted"))
    return voltmeter_reading(thevenin(network, pair), 1.0 / meter if meter else complex(math.inf))


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_every_place_reads_as_the_second_solver_has_it(name: str) -> None:
    for seed, (site, scene, built) in enumerate(programs(ARRANGEMENTS[name])):
        x = somewhere(built, len(site.spans), seed)
        shown = np.zeros((1, len(built.order)))
        shown_by(built.program, x[None], shown)
        expected = by_second_solver(site, scene, built, x)
        assert shown[0] == pytest.approx(expected, rel=1e-6, abs=1e-6), (site.place, site.fault, site.conductor)


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_derivatives_are_those_of_finite_differences(name: str) -> None:
    """By every unknown: severities, position of a break, the feeder's current, gains, level and asymmetry."""
    for seed, (site, _, built) in enumerate(programs(ARRANGEMENTS[name])):
        x = somewhere(built, len(site.spans), 100 + seed)
        n, h = x.size, 1e-5
        shown, jacobian = np.zeros(len(built.order)), np.zeros((len(built.order), n))
        linearized(built.program, x, shown, jacobian)
        around = np.repeat(x[None], 2 * n, axis=0)
        around[range(n), range(n)] += h
        around[range(n, 2 * n), range(n)] -= h
        beside = np.zeros((2 * n, len(built.order)))
        shown_by(built.program, around, beside)
        slopes = (beside[:n] - beside[n:]).T / (2.0 * h)
        assert jacobian == pytest.approx(slopes, rel=1e-4, abs=1e-4 + 1e-6 * float(np.abs(shown).max())), site.fault


def test_what_is_asked_while_a_meter_is_on_is_the_circuit_with_the_meter_in_it() -> None:
    readings = ARRANGEMENTS["at the service panel"]
    bare = without_values(canonical_form(readings).scene)
    loz = next(r for r in bare.readings if r.kind == "voltage" and r.conductors == ("L1", "N"))
    asked = SceneReading(
        kind="neutral_during", conductors=loz.conductors, point=loz.point, state=loz.state, meter=loz.meter
    )
    for site in [s for s in map(neutral_rate, places(readings)) if s.place in {"none", "branch_neutral"}]:
        built = build(site, bare, (*bare.readings, asked))
        x = somewhere(built, len(site.spans), 3)
        shown = np.zeros((1, len(built.order)))
        shown_by(built.program, x[None], shown)
        row = next(k for k, kind in enumerate(built.program.reading_kind) if kind == NEUTRAL_DURING)
        assert built.program.reading_kind[row] not in {CURRENT, RESISTANCE}
        d = drafted(site, bare)
        if site.intermittent:
            continue
        c = d.circuits.index((loz.state, True, 0))
        network = network_of(d, site, built, x, c)
        a, b = d.node(loz.point, "L1"), d.node(loz.point, "N")
        loaded = node_voltages(
            Network(branches=(*network.branches, Branch(a, b, complex(built.program.meter[row]))), fixed=network.fixed)
        )
        assert shown[0, row] == pytest.approx(abs(loaded[b] - loaded["P", "G"]), rel=1e-6, abs=1e-6)
