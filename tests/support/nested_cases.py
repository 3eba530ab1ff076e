"""The inference beside the nested sampler on one reading set: evidences, and ends of intervals."""

import time
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from feedproof.inference import Candidate, Circuits, Outcome, Truth, circuits_of, infer
from feedproof.readings import Conductor, ReadingSet
from support.nested import DRAWS, Nested, nested
from support.proof_cases import CASES
from support.seam import never, sites

FloatArray = NDArray[np.float64]

LEAST, MOST = 2, 4
#: From this probability on a site is one of those that lead.
LEADING = 0.003
#: From this probability on a site may be part of a finding, so that its intervals matter.
CLAIMED = 0.1
SEEDS = (11, 12)
#: Where the sampler with its usual settings disagrees with itself, or with plain draws from the prior (bad leg: -9.26
#: by 5 slices and -9.39 by 12, where twelve million plain draws give -9.43; single phase: by 800 points the lower end
#: of the resistance wanders by a tenth of the interval, by 1600 by a thirtieth; floating between strays: by 500 points
#: a lost leg and neutral have -13.2 to -13.9 in four runs): live points and slices that it needs.
THOROUGH = {
    "single phase, bad neutral": (1600, 8),
    "bad leg while heating": (500, 12),
    "neutral floating between strays": (1500, 5),
}
_ENDS = (0.05, 0.95)
_SERIES = ("open_neutral", "high_resistance_neutral", "open_leg", "high_resistance_leg")


def leading(readings: ReadingSet) -> list[tuple[Candidate, Outcome]]:
    """The two to four sites that lead, with the evidence that an answer rests on, and what is inferred of each alone.

    Where one is so improbable that an answer takes less care of it, its evidence is that of the site alone.
    """
    found = []
    for rank, site in enumerate(sites(readings)[:MOST]):
        if rank < LEAST or site.probability >= LEADING:
            alone = infer(readings, among=[site], look_ahead=never)
            own = next(c for c in alone.candidates if c.parts == site.parts and c.location == site.location)
            judged = site if site.probability >= LEADING else own
            found.append((_with_evidence(site, judged.log_evidence), alone))
    return found


def _with_evidence(site: Candidate, log_evidence: float) -> Candidate:
    return Candidate(**{name: getattr(site, name) for name in site.__struct_fields__} | {"log_evidence": log_evidence})


class Sampled:
    """What the sampler found of a site: of each kind of circuit that it stands for, put together by their shares.

    Parameters
    ----------
    circuits : sequence of Circuits
        Of the site.
    seed, live, slices : int
        As `nested` takes them.
    """

    def __init__(self, circuits: Sequence[Circuits], seed: int, live: int, slices: int) -> None:
        self.circuits = circuits
        self.runs = [nested(c, seed=seed, live=live, slices=slices) for c in circuits]
        joint = [np.log(c.share) + run.log_evidence for c, run in zip(circuits, self.runs, strict=True)]
        self.log_evidence = float(np.logaddexp.reduce(joint))
        self.share = np.exp(np.array(joint) - self.log_evidence)
        self.error = float(np.sqrt(np.sum((self.share * [run.error for run in self.runs]) ** 2)))
        self.calls = sum(run.calls for run in self.runs)

    def truths(self) -> list[Truth]:
        """Circuits of equal weight from the posterior."""
        found: list[Truth] = []
        for circuits, run, share in zip(self.circuits, self.runs, self.share, strict=True):
            found += _truths(circuits, run, round(share * DRAWS))
        return found


def _truths(circuits: Circuits, run: Nested, count: int) -> list[Truth]:
    """So many circuits, evenly from a run's draws; the same draw is worked out once."""
    known: dict[bytes, Truth] = {}
    found = []
    for row in (np.arange(count) * len(run.cube)) // max(count, 1):
        cube = run.cube[row]
        key = cube.tobytes()
        if key not in known:
            known[key] = circuits.truth(circuits.values(cube))
        found.append(known[key])
    return found


def quantities(site: Candidate, alone: Outcome, runs: Sequence[Sampled]) -> list[dict[str, Any]]:
    """Ends of every interval that the fault concerns, by the inference and by each run of the sampler."""
    if alone.candidates[0].parts != site.parts:
        raise ValueError(f"{site} alone is not the finding")
    truths = [run.truths() for run in runs]
    faulted: set[Conductor | None] = {conductor for fault, conductor in site.parts if fault in _SERIES}
    found = []
    for entry in alone.resistances:
        if entry.conductor in faulted and entry.point == "receptacle":
            key = entry.conductor, entry.point
            theirs = [np.log([truth.resistances[key] for truth in own]) for own in truths]
            ours = np.log([entry.interval.low, entry.interval.high])
            found.append(_compared(f"ln R of {entry.conductor}", ours, theirs))
    for neutral in alone.neutral_voltages:
        if neutral.during_reading is None and neutral.interval.high > 1.0:
            at = neutral.load_state, neutral.point, None
            theirs = [np.array([truth.neutral_voltages[at] for truth in own]) for own in truths]
            ours = np.array([neutral.interval.low, neutral.interval.high])
            found.append(_compared(f"V of neutral, {neutral.load_state}", ours, theirs))
    return found


def _compared(name: str, ours: FloatArray, theirs: Sequence[FloatArray]) -> dict[str, Any]:
    """Differences as a share of the sampler's width, and as probability beyond our ends.

    The sampler's two runs tell how well it knows the ends itself. Where an end lies at the foot of a long flat tail, it
    moves by decades with a percent of probability; the probability says then what the width cannot.
    """
    ends = [np.quantile(values, _ENDS) for values in theirs]
    below = [[float(np.mean(values < end)) for end in ours] for values in theirs]
    judged = np.mean(ends, axis=0)
    width = float(judged[1] - judged[0])
    return {
        "quantity": name,
        "ours": [float(x) for x in ours],
        "sampler": [float(x) for x in judged],
        "off": [float(x) for x in (ours - judged) / width],
        "off_probability": [float(x) for x in np.mean(below, axis=0) - np.array(_ENDS)],
        "sampler_apart": [float(x) for x in np.abs(np.diff(ends, axis=0)[0]) / width],
    }


def compare(name: str) -> list[dict[str, Any]]:
    """One row for each leading site of a reading set."""
    rows = []
    for site, alone in leading(CASES[name]):
        circuits = circuits_of(CASES[name], site)
        start = time.process_time()
        live, slices = THOROUGH.get(name, (500, 5))
        runs = [Sampled(circuits, seed, live, slices) for seed in SEEDS]
        # Two independent runs: their evidences average, their errors halve in square.
        judged = float(np.logaddexp.reduce([r.log_evidence for r in runs]) - np.log(len(runs)))
        rows.append(
            {
                "case": name,
                "fault": " + ".join([site.fault, *(second for second, _ in site.also)]),
                "conductor": site.conductor,
                "location": site.location,
                "probability": site.probability,
                "unknowns": [len(c.names) for c in circuits],
                "ours": site.log_evidence,
                "sampler": judged,
                "error": float(np.sqrt(np.mean([r.error**2 for r in runs]) / len(runs))),
                "difference": site.log_evidence - judged,
                "calls": sum(r.calls for r in runs),
                "intervals": quantities(site, alone, runs) if site.probability >= CLAIMED else [],
                "seconds": time.process_time() - start,
            }
        )
    return rows
