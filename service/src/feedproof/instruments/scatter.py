"""How far a meter's readings may lie from what its circuit holds.

A meter's stated limits of error are taken as rectangular distributions: the percentage is an error of gain
that all its readings share; the counts, the resolution and the person's rounding are each reading's own.

References
----------
.. [1] JCGM 100:2008 (GUM), 4.3.7: limits ±a with nothing else known give the standard uncertainty a/√3
   (clause from memory); F.2.2.1: a step of the display δ gives δ/√12.
"""

import math

from feedproof.faults.priors import PRIORS
from feedproof.readings import ClampAmmeter, Ohmmeter, Voltmeter

_ROOT_3 = math.sqrt(3.0)
_ROOT_12 = math.sqrt(12.0)


def gain_spread(meter: Voltmeter | ClampAmmeter | Ohmmeter) -> float:
    """Standard uncertainty of the gain that all readings of a meter share [1].

    Parameters
    ----------
    meter : Voltmeter, ClampAmmeter or Ohmmeter
        The meter.

    Returns
    -------
    float
        Share of the reading [1].

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 (clause from memory).
    """
    return max(meter.accuracy_percent / 100.0 / _ROOT_3, 1e-6)


def scatter_floor(meter: Voltmeter | ClampAmmeter | Ohmmeter) -> float:
    """Absolute part of a reading's own scatter [V, A or ohm].

    Parameters
    ----------
    meter : Voltmeter, ClampAmmeter or Ohmmeter
        The meter.

    Returns
    -------
    float
        Standard uncertainty from counts, resolution and the person who reads [V, A or ohm].

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.3.7 and F.2.2.1 (clauses from memory).
    """
    counts = meter.accuracy_counts * meter.resolution / _ROOT_3
    step = meter.resolution / _ROOT_12
    person = 0.0
    if isinstance(meter, Voltmeter):
        person = PRIORS.person_rounding_volts
    elif isinstance(meter, Ohmmeter):
        person = PRIORS.lead_resistance
    return math.sqrt(counts**2 + step**2 + person**2)


def scatter_relative(meter: Voltmeter | ClampAmmeter | Ohmmeter) -> float:
    """Relative part of a reading's own scatter [1].

    Parameters
    ----------
    meter : Voltmeter, ClampAmmeter or Ohmmeter
        The meter.

    Returns
    -------
    float
        Drift of the supply between readings, and rounding to few figures [1].
    """
    if isinstance(meter, Voltmeter):
        return PRIORS.supply_drift
    if isinstance(meter, Ohmmeter):
        return PRIORS.person_rounding_relative
    return math.hypot(PRIORS.supply_drift, PRIORS.person_rounding_relative)


def meter_admittance(meter: Voltmeter, frequency: float) -> complex:
    """Admittance that a voltmeter puts between its probes [S].

    Parameters
    ----------
    meter : Voltmeter
        The meter.
    frequency : float
        [Hz]

    Returns
    -------
    complex
        1/R + jωC [S].
    """
    return 1.0 / meter.input_impedance + 2j * math.pi * frequency * meter.input_capacitance
