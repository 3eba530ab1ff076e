"""What a person saw, each once."""

from collections.abc import Sequence

from feedproof.contract import request as wire
from feedproof.parsing.diagnostics import Diagnostics
from feedproof.readings import Observation

_WITH_PLACE = "lights_brighten_and_dim"
"""The one observation of which it is asked where."""


def read_observations(
    given: Sequence[str | wire.Observation] | None, diagnostics: Diagnostics
) -> tuple[Observation, ...]:
    """Make the observations; one that is there twice, or says where of what has no place, is a fault."""
    made: dict[str, Observation] = {}
    for index, seen in enumerate(given or ()):
        at = f"/observations/{index}"
        if diagnostics.is_broken(at):
            continue
        one = Observation(code=seen) if isinstance(seen, str) else Observation(code=seen.code, where=seen.where)
        if one.where is not None and one.code != _WITH_PLACE:
            diagnostics.fault(
                f"{at}/where", "contradiction", f"where is asked of {_WITH_PLACE} alone", ["null"], one.where
            )
        if one.code in made:
            diagnostics.fault(at, "given_twice", f"'{one.code}' is there twice; give each once", [], one.code)
        made[one.code] = one
    return tuple(made.values())
