"""The supply of a request, in SI units, with what its receptacle says of its conductors."""

from collections.abc import Sequence
from typing import Literal

from feedproof.circuit.conductors import conductor_size
from feedproof.circuit.receptacles import RECEPTACLES, Receptacle
from feedproof.contract import quantities as q
from feedproof.contract import supply as wire
from feedproof.parsing.diagnostics import UNKNOWN, Diagnostics
from feedproof.readings import LEG_ANGLES, Presence, Run, Supply, SystemName

_ONE_LEG: SystemName = "single_phase_120"
_ON_TWO_LEGS = {"water_heater", "air_conditioner", "heat_pump", "pump"}
"""Usually wired with two legs and ground alone, where no receptacle says otherwise; common practice, no source."""


def read_supply(
    given: wire.Supply | None, diagnostics: Diagnostics, *, appliance: str = "other", uses_neutral: bool = True
) -> Supply:
    """Make the supply; every default is noted, and so is what contradicts the receptacle.

    Parameters
    ----------
    given : contract.supply.Supply or None
        As it was stated.
    diagnostics : Diagnostics
        Where faults and defaults are noted.
    appliance : str
        Its kind.
    uses_neutral : bool
        Whether a reading or a load of the request is to the outlet's neutral.
    """
    given = given or wire.Supply()
    at = "/supply"
    receptacle = RECEPTACLES.get(given.receptacle or "")
    system = _system(given.system, receptacle, diagnostics)
    frequency = diagnostics.optional(given.frequency, q.LINE_FREQUENCY, f"{at}/frequency")
    if frequency is None:
        frequency = 60.0
        diagnostics.assume(f"{at}/frequency", frequency, "Hz", "the frequency where these supply systems are in use")
    ground = _equipment_ground(given.equipment_ground, receptacle, diagnostics)
    without = appliance if appliance in _ON_TWO_LEGS and not (uses_neutral or given.frame_bonded_to_neutral) else None
    neutral = _neutral(given.neutral, system, receptacle, without, diagnostics)
    if given.frame_bonded_to_neutral and not neutral:
        detail = "there is no neutral at this outlet that the frame could be bonded to"
        diagnostics.fault(
            f"{at}/frame_bonded_to_neutral", "contradiction", detail, ["false"], given.frame_bonded_to_neutral
        )
    if given.frame_bonded_to_neutral is None:
        basis = "not stated; cautions allow for a bonded frame" if neutral else "there is no neutral to bond it to"
        diagnostics.assume(f"{at}/frame_bonded_to_neutral", "unknown" if neutral else False, None, basis)
    if given.fed_from is None:
        diagnostics.assume(
            f"{at}/fed_from", "unknown", None, "not stated; it may hang on a service panel or a sub-panel"
        )
    if given.source is None:
        diagnostics.assume(f"{at}/source", "utility", None, "the usual source; common practice, no source")
    return Supply(
        system=system,
        frequency=frequency,
        equipment_ground=ground,
        frame_bonded_to_neutral=given.frame_bonded_to_neutral if neutral else False,
        neutral=neutral,
        fed_from=given.fed_from or "unknown",
        source=given.source or "utility",
        receptacle=given.receptacle,
        run=_run(given.run or wire.Run(), diagnostics),
    )


def _contradicts(
    field: str, value: str, receptacle: Receptacle, words: str, accepted: Sequence[str], diagnostics: Diagnostics
) -> None:
    detail = f"{value}, but a {receptacle.name} {words}; leave it out, or state another receptacle"
    diagnostics.fault(f"/supply/{field}", "contradiction", detail, accepted, value)


def _system(stated: SystemName | None, receptacle: Receptacle | None, diagnostics: Diagnostics) -> SystemName:
    one_leg = receptacle is not None and receptacle.legs == 1
    if stated is None:
        system: SystemName = _ONE_LEG if one_leg else "split_phase_120_240"
        basis = (
            _has(receptacle, "one leg")
            if one_leg
            else "the usual supply of a 240 V appliance; common practice, no source"
        )
        diagnostics.assume("/supply/system", system, None, basis)
        return system
    if receptacle is not None and one_leg != (stated == _ONE_LEG):
        accepted = [s for s in LEG_ANGLES if one_leg == (s == _ONE_LEG)]
        _contradicts("system", stated, receptacle, "has one leg" if one_leg else "has two legs", accepted, diagnostics)
    return stated


def _has(receptacle: Receptacle | None, words: str) -> str:
    return f"a {receptacle.name} has {words} ({receptacle.source})" if receptacle is not None else ""


def _equipment_ground(stated: Presence | None, receptacle: Receptacle | None, diagnostics: Diagnostics) -> Presence:
    if receptacle is None:
        if stated is None:
            diagnostics.assume("/supply/equipment_ground", "unknown", None, UNKNOWN)
        return stated or "unknown"
    grounding = "G" in receptacle.conductors
    if stated == ("absent" if grounding else "present"):
        words = "has a ground contact: read to it, whether or not a conductor lands there" if grounding else "has none"
        _contradicts(
            "equipment_ground",
            stated,
            receptacle,
            words,
            ["present", "unknown"] if grounding else ["absent"],
            diagnostics,
        )
        return stated
    if stated is None:
        found: Presence = "present" if grounding else "absent"
        basis = _has(receptacle, "a ground contact" if grounding else "no ground contact")
        diagnostics.assume("/supply/equipment_ground", found, None, basis)
        return found
    return stated if grounding else "absent"


def _neutral(
    stated: Literal["present", "absent"] | None,
    system: SystemName,
    receptacle: Receptacle | None,
    without: str | None,
    diagnostics: Diagnostics,
) -> bool:
    pointer = "/supply/neutral"
    if receptacle is not None:
        there = "N" in receptacle.conductors
        found = "present" if there else "absent"
        if stated is None:
            diagnostics.assume(
                pointer, found, None, _has(receptacle, "a neutral contact" if there else "no neutral contact")
            )
        elif stated != found:
            words = "has a neutral contact: read to it, whether or not a conductor lands there" if there else "has none"
            _contradicts("neutral", stated, receptacle, words, [found], diagnostics)
        return (stated or found) == "present"
    if stated is None and without is not None and system != _ONE_LEG:
        basis = f"not stated; a {without.replace('_', ' ')} usually has two legs and ground; state `present` of another"
        diagnostics.assume(pointer, "absent", None, basis)
        return False
    if stated is None:
        diagnostics.assume(
            pointer, "present", None, "not stated; state `absent` of an appliance on two legs and ground"
        )
    elif stated == "absent" and system == _ONE_LEG:
        detail = "absent, but a single_phase_120 supply is one leg and the neutral"
        diagnostics.fault(pointer, "contradiction", detail, ["present"], stated)
    return stated != "absent"


def _run(run: wire.Run, diagnostics: Diagnostics) -> Run:
    at = "/supply/run"
    for name, value in (("size", run.size), ("material", run.material), ("length", run.length)):
        if value is None:
            diagnostics.assume(f"{at}/{name}", "unknown", None, UNKNOWN)
    return Run(
        size=_size(run.size, f"{at}/size", diagnostics),
        material=run.material,
        length=diagnostics.optional(run.length, q.RUN_LENGTH, f"{at}/length"),
        temperature=diagnostics.optional(run.temperature, q.RUN_TEMPERATURE, f"{at}/temperature"),
    )


def _size(text: str | None, pointer: str, diagnostics: Diagnostics) -> str | None:
    """Bring a conductor size into the catalogue's spelling."""
    if text is None:
        return None
    try:
        return conductor_size(text).name
    except ValueError as error:
        diagnostics.fault(pointer, "not_accepted", str(error), [str(wire.SIZE_FORM["accepted"])], text)
        return None
