"""What a sound run of cable is expected to have in series, and how much it can explain at most."""

import math
from functools import lru_cache

import msgspec
import numpy as np

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.circuit.forward import FloatArray
from feedproof.faults.priors import PRIORS
from feedproof.readings import Conductor, Run


def run_of(run: Run, conductor: Conductor) -> Run:
    """What is known of one conductor of a run.

    The size that is stated is that of the wires which carry the load. An equipment ground follows the breaker (NEC
    table 250.122, from memory: 10 AWG beside 6 AWG at 50 A), or is a conduit: of its resistance nothing is known.

    Parameters
    ----------
    run : Run
        What is known of the cable.
    conductor : str
        Which.
    """
    return msgspec.structs.replace(run, size=None) if conductor == "G" else run


def sound_run(run: Run) -> tuple[float, float]:
    """Median and spread of a sound branch conductor's resistance.

    Parameters
    ----------
    run : Run
        What is known of the cable.

    Returns
    -------
    resistance : float
        [ohm]
    spread : float
        Standard deviation of its logarithm [1].
    """
    if run.size is None or run.length is None:
        return PRIORS.branch_resistance, PRIORS.branch_spread
    per_metre = resistance_per_metre(
        run.size, run.material or "copper", 30.0 if run.temperature is None else run.temperature
    )
    return per_metre * run.length + PRIORS.joint_resistance, PRIORS.known_run_spread


def sound_span(run: Run, *, to_terminals: bool) -> tuple[float, float]:
    """Span that nine of ten sound paths of this run lie in, before any reading.

    Parameters
    ----------
    run : Run
        What is known of the cable.
    to_terminals : bool
        Whether the cord is part of the path.

    Returns
    -------
    tuple of float
        Low and high end [ohm].
    """
    median, spread = sound_run(run)
    cord = PRIORS.cord_resistance if to_terminals else 0.0
    reach = math.exp(PRIORS.sound_reach * spread)
    return median / reach + cord, median * reach + cord


def explained_resistance(run: Run) -> float:
    """Most that a sound path of this run can explain [ohm]; beyond it begins `high_resistance`."""
    median, spread = sound_run(run)
    if run.size is None or run.length is None:
        return median * math.exp(PRIORS.sound_reach * spread)
    return PRIORS.known_run_margin * median + PRIORS.known_run_allowance


@lru_cache(maxsize=1024)
def sound_law(run: Run) -> tuple[float, float, float]:
    """Law of a sound branch conductor's resistance, which never has more than it can explain.

    Its share of that most is logistic-normal: two resistances in parallel, one log-normal, the other the most.

    Parameters
    ----------
    run : Run
        What is known of the cable.

    Returns
    -------
    median : float
        Of the log-normal one [ohm].
    spread : float
        Standard deviation of its logarithm: the 5 % point of the whole is that of `sound_run` as a log-normal law [1].
    most : float
        [ohm]
    """
    usual, spread = sound_run(run)
    most, low = explained_resistance(run), usual * math.exp(-PRIORS.sound_reach * spread)
    median, least = (r * most / (most - r) for r in (usual, low))
    return median, math.log(median / least) / PRIORS.sound_reach, most


def sound_ohms(run: Run, z: FloatArray) -> FloatArray:
    """A sound branch conductor's resistance by its standard-normal unknown [ohm].

    Parameters
    ----------
    run : Run
        What is known of the cable.
    z : ndarray
        The unknown [1].
    """
    median, spread, most = sound_law(run)
    return 1.0 / (1.0 / most + np.exp(-spread * z) / median)
