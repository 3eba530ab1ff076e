"""The pictures of the note, each a scene made from the assessment alone, with its outcome around it."""

from feedproof.contract.assessment import Assessment
from feedproof.note.pictures import faults, resistance, run, standing, strip
from feedproof.note.pictures.framed import framed
from feedproof.note.scene import Scene

__all__ = ["all_pictures", "alone", "faults", "resistance", "run", "standing", "strip"]


def all_pictures(assessment: Assessment) -> tuple[Scene, ...]:
    """Two pictures, without the parts that would show nothing: the run with its resistances; where legs stand."""
    sheets = ((run.draw(assessment), resistance.draw(assessment)), (standing.draw(assessment), faults.draw(assessment)))
    return tuple(framed([scene for scene in sheet if scene is not None], assessment, whole=False) for sheet in sheets)


def alone(assessment: Assessment) -> Scene:
    """Where along the run and where the legs stand, with next action and every danger: nothing else is beside it."""
    return framed([run.draw(assessment), standing.draw(assessment)], assessment, whole=True)
