"""What may hurt a person: posterior probabilities over all places, each erring toward more."""

import math
from collections.abc import Sequence

import numpy as np

from feedproof.circuit.forward import FloatArray
from feedproof.faults.places import Site
from feedproof.faults.priors import PRIORS
from feedproof.inference.estimates import is_faulted, live_states, point_of
from feedproof.inference.fit import Fit
from feedproof.inference.outcome import Hazards
from feedproof.inference.queries import evenly, path_ohms, predicted, some_of
from feedproof.inference.runs import sound_run, sound_span
from feedproof.inference.scene import Canonical, Scene, undisturbed
from feedproof.readings import Supply

_DRAWS = 32
_LISTED = 1e-3
"""Places below this probability are counted by their names alone [1]."""
_LIVE_NEUTRAL = 30.0
"""[V] IEC 61010-031 takes 30 V r.m.s. as hazardous; Kuphaldt, Lessons in Electric Circuits, gives the same."""
_WARM, _HOT = 5.0, 30.0
"""[W] Heat at a joint: 5 W and 35 W were measured on glowing joints (NBSIR 76-1011)."""
_SECTIONS = ("branch", "cord")
_BRANCH_NEUTRALS = {"branch_neutral", "cord_neutral"}


def hazards(fits: Sequence[Fit], probability: Sequence[float], canonical: Canonical, bare: Scene) -> Hazards:
    """Posterior probabilities of what can hurt a person, over all places; each errs toward more.

    Parameters
    ----------
    fits : sequence of Fit
        Every place; those that matter with draws.
    probability : sequence of float
        Of the places [1].
    canonical : Canonical
        The readings.
    bare : Scene
        Their arrangement.

    Returns
    -------
    Hazards
        Probabilities.
    """
    total = dict.fromkeys(Hazards.__struct_fields__, 0.0)
    for fit, p in zip(fits, probability, strict=True):
        shares = _by_name(fit.site)
        if p >= _LISTED and len(fit.x):
            shares |= _by_draws(fit, shares, canonical.scene, bare)
        shares["frame_live"] = _frame_live(fit.site, shares, canonical.scene.supply)
        for name, share in shares.items():
            total[name] += p * share
    return Hazards(**{name: min(value, 1.0) for name, value in total.items()})


def _by_name(site: Site) -> dict[str, float]:
    """What a place means whatever its severity, 1 or 0."""
    places = {site.place, site.also_place}
    faults = {site.fault, *(fault for fault, _ in site.also)}
    neutral = bool(places & _BRANCH_NEUTRALS) or "leg_neutral_transposed" in faults
    found = {
        "neutral_fault": neutral,
        "service_neutral_fault": "service_neutral" in places,
        "feeder_neutral_fault": "feeder_neutral" in places,
        "ground_open": "ground" in places or "neutral_not_bonded" in places,
        "ground_current": bool(places & {"leak_to_ground", "joined"}) or "neutral_ground_transposed" in faults,
        "false_ground": "joined" in places,
        "leg_live": site.place not in {"supply_lost", "breaker"},
        "neutral_above_30_volts": neutral,
        "earth_above_30_volts": "service_neutral" in places,
    }
    return {name: float(value) for name, value in found.items()}


def _by_draws(fit: Fit, named: dict[str, float], scene: Scene, bare: Scene) -> dict[str, float]:
    """Shares of a place's draws in which a voltage, or the heat in a joint, is too high [1]."""
    point, states, supply = point_of(scene), live_states(scene), scene.supply
    loaded = [s for s in states if scene.states[s].loaded]
    if not states:
        return {}
    x = some_of(fit, _DRAWS)
    asked = [undisturbed("neutral", "N", point, s) for s in states] if supply.neutral else []
    asked += [undisturbed("earth", "N", "service_panel", s) for s in states]
    asked += [undisturbed("current", c, point, s) for c in supply.carrying for s in loaded]
    values = predicted(fit, x, asked, bare)
    first = len(states) if supply.neutral else 0
    neutral, earth, currents = np.split(values, [first, first + len(states)], axis=1)
    up = _share_above(neutral, _LIVE_NEUTRAL) if supply.neutral else named["neutral_above_30_volts"]
    if {fit.site.place, fit.site.also_place} & _BRANCH_NEUTRALS:
        # Whatever was read: once an appliance is connected, an open neutral takes the voltage of a leg.
        up = max(up, _open_share(fit))
    found = {"neutral_above_30_volts": up, "earth_above_30_volts": _share_above(earth, _LIVE_NEUTRAL)}
    if loaded:
        amperes = currents.reshape(len(x), len(supply.carrying), len(loaded)).max(axis=2)
        found |= _heats(fit, x, amperes, scene, bare)
    return found


def _share_above(values: FloatArray, limit: float) -> float:
    """Share of the draws whose highest value is above a limit [1]."""
    return float((values.max(axis=1) > limit).mean())


def _open_share(fit: Fit) -> float:
    """Share of the draws in which the branch neutral is open and not merely bad [1]."""
    if not fit.site.spans or fit.site.conductor != "N":
        return 1.0
    severities = fit.severities()[evenly(fit.weights(), _DRAWS), 0]
    return float((severities > math.log(PRIORS.open_resistance)).mean())


def _heats(fit: Fit, x: FloatArray, amperes: FloatArray, scene: Scene, bare: Scene) -> dict[str, float]:
    """Shares of draws in which a joint is warm, and hot [1]."""
    supply = scene.supply
    ohms = np.column_stack([path_ohms(fit, x, c, _SECTIONS, bare) for c in supply.carrying])
    bad = np.array([is_faulted(fit, c, _SECTIONS) for c in supply.carrying])

    def share(watts: float, sound: float) -> float:
        # A long sound run has more than the usual resistance: only what exceeds a sound run counts.
        placed = np.where(bad, ohms, np.maximum(ohms - sound, 0.0))
        return _share_above(placed * amperes**2, watts)

    return {
        "heat_above_5_watts": share(_WARM, sound_run(supply.run)[0]),
        "heat_above_30_watts": share(_HOT, sound_span(supply.run, to_terminals=True)[1]),
    }


def _frame_live(site: Site, shares: dict[str, float], supply: Supply) -> float:
    """Probability that the appliance's frame is at the voltage of a neutral, or of a leg [1]."""
    faults = {site.fault, *(fault for fault, _ in site.also)}
    if "leg_ground_transposed" in faults or {"open_ground", "leak_to_ground"} <= faults:
        return 1.0
    bonded = supply.frame_bonded_to_neutral
    if bonded is None:
        # Not stated: without a sound ground conductor the frame is taken to be bonded to the neutral.
        ground_lost = "ground" in {site.place, site.also_place} and bool(shares["neutral_fault"])
        bonded = supply.equipment_ground == "absent" or ground_lost
    return shares["neutral_above_30_volts"] if bonded else 0.0
