"""The model that ships, run forward, against ngspice, a general-purpose circuit simulator.

The netlists are those of the model written once more (`support.model_reference`), with unknowns drawn from their laws;
what the inference's own circuits show for the same unknowns must be what ngspice finds. So milliohm joints beside
gigaohm opens, strays and loads go through the code that answers requests. ngspice carries some tenths of a nanovolt of
its own rounding, see `test_ngspice_circuit`.
"""

from collections.abc import Sequence

import numpy as np
import pytest

from feedproof.inference import Circuits, Name
from support import ngspice_oracle
from support.model_reference import NOT_ONE_CIRCUIT, Asked, Neutral, asked
from support.network import Network
from support.proof_cases import CASES
from support.seam import every_circuit

RELATIVE = 1e-6
NANOVOLT = 1e-8
#: Every kind of meter, of load state and of point; the other reading sets in the long run.
EVERYDAY = ("bad neutral under a known load", "isolated, neutral to ground", "panel and terminals, heating")
ALL = [name if name in EVERYDAY else pytest.param(name, marks=pytest.mark.slow) for name in CASES]


def judged(questions: Sequence[Asked], frequency: float) -> list[float]:
    """What ngspice finds for each question, all that share a network in one run [V, A or ohm]."""
    found = [0.0] * len(questions)
    groups: dict[tuple[str, Network], list[int]] = {}
    for k, question in enumerate(questions):
        kind = "voltage" if question.kind == "ideal" else question.kind
        groups.setdefault((kind, question.network), []).append(k)
    for (kind, network), own in groups.items():
        if kind == "current":
            values = [ngspice_oracle.branch_current(network, questions[k].branch, frequency) for k in own]
        elif kind == "resistance":
            pairs = [questions[k].pair for k in own]
            values = [abs(z) for z in ngspice_oracle.driving_point_impedances(network, pairs, frequency)]
        else:
            probes = [ngspice_oracle.VoltmeterProbe(questions[k].pair, questions[k].load) for k in own]
            values = ngspice_oracle.voltmeter_readings(network, probes, frequency)
        for k, value in zip(own, values, strict=True):
            found[k] = value * questions[k].gain
    return found


def somewhere(circuits: Circuits, seed: int) -> dict[Name, float]:
    """Unknowns drawn from their laws."""
    return circuits.values(np.random.default_rng(seed).uniform(size=len(circuits.names)))


@pytest.mark.parametrize("name", ALL)
def test_every_meter_shows_what_ngspice_finds(name: str) -> None:
    """Each state of the supply that is weighed for the reading set, with the neutral that the answer estimates."""
    visit = CASES[name]
    for number, (site, circuits) in enumerate(every_circuit(visit)):
        if site.fault in NOT_ONE_CIRCUIT:
            continue
        values = somewhere(circuits, number)
        neutral = {at: v for at, v in circuits.truth(values).neutral_voltages.items() if at[2] is None}
        questions = [asked(site, circuits, visit, values, r) for r in visit.readings]
        questions += [
            asked(site, circuits, visit, values, Neutral(load_state=state, point=point)) for state, point, _ in neutral
        ]
        ours = (*circuits.shown(values), *neutral.values())
        expected = judged(questions, visit.supply.frequency)
        assert ours == pytest.approx(expected, rel=RELATIVE, abs=NANOVOLT), (site, values)


def test_other_unknowns_would_be_seen() -> None:
    """The control: a hundredth in the logarithm of one resistance moves a reading by far more than the tolerance."""
    visit = CASES["bad neutral under a known load"]
    site, circuits = next(
        (site, circuits) for site, circuits in every_circuit(visit) if site.fault == "high_resistance_neutral"
    )
    values = somewhere(circuits, 1)
    questions = [asked(site, circuits, visit, values, r) for r in visit.readings]
    moved = {name: v + 0.01 if name[0] == "severity" else v for name, v in values.items()}
    expected = judged(questions, visit.supply.frequency)
    assert any(abs(a - b) > 1e-4 * b for a, b in zip(circuits.shown(moved), expected, strict=True))
