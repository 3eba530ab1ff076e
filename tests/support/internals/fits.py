"""One place fitted to a reading set, for tests of what is read off it."""

import msgspec
from msgspec import Struct

from feedproof.faults.places import Site, neutral_rate
from feedproof.inference.draws import draw
from feedproof.inference.fit import Fit, blur, locate
from feedproof.inference.observing import observe
from feedproof.inference.program import build
from feedproof.inference.refinement import refine
from feedproof.inference.scene import Canonical, Scene, canonical_form, mirror, without_values
from feedproof.inference.weighing import places_of
from feedproof.readings import Conductor, ReadingSet


class Fitted(Struct, frozen=True):
    """A fit, with the readings as the inference sees them."""

    fit: Fit
    canonical: Canonical
    bare: Scene


def places(readings: ReadingSet) -> tuple[Site, ...]:
    """Give every place that is weighed for a reading set."""
    return places_of(readings, canonical_form(readings).scene)


def place_of(readings: ReadingSet, fault: str, conductor: Conductor | None = None) -> Site:
    """Give the place of one fault alone with that fault's spans; the branch's, where several have it."""
    canonical = canonical_form(readings)
    own = mirror(conductor) if canonical.mirrored and conductor is not None else conductor
    found = []
    for place in places(readings):
        spans = tuple(s for s in place.spans[0] if s.fault == fault) if place.spans else ()
        fits = bool(spans) if place.spans else place.fault == fault
        if fits and not place.also and own in {None, place.conductor}:
            found.append(msgspec.structs.replace(place, spans=(spans,) if spans else (), fault=fault))
    return next((p for p in found if p.place.startswith("branch")), found[0])


def fitted(
    readings: ReadingSet, fault: str, conductor: Conductor | None = None, *, place: Site | None = None, count: int = 256
) -> Fitted:
    """Give a place, fitted and drawn from."""
    canonical = canonical_form(readings)
    bare = without_values(canonical.scene)
    site = place_of(readings, fault, conductor) if place is None else place
    built = build(neutral_rate(site), bare, bare.readings)
    fit = locate(site, built, blur(observe(canonical.scene, canonical.scene.readings, built, site)))
    refine(fit)
    draw(fit, count)
    return Fitted(fit, canonical, bare)
