"""The same work by general-purpose tools: a nested sampler for one hypothesis, a circuit simulator for one circuit."""

import importlib.util
import shutil
import time
from collections.abc import Callable

import numpy as np

from benchmarks.parts.rows import Budget, Row, missing
from feedproof.faults.hypotheses import Hypothesis
from feedproof.inference.arrays import make_work
from feedproof.inference.forward import predict
from feedproof.inference.likelihood import total_log_likelihood
from feedproof.inference.scene import Scene
from feedproof.inference.weigh import draw
from feedproof.readings import Voltmeter
from support import model_reference
from support.internals.engine import NOTHING, compiled, fitted, posed
from support.proof_cases import CASES

CASE, FAULT = "bad neutral under a known load", "high_resistance_neutral"


def _posed() -> tuple[Hypothesis, Scene]:
    case = posed(CASES[CASE])
    state = next(h for h in case.states if h.fault == FAULT and not h.also)
    return state, case.oriented(state)


def _timed(function: Callable[[], object], least: float = 0.2) -> float:
    """Processor time of one call, from as many as take a while [s]."""
    calls, began = 0, time.process_time()
    while time.process_time() - began < least:
        function()
        calls += 1
    return (time.process_time() - began) / calls


def _sampler(budget: Budget) -> list[Row]:
    """Evidence of one hypothesis: modes and draws, against nested sampling with the same compiled likelihood."""
    if importlib.util.find_spec("dynesty") is None:
        return [missing("one hypothesis by a nested sampler", "dynesty is not installed")]
    import dynesty  # noqa: PLC0415
    from scipy.special import ndtri  # noqa: PLC0415

    state, scene = _posed()

    def whole() -> float:
        return draw(fitted(state, scene), limit=4096, enough=300.0).log_evidence

    ours = whole()
    cost = _timed(whole)
    built, observations = compiled(state, scene)
    work, row = make_work(built.program), np.zeros((1, len(built.order)))

    def log_likelihood(z: np.ndarray) -> float:
        predict(built.program, z.reshape(1, -1), work, row, NOTHING)
        return float(total_log_likelihood(observations, row[0]))

    sampler = dynesty.NestedSampler(
        log_likelihood,
        ndtri,
        ndim=len(built.keys),
        nlive=budget.live_points,
        sample="rwalk",
        rstate=np.random.default_rng(1),
    )
    began = time.process_time()
    sampler.run_nested(dlogz=0.1, print_progress=False)
    theirs = time.process_time() - began
    results = sampler.results
    unit = "our modes and draws"
    note = f"{len(built.keys)} unknowns, log evidence {ours:.2f}"
    found = f"log evidence {results.logz[-1]:.2f} ± {results.logzerr[-1]:.2f}, {int(np.sum(results.ncall))} calls"
    return [
        Row("one hypothesis: modes and draws", 1e3 * cost, "ms", 1.0, unit, note),
        Row("one hypothesis: dynesty, same likelihood", 1e3 * theirs, "ms", theirs / cost, unit, found),
    ]


def _simulator(budget: Budget) -> list[Row]:
    """One circuit with its meters: compiled, by the dense reference solver, and by the simulator in a loop."""
    state, scene = _posed()
    built, _ = compiled(state, scene)
    z = np.random.default_rng(1).standard_normal((budget.evaluations, len(built.keys)))
    rows, work = np.zeros((len(z), len(built.order))), make_work(built.program)
    predict(built.program, z, work, rows, NOTHING)
    ours = _timed(lambda: predict(built.program, z, work, rows, NOTHING)) / len(z)
    values = model_reference.medians(state, scene)
    clear = _timed(lambda: [model_reference.expected(state, scene, values, r) for r in scene.readings])
    unit = "compiled"
    count = f"{len(scene.readings)} meters"
    found = [
        Row("one circuit, all readings: compiled", 1e6 * ours, "us", 1.0, unit, f"{count}, {len(z)} draws"),
        Row("one circuit, all readings: dense solver in Python", 1e6 * clear, "us", clear / ours, unit, count),
    ]
    if shutil.which("ngspice") is None:
        return [*found, missing("one circuit, all readings: ngspice", "ngspice is not on the path")]
    from support.ngspice_oracle import VoltmeterProbe, voltmeter_readings  # noqa: PLC0415

    circuit = model_reference._Circuit(state, scene, values, 0)
    network = circuit.network(energized=True)
    probes = []
    for r in scene.readings:
        meter = scene.meters[r.meter]
        assert isinstance(meter, Voltmeter)
        a, b = (circuit.place(r.point, c) for c in r.conductors)
        probes.append(VoltmeterProbe((a, b), complex(meter.input_impedance)))
    runs = max(2, budget.starts)
    began = time.perf_counter()
    for _ in range(runs):
        voltmeter_readings(network, probes)
    theirs = (time.perf_counter() - began) / runs
    note = f"{count}, {runs} runs, each a process of its own"
    return [*found, Row("one circuit, all readings: ngspice", 1e6 * theirs, "us", theirs / ours, unit, note)]


def measure(budget: Budget) -> list[Row]:
    """Give both comparisons."""
    return _sampler(budget) + _simulator(budget)
