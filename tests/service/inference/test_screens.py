"""Hypotheses whose climbs end early: none of them would have mattered."""

import itertools

import msgspec
import numpy as np
import pytest

from feedproof.inference import Simulation, simulate
from feedproof.inference.weigh import log_prior
from feedproof.inference.weighing import weigh
from feedproof.readings import Conductor, Reading, ReadingSet
from support.internals.engine import fitted, posed
from support.outcomes import amps, ohms, volts
from support.proof_cases import CASES, FOUR_WIRE, near, visit

#: What is e^-12 as probable as the best is not seen in an answer, which lists 0.1 % and more [nat].
UNSEEN = 12.0
PAIRS: tuple[tuple[Conductor, Conductor], ...] = (("L1", "L2"), ("L1", "N"), ("L2", "N"), ("N", "G"))
FAULTS: tuple[tuple[str, Conductor | None], ...] = (
    ("none_found", None),
    ("open_neutral", "N"),
    ("high_resistance_neutral", "N"),
    ("open_leg", "L1"),
    ("high_resistance_leg", "L2"),
    ("open_service_neutral", "N"),
    ("voltage_low", None),
)
LAYOUTS: dict[str, list[Reading]] = {
    "unloaded": [volts(a, b, 0.0) for a, b in PAIRS],
    "low impedance": [volts(a, b, 0.0, "loz") for a, b in PAIRS],
    "idle": [*(volts(a, b, 0.0, state="idle") for a, b in PAIRS), near("N", detected=False)],
    "loaded": [*(volts(a, b, 0.0, state="heating") for a, b in PAIRS), amps("L1", 0.0), amps("N", 0.0)],
    "two loads and an ohmmeter": [
        *(volts(a, b, 0.0, state=state) for state in ("heating", "one_side") for a, b in PAIRS[:3]),
        ohms("N", "G", 0.0),
    ],
}


def simulated(layout: str, seed: int) -> ReadingSet:
    """Give what a person would have read, one fault after another."""
    bare = visit(*LAYOUTS[layout], supply=FOUR_WIRE)
    fault, conductor = next(itertools.islice(itertools.cycle(FAULTS), seed, None))
    read = simulate(Simulation(fault=fault, conductor=conductor, readings=bare, seed=seed))
    return msgspec.structs.replace(bare, readings=read)


def ended_early(readings: ReadingSet) -> int:
    """Hold every state that could be seen to its climbs without screens; give how many were left before their end."""
    case, weighing = posed(readings), weigh(readings)
    whole = [fitted(h, case.oriented(h)) for h in case.states]
    joint = np.array([found.log_evidence + log_prior(found.hypothesis) for found in whole])
    early = 0
    for state, expected, behind in zip(weighing.weighed, whole, joint.max() - joint, strict=True):
        found = state.fit
        assert found.hypothesis == expected.hypothesis
        if behind < UNSEEN:
            assert found.log_evidence == pytest.approx(expected.log_evidence, abs=1e-9), found.hypothesis
        early += not np.array_equal(found.modes, expected.modes)
        assert found.faint <= expected.faint
    return early


@pytest.mark.parametrize("name", CASES)
def test_what_could_be_seen_climbs_to_the_end(name: str) -> None:
    ended_early(CASES[name])


@pytest.mark.parametrize("layout", LAYOUTS)
def test_so_it_is_where_people_read_what_the_model_says_they_would(layout: str) -> None:
    early = [ended_early(simulated(layout, seed)) for seed in range(2 * len(FAULTS))]
    assert sum(early) > 0, "where nothing ends early, nothing is shown"
