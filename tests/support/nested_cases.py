"""The inference beside the nested sampler on one reading set: evidences, and ends of intervals."""

import time
from collections.abc import Sequence
from typing import Any

import numpy as np

from feedproof.inference.estimates import neutral_voltages, path_resistances
from feedproof.inference.forward import FloatArray, unknown_column
from feedproof.inference.program import Built
from feedproof.inference.scene import SceneReading, mirror
from feedproof.inference.weigh import Weighed, draw
from feedproof.inference.weighing import weigh
from feedproof.readings import Conductor, ReadingSet
from support.internals.engine import Posed, asked, compiled, posed, shown
from support.nested import Nested, nested
from support.proof_cases import CASES

LEAST, MOST = 2, 4
#: Intervals are given of the finding alone; from this probability on a hypothesis may be part of one.
CLAIMED = 0.1
SEEDS = (11, 12)
#: Where the sampler with its usual settings disagrees with itself, or with plain draws from the prior (bad leg: -9.26
#: by 5 slices and -9.39 by 12, where twelve million plain draws give -9.43): live points and slices that it needs.
THOROUGH = {"single phase, bad neutral": (1500, 15), "bad leg while heating": (500, 12)}
_ENDS = (0.05, 0.95)


def leading(readings: ReadingSet, least: float = 0.003) -> list[tuple[Weighed, float]]:
    """The two to four hypotheses that lead, with the draws that an assessment rests on, and their probabilities.

    Where the second is so improbable that an assessment leaves it undrawn, it is drawn here.
    """
    found = weigh(readings)
    order = sorted(range(len(found.weighed)), key=lambda i: -found.probability[i])[:MOST]
    chosen = [i for rank, i in enumerate(order) if rank < LEAST or found.probability[i] >= least]
    weighed = [found.weighed[i] for i in chosen]
    drawn = [w if w.z.size else draw(w.fit, limit=1536, enough=90.0) for w in weighed]
    return [(w, found.probability[i]) for w, i in zip(drawn, chosen, strict=True)]


def quantities(case: Posed, weighed: Weighed, runs: Sequence[Nested]) -> list[dict[str, Any]]:
    """Ends of every interval that the fault concerns, by the inference and by each run of the sampler."""
    h = weighed.hypothesis
    scene = case.oriented(h)
    found = []
    faulted = {s.conductor for s in h.series if s.section == "branch"}
    for entry in path_resistances([(weighed, 1.0)], case.canonical):
        named = mirror(entry.conductor) if case.canonical.mirrored else entry.conductor
        own: Conductor = mirror(named) if h.mirrored else named
        if own in faulted and entry.point == "receptacle":
            built = weighed.fit.built
            theirs = [np.log(_resistance(built, run.z, own)) for run in runs]
            ours = np.log([entry.interval.low, entry.interval.high])
            found.append(_compared(f"ln R of {entry.conductor}", ours, theirs))
    names = {name: number for number, name in enumerate(case.canonical.state_names)}
    for neutral in neutral_voltages([(weighed, 1.0)], case.canonical):
        if neutral.during_reading is None and neutral.interval.high > 1.0:
            question = SceneReading(
                kind="neutral", conductors=("N",), point=neutral.point, state=names[neutral.load_state], meter=-1
            )
            built = asked(h, scene, [*scene.readings, question])
            if built.keys != weighed.fit.built.keys:
                raise ValueError("the question brings unknowns of its own")
            theirs = [shown(built, run.z)[:, -1] for run in runs]
            ours = np.array([neutral.interval.low, neutral.interval.high])
            found.append(_compared(f"V of neutral, {neutral.load_state}", ours, theirs))
    return found


def _resistance(built: Built, z: FloatArray, conductor: Conductor) -> FloatArray:
    total: FloatArray = np.zeros(z.shape[0])
    for term in built.series[conductor]:
        if term.section == "branch":
            constant = term.coordinate < 0
            total += term.resistance if constant else np.exp(unknown_column(built.program, z, term.coordinate))
    return total


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
    """One row for each leading hypothesis of a reading set."""
    case = posed(CASES[name])
    rows = []
    for weighed, probability in leading(CASES[name]):
        h = weighed.hypothesis
        built, observations = compiled(h, case.oriented(h))
        start = time.process_time()
        live, slices = THOROUGH.get(name, (500, 5))
        runs = [nested(built, observations, seed=seed, live=live, slices=slices) for seed in SEEDS]
        # Two independent runs: their evidences average, their errors halve in square.
        judged = float(np.logaddexp.reduce([r.log_evidence for r in runs]) - np.log(len(runs)))
        rows.append(
            {
                "case": name,
                "fault": " + ".join([h.fault, *(second for second, _ in h.also)]),
                "conductor": h.conductor,
                "location": h.location,
                "probability": probability,
                "unknowns": len(built.keys),
                "ours": weighed.log_evidence,
                "effective": weighed.effective,
                "sampler": judged,
                "error": float(np.sqrt(np.mean([r.error**2 for r in runs]) / len(runs))),
                "difference": weighed.log_evidence - judged,
                "calls": sum(r.calls for r in runs),
                "seconds": time.process_time() - start,
                "intervals": quantities(case, weighed, runs) if probability >= CLAIMED else [],
            }
        )
    return rows
