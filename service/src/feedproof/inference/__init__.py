"""Bayesian inference over (fault, circuit). Numbers in, numbers out; knows nothing of HTTP or wording.

This is the seam: everything outside this folder imports from here and from no module inside. Reading sets are the
records of `feedproof.readings`, what comes back is described in `feedproof.inference.outcome`; nothing of either
depends on how the inference works, so that another engine can stand behind the same functions.

`infer` gives all that can be inferred of a reading set; `likeness` tells callers with many sets which are alike.
`simulate` takes readings of a stated circuit. `draw` draws a circuit and its readings from the model itself, for
calibration. `circuits_of` gives the circuits of one site over the unit cube with their likelihood, for an independent
sampler, and the model run forward from stated unknowns. `KEPT` says whether what is compiled is kept on disk; where it
is not, each start compiles.
"""

from feedproof.circuit.compiling import KEPT
from feedproof.inference.circuits import circuits_of, draw, simulate
from feedproof.inference.outcome import (
    NEUTRAL_IN_DOUBT,
    BreakPosition,
    Candidate,
    Circuits,
    EarthVoltage,
    Expectation,
    Hazards,
    Interval,
    Likeness,
    Limit,
    Name,
    NeutralVoltage,
    Outcome,
    Part,
    PathResistance,
    Prospect,
    ReadingEvidence,
    Simulation,
    Site,
    Truth,
)
from feedproof.inference.scene import likeness
from feedproof.inference.weighing import infer

__all__ = [
    "KEPT",
    "NEUTRAL_IN_DOUBT",
    "BreakPosition",
    "Candidate",
    "Circuits",
    "EarthVoltage",
    "Expectation",
    "Hazards",
    "Interval",
    "Likeness",
    "Limit",
    "Name",
    "NeutralVoltage",
    "Outcome",
    "Part",
    "PathResistance",
    "Prospect",
    "ReadingEvidence",
    "Simulation",
    "Site",
    "Truth",
    "circuits_of",
    "draw",
    "infer",
    "likeness",
    "simulate",
]
