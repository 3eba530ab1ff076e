"""What a sound run of cable is expected to have in series, and how much it can explain at most."""

import math
from functools import lru_cache

import msgspec
import numpy as np

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.circuit.forward import FloatArray
from feedproof.faults.priors import PRIORS, Priors
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


def sound_run(run: Run, priors: Priors = PRIORS) -> tuple[float, float]:
    """Median and spread of a sound branch conductor's resistance.

    Parameters
    ----------
    run : Run
        What is known of the cable.
    priors : Priors, optional
        The priors in force.

    Returns
    -------
    resistance : float
        [ohm]
    spread : float
        Standard deviation of its logarithm [1].
    """
    if run.size is None or run.length is None:
        return priors.branch_resistance, priors.branch_spread
    per_metre = resistance_per_metre(
        run.size, run.material or "copper", 30.0 if run.temperature is None else run.temperature
    )
    return per_metre * run.length + priors.joint_resistance, priors.known_run_spread


def sound_span(run: Run, *, to_terminals: bool, priors: Priors = PRIORS) -> tuple[float, float]:
    """Span that nine of ten sound paths of this run lie in, before any reading.

    Parameters
    ----------
    run : Run
        What is known of the cable.
    to_terminals : bool
        Whether the cord is part of the path.
    priors : Priors, optional
        The priors in force.

    Returns
    -------
    tuple of float
        Low and high end [ohm].
    """
    median, spread = sound_run(run, priors)
    cord = priors.cord_resistance if to_terminals else 0.0
    reach = math.exp(priors.sound_reach * spread)
    return median / reach + cord, median * reach + cord


def explained_resistance(run: Run, priors: Priors = PRIORS) -> float:
    """Most that a sound path of this run can explain [ohm]; beyond it begins `high_resistance`."""
    median, spread = sound_run(run, priors)
    if run.size is None or run.length is None:
        return median * math.exp(priors.sound_reach * spread)
    return priors.known_run_margin * median + priors.known_run_allowance


@lru_cache(maxsize=1024)
def sound_law(run: Run, priors: Priors = PRIORS) -> tuple[float, float, float]:
    """Law of a sound branch conductor's resistance, which never has more than it can explain.

    Its share of that most is logistic-normal: two resistances in parallel, one log-normal, the other the most.

    Parameters
    ----------
    run : Run
        What is known of the cable.
    priors : Priors, optional
        The priors in force.

    Returns
    -------
    median : float
        Of the log-normal one [ohm].
    spread : float
        Standard deviation of its logarithm: the 5 % point of the whole is that of `sound_run` as a log-normal law [1].
    most : float
        [ohm]
    """
    usual, spread = sound_run(run, priors)
    most, low = explained_resistance(run, priors), usual * math.exp(-priors.sound_reach * spread)
    median, least = (r * most / (most - r) for r in (usual, low))
    return median, math.log(median / least) / priors.sound_reach, most


def sound_ohms(run: Run, z: FloatArray, priors: Priors = PRIORS) -> FloatArray:
    """A sound branch conductor's resistance by its standard-normal unknown [ohm].

    Parameters
    ----------
    run : Run
        What is known of the cable.
    z : ndarray
        The unknown [1].
    priors : Priors, optional
        The priors in force.
    """
    median, spread, most = sound_law(run, priors)
    return 1.0 / (1.0 / most + np.exp(-spread * z) / median)
