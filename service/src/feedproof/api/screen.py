"""An assessment made small enough for a screen on a bad line."""

import msgspec
from msgspec.structs import replace

from feedproof.contract import screen as wire
from feedproof.contract.assessment import Assessment

_NOTHING_MORE = 1
"""How many readings to take next are kept as long as there is anything else to leave out."""


def _whole(given: Assessment) -> wire.Screen:
    return wire.Screen(
        reference=given.reference,
        headline=given.headline,
        next_action=given.next_action,
        refer_to=given.refer_to,
        disposition=given.disposition,
        determination=given.determination,
        confidence=given.confidence.level,
        place=given.finding.place,
        conductor=given.finding.conductor,
        fault=given.finding.fault,
        probability=given.finding.probability,
        cautions=msgspec.convert(given.cautions, list[wire.ScreenCaution], from_attributes=True),
        checks=msgspec.convert(given.checks, list[wire.ScreenCheck], from_attributes=True),
        next_readings=[
            wire.ScreenReading(
                id=r.id,
                title=r.title,
                reading=r.reading,
                observation=r.observation,
                load_state=r.load_state,
                meter=r.meter,
                steps=r.steps,
                hazards=[hazard.code for hazard in r.hazards],
            )
            for r in given.next_readings
        ],
        next_reason=given.next_reason,
        left_out=0,
        model=given.model.version,
    )


def _shorter(screen: wire.Screen) -> wire.Screen | None:
    """Leave out the one entry that is missed least; a danger never. None: there is no other."""
    fewer = screen.left_out + 1
    if len(screen.next_readings) > _NOTHING_MORE:
        return replace(screen, next_readings=screen.next_readings[:-1], left_out=fewer)
    if len(screen.checks) > 1:
        return replace(screen, checks=screen.checks[:-1], left_out=fewer)
    for severity in ("notice", "warning"):
        for index in reversed(range(len(screen.cautions))):
            if screen.cautions[index].severity == severity:
                return replace(screen, cautions=screen.cautions[:index] + screen.cautions[index + 1 :], left_out=fewer)
    if screen.next_readings:
        return replace(screen, next_readings=[], left_out=fewer)
    if screen.checks:
        return replace(screen, checks=[], left_out=fewer)
    return None if screen.reference is None else replace(screen, reference=None)


def encode_for_screen(assessment: Assessment) -> bytes:
    """Encode what a screen shows, with entries left out until it fits."""
    screen = _whole(assessment)
    body = msgspec.json.encode(screen)
    while len(body) > wire.MOST_BYTES and (shorter := _shorter(screen)) is not None:
        screen = shorter
        body = msgspec.json.encode(screen)
    return body
