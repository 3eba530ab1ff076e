"""The service and its neutral against OpenDSS, a general-purpose distribution simulator, and Kersting's figures.

Both sides solve the same circuit: a center-tapped transformer with the leakage of its halves coupled through the
primary, an unreduced triplex with mutual impedance, a faulted neutral, a ground rod, loads of constant impedance.
OpenDSS takes the transformer as three windings, our side as two coupled branches behind stiff legs. Where the solver's
lumped picture leaves the coupling out, as the inference does, the difference is stated and bounded here too.
"""

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from support.network import Branch, FixedVoltage, Network, coupled_branches, impedance, resistor
from support.opendss_oracle import FEET_PER_MILE, PERFECT, Service, Transformer, solve
from support.solver import node_voltages, thevenin

X0, S1, S2 = "X0", "S1", "S2"

# 1/0 AA triplex without Kron reduction, ohm per mile, worked by modified Carson at 60 Hz and 100 ohm m from GridLAB-D's
# conductor data (powerflow/autotest/test_center_tapped_complex.glm): r = 0.97 ohm/mi, GMR 0.0111 ft, d = 0.368 in.
_SELF, _HOTS, _HOT_NEUTRAL = 1.0653 + 1.5088j, 0.0953 + 1.3417j, 0.0953 + 1.3617j
TRIPLEX_PER_MILE = np.array(
    [[_SELF, _HOTS, _HOT_NEUTRAL], [_HOTS, _SELF, _HOT_NEUTRAL], [_HOT_NEUTRAL, _HOT_NEUTRAL, _SELF]]
)

KERSTING = Transformer(kva=50.0, resistance=0.011, reactance=0.018)
KERSTING_LOADS = {("L1", "N"): 1.4 + 0.5j, ("L2", "N"): 0.9 + 0.4j, ("L1", "L2"): 2.0 + 1.2j}


def triplex(feet: float) -> NDArray[np.complex128]:
    return np.asarray(TRIPLEX_PER_MILE * feet / FEET_PER_MILE, dtype=np.complex128)


def network(case: Service) -> Network:
    """The same case for our solver; node names are (place, conductor)."""
    t = case.transformer
    base = 120.0**2 / (1000.0 * t.kva)
    primary = complex(0.5 * t.resistance, 0.8 * t.reactance) * base
    half = complex(t.resistance, 0.4 * t.reactance) * base
    windings = np.array([[half + primary, -primary], [-primary, half + primary]])
    pole = {"L1": ("pole", "L1"), "L2": ("pole", "L2"), "N": ("source", X0)}
    house = {c: ("house", c) for c in pole}
    drop = pole if case.triplex is None else {c: ("drop", c) for c in pole}
    branches = [*coupled_branches(((("source", S1), pole["L1"]), (("source", S2), pole["L2"])), windings)]
    if case.triplex is not None:
        branches += coupled_branches([(pole[c], drop[c]) for c in ("L1", "L2", "N")], case.triplex)
    branches += [resistor(drop[c], house[c], PERFECT) for c in ("L1", "L2")]
    branches.append(resistor(drop["N"], house["N"], case.neutral_fault))
    branches.append(resistor(house["N"], ("source", X0), case.rod))
    branches += [impedance(house[a], house[b], z.real, z.imag) for (a, b), z in case.loads.items()]
    return Network(
        branches=tuple(branches),
        fixed=(
            FixedVoltage(("source", X0), 0j),
            FixedVoltage(("source", S1), 120 + 0j),
            FixedVoltage(("source", S2), -120 + 0j),
        ),
    )


def ours(case: Service) -> dict[str, complex]:
    found = node_voltages(network(case))
    return {c: found["house", c] for c in ("L1", "L2", "N")}


def spans(volts: dict[str, complex]) -> tuple[float, float, float]:
    """L1 to N, L2 to N, L1 to L2 [V]."""
    return abs(volts["L1"] - volts["N"]), abs(volts["L2"] - volts["N"]), abs(volts["L1"] - volts["L2"])


# Kersting's center-tapped transformer, ex. 11.1 and 11.2, as GridLAB-D's own regression tests encode them
# (powerflow/autotest/test_center_tapped_basic.glm and ..._complex.glm); the book itself was not read.
AT_TRANSFORMER = Service(loads=KERSTING_LOADS, transformer=KERSTING)
AFTER_TRIPLEX = Service(loads=KERSTING_LOADS, transformer=KERSTING, triplex=triplex(100.0), rod=PERFECT)


@pytest.mark.parametrize("solver", [ours, solve], ids=["ours", "OpenDSS"])
@pytest.mark.parametrize(
    ("case", "volts", "amperes", "tolerance"),
    [
        pytest.param(AT_TRANSFORMER, (118.0, 117.9, 235.9), (179.6, 220.4), (0.05, 0.1), id="ex. 11.1"),
        pytest.param(AFTER_TRIPLEX, (115.4, 113.6, 229.1), (175.0, 213.2), (0.1, 0.3), id="ex. 11.2, 100 ft"),
    ],
)
def test_kersting(
    case: Service,
    volts: tuple[float, float, float],
    amperes: tuple[float, float],
    tolerance: tuple[float, float],
    solver: object,
) -> None:
    found = solve(case) if solver is solve else ours(case)
    assert spans(found) == pytest.approx(volts, abs=tolerance[0])
    l1, l2, n = found["L1"], found["L2"], found["N"]
    loads = case.loads
    first = (l1 - n) / loads["L1", "N"] + (l1 - l2) / loads["L1", "L2"]
    second = (n - l2) / loads["L2", "N"] + (l1 - l2) / loads["L1", "L2"]
    assert (abs(first), abs(second)) == pytest.approx(amperes, abs=tolerance[1])


def test_kersting_neutral_current() -> None:
    """Ex. 11.1: 40.94 A in the neutral."""
    found = ours(AT_TRANSFORMER)
    l1, l2, n = found["L1"], found["L2"], found["N"]
    neutral = (l1 - n) / KERSTING_LOADS["L1", "N"] - (n - l2) / KERSTING_LOADS["L2", "N"]
    assert abs(neutral) == pytest.approx(40.94, abs=0.05)


UNBALANCED = {("L1", "N"): 12.0 + 0.5j, ("L2", "N"): 6.0 + 0.3j}
WITH_RANGE = {**UNBALANCED, ("L1", "L2"): 8.0 + 0.0j}
MOTOR = {("L1", "N"): 30.0 + 4.0j, ("L2", "N"): 3.0 + 2.0j, ("L1", "L2"): 15.0 + 8.0j}
LOADS = {"unbalanced": UNBALANCED, "with a range on": WITH_RANGE, "motor starting": MOTOR}
CASES = [
    pytest.param(
        Service(loads=LOADS[loads], triplex=triplex(feet), neutral_fault=fault, rod=rod),
        id=f"{loads}, {feet:g} ft, neutral {fault:g} ohm, rod {rod:g} ohm",
    )
    for (loads, feet), (fault, rod) in itertools.product(
        [("unbalanced", 50.0), ("with a range on", 100.0), ("motor starting", 150.0)],
        [(PERFECT, 25.0), (0.1, 25.0), (0.5, 1e9), (2.0, 100.0), (20.0, 25.0), (1e3, 25.0), (1e9, 25.0), (1e9, 1e9)],
    )
]


@pytest.mark.parametrize("case", CASES)
def test_service_neutral_cases_agree(case: Service) -> None:
    """Twenty-four cases, the same circuit on both sides, so they agree far within the 0.1 % that a meter could show."""
    judged, found = solve(case), ours(case)
    assert spans(found) == pytest.approx(spans(judged), rel=1e-6)
    for name, volts in judged.items():
        assert found[name] == pytest.approx(volts, rel=1e-6, abs=1e-4)


def test_the_cases_include_what_they_are_for() -> None:
    shifts = [abs(ours(case.values[0])["N"]) for case in CASES if isinstance(case.values[0], Service)]
    assert sum(shift > 20.0 for shift in shifts) >= 8
    assert sum(shift < 2.0 for shift in shifts) >= 3


def test_a_rod_carries_what_the_textbook_says() -> None:
    """12 and 6 ohm, stiff source: an open neutral with a 25 ohm rod shifts 34.48 V in OpenDSS too."""
    stiff = Transformer(kva=1e5, resistance=1e-3, reactance=1e-3)
    case = Service(loads={("L1", "N"): 12 + 0j, ("L2", "N"): 6 + 0j}, transformer=stiff, neutral_fault=1e9, rod=25.0)
    assert spans(solve(case))[:2] == pytest.approx((154.48, 85.52), abs=0.02)
    assert abs(solve(case)["N"]) == pytest.approx(34.48, abs=0.02)


def lumped(case: Service) -> Network:
    """The inference's picture of the same service: one impedance per conductor, no coupling between them."""
    t = case.transformer
    base = 120.0**2 / (1000.0 * t.kva)
    leg = complex(1.5 * t.resistance, 1.2 * t.reactance) * base
    wire = complex(0.0, 0.0) if case.triplex is None else complex(case.triplex[0, 0] - case.triplex[0, 2])
    branches = [Branch(("source", s), ("house", c), 1.0 / (leg + wire)) for s, c in ((S1, "L1"), (S2, "L2"))]
    branches.append(Branch(("house", "N"), ("source", X0), 1.0 / (wire + case.neutral_fault)))
    branches.append(resistor(("house", "N"), ("source", X0), case.rod))
    branches += [impedance(("house", a), ("house", b), z.real, z.imag) for (a, b), z in case.loads.items()]
    return Network(branches=tuple(branches), fixed=network(case).fixed)


@pytest.mark.parametrize("case", CASES)
def test_what_leaving_out_the_coupling_costs(case: Service) -> None:
    """One impedance per conductor misses the coupling through primary and loop: under 0.5 % of any voltage here."""
    plain = lumped(case)
    pairs = list(itertools.combinations(("L1", "N", "L2"), 2))
    found = [abs(thevenin(plain, (("house", a), ("house", b))).voltage) for a, b in pairs]
    judged = solve(case)
    expected = [abs(judged[a] - judged[b]) for a, b in pairs]
    worst = max(abs(x - y) / y for x, y in zip(found, expected, strict=True))
    assert worst < 0.005
