"""The run as a line from the transformer to the appliance, with the trouble marked where the readings put it."""

from collections.abc import Iterator

from msgspec import Struct

from feedproof.advice.places import IN_CORD, is_either_leg, title
from feedproof.advice.wording import percent, point_name
from feedproof.contract.assessment import Assessment
from feedproof.note.pictures.framed import is_calm
from feedproof.note.pictures.marks import leg_role
from feedproof.note.scene import SMALL, WIDTH, Line, Polygon, Scene, Shape, Text, cross, rectangle, scene, wrapped

NAME = "run"
TITLE = "Where along the run"

#: Places below this probability are not marked [1].
_LEAST = 0.05

_STATIONS = ("service", "panel", "sub_panel", "outlet", "appliance")
_LEFT, _RIGHT = 34.0, WIDTH - 38.0
_WIRES = {"L1": 40.0, "L2": 56.0, "N": 72.0, "G": 88.0}
_BOTTOM = 100.0
#: A break nearer to the outlet than this is drawn at it, one farther off in the middle of its run [m].
_NEAR = 3.0

#: Where each narrow place sits: between two stations or at one, and on which wires (empty: on its own conductor).
_SITES: dict[str, tuple[str, str, tuple[str, ...]]] = {
    "service_leg": ("service", "panel", ()),
    "service_neutral": ("service", "panel", ("N",)),
    "supply_lost": ("service", "panel", ("L1", "L2")),
    "supply_voltage": ("service", "service", ("L1", "L2")),
    "supply_system": ("service", "service", ("L1", "L2", "N")),
    "other_supply_system": ("service", "service", ("L1", "L2", "N")),
    "neutral_not_bonded": ("service", "panel", ("N", "G")),
    "feeder_leg": ("panel", "sub_panel", ()),
    "feeder_neutral": ("panel", "sub_panel", ("N",)),
    "breaker": ("sub_panel", "sub_panel", ("L1", "L2")),
    "both_legs": ("sub_panel", "sub_panel", ("L1", "L2")),
    "legs_from_same_pole": ("sub_panel", "sub_panel", ("L1", "L2")),
    "leg": ("sub_panel", "outlet", ()),
    "branch_leg": ("sub_panel", "outlet", ()),
    "neutral": ("sub_panel", "outlet", ("N",)),
    "branch_neutral": ("sub_panel", "outlet", ("N",)),
    "ground": ("sub_panel", "outlet", ("G",)),
    "connections": ("outlet", "outlet", ("L1", "L2", "N", "G")),
    "transposed": ("outlet", "outlet", ("L1", "L2", "N", "G")),
    "joined": ("outlet", "outlet", ("N", "G")),
    "tester": ("outlet", "outlet", ("L1", "L2", "N")),
    "readings": ("outlet", "outlet", ("L1", "L2", "N")),
    "cord_leg": ("outlet", "appliance", ()),
    "cord_neutral": ("outlet", "appliance", ("N",)),
    "appliance": ("appliance", "appliance", ("L1", "L2", "G")),
    "leak_to_ground": ("appliance", "appliance", ("L1", "L2", "G")),
}


#: Narrow place of the second fault of a pair.
_BESIDE: dict[str, str] = {
    "open_ground": "ground",
    "leak_to_ground": "leak_to_ground",
    "open_neutral": "branch_neutral",
    "high_resistance_neutral": "branch_neutral",
    "high_resistance_leg": "branch_leg",
}
#: Of its probability, at least this much of the finding's makes a second place as sure [1].
_AS_SURE = 0.95


class Suspect(Struct, frozen=True, kw_only=True):
    """A place that the readings leave in question."""

    place: str
    conductor: str | None
    probability: float


def suspects(assessment: Assessment) -> list[Suspect]:
    """Every narrow place that is not to be left out, the most probable first; never empty where a place was found."""
    weights: dict[tuple[str, str | None], float] = {}
    for candidate in assessment.candidates if assessment.evidence else []:
        beside = [(_BESIDE[part.fault], part.conductor) for part in candidate.also if part.fault in _BESIDE]
        for place, conductor in ((candidate.place, candidate.conductor), *beside):
            # A leak is one thing to repair, whichever leg leaks.
            key = (place, None if place == "leak_to_ground" else conductor)
            weights[key] = weights.get(key, 0.0) + candidate.probability
    found = [
        Suspect(place=place, conductor=conductor, probability=weight)
        for (place, conductor), weight in weights.items()
        if weight >= _LEAST and place != "none"
    ]
    finding = assessment.finding
    if not found and finding.place != "none":
        found = [Suspect(place=finding.place, conductor=finding.conductor, probability=finding.probability)]
    return sorted(found, key=lambda suspect: -suspect.probability)


def draw(assessment: Assessment) -> Scene:
    """The line with its marks, and a line of words to each."""
    marked = suspects(assessment)
    finding = assessment.finding
    decided = assessment.determination != "undetermined" and finding.place != "none"
    decided = decided and not is_either_leg(finding.place, finding.conductor)
    at = _places(assessment, marked)
    shapes: list[Shape] = [*_line(at, calm=is_calm(assessment))]
    told: list[str] = []
    y = _BOTTOM + 20.0
    for number, suspect in enumerate(marked, start=1):
        sure = decided and suspect.probability >= _AS_SURE * marked[0].probability
        shapes += _mark(at, suspect, assessment, sure=sure, number=number)
        named = title(suspect.place, suspect.conductor, location=_location(suspect, assessment))
        words = f"{named}, {percent(suspect.probability)}{_position(suspect, assessment)}"
        told.append(words)
        for line in wrapped(f"{number}  {words}", WIDTH - 12.0, SMALL, bold=sure):
            shapes.append(Text(x=6.0, y=y, text=line, size=SMALL, bold=sure, fill="danger" if sure else "ink"))
            y += 15.0
    if not marked:
        words = _unmarked(assessment)
        told.append(words)
        for line in wrapped(words, WIDTH - 12.0, SMALL):
            shapes.append(Text(x=6.0, y=y, text=line, size=SMALL, fill="muted"))
            y += 15.0
    return scene(NAME, TITLE, f"From {', '.join(point_name(name) for name in at)}. {'; '.join(told)}.", y - 6.0, shapes)


def _unmarked(assessment: Assessment) -> str:
    if not assessment.evidence:
        return "Nothing has been read: trouble may sit anywhere along it"
    return "These readings mark no place; what they could not show stands in the figures"


def _places(assessment: Assessment, marked: list[Suspect]) -> dict[str, float]:
    """Stations from left to right; a sub-panel only where one is in question or was measured."""
    feeder = any(suspect.place.startswith("feeder") for suspect in marked) or any(
        entry.section == "feeder" for entry in assessment.resistances
    )
    names = [name for name in _STATIONS if feeder or name != "sub_panel"]
    step = (_RIGHT - _LEFT) / (len(names) - 1)
    return {name: _LEFT + step * index for index, name in enumerate(names)}


def _line(at: dict[str, float], *, calm: bool) -> Iterator[Shape]:
    for name, y in _WIRES.items():
        role = leg_role(name) if name.startswith("L") else "ink" if name == "N" else "rule"
        # The ground begins where it is bonded to the neutral.
        x1 = at["panel"] if name == "G" else at["service"]
        yield Line(x1=x1, y1=y, x2=at["appliance"], y2=y, stroke=role, width=2.2, dash=not calm)
        yield Text(x=4.0, y=y + 4.0, text=name, size=SMALL, bold=True, fill=role if name.startswith("L") else "ink")
    for index, (name, x) in enumerate(at.items()):
        yield rectangle(x - 4.0, 24.0, 8.0, _BOTTOM - 26.0, "panel", "rule")
        anchor = "end" if index == len(at) - 1 else "middle"
        edge = WIDTH - 4.0 if anchor == "end" else x
        yield Text(x=edge, y=16.0, text=point_name(name), size=SMALL, anchor=anchor, fill="muted")


def _location(suspect: Suspect, assessment: Assessment) -> str | None:
    found = assessment.finding
    return found.location if (found.place, found.conductor) == (suspect.place, suspect.conductor) else None


def _where(at: dict[str, float], suspect: Suspect, assessment: Assessment) -> tuple[float, list[float]]:
    start, end, wires = _SITES.get(suspect.place, ("outlet", "outlet", ("L1", "L2", "N", "G")))
    if (start, end) == ("outlet", "outlet") and _location(suspect, assessment) == IN_CORD:
        end = "appliance"
    if suspect.place == "transposed" and suspect.conductor == "N":
        wires = ("N", "G")
    x1, x2 = (at.get(name, at["panel"]) for name in (start, end))
    x = (x1 + x2) / 2.0
    found = assessment.break_position
    if found is not None and end == "outlet" and start != end and found.conductor == suspect.conductor:
        x = x2 - 14.0 if found.high <= _NEAR else x
    own = wires or ((suspect.conductor,) if suspect.conductor in _WIRES else ("L1", "L2"))
    return x, [_WIRES[name] for name in own]


def _mark(
    at: dict[str, float], suspect: Suspect, assessment: Assessment, *, sure: bool, number: int
) -> Iterator[Shape]:
    x, levels = _where(at, suspect, assessment)
    top, bottom = min(levels), max(levels)
    # The gap first, so that the wire under the mark does not look connected.
    for y in levels:
        yield rectangle(x - 9.0, y - 4.0, 18.0, 8.0, "paper")
    if sure:
        for y in levels:
            yield from cross(x, y, 6.0, 3.2)
    else:
        for y in levels:
            yield Text(x=x, y=y + 4.5, text="?", size=SMALL, bold=True, anchor="middle", fill="danger")
    edge = 11.0
    outline = ((x - edge, top - 9.0), (x + edge, top - 9.0), (x + edge, bottom + 9.0), (x - edge, bottom + 9.0))
    yield Polygon(points=outline, stroke="danger", width=2.4 if sure else 1.2)
    yield Text(x=x + edge + 3.0, y=top + 12.0, text=str(number), size=SMALL, bold=True, fill="danger")


def _position(suspect: Suspect, assessment: Assessment) -> str:
    found = assessment.break_position
    if found is None or found.conductor != suspect.conductor or not suspect.place.startswith(("branch", "cord")):
        return ""
    return f", {found.display} back from the outlet"
