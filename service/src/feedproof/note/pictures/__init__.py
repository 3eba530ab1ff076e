"""The four pictures of the note, each a scene made from the assessment alone."""

from feedproof.contract.assessment import Assessment
from feedproof.note.pictures import faults, neutral, readings, resistance
from feedproof.note.scene import Scene

__all__ = ["all_pictures", "faults", "neutral", "readings", "resistance"]


def all_pictures(assessment: Assessment) -> tuple[Scene, ...]:
    """The pictures in the order of the note, without those that would show nothing."""
    drawn = (
        neutral.draw(assessment),
        faults.draw(assessment),
        resistance.draw(assessment),
        readings.draw(assessment),
    )
    return tuple(scene for scene in drawn if scene is not None)
