"""Faults as people name them: one entry for each, whatever places the inference kept apart."""

import math
from collections.abc import Collection, Iterable

from msgspec import structs

from feedproof.advice.places import Place, holds, is_at, narrow_places, title
from feedproof.advice.wording import fault_name, sentence
from feedproof.contract import assessment as wire
from feedproof.inference import Candidate
from feedproof.readings import Conductor

#: A candidate below this probability is left out of the answer: the contract's 0.1 %.
LEAST_PROBABILITY = 0.001

#: Share of a fault's probability that must lie on one place before the place is named: that of `probable`.
LOCATION_SHARE = 0.75

#: Of a place's probability, the share that one degree must hold to be told.
DEGREE_TOLD = 0.95

#: Names that are no fault of the supply: nothing was found, or the readings speak of themselves.
NO_FAULT_NAMES = frozenset({"none_found", "readings_inconsistent", "tester_dead"})

#: Names of a bad neutral between panel and appliance, and between transformer and panel.
NEUTRAL_FAULTS = frozenset(
    {"open_neutral", "high_resistance_neutral", "open_feeder_neutral", "high_resistance_feeder_neutral"}
)
SERVICE_NEUTRAL_FAULTS = frozenset({"open_service_neutral", "high_resistance_service_neutral"})

Part = tuple[str, str | None]


def merged(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """One candidate for each set of faults, most probable first.

    Candidates that differ only in place are one fault to the reader. Their probabilities add up; with prior
    p/Z ∝ P·exp(-lnZ) the evidence of the whole is lnZ = ln ΣP - ln Σ P·exp(-lnZ). The place is kept where it
    holds `LOCATION_SHARE` of the sum.

    Parameters
    ----------
    candidates : iterable of Candidate
        As the inference gives them.

    Returns
    -------
    tuple of Candidate
        At equal probability in the order they came in.
    """
    groups: dict[tuple[Part, frozenset[Part]], list[Candidate]] = {}
    for candidate in candidates:
        key = ((candidate.fault, candidate.conductor), frozenset(candidate.also))
        groups.setdefault(key, []).append(candidate)
    whole = [_whole(group) for group in groups.values()]
    return tuple(sorted(whole, key=lambda candidate: -candidate.probability))


def _whole(group: list[Candidate]) -> Candidate:
    first = max(group, key=lambda candidate: candidate.probability)
    present = [candidate for candidate in group if candidate.probability > 0.0]
    if len(group) == 1 or not present:
        return first
    total = sum(candidate.probability for candidate in present)
    # In logarithms: an improbable place may lie hundreds of nats below, where exp() would overflow.
    log_priors = [math.log(candidate.probability) - candidate.log_evidence for candidate in present]
    greatest = max(log_priors)
    log_prior = greatest + math.log(sum(math.exp(value - greatest) for value in log_priors))
    return structs.replace(
        first,
        probability=min(total, 1.0),
        log_evidence=math.log(total) - log_prior,
        location=first.location if first.probability >= LOCATION_SHARE * total else None,
    )


def joint_evidence(own: Collection[Candidate]) -> float:
    """Log evidence of several together, each by its base rate: ln ΣrZ / Σr [nat]."""
    top = max(c.log_evidence for c in own)
    joint = sum(c.base_rate * math.exp(c.log_evidence - top) for c in own)
    return top + math.log(joint / sum(c.base_rate for c in own))


def rivals(candidate: Candidate, candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """The candidates under which the candidate's faults are not all present, most probable first.

    An open neutral with an open ground beside it is still an open neutral, and no rival of one.
    """
    wanted = candidate.parts
    return tuple(other for other in candidates if not wanted <= other.parts)


def probability_of(names: frozenset[str], candidates: Iterable[Candidate]) -> float:
    """Probability that at least one of the named faults is present [1]."""
    return min(
        sum(c.probability for c in candidates if c.fault in names or any(fault in names for fault, _ in c.also)), 1.0
    )


def fault_probability(candidates: Iterable[Candidate]) -> float:
    """Probability that the supply has any fault at all [1]."""
    return min(sum(c.probability for c in candidates if c.fault not in NO_FAULT_NAMES), 1.0)


def to_wire(candidates: Iterable[Candidate]) -> list[wire.Candidate]:
    """The candidates of the answer: those of at least 0.1 %."""
    return [
        wire.Candidate(
            fault=candidate.fault,
            conductor=candidate.conductor,
            place=candidate.place,
            title=sentence(fault_name(candidate.fault, candidate.conductor)),
            probability=candidate.probability,
            log_evidence=candidate.log_evidence,
            also=[wire.FaultPart(fault=fault, conductor=conductor) for fault, conductor in candidate.also],
        )
        for candidate in candidates
        if candidate.probability >= LEAST_PROBABILITY
    ]


def to_finding(place: Place, candidate: Candidate, candidates: Iterable[Candidate]) -> wire.Finding:
    """The finding of the answer: the place, how bad it is where that is told, and its most probable fault."""
    own = [c for c in candidates if is_at(c, place)]
    degrees = {d: sum(c.probability for c in own if c.degree == d) for d in ("open", "high_resistance")}
    degree = max(degrees, key=lambda d: degrees[d])
    share = degrees[degree] / max(sum(c.probability for c in own), 1e-12)
    told = share >= DEGREE_TOLD
    # Of a pair, the fault at this place; the other one is listed in `also`.
    (fault, _), *beside = _from(place, candidate)
    located = {c.location for c in own if c.probability >= LOCATION_SHARE * place.probability}
    location = next(iter(located)) if len(located) == 1 else None
    alone = sum(c.probability for c in own if c.fault == fault) >= DEGREE_TOLD * place.probability
    return wire.Finding(
        place=place.name,
        title=title(
            place.name, place.conductor, degree if told else None, location=location, fault=fault if alone else None
        ),
        parts=[wire.Part(place=name, probability=p) for name, p in place.parts],
        degree=degree if told else None,
        degree_probability=min(share, 1.0) if told else None,
        fault=fault,
        conductor=place.conductor,
        location=location,
        probability=place.probability,
        also=[wire.FaultPart(fault=name, conductor=conductor) for name, conductor in beside],
    )


def without_degree(finding: wire.Finding) -> str:
    """The finding in words, without how bad it is."""
    return finding.title.partition(":")[0]


def _from(place: Place, candidate: Candidate) -> list[tuple[str, Conductor | None]]:
    """The candidate's faults with their conductors, that of the place first."""
    own = [(candidate.fault, candidate.conductor), *candidate.also]
    there = [holds(place, narrow, at) for narrow, at in narrow_places(candidate)]
    return own if there[0] or len(there) != len(own) else own[::-1]
