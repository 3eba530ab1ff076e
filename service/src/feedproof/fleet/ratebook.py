"""Base rates for the sets of a fleet: one table for all, or one for each group."""

from collections.abc import Mapping
from typing import Any

import msgspec
from msgspec import Struct

from feedproof.faults.catalogue import FAULT_NAMES
from feedproof.faults.priors import MODEL_VERSION


class GroupRates(Struct, frozen=True, kw_only=True):
    """Base rates of one group of sets."""

    group: dict[str, str | None]
    """Value of each grouping column; empty for all sets together."""
    sets: int
    """How many sets the rates were estimated from."""
    base_rates: dict[str, float]
    """In the form that a request's `base_rates` takes; they sum to 1."""
    intervals: dict[str, tuple[float, float]] = {}
    """Low and high end by fault."""


class Ratebook(Struct, frozen=True, kw_only=True):
    """Base rates by group, with those of all sets for groups that have none of their own."""

    groups: list[GroupRates]
    by: list[str] = []
    """Columns that make the groups."""
    level: float = 0.9
    """Of the intervals [1]."""
    prior_sets: float = 0.0
    """How many sets the rates before counted for [1]."""
    model_version: str
    """Of the assessments that they were estimated from."""

    def of(self, row: Mapping[str, Any]) -> dict[str, float] | None:
        """Base rates of the group that a row belongs to."""
        wanted = {name: as_text(row.get(name)) for name in self.by}
        best = None
        for entry in self.groups:
            if entry.group == wanted:
                return entry.base_rates
            if not entry.group:
                best = entry.base_rates
        return best


def as_text(value: object) -> str | None:
    """A group's value as the file of rates spells it."""
    if value is None or isinstance(value, str):
        return value
    return msgspec.json.encode(value).decode().strip('"')


def read_ratebook(raw: bytes) -> Ratebook:
    """Read what `feedproof fleet-rates` wrote, or a plain table of base rates.

    Parameters
    ----------
    raw : bytes
        JSON.

    Returns
    -------
    Ratebook
        With at least one group.

    Raises
    ------
    ValueError
        If it is neither, names a fault that the model does not have, or was estimated with another model: what a
        fault's readings look like is then another question, and so is how often it was met.
    """
    try:
        document = msgspec.json.decode(raw, type=dict[str, Any])
        if "groups" in document:
            book = msgspec.convert(document, Ratebook)
        else:
            # A table that somebody states, as in a request.
            plain = msgspec.convert(document, dict[str, float])
            book = Ratebook(groups=[GroupRates(group={}, sets=0, base_rates=plain)], model_version=MODEL_VERSION)
    except msgspec.DecodeError as error:
        raise ValueError(f"not a table of base rates: {error}") from None
    if book.model_version != MODEL_VERSION:
        raise ValueError(
            f"these base rates were estimated with model {book.model_version}, this is model {MODEL_VERSION}: "
            "assess the readings again and estimate them anew"
        )
    for entry in book.groups:
        strange = sorted(set(entry.base_rates) - FAULT_NAMES)
        if strange:
            raise ValueError(f"no such fault: {', '.join(strange)}")
        if any(not 0.0 <= rate <= 1e9 for rate in entry.base_rates.values()):  # noqa: PLR2004
            raise ValueError("base rates are numbers of at least 0")
        if entry.base_rates.get("none_found") == 0.0:
            raise ValueError("a sound supply cannot be ruled out beforehand: the rate of none_found is above 0")
    if not book.groups:
        raise ValueError("there are no base rates in it")
    return book
