"""Base rates for the sets of a fleet: one table for all, or one for each group."""

from collections.abc import Mapping
from typing import Any

import msgspec
from msgspec import Struct

from feedproof.faults.priors import MODEL_VERSION
from feedproof.fleet.admission import Refused, admit_rows


class FaultRate(Struct, frozen=True, kw_only=True):
    """What a group of sets says of how often it has one fault."""

    estimate: float
    low: float
    """Ends of the interval: what the readings refuse lies outside [1]."""
    high: float
    sets: int
    """How many sets have readings that can show it."""
    fed_back: float
    """What stands in `base_rates`: the estimate, or a floor under it [1]."""
    words: str = ""
    """What to know of these figures."""


class GroupRates(Struct, frozen=True, kw_only=True):
    """Base rates of one group of sets."""

    group: dict[str, str | None]
    """Value of each grouping column; empty for all sets together."""
    sets: int
    """How many sets the rates were estimated from."""
    base_rates: dict[str, float]
    """In the form that a request's `base_rates` takes; they sum to 1."""
    found: dict[str, FaultRate] = {}
    """What they stand on, by fault."""


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

    def own(self, row: Mapping[str, Any]) -> dict[str, float] | None:
        """Base rates of the group that a row belongs to, where it has some of its own."""
        wanted = {name: as_text(row.get(name)) for name in self.by}
        return next((entry.base_rates for entry in self.groups if entry.group == wanted), None)

    def of(self, row: Mapping[str, Any]) -> dict[str, float] | None:
        """Base rates of the group that a row belongs to, or of all."""
        every = next((entry.base_rates for entry in self.groups if not entry.group), None)
        return self.own(row) or every

    def explained(self) -> str:
        """All of it as text for a person."""
        lines = [
            f"Base rates by model {self.model_version}, with {self.level:.0%} intervals; `sets` can show the fault."
        ]
        for entry in self.groups:
            name = ", ".join(f"{column} {value}" for column, value in entry.group.items()) or "all"
            lines += ["", f"{name}: {entry.sets} sets", f"{'':34s} {'estimate':>9s} {'low':>9s} {'high':>9s}"]
            lines[-1] += f" {'sets':>8s} {'fed back':>9s}"
            lines += [
                f"{fault:34s} {rate.estimate:9.2g} {rate.low:9.2g} {rate.high:9.2g} {rate.sets:8d} {rate.fed_back:9.2g}"
                + (f"  {rate.words}" if rate.words else "")
                for fault, rate in entry.found.items()
            ]
        return "\n".join(lines) + "\n"


def write_ratebook(book: Ratebook) -> bytes:
    """The file of it, as JSON."""
    return msgspec.json.format(msgspec.json.encode(book), indent=2) + b"\n"


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
        try:
            admit_rows("nested", [{"readings": [], "base_rates": entry.base_rates}])
        except Refused as error:
            raise ValueError(str(error)) from None
    if not book.groups:
        raise ValueError("there are no base rates in it")
    return book
