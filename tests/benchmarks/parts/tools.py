"""The same work by general-purpose tools: a nested sampler for one site, a circuit simulator for one circuit."""

import importlib.util
import shutil
import time
from collections.abc import Callable

import numpy as np

from benchmarks.parts.rows import Budget, Row, missing
from feedproof.inference import circuits_of, infer
from feedproof.readings import Voltmeter
from support.model_reference import asked, solved
from support.proof_cases import CASES
from support.seam import never, site

CASE, FAULT = "bad neutral under a known load", "high_resistance_neutral"


def _timed(function: Callable[[], object], least: float = 0.2) -> float:
    """Processor time of one call, from as many as take a while [s]."""
    calls, began = 0, time.process_time()
    while time.process_time() - began < least:
        function()
        calls += 1
    return (time.process_time() - began) / calls


def _sampler(budget: Budget) -> list[Row]:
    """Evidence of one site: the inference, against nested sampling with the same likelihood."""
    if importlib.util.find_spec("dynesty") is None:
        return [missing("one site by a nested sampler", "dynesty is not installed")]
    import dynesty  # noqa: PLC0415

    visit, own = CASES[CASE], site(CASES[CASE], FAULT)
    (circuits,) = circuits_of(visit, own)
    cost = _timed(lambda: infer(visit, among=[own], look_ahead=never))
    sampler = dynesty.NestedSampler(
        circuits.log_likelihood,
        lambda cube: cube,
        ndim=len(circuits.names),
        nlive=budget.live_points,
        sample="rwalk",
        rstate=np.random.default_rng(1),
    )
    began = time.process_time()
    sampler.run_nested(dlogz=0.1, print_progress=False)
    theirs = time.process_time() - began
    results = sampler.results
    unit = "our inference of it"
    note = f"{len(circuits.names)} unknowns, log evidence {own.log_evidence:.2f}"
    found = f"log evidence {results.logz[-1]:.2f} ± {results.logzerr[-1]:.2f}, {int(np.sum(results.ncall))} calls"
    return [
        Row("one site and a sound supply: all that is inferred", 1e3 * cost, "ms", 1.0, unit, note),
        Row("one site: dynesty, same likelihood", 1e3 * theirs, "ms", theirs / cost, unit, found),
    ]


def _simulator(budget: Budget) -> list[Row]:
    """One circuit with its meters: by the inference's likelihood, by the second solver, by the simulator in a loop."""
    visit, own = CASES[CASE], site(CASES[CASE], FAULT)
    (circuits,) = circuits_of(visit, own)
    cube = np.full(len(circuits.names), 0.4)
    circuits.log_likelihood(cube)
    ours = _timed(lambda: circuits.log_likelihood(cube))
    values = circuits.values(np.full(len(circuits.names), 0.5))
    questions = [asked(own, circuits, visit, values, r) for r in visit.readings]
    clear = _timed(lambda: [solved(question) for question in questions])
    unit = "the likelihood"
    count = f"{len(visit.readings)} meters"
    found = [
        Row("one circuit, all readings: the likelihood", 1e6 * ours, "us", 1.0, unit, f"{count}, called from Python"),
        Row("one circuit, all readings: dense solver in Python", 1e6 * clear, "us", clear / ours, unit, count),
    ]
    if shutil.which("ngspice") is None:
        return [*found, missing("one circuit, all readings: ngspice", "ngspice is not on the path")]
    from support.ngspice_oracle import VoltmeterProbe, voltmeter_readings  # noqa: PLC0415

    assert all(isinstance(visit.meters[r.meter], Voltmeter) for r in visit.readings)
    probes = [VoltmeterProbe(question.pair, question.load) for question in questions]
    runs = max(2, budget.starts)
    began = time.perf_counter()
    for _ in range(runs):
        voltmeter_readings(questions[0].network, probes)
    theirs = (time.perf_counter() - began) / runs
    note = f"{count}, {runs} runs, each a process of its own"
    return [*found, Row("one circuit, all readings: ngspice", 1e6 * theirs, "us", theirs / ours, unit, note)]


def measure(budget: Budget) -> list[Row]:
    """Give both comparisons."""
    return _sampler(budget) + _simulator(budget)
