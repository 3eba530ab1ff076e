"""The visit in words: what heads the note."""

from feedproof.advice.wording import figure, quantity, sentence
from feedproof.contract.visit import AssessedVisit, VisitMeter
from feedproof.readings import ReadingSet, Run


def assessed_visit(reading_set: ReadingSet) -> AssessedVisit:
    """What the request states of the visit; nothing is filled in.

    Parameters
    ----------
    reading_set : ReadingSet
        With the details of the visit, the supply and the meters.
    """
    told = reading_set.visit
    kind = "" if reading_set.appliance == "other" else sentence(reading_set.appliance.replace("_", " "))
    return AssessedVisit(
        site=told.site or None,
        appliance=", ".join(part for part in (kind, told.appliance) if part) or None,
        receptacle=reading_set.supply.receptacle,
        run=_run(reading_set.supply.run),
        taken_by=told.taken_by or None,
        taken_at=told.taken_at or None,
        calibration=told.calibration or None,
        meters=[
            VisitMeter(name=name, proved=getattr(meter, "proved", False)) for name, meter in reading_set.meters.items()
        ],
    )


def _run(run: Run) -> str | None:
    length = None if run.length is None else quantity(run.length, "m")
    warm = None if run.temperature is None else f"at {figure(run.temperature)} °C"
    return ", ".join(part for part in (run.size, run.material, length, warm) if part) or None
