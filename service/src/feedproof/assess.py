"""The one use case: a reading set in, an assessment out."""

from collections.abc import Sequence

from feedproof.advice.compose import compose
from feedproof.advice.texts import FALLBACK_LANGUAGE
from feedproof.contract.assessment import Assessment, Assumption, ModelIdentity
from feedproof.faults.priors import MODEL_VERSION, priors_digest
from feedproof.inference import infer
from feedproof.readings import ReadingSet
from feedproof.stages import stage


def assess(
    reading_set: ReadingSet, assumptions: Sequence[Assumption] = (), language: str = FALLBACK_LANGUAGE
) -> Assessment:
    """Assess a supply from a technician's readings.

    Parameters
    ----------
    reading_set : ReadingSet
        Readings, meters and circuit, in SI units.
    assumptions : sequence of Assumption
        Every value that the request left out and its parsing filled in.
    language : str
        BCP 47 tag of the safety texts; English where one lacks it.

    Returns
    -------
    Assessment
        The same reading set, language and model give the same answer, to the byte.
    """
    model = ModelIdentity(
        version=MODEL_VERSION,
        priors_digest=priors_digest(base_rates=reading_set.base_rates),
        request_digest=reading_set.digest,
    )
    with stage("infer"):
        inferred = infer(reading_set)
    with stage("compose"):
        return compose(reading_set, inferred, assumptions, model, language)
