"""What a sound run of cable is expected to have in series, and how much it can explain at most."""

import math

from feedproof.circuit.conductors import resistance_per_metre
from feedproof.faults.priors import PRIORS, Priors
from feedproof.readings import Run


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
    reach = math.exp(1.6449 * spread)
    return median / reach + cord, median * reach + cord


def explained_resistance(run: Run, priors: Priors = PRIORS) -> float:
    """Most that a sound path of this run can explain [ohm]; beyond it begins `high_resistance`."""
    if run.size is None or run.length is None:
        return priors.unexplained_resistance
    return priors.known_run_margin * sound_run(run, priors)[0] + priors.known_run_allowance
