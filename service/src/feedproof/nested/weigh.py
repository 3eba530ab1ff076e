"""All places weighed against one reading set."""
import math
import msgspec
import numpy as np
from msgspec import Struct
from feedproof.nested.fit import Fit, blur, draw, effective, locate, refine
from feedproof.nested.model import build, observe
from feedproof.nested.sites import seen as seen_by
from feedproof.nested.sites import sites
from feedproof.inference.scene import Canonical, Scene, canonical_form, without_values
from feedproof.inference.runs import explained_resistance
from feedproof.readings import ReadingSet

_HOPELESS = 6.5

def begin(supply):
    run=supply.run
    return 0.10 if run.size is None or run.length is None else explained_resistance(run)/3

class Weighing(Struct):
    canonical: Canonical
    bare: Scene
    fits: list[Fit]
    probability: np.ndarray

def weigh(readings: ReadingSet, drawn=((0.1,256),(0.02,96))) -> Weighing:
    canonical = canonical_form(readings)
    scene = canonical.scene
    bare = without_values(scene)
    points = frozenset(r.point for r in scene.readings)
    rates = None if readings.base_rates is None else tuple(sorted(readings.base_rates.items()))
    meters = tuple((k, m.proved) for k, m in enumerate(scene.meters) if type(m).__name__ == "Voltmeter")
    fits = []
    seen = {}
    top = -math.inf
    for site in sites(scene.supply, points, meters, begin(scene.supply), rates):
        if scene.observations:
            site = msgspec.structs.replace(site, rate=site.rate * math.exp(seen_by(site.place, scene.observations)))
        built = build(msgspec.structs.replace(site, rate=1.0) if scene.observations else site, bare, bare.readings)
        key = (built.order, site.inconsistent)
        if key not in seen:
            seen[key] = blur(observe(scene, scene.readings, built, site))
        fits.append(locate(site, built, seen[key], top - 30.0 - math.log(site.rate)))
        top = max(top, fits[-1].wide)
    best = max(f.log_mass for f in fits)
    for f in fits:
        if f.log_mass > best - _HOPELESS and f.spread < math.inf:
            refine(f)
    p = probabilities(fits)
    if drawn:
        for f, own in zip(fits, p):
            if not f.modes: continue  # noqa
            count = next((n for least, n in drawn if own >= least), 0)
            if count:
                draw(f, count)
                if own > 0.02 and effective(f) < 40: draw(f, 4*count)
        p = probabilities(fits)
    return Weighing(canonical, bare, fits, p)

def probabilities(fits):
    lm=np.array([f.log_mass for f in fits]); pr=np.exp(lm-lm.max())
    return pr/pr.sum()
